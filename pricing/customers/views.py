"""Pages of the customers: list, entry, put away and back; a customer's own page shows quotes."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from maker.calc.refusal import Refusal
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.editing import BothValues, ChangedMeanwhile, show_both
from maker.web.exports import export_response, wanted_format
from maker.web.lists import count_text, show_list
from maker.web.putting_away import bring_back, put_away
from maker.web.refusals import show_refusal
from pricing.customers.forms import CustomerFilter, CustomerForm
from pricing.customers.models import Customer
from pricing.customers.services import save_customer
from pricing.customers.sheet import CUSTOMER_COLUMNS, customer_rows
from pricing.customers.tables import CustomerTable


@require_GET
@may_see
def customer_list(request: WorkshopRequest) -> HttpResponse:
    """List the customers."""
    customers = Customer.objects.of(request.workshop)
    filter_form = CustomerFilter(request.GET)
    found = filter_form.narrow(customers.with_quote_count())
    if wanted_format(request):
        return export_response(
            request, title="Customers", columns=CUSTOMER_COLUMNS, rows=customer_rows(found)
        )
    table = CustomerTable(found, workshop=request.workshop)
    show_list(request, table)
    context = {
        "table": table,
        "filter_form": filter_form,
        "count_text": count_text(table.paginator.count, "customer"),
        "is_empty": not table.paginator.count and not customers.exists(),
    }
    return render(request, "pricing/customers/list.html", context)


@require_http_methods(["GET", "POST"])
@may_change
def customer_new(request: WorkshopRequest) -> HttpResponse:
    """Enter a new customer."""
    return _edit(request, Customer(workshop=request.workshop))


@require_http_methods(["GET", "POST"])
@may_change
def customer_edit(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Change a customer; sent quotes keep the name and address they were sent with."""
    return _edit(request, row_or_404(Customer.objects.of(request.workshop), pk))


def _edit(request: WorkshopRequest, row: Customer) -> HttpResponse:
    name_before = row.name
    form = CustomerForm(request.POST or None, instance=row, workshop=request.workshop)
    both: list[BothValues] = []
    if request.method == "POST" and form.is_valid():
        try:
            saved = save_customer(
                customer=form.save(commit=False), edit_number=form.cleaned_data["edit_number"]
            )
        except ChangedMeanwhile as changed:
            both = _both_values(request, form)
            show_refusal(form, changed)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            messages.success(request, f"Saved “{saved.name}”.")
            return redirect("pricing:customer", request.workshop.slug, saved.pk)
    context = {"form": form, "customer": row, "name_before": name_before, "both": both}
    status = 422 if request.method == "POST" else 200
    return render(request, "pricing/customers/edit.html", context, status=status)


def _both_values(request: WorkshopRequest, form: CustomerForm) -> list[BothValues]:
    stored = Customer.objects.get(pk=form.instance.pk)
    fresh: Any = CustomerForm(instance=stored, workshop=request.workshop)
    return show_both(form, fresh, stored.edit_number)


@require_POST
@may_change
def customer_retire(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Put a customer away, with a way back."""
    row = row_or_404(Customer.objects.of(request.workshop), pk)
    put_away(request, row, way_back="pricing:customer_restore")
    return redirect("pricing:customer_list", request.workshop.slug)


@require_POST
@may_change
def customer_restore(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Bring a customer back into use."""
    row = row_or_404(Customer.objects.of(request.workshop), pk)
    bring_back(request, row)
    return redirect("pricing:customer", request.workshop.slug, pk)
