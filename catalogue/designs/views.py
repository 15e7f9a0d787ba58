"""Pages of the designs: list, quick start, one design, details, copy, put away and back."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from catalogue.designs.cards import design_cards
from catalogue.designs.forms import DesignFilter, DesignForm
from catalogue.designs.models import Design
from catalogue.designs.photos import photos_of
from catalogue.designs.quick_start import QuickStartForm, first_values, typed_so_far
from catalogue.designs.services import (
    copy_design,
    save_design,
    start_design,
)
from catalogue.designs.sheet import DESIGN_COLUMNS, design_rows
from catalogue.designs.tables import DesignTable
from catalogue.recipes.item_picture import colourway_asked
from catalogue.recipes.models import DesignVersion
from catalogue.recipes.showing import page_of
from maker.calc.refusal import Refusal
from maker.exports.answers import export_response, wanted_format
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.lists import show_list
from maker.web.parts import asks_for_part
from maker.web.refusals import refusal_told, show_refusal
from maker.web.row_pages import Entry, archive_views, entry_page, list_page


@require_GET
@may_see
def design_list(request: WorkshopRequest) -> HttpResponse:
    """List the designs, as a page or a file."""
    designs = Design.objects.of(request.workshop)
    filter_form = DesignFilter(request.GET)
    if wanted_format(request):
        rows = design_rows(filter_form.narrow(designs))
        return export_response(request, title="Designs", columns=DESIGN_COLUMNS, rows=rows)
    found = filter_form.narrow(designs.with_versions())
    table = show_list(request, DesignTable(found, workshop=request.workshop))
    cards = None
    if not filter_form.is_table:
        cards = design_cards([row.record for row in table.paginated_rows], request.workshop)
    return list_page(
        request,
        "catalogue/designs/list.html",
        table,
        filter_form,
        one="design",
        unfiltered=designs,
        cards=cards,
    )


@require_http_methods(["GET", "HEAD", "POST"])
@may_change
def design_new(request: WorkshopRequest) -> HttpResponse:
    """Start a design with the least that has a price, and go and see the price.

    Asked by the page for a part of it, it answers the entries of the shape chosen, its blanks, or
    the materials there are by then.
    """
    workshop, sent = request.workshop, request.POST
    if request.method != "POST":
        return _quick_start_shown(request)
    if sent.get("then") == "shape":
        form = QuickStartForm(workshop=workshop, initial=typed_so_far(sent, workshop))
        return render(request, "catalogue/designs/new.html", {"form": form})
    form = QuickStartForm(sent, workshop=workshop)
    if form.is_valid():
        try:
            version = start_design(
                workshop=workshop, name=form.cleaned_data["name"], first=form.first_recipe()
            )
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            text = f"Saved the design. To cut for one item: {', '.join(form.cut_words())}."
            messages.success(request, text)
            return redirect("pricing:cost", workshop.slug, version.design_id)
    return render(request, "catalogue/designs/new.html", {"form": form}, status=422)


def _quick_start_shown(request: WorkshopRequest) -> HttpResponse:
    workshop, asked = request.workshop, request.GET
    part = asked.get("part") if asks_for_part(request) else None
    if part == "blank":
        form = QuickStartForm(asked, workshop=workshop)
        form.full_clean()
        response = render(request, "catalogue/designs/_shape_blank.html", {"form": form})
    elif part in ("shape", "material"):
        form = QuickStartForm(workshop=workshop, initial=typed_so_far(asked, workshop))
        response = render(request, f"catalogue/designs/_{part}.html", {"form": form})
    else:
        form = QuickStartForm(workshop=workshop, initial=first_values(asked, workshop))
        response = render(request, "catalogue/designs/new.html", {"form": form})
    response["Vary"] = "HX-Request"
    return response


@require_GET
@may_see
def design(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Show a design: its newest recipe in words and drawn, cautions, versions."""
    row = row_or_404(Design.objects.of(request.workshop), pk)
    versions = list(row.versions.newest_first())
    newest = None
    if versions:
        newest = DesignVersion.objects.with_recipe().get(pk=versions[0].pk)
    asked = request.GET.get("colourway", "")
    colourway = colourway_asked(newest, asked) if newest else None
    context = {
        "design": row,
        "versions": versions,
        "version": newest,
        "photos": photos_of(row, request.workshop.slug),
        **(page_of(newest, request.workshop, colourway) if newest else {}),
    }
    return render(request, "catalogue/designs/design.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@may_change
def design_edit(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Change what is said about a design."""
    row = row_or_404(Design.objects.of(request.workshop), pk)

    def entry_of(row: Design, data: Any) -> Entry:
        return Entry(DesignForm(data, instance=row, workshop=request.workshop))

    def save(entry: Entry) -> HttpResponse:
        saved = save_design(design=entry.form.save(commit=False), edit_number=entry.edit_number)
        messages.success(request, f"Saved “{saved}”.")
        return redirect("catalogue:design", request.workshop.slug, pk)

    return entry_page(request, "catalogue/designs/edit.html", row, entry_of, save, design=row)


@require_POST
@may_change
def design_copy(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Copy a design with its newest recipe, and open the copy to name it."""
    row = row_or_404(Design.objects.of(request.workshop), pk)
    with refusal_told(request):
        made = copy_design(design=row)
        messages.success(request, f"Copied “{row.name}”. Give the copy its own name.")
        return redirect("catalogue:design_edit", request.workshop.slug, made.pk)
    return redirect("catalogue:design", request.workshop.slug, pk)


design_retire, design_restore = archive_views(
    Design,
    restore="catalogue:design_restore",
    list_page="catalogue:design_list",
    page="catalogue:design",
)
