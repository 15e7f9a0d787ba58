"""Pages of the materials: list, one material, entry with packs, put away and back."""

import uuid
from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from catalogue.materials.drawing import cost_chart
from catalogue.materials.forms import (
    MaterialFilter,
    MaterialForm,
    PackFormSet,
    suppliers_to_choose,
)
from catalogue.materials.importing import FILE_FIELDS, read_materials
from catalogue.materials.inputs import uses_of
from catalogue.materials.models import Material, Pack
from catalogue.materials.services import ImportedMaterial, import_materials, save_material
from catalogue.materials.sheet import material_columns, material_rows
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
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.editing import BothValues, ChangedMeanwhile, show_both
from maker.web.exports import export_response, wanted_format
from maker.web.imports import Importing, import_page
from maker.web.lists import count_text, show_list
from maker.web.putting_away import bring_back, put_away
from maker.web.refusals import show_refusal


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
    table = MaterialTable(filter_form.narrow(materials.with_costs()), workshop=request.workshop)
    show_list(request, table)
    context = {
        "table": table,
        "filter_form": filter_form,
        "count_text": count_text(table.paginator.count, "material"),
        "is_empty": not table.paginator.count and not materials.exists(),
    }
    return render(request, "catalogue/materials/list.html", context)


@require_http_methods(["GET", "POST"])
@may_change
def material_import(request: WorkshopRequest) -> HttpResponse:
    """Take materials in from a file, after showing what it would do."""
    return import_page(request, IMPORTING)


def _import(request: WorkshopRequest, values: Sequence[ImportedMaterial], key: uuid.UUID) -> None:
    # found again by its name, a material that came in with the first click is the same already
    import_materials(workshop=request.workshop, materials=values)
    messages.success(request, f"Imported {count_text(len(values), 'material')}.")


IMPORTING = Importing(
    title="Materials",
    one="material",
    list_url="catalogue:material_list",
    fields=FILE_FIELDS,
    needed=("Name",),
    read=read_materials,
    save=_import,
    also_called={
        "Name": ("material", "item", "article", "product", "description", "title"),
        "Code": ("sku", "article no", "item no", "part no", "product code"),
        "Counted in": ("unit", "unit of measure", "uom"),
        "Category": ("group", "type", "kind"),
        "Supplier": ("shop", "seller", "vendor", "store", "bought at"),
        "Weight, g/m²": ("gsm", "g/m2", "g/m²", "grammage", "weight"),
        "Thickness, mm": ("thickness", "caliper"),
        "Reorder below": ("reorder level", "minimum", "reorder at"),
        "Pack holds": ("qty", "quantity", "pack size", "per pack", "contents"),
        "Pack price": ("price", "cost", "pack cost", "paid"),
        "Notes": ("note", "remarks", "comment"),
    },
    advice=(
        "A row a pack; further packs of a material repeat its name. A material of that name is "
        "changed, any other is new. An empty cell changes nothing. Suppliers not seen before are "
        "added. What is on the shelf comes in with receipts, not with this file."
    ),
)


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
        "sheet_weight_g": sheet_weight_of(row),
        "figures": figures_of(row, request.workshop),
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
    """Enter a new material with its packs."""
    return _edit(request, Material(workshop=request.workshop))


@require_http_methods(["GET", "POST"])
@may_change
def material_edit(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Change a material and its packs."""
    return _edit(request, row_or_404(Material.objects.of(request.workshop).with_costs(), pk))


def _forms(request: WorkshopRequest, row: Material, data: Any) -> tuple[MaterialForm, Any]:
    """Return the form and the packs of a material, typed (with data) or as stored (without)."""
    packs = row.packs.all() if row.pk else ()
    suppliers = suppliers_to_choose(request.workshop, row, *packs)
    form = MaterialForm(data, instance=row, workshop=request.workshop, suppliers=suppliers)
    return form, PackFormSet(data, material=row, suppliers=suppliers)


def _edit(request: WorkshopRequest, row: Material) -> HttpResponse:
    name_before = row.name
    form, formset = _forms(request, row, request.POST or None)
    both: list[BothValues] = []
    if request.method == "POST" and form.is_valid() & formset.is_valid():
        packs = formset.read(form.instance.unit)
        if not formset.total_error_count():
            try:
                saved = save_material(
                    material=form.save(commit=False),
                    packs=packs,
                    removed=formset.removed_keys(),
                    edit_number=form.cleaned_data["edit_number"],
                )
            except ChangedMeanwhile as changed:
                stored = Material.objects.with_costs().get(pk=row.pk)
                now, packs_now = _forms(request, stored, None)
                both = show_both(form, now, stored.edit_number, rows=(formset, packs_now))
                show_refusal(form, changed)
            except Refusal as refusal:
                show_refusal(form, refusal)
            else:
                messages.success(request, f"Saved “{saved.name}”.")
                return redirect("catalogue:material", request.workshop.slug, saved.pk)
    context = {
        "form": form,
        "formset": formset,
        "material": row,
        "name_before": name_before,
        "both": both,
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "catalogue/materials/edit.html", context, status=status)


@require_POST
@may_change
def material_retire(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Put a material away, with a way back."""
    row = row_or_404(Material.objects.of(request.workshop), pk)
    put_away(request, row, way_back="catalogue:material_restore")
    return redirect("catalogue:material_list", request.workshop.slug)


@require_POST
@may_change
def material_restore(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Bring a material back into use."""
    row = row_or_404(Material.objects.of(request.workshop), pk)
    bring_back(request, row)
    return redirect("catalogue:material", request.workshop.slug, pk)


@require_GET
@may_see
def pack(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Lead from a list price to the material it belongs to."""
    row = row_or_404(Pack.objects.of(request.workshop), pk)
    address = reverse("catalogue:material", args=[request.workshop.slug, row.material_id])
    return redirect(f"{address}#packs")
