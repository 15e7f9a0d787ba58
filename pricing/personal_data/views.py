"""One customer's data: downloaded, or erased after it was said what stays."""

import json
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from maker.activity.models import Event
from maker.activity.services import record
from maker.calc.refusal import Refusal
from maker.web.access import WorkshopRequest, may_own, row_or_404
from pricing.customers.models import Customer
from pricing.orders.models import Invoice
from pricing.personal_data.services import data_of, erase_customer


@may_own
@require_GET
def customer_data(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Return everything kept about a customer as a file."""
    row = row_or_404(Customer.objects.of(request.workshop), pk)
    text = json.dumps(data_of(row), indent=1, ensure_ascii=False)
    record(Event.Kind.EXPORTED, request=request, about=f"Data of customer {pk}")
    response = HttpResponse(text, content_type="application/json; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="customer-{pk}.json"'
    return response


@may_own
@require_http_methods(["GET", "POST"])
def customer_erase(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Say what goes and what stays, then erase."""
    row = row_or_404(Customer.objects.of(request.workshop), pk)
    error = ""
    if request.method == "POST":
        try:
            kept = erase_customer(customer=row, today=timezone.localdate())
        except Refusal as refusal:
            error = refusal.message
        else:
            record(Event.Kind.DELETION, request=request, about=f"Erased customer {pk}")
            text = f" {kept} invoice{'' if kept == 1 else 's'} stay." if kept else ""
            messages.success(request, f"Erased the customer.{text}")
            return redirect("pricing:customer_list", request.workshop.slug)
    invoices = Invoice.objects.filter(order__quote__customer=row).count()
    context: dict[str, Any] = {"customer": row, "invoices": invoices, "error": error}
    status = 422 if error else 200
    return render(request, "pricing/personal_data/erase.html", context, status=status)
