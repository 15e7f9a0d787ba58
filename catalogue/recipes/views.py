"""Pages of a recipe: look, edit, undo, paste, new version, differences."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from catalogue.calc.recipes.changes import changes_in_words
from catalogue.calc.recipes.document import WrongRecipe
from catalogue.calc.recipes.recipe import Basis, RecipeStep
from catalogue.calc.recipes.step_order import questions_about_order
from catalogue.recipes.adding import (
    fill_every_row,
    posted_piece,
    with_arriving,
    with_part_added,
)
from catalogue.recipes.editor import RecipeEditor, materials_of
from catalogue.recipes.following import following_a_save
from catalogue.recipes.inputs import recipe_document
from catalogue.recipes.item_picture import item_of, item_picture
from catalogue.recipes.models import DesignVersion, Piece
from catalogue.recipes.pasting import paste_rows
from catalogue.recipes.services import (
    NothingChanged,
    RecipeChanged,
    new_version,
    save_as_new_version,
    save_recipe,
    undo_recipe,
    writing_of,
)
from catalogue.recipes.showing import page_of
from maker.calc.refusal import Refusal
from maker.web.access import WorkshopRequest, may_change, may_see
from maker.web.lists import whole_number
from maker.web.messages import undo_message
from maker.web.parts import asks_for_part
from maker.web.refusals import refusal_told


def version_or_404(request: WorkshopRequest, design: int, number: int) -> DesignVersion:
    versions = DesignVersion.objects.of(request.workshop).with_recipe()
    version = versions.filter(design_id=design, number=number).first()
    if version is None:
        raise Http404("No design of this workshop has this version.")
    return version


def recipe_address(request: WorkshopRequest, name: str, version: DesignVersion, **more: int) -> str:
    numbers = {"design": version.design_id, "number": version.number, **more}
    return reverse(f"catalogue:{name}", kwargs={"workshop": request.workshop.slug, **numbers})


def posted_number(request: WorkshopRequest) -> int:
    text = request.POST.get("edit_number", "")
    # nothing readable is not a state anybody has seen, so it counts as out of date
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else -1


def _show_editor(
    request: WorkshopRequest,
    version: DesignVersion,
    editor: RecipeEditor,
    *,
    status: int = 200,
    **more: Any,
) -> HttpResponse:
    page = {
        "version": version,
        "design": version.design,
        "editor": editor,
        "has_errors": editor.has_errors,
        "edit_number": version.edit_number,
        "order_questions": questions_about_order(
            [RecipeStep(row.name, Basis(row.basis)) for row in version.steps.all()]
        ),
        "has_folded": any(row.shape == Piece.Shape.FORM for row in version.pieces.all()),
        "picture": item_picture(item_of(version), name="item"),
        **_newest(version),
        **more,
    }
    return render(request, "catalogue/recipes/edit.html", page, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@may_see
def recipe(request: WorkshopRequest, design: int, number: int) -> HttpResponse:
    """Show a recipe; edit it, if nothing was promised from it and she may."""
    version = version_or_404(request, design, number)
    if request.method != "POST" and (version.frozen_at or not request.membership.may_change):
        page = {
            "version": version,
            "design": version.design,
            **_newest(version),
            **page_of(version, request.workshop),
        }
        return render(request, "catalogue/recipes/view.html", page)
    materials = materials_of(request.workshop)
    if request.method == "POST":
        return _save(request, version, materials)
    document, arrived = with_arriving(
        recipe_document(version), request.GET, request.workshop, materials
    )
    editor = RecipeEditor(
        workshop=request.workshop,
        materials=materials,
        document=document,
        opened="pieces" if arrived else "",
        opens_last=bool(arrived),
    )
    return _show_editor(request, version, editor, arrived=arrived)


def _newest(version: DesignVersion) -> dict[str, Any]:
    newest = DesignVersion.objects.filter(design=version.design_id).newest_first().first()
    return {"newest": newest.number, "newest_is_open": not newest.frozen_at} if newest else {}


def _save(
    request: WorkshopRequest, version: DesignVersion, materials: dict[str, Any]
) -> HttpResponse:
    """Save what was sent, or show it again with what is in the way beside it."""
    editor = RecipeEditor(workshop=request.workshop, materials=materials, data=request.POST)
    edit_number = posted_number(request)
    if not editor.is_valid():
        return _show_editor(request, version, editor, status=422, edit_number=edit_number)
    saved = version
    document, followed = following_a_save(
        recipe_document(version), editor.document, request.workshop.unit
    )
    try:
        if request.POST.get("then") == "new_version":
            saved = save_as_new_version(version=version, document=document, by=request.user)
        else:
            save_recipe(
                version=version, document=document, edit_number=edit_number, by=request.user
            )
    except WrongRecipe as wrong:
        editor.show_problems(wrong.problems)
        return _show_editor(request, version, editor, status=422, edit_number=edit_number)
    except RecipeChanged as changed:
        more: dict[str, Any] = {"changed": changed, "edit_number": changed.edit_number}
        return _show_editor(request, version, editor, status=409, **more)
    except NothingChanged as nothing:
        messages.info(request, nothing.message)
    except Refusal as refusal:
        more = {"refusal": refusal, "edit_number": edit_number}
        return _show_editor(request, version, editor, status=422, **more)
    else:
        before = edit_number if saved is version else 0
        undo = recipe_address(request, "recipe_undo", saved, edit_number=before)
        told = f" {', '.join(followed)} got the new sizes." if followed else ""
        undo_message(request, f"Recipe saved.{told}", undo)
    if request.POST.get("then") == "cost":
        cost = reverse("pricing:cost", args=[request.workshop.slug, saved.design_id])
        return redirect(f"{cost}?version={saved.number}")
    return redirect(recipe_address(request, "recipe", saved))


@require_POST
@may_change
def recipe_paste(request: WorkshopRequest, design: int, number: int) -> HttpResponse:
    """Show the form again as it was, with the pasted rows added; nothing is saved."""
    version = version_or_404(request, design, number)
    data, note = paste_rows(request.POST)
    editor = RecipeEditor(
        workshop=request.workshop,
        materials=materials_of(request.workshop),
        data=data,
        opened=request.POST.get("paste_into", ""),
    )
    editor.is_valid()
    return _show_editor(
        request, version, editor, paste_note=note, edit_number=posted_number(request)
    )


@require_http_methods(["GET", "HEAD", "POST"])
@may_change
def recipe_sizes(request: WorkshopRequest, design: int, number: int) -> HttpResponse:
    """Answer the sizes a row's form asks for, or the blank they give; posted, the whole page.

    A form just chosen takes its sizes from the other pieces. Nothing is saved.
    """
    sent = (request.POST if request.method == "POST" else request.GET).copy()
    sent["row"] = request.GET.get("row", "")
    if request.method == "POST" and not asks_for_part(request):
        version = version_or_404(request, design, number)
        data, added = with_part_added(request.POST, request.workshop)
        editor = RecipeEditor(
            workshop=request.workshop,
            materials=materials_of(request.workshop),
            data=fill_every_row(data, request.workshop),
            is_checked=False,
            opened="pieces",
            opens_last=bool(added),
        )
        return _show_editor(
            request, version, editor, edit_number=posted_number(request), part_added=added
        )
    versions = DesignVersion.objects.of(request.workshop).select_related("design")
    of_row = versions.filter(design_id=design, number=number).first()
    row = posted_piece(sent, request.workshop)
    if of_row is None or row is None:
        raise Http404("No version of a design of this workshop has this row.")
    page: dict[str, Any] = {"form": row, "version": of_row, "design": of_row.design}
    if request.GET.get("part") == "blank":
        page["problems"] = row.size_problems()
        return render(request, "catalogue/recipes/_blank.html", page)
    row.is_checked = False
    return render(request, "catalogue/recipes/_sizes.html", page)


@require_POST
@may_change
def recipe_undo(
    request: WorkshopRequest, design: int, number: int, edit_number: int
) -> HttpResponse:
    """Take back the last save."""
    version = version_or_404(request, design, number)
    with refusal_told(request):
        undo_recipe(version=version, edit_number=edit_number, by=request.user)
        again = recipe_address(request, "recipe_undo", version, edit_number=edit_number + 1)
        undo_message(request, "The last save is undone.", again)
    return redirect(recipe_address(request, "recipe", version))


@require_POST
@may_change
def version_new(request: WorkshopRequest, design: int) -> HttpResponse:
    """Copy the newest version into the next number and open it."""
    versions = DesignVersion.objects.of(request.workshop).filter(design_id=design)
    newest = versions.select_related("design__workshop").newest_first().first()
    if newest is None:
        raise Http404("No design of this workshop has this address.")
    made = new_version(version=newest)
    messages.success(
        request, f"Version {made.number} created as a copy of version {newest.number}."
    )
    # a form on its way into the design comes along
    arriving = f"?{request.GET.urlencode()}" if "form" in request.GET else ""
    return redirect(recipe_address(request, "recipe", made) + arriving)


@require_GET
@may_see
def version_compare(request: WorkshopRequest, design: int) -> HttpResponse:
    """Say in words how two versions differ; the newest two unless the address says others."""
    versions = DesignVersion.objects.of(request.workshop).filter(design_id=design)
    numbers = list(versions.newest_first().values_list("number", flat=True))
    if not numbers:
        raise Http404("No design of this workshop has this address.")
    to = whole_number(request.GET.get("to"), numbers[0])
    earlier = [number for number in numbers if number < to]
    start = whole_number(request.GET.get("from"), earlier[0] if earlier else numbers[-1])
    old, new = (version_or_404(request, design, number) for number in (start, to))
    words = changes_in_words(
        recipe_document(old), recipe_document(new), writing_of(request.workshop)
    )
    page = {
        "design": new.design,
        "old": old,
        "new": new,
        "numbers": numbers,
        "words": words,
    }
    return render(request, "catalogue/recipes/compare.html", page)
