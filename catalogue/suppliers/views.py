"""Pages of the suppliers: list, one supplier, entry, put away and back."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from catalogue.suppliers.forms import SupplierFilter, SupplierForm
from catalogue.suppliers.models import Supplier
from catalogue.suppliers.services import save_supplier
from catalogue.suppliers.sheet import supplier_columns, supplier_rows
from catalogue.suppliers.tables import SupplierTable
from maker.calc.refusal import Refusal
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.editing import BothValues, ChangedMeanwhile, show_both
from maker.web.exports import export_response, wanted_format
from maker.web.lists import count_text, show_list
from maker.web.putting_away import bring_back, put_away
from maker.web.refusals import show_refusal

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
    table = SupplierTable(
        filter_form.narrow(suppliers.with_material_count()), workshop=request.workshop
    )
    show_list(request, table)
    context = {
        "table": table,
        "filter_form": filter_form,
        "count_text": count_text(table.paginator.count, "supplier"),
        "is_empty": not table.paginator.count and not suppliers.exists(),
    }
    return render(request, "catalogue/suppliers/list.html", context)


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
    name_before = row.name
    form = SupplierForm(request.POST or None, instance=row, workshop=request.workshop)
    both: list[BothValues] = []
    if request.method == "POST" and form.is_valid():
        try:
            saved = save_supplier(
                supplier=form.save(commit=False), edit_number=form.cleaned_data["edit_number"]
            )
        except ChangedMeanwhile as changed:
            both = _both_values(request, form)
            show_refusal(form, changed)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            messages.success(request, f"Saved “{saved.name}”.")
            return redirect("catalogue:supplier", request.workshop.slug, saved.pk)
    context = {"form": form, "supplier": row, "name_before": name_before, "both": both}
    status = 422 if request.method == "POST" else 200
    return render(request, "catalogue/suppliers/edit.html", context, status=status)


def _both_values(request: WorkshopRequest, form: SupplierForm) -> list[BothValues]:
    stored = Supplier.objects.get(pk=form.instance.pk)
    fresh: Any = SupplierForm(instance=stored, workshop=request.workshop)
    return show_both(form, fresh, stored.edit_number)


@require_POST
@may_change
def supplier_retire(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Put a supplier away, with a way back."""
    row = row_or_404(Supplier.objects.of(request.workshop), pk)
    put_away(request, row, way_back="catalogue:supplier_restore")
    return redirect("catalogue:supplier_list", request.workshop.slug)


@require_POST
@may_change
def supplier_restore(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Bring a supplier back into use."""
    row = row_or_404(Supplier.objects.of(request.workshop), pk)
    bring_back(request, row)
    return redirect("catalogue:supplier", request.workshop.slug, pk)
