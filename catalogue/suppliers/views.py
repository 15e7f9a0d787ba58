"""Pages of the suppliers: list, one supplier, entry, put away and back."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from catalogue.suppliers.forms import SupplierFilter, SupplierForm
from catalogue.suppliers.models import Supplier
from catalogue.suppliers.services import save_supplier
from catalogue.suppliers.sheet import supplier_columns, supplier_rows
from catalogue.suppliers.tables import SupplierTable
from maker.exports.answers import export_response, wanted_format
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.lists import show_list
from maker.web.row_pages import Entry, archive_views, entry_page, list_page

RECENT = 10


@require_GET
@may_see
def supplier_list(request: WorkshopRequest) -> HttpResponse:
    """List the suppliers, as a page or a file."""
    suppliers = Supplier.objects.of(request.workshop)
    filter_form = SupplierFilter(request.GET)
    if wanted_format(request):
        return export_response(
            request,
            title="Suppliers",
            columns=supplier_columns(request.workshop),
            rows=supplier_rows(filter_form.narrow(suppliers)),
        )
    found = filter_form.narrow(suppliers.with_material_count())
    table = show_list(request, SupplierTable(found, workshop=request.workshop))
    return list_page(
        request,
        "catalogue/suppliers/list.html",
        table,
        filter_form,
        one="supplier",
        unfiltered=suppliers,
    )


@require_GET
@may_see
def supplier(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Show a supplier with what is bought there."""
    row = row_or_404(Supplier.objects.of(request.workshop), pk)
    context = {
        "supplier": row,
        "materials": row.materials.in_use().by_name()[:100],
        "purchases": row.purchases.with_totals().newest_first()[:RECENT],
    }
    return render(request, "catalogue/suppliers/supplier.html", context)


@require_http_methods(["GET", "POST"])
@may_change
def supplier_new(request: WorkshopRequest) -> HttpResponse:
    """Enter a new supplier."""
    return _edit(request, Supplier(workshop=request.workshop))


@require_http_methods(["GET", "POST"])
@may_change
def supplier_edit(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Change a supplier."""
    return _edit(request, row_or_404(Supplier.objects.of(request.workshop), pk))


def _edit(request: WorkshopRequest, row: Supplier) -> HttpResponse:
    def entry_of(row: Supplier, data: Any) -> Entry:
        return Entry(SupplierForm(data, instance=row, workshop=request.workshop))

    def save(entry: Entry) -> HttpResponse:
        saved = save_supplier(supplier=entry.form.save(commit=False), edit_number=entry.edit_number)
        messages.success(request, f"Saved “{saved}”.")
        return redirect("catalogue:supplier", request.workshop.slug, saved.pk)

    return entry_page(request, "catalogue/suppliers/edit.html", row, entry_of, save, supplier=row)


supplier_retire, supplier_restore = archive_views(
    Supplier,
    restore="catalogue:supplier_restore",
    list_page="catalogue:supplier_list",
    page="catalogue:supplier",
)
