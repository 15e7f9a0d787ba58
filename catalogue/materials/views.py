"""Pages of the materials: list, one material, entry with packs, put away and back."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from catalogue.materials.drawing import cost_chart
from catalogue.materials.forms import (
    CardPictureForm,
    MaterialFilter,
    MaterialForm,
    PackFormSet,
    suppliers_to_choose,
)
from catalogue.materials.importing import IMPORTING
from catalogue.materials.inputs import uses_of
from catalogue.materials.lots import lots_in_words, lots_of
from catalogue.materials.models import Material, Pack
from catalogue.materials.services import remove_picture, save_material, set_picture
from catalogue.materials.sheet import material_columns, material_rows
from catalogue.materials.swatches import swatch
from catalogue.materials.tables import (
    BoughtTable,
    LedgerTable,
    MaterialTable,
    figures_of,
    offers_of,
    sheet_weight_of,
    size_of,
)
from maker.calc.refusal import Refusal
from maker.exports.answers import export_response, wanted_format
from maker.imports.views import import_page
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.lists import show_list
from maker.web.refusals import show_refusal
from maker.web.row_pages import Entry, archive_views, entry_page, list_page


@require_GET
@may_see
def material_list(request: WorkshopRequest) -> HttpResponse:
    """List the materials with what is on the shelf and what one costs, as a page or a file."""
    materials = Material.objects.of(request.workshop)
    filter_form = MaterialFilter(request.GET)
    if wanted_format(request):
        return export_response(
            request,
            title="Materials",
            columns=material_columns(request.workshop),
            rows=material_rows(filter_form.narrow(materials), request.workshop),
        )
    found = filter_form.narrow(materials.with_costs())
    table = show_list(request, MaterialTable(found, workshop=request.workshop))
    return list_page(
        request,
        "catalogue/materials/list.html",
        table,
        filter_form,
        one="material",
        unfiltered=materials,
    )


@require_http_methods(["GET", "POST"])
@may_change
def material_import(request: WorkshopRequest) -> HttpResponse:
    """Take materials in from a file, after showing what it would do."""
    return import_page(request, IMPORTING)


@require_GET
@may_see
def material(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Show what a material costs and why, where it is used, and what moved."""
    row = row_or_404(Material.objects.of(request.workshop).with_costs(), pk)
    entries = row.stock_entries.for_ledger()
    bought = row.purchase_lines.recorded().select_related("purchase__supplier")
    ledger = LedgerTable(entries, workshop=request.workshop, material=row)
    receipts = BoughtTable(bought, workshop=request.workshop, material=row)
    context = {
        "material": row,
        "size": size_of(row, request.workshop),
        "swatch": swatch(row, request.workshop),
        "sheet_weight_g": sheet_weight_of(row),
        "figures": figures_of(row, request.workshop),
        "lots": lots_in_words(row, lots_of(row), request.workshop),
        "offers": offers_of(row, request.workshop),
        "uses": uses_of(row),
        "chart": cost_chart(row, bought, request.workshop),
        "ledger": show_list(request, ledger, per_page=10),
        "receipts": show_list(request, receipts, per_page=10),
    }
    return render(request, "catalogue/materials/material.html", context)


@require_http_methods(["GET", "POST"])
@may_change
def material_new(request: WorkshopRequest) -> HttpResponse:
    """Enter a new material with its packs; `name`, `kind`, `pack` and `price` are a start."""
    row = Material(workshop=request.workshop)
    asked = {name: request.GET.get(name, "")[:120] for name in ("name", "kind", "pack", "price")}
    return _edit(request, row, asked)


@require_http_methods(["GET", "POST"])
@may_change
def material_edit(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Change a material and its packs."""
    return _edit(request, row_or_404(Material.objects.of(request.workshop).with_costs(), pk))


def _edit(
    request: WorkshopRequest, row: Material, asked: Mapping[str, str] = MappingProxyType({})
) -> HttpResponse:
    def entry_of(row: Material, data: Any) -> Entry:
        packs = row.packs.all() if row.pk else ()
        suppliers = suppliers_to_choose(request.workshop, row, *packs)
        form = MaterialForm(data, instance=row, workshop=request.workshop, suppliers=suppliers)
        form.start_from(asked)
        return Entry(form, PackFormSet(data, material=row, suppliers=suppliers, asked=asked))

    def save(entry: Entry) -> HttpResponse:
        saved = save_material(
            material=entry.form.save(commit=False),
            packs=entry.rows.packs,
            removed=entry.rows.removed_keys(),
            edit_number=entry.edit_number,
        )
        tab = {"receipt": "receipt’s", "design": "design’s"}.get(request.GET.get("from", ""))
        back = f" Go back to your {tab} tab." if tab else ""
        messages.success(request, f"Saved “{saved}”.{back}")
        return redirect("catalogue:material", request.workshop.slug, saved.pk)

    return entry_page(request, "catalogue/materials/edit.html", row, entry_of, save, material=row)


@require_http_methods(["GET", "HEAD", "POST"])
@may_change
def material_picture(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Upload a photo or scan of a material."""
    row = row_or_404(Material.objects.of(request.workshop).with_costs(), pk)
    is_sent = request.method == "POST"
    form = CardPictureForm(
        request.POST if is_sent else None,
        request.FILES if is_sent else None,
        workshop=request.workshop,
        initial={"width_mm": row.picture_width_mm or row.width_mm},
    )
    if is_sent and form.is_valid():
        said = form.cleaned_data
        try:
            set_picture(material=row, data=said["file"], width_mm=said["width_mm"])
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            messages.success(request, f"Saved the picture of “{row}”.")
            return redirect("catalogue:material", request.workshop.slug, pk)
    context = {"material": row, "form": form, "swatch": swatch(row, request.workshop)}
    status = 422 if is_sent else 200
    return render(request, "catalogue/materials/picture.html", context, status=status)


@require_POST
@may_change
def material_picture_remove(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Take the photo of a material away."""
    row = row_or_404(Material.objects.of(request.workshop), pk)
    remove_picture(material=row)
    messages.success(request, f"Removed the picture of “{row}”.")
    return redirect("catalogue:material", request.workshop.slug, pk)


material_retire, material_restore = archive_views(
    Material,
    restore="catalogue:material_restore",
    list_page="catalogue:material_list",
    page="catalogue:material",
)


@require_GET
@may_see
def pack(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Lead from a list price to the material it belongs to."""
    row = row_or_404(Pack.objects.of(request.workshop), pk)
    address = reverse("catalogue:material", args=[request.workshop.slug, row.material_id])
    return redirect(f"{address}#packs")
