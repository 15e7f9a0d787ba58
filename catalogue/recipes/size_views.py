"""Pages about the sizes of what is folded: change them, see what may grow, bring a form along."""

from typing import Any

from django.http import Http404, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from catalogue.calc.flat_patterns import FORMS
from catalogue.recipes.form_sizes import size_words, sizes_of_query
from catalogue.recipes.growing import advice_on, offers_for
from catalogue.recipes.inputs import recipe_document
from catalogue.recipes.models import DesignVersion
from catalogue.recipes.services import RecipeChanged, save_as_new_version, save_recipe
from catalogue.recipes.size_form import (
    BeforeAfter,
    SizesForm,
    letters_apart,
    pieces_on_their_own,
    with_offer_taken,
)
from catalogue.recipes.views import posted_number, recipe_address, version_or_404
from catalogue.sheet_plans.services import sheet_planner
from maker.calc.refusal import Refusal
from maker.web.access import WorkshopRequest, may_change, may_see
from maker.web.messages import undo_message
from maker.web.parts import part_or_page


@require_http_methods(["GET", "HEAD", "POST"])
@may_change
def version_size(request: WorkshopRequest, design: int, number: int) -> HttpResponse:
    """Change size of everything that is folded; a frozen version becomes a new one."""
    version = version_or_404(request, design, number)
    # a link with an offer shows the page with that taken, not saved
    asked = request.POST if request.method == "POST" else request.GET
    is_sent = request.method == "POST" or "take" in request.GET
    sent = with_offer_taken(asked, request.workshop) if is_sent else None
    apart, own = letters_apart(request.POST), pieces_on_their_own(request.POST)
    form = SizesForm(
        sent,
        document=recipe_document(version),
        apart=apart,
        own=own,
        workshop=request.workshop,
    )
    is_readable = form.is_valid()
    more: dict[str, Any] = {"edit_number": version.edit_number}
    status = 200
    if sent is not None and request.POST.get("then") == "save":
        status = 422
        if is_readable:
            try:
                return _save_sizes(request, version, form)
            except RecipeChanged as changed:
                status, more = 409, {"changed": changed, "edit_number": changed.edit_number}
            except Refusal as refusal:
                form.add_error(None, refusal.message)
    form.offers = offers_for(
        version, form.after or form.before, form.sizes, form.follows, request.workshop
    )
    page = {
        "version": version,
        "design": version.design,
        "form": form,
        "apart": apart,
        "own": own,
        "has_errors": status == 422,
        **_before_after(version, request, form),
        **more,
    }
    return render(request, "catalogue/recipes/size.html", page, status=status)


def _before_after(
    version: DesignVersion, request: WorkshopRequest, form: SizesForm
) -> dict[str, Any]:
    try:
        answer = BeforeAfter(
            version=version,
            workshop=request.workshop,
            after=form.after,
            plan_sheets=sheet_planner(),
        )
    except Refusal as refused:  # kept before a form had the limit it has now
        return {"unfolded": refused.message}
    return {"answer": answer}


def _save_sizes(request: WorkshopRequest, version: DesignVersion, form: SizesForm) -> HttpResponse:
    """Save the sizes in one go, with a way back. Errors: those of save_recipe."""
    before = 0
    if version.frozen_at:
        saved = save_as_new_version(
            version=version, document=form.after, by=request.user, is_read=True
        )
    else:
        before = posted_number(request)
        saved = save_recipe(
            version=version,
            document=form.after,
            edit_number=before,
            by=request.user,
            is_read=True,
        )
    undo = recipe_address(request, "recipe_undo", saved, edit_number=before)
    undo_message(request, f"The size of version {saved.number} is changed.", undo)
    return redirect(recipe_address(request, "recipe", saved))


@require_GET
@may_see
def version_free_sizes(request: WorkshopRequest, design: int, number: int) -> HttpResponse:
    """Say which sizes may grow for free; a part of the page that asks for it later."""
    version = version_or_404(request, design, number)
    page = {
        "version": version,
        "design": version.design,
        "found": advice_on(version, request.workshop),
    }
    return part_or_page(
        request, "catalogue/recipes/_free_sizes.html", "catalogue/recipes/free_sizes.html", page
    )


@require_GET
@may_see
def shape_use(request: WorkshopRequest) -> HttpResponse:
    """Choose the design that a form at a size goes into; a new one where there is none yet."""
    form = FORMS.get(request.GET.get("form", ""))
    if form is None:
        raise Http404("There is no such shape.")
    query = QueryDict(mutable=True)
    for name in ("form", *(one.name for one in form.inputs), "ruler", "sheet"):
        if name in request.GET:
            query[name] = request.GET[name][:60]
    versions = newest_versions(request)
    if not versions and request.membership.may_change:
        new = reverse("catalogue:design_new", args=[request.workshop.slug])
        return redirect(f"{new}?{query.urlencode()}")
    page = {
        "folded": form,
        "query": query.urlencode(),
        "words": size_words(form, sizes_of_query(form, query, request.workshop), request.workshop),
        "versions": versions,
    }
    return render(request, "catalogue/recipes/use_form.html", page)


def newest_versions(request: WorkshopRequest) -> list[DesignVersion]:
    """Return the newest version of each design in use, by name (one query)."""
    versions = DesignVersion.objects.of(request.workshop).filter(design__retired_on__isnull=True)
    newest: dict[int, DesignVersion] = {}
    for version in versions.select_related("design").newest_first():
        newest.setdefault(version.design_id, version)
    return sorted(newest.values(), key=lambda one: (one.design.name.casefold(), one.pk))
