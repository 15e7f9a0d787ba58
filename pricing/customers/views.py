"""Pages of the customers: list, entry, archive and restore; a customer's own page shows quotes."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_GET, require_http_methods

from maker.exports.answers import export_response, wanted_format
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.lists import show_list
from maker.web.row_pages import Entry, archive_views, entry_page, list_page
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
    table = show_list(request, CustomerTable(found, workshop=request.workshop))
    return list_page(
        request,
        "pricing/customers/list.html",
        table,
        filter_form,
        one="customer",
        unfiltered=customers,
    )


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
    def entry_of(row: Customer, data: Any) -> Entry:
        return Entry(CustomerForm(data, instance=row, workshop=request.workshop))

    def save(entry: Entry) -> HttpResponse:
        saved = save_customer(customer=entry.form.save(commit=False), edit_number=entry.edit_number)
        messages.success(request, f"Saved “{saved}”.")
        return redirect("pricing:customer", request.workshop.slug, saved.pk)

    return entry_page(request, "pricing/customers/edit.html", row, entry_of, save, customer=row)


customer_retire, customer_restore = archive_views(
    Customer,
    restore="pricing:customer_restore",
    list_page="pricing:customer_list",
    page="pricing:customer",
)
