"""Payments of an order: recorded and undone."""

import uuid
from decimal import Decimal

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from maker.calc.money import format_money
from maker.calc.refusal import Refusal
from maker.web.access import WorkshopRequest, may_change, row_or_404
from maker.web.messages import undo_message
from maker.web.refusals import refusal_told, show_refusal
from pricing.orders.forms import PaymentForm
from pricing.orders.models import Order, OrderPayment
from pricing.orders.payments import AlreadyPaid, MoreThanOwed, record_payment, undo_payment
from pricing.orders.services import deposit_left, owed_on, paid_on
from pricing.orders.views import back_to, order_or_404

ZERO = Decimal(0)


@require_http_methods(["GET", "POST"])
@may_change
def payment_new(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Record money received; the deposit, then what is owed, is suggested."""
    row, today, shop = order_or_404(request, pk), timezone.localdate(), request.workshop
    owed = owed_on(row)
    deposit = min(deposit_left(row, paid_on(row)), max(owed, ZERO))
    initial = {
        "amount": deposit or (owed if owed > 0 else None),
        "received_on": today,
        "form_key": uuid.uuid4(),
    }
    form = PaymentForm(request.POST or None, initial=initial, workshop=shop)
    asks_if_meant = "is_more_meant" in request.POST
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        try:
            made = record_payment(order=row, today=today, **typed)
        except AlreadyPaid as already:
            messages.info(request, already.message)
            return back_to(request, pk)
        except Refusal as refusal:
            asks_if_meant = asks_if_meant or isinstance(refusal, MoreThanOwed)
            show_refusal(form, refusal)
        else:
            back = reverse("pricing:payment_undo", args=[shop.slug, pk, made.pk])
            text = format_money(made.received, shop.currency, shop.locale)
            undo_message(request, f"Recorded {text} for {row}.", back)
            return back_to(request, pk)
    context = {
        "order": row,
        "form": form,
        "asks_if_meant": asks_if_meant,
        "owed_text": format_money(max(owed, ZERO), shop.currency, shop.locale),
        "deposit_text": format_money(deposit, shop.currency, shop.locale) if deposit else "",
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "pricing/orders/payment.html", context, status=status)


@require_POST
@may_change
def payment_undo(request: WorkshopRequest, pk: int, payment: int) -> HttpResponse:
    """Undo a payment recorded by mistake."""
    rows = OrderPayment.objects.filter(order__in=Order.objects.of(request.workshop), order=pk)
    row = row_or_404(rows.select_related("order"), payment)
    with refusal_told(request):
        undo_payment(payment=row)
        messages.success(request, "The payment was undone.")
    return back_to(request, pk)
