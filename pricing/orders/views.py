"""Pages of the orders: the answer that makes one, the list, one order, its deliveries, its end."""

import datetime
import uuid
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from maker.calc.money import format_money
from maker.calc.refusal import Refusal
from maker.exports.answers import export_response, wanted_format
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.editing import ChangedMeanwhile
from maker.web.lists import count_text, show_list
from maker.web.messages import undo_message
from maker.web.refusals import refusal_told, show_refusal
from maker.web.row_pages import Entry, entry_page, list_page
from maker.web.words import amount_text
from maker.workshop.models import Workshop
from pricing.customers.models import Customer
from pricing.orders.approvals import named_lines
from pricing.orders.cancelling import owed_by_stage, stage_reached
from pricing.orders.change_fees import fees_of, said_fees
from pricing.orders.drawing import item_rows, next_page, open_words, sum_rows
from pricing.orders.forms import (
    MOST_DELIVERIES,
    CancelForm,
    DateForm,
    DeliveryForm,
    OrderFilter,
    OrderForm,
    stored_delivery,
)
from pricing.orders.inputs import account_of_order, lines_now
from pricing.orders.models import Order, OrderDelivery
from pricing.orders.overdue import open_of_order
from pricing.orders.services import (
    BY_HAND,
    accept,
    cancel_order,
    deliver,
    deposit_left,
    move_to,
    owed_on,
    plan_order,
    reinstate_order,
    save_deliveries,
    save_order,
    undo_answer,
    undo_delivery,
)
from pricing.orders.sheet import order_columns, order_rows
from pricing.orders.tables import OrderTable, state_badge
from pricing.quotes.documents import worked_dates
from pricing.quotes.drawing import date_cautions, total_rows
from pricing.quotes.forms import AcceptForm
from pricing.quotes.inputs import work_out
from pricing.quotes.models import Quote
from pricing.quotes.views import quote_or_404

NEXT_STAGE = {
    Order.State.PLANNED: (Order.State.MAKING, "Start making"),
    Order.State.MAKING: (Order.State.READY, "Mark as ready"),
}
PREVIOUS_STAGE = {
    Order.State.MAKING: (Order.State.PLANNED, "Back to planned"),
    Order.State.READY: (Order.State.MAKING, "Back to making"),
}


def order_or_404(request: WorkshopRequest, pk: int) -> Order:
    """Return an order of this workshop with everything its pages need."""
    row = row_or_404(Order.objects.of(request.workshop).with_buyer(), pk)
    # it is read already
    row.quote.customer.workshop = request.workshop
    return row


def shop_money(shop: Workshop, amount: Decimal) -> str:
    """Write an amount in the workshop's currency."""
    return format_money(amount, shop.currency, shop.locale)


def back_to(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Lead to the page of an order."""
    return redirect("pricing:order", request.workshop.slug, pk)


@require_http_methods(["GET", "POST"])
@may_change
def quote_accept(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Store that a quote was accepted; its order is planned with it."""
    row, today = quote_or_404(request, pk), timezone.localdate()
    who = row.customer.contact or row.customer.name
    form = AcceptForm(request.POST or None, initial={"decided_by": who, "decided_on": today})
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        try:
            order = accept(quote=row, who=typed["decided_by"], on=typed["decided_on"], today=today)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            back = reverse("pricing:quote_reopen", args=[request.workshop.slug, pk])
            undo_message(request, f"{row} is accepted. This is its order, {order}.", back)
            return back_to(request, order.pk)
    elif request.method == "GET" and row.state != Quote.State.SENT:
        messages.info(request, "This quote is not waiting for an answer.")
        return redirect("pricing:quote", request.workshop.slug, pk)
    context = {
        "quote": row,
        "form": form,
        "is_expired": row.is_expired(today),
        "totals": total_rows(row.frozen) if row.frozen else [],
        "cautions": _date_cautions(row, today),
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "pricing/quotes/accept.html", context, status=status)


def _date_cautions(row: Quote, today: datetime.date) -> list[str]:
    """Say before it is accepted that its date can no longer be met, as things are today."""
    if row.needed_on is None:
        return []
    dates = worked_dates(work_out(row), today)
    return date_cautions(dates, None) if dates else []


@require_POST
@may_change
def quote_reopen(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Undo the answer to a quote."""
    row = quote_or_404(request, pk)
    with refusal_told(request):
        undo_answer(quote=row)
        messages.success(request, "The answer was undone. The quote is waiting again.")
    return redirect("pricing:quote", request.workshop.slug, pk)


@require_POST
@may_change
def order_plan(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Plan the order of a quote that was accepted before there were orders."""
    row = quote_or_404(request, pk)
    with refusal_told(request):
        order = plan_order(quote=row, today=timezone.localdate())
        return back_to(request, order.pk)
    return redirect("pricing:quote", request.workshop.slug, pk)


@require_GET
@may_see
def order_list(request: WorkshopRequest) -> HttpResponse:
    """List the orders, the most urgent first."""
    orders, today = Order.objects.of(request.workshop), timezone.localdate()
    filter_form = OrderFilter(request.GET, workshop=request.workshop)
    narrowed = filter_form.narrow(orders)
    if wanted_format(request):
        return export_response(
            request,
            title="Orders",
            columns=order_columns(request.workshop),
            rows=order_rows(narrowed),
        )
    found = narrowed.for_list().most_urgent_first()
    table = show_list(request, OrderTable(found, workshop=request.workshop, today=today))
    # what was ordered at a fair and waits to be quoted
    at_fairs = Customer.objects.of(request.workshop).filter(
        enquiries__fair_sale__isnull=False,
        enquiries__state="open",
        enquiries__retired_on__isnull=True,
    )
    waiting = at_fairs.count()
    return list_page(
        request, "pricing/orders/list.html", table, filter_form, one="order", unfiltered=orders,
        taken_at_fairs=count_text(waiting, "order") if waiting else "",
    )  # fmt: skip


@require_GET
@may_see
def order(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Show an order: what is next, what goes out when, what is paid."""
    row, today = order_or_404(request, pk), timezone.localdate()
    shop = request.workshop
    invoices = list(row.invoices.select_related("credits").order_by("pk"))
    payments = list(row.payments.order_by("received_on", "pk"))
    changes = list(row.changes.in_order().defer("document"))
    account = account_of_order(row, invoices, payments)
    approvals = {each.kind: each for each in row.approvals.all()}
    owed, lines = owed_on(row), item_rows(row)
    deposit = min(deposit_left(row, account.paid), max(owed, Decimal(0)))
    opened = open_of_order(row, invoices)
    fees = fees_of(row)
    deliveries = list(
        row.deliveries.select_related("invoice")
        .prefetch_related("lines__line__design")
        .order_by("position", "pk")
    )

    def money(amount: Any) -> str:
        return format_money(amount, shop.currency, shop.locale)

    context = {
        "order": row,
        "badge": state_badge(row, today),
        "lines": lines,
        "fees": said_fees(fees, money),
        "totals": sum_rows(row, lines, fees),
        "has_names": any(line["names"] for line in lines),
        "approvals": approvals,
        "bears_names": bool(
            row.names_deleted_on
            or "names" in approvals
            or named_lines(row, [line["line"] for line in lines])
        ),
        "may_be_changed": request.membership.may_change and row.state in BY_HAND,
        "changes": [
            (each, "–" if each.total_change is None else money(each.total_change))
            for each in changes
        ],
        "open_change": next((each for each in changes if each.is_open), None),
        "deliveries": deliveries,
        "needs": [
            (need, amount_text(need.amount, need.material.unit, shop))
            for need in row.needs.select_related("material__picture").order_by("material__name")
        ],
        "invoices": [
            (each, money(each.total), open_words(opened.get(each.pk), money)) for each in invoices
        ],
        "payments": [(each, money(each.received)) for each in payments],
        "total_text": money(row.total),
        "paid_text": money(account.paid),
        "owed": owed,
        "owed_text": money(abs(owed)),
        "cancel_text": "" if row.cancel_owed is None else money(row.cancel_owed),
        "deposit_text": money(deposit) if deposit else "",
        "next_stage": NEXT_STAGE.get(Order.State(row.state)),
        "next_page": next_page(row, deliveries),
        "previous_stage": PREVIOUS_STAGE.get(Order.State(row.state)),
        "today": today,
        "again_key": uuid.uuid4(),
    }
    return render(request, "pricing/orders/order.html", context)


@require_http_methods(["GET", "POST"])
@may_change
def order_edit(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Change date and notes."""
    row = order_or_404(request, pk)

    def entry_of(stored: Order, data: Any) -> Entry:
        initial = {
            "due_on": stored.due_on,
            "notes": stored.notes,
            "edit_number": stored.edit_number,
        }
        return Entry(OrderForm(data, initial=initial, workshop=request.workshop))

    def save(entry: Entry) -> HttpResponse:
        typed = entry.form.cleaned_data
        save_order(
            order=row, due_on=typed["due_on"], notes=typed["notes"], edit_number=entry.edit_number
        )
        messages.success(request, "Saved.")
        return back_to(request, pk)

    return entry_page(request, "pricing/orders/edit.html", row, entry_of, save, order=row)


@require_POST
@may_change
def order_stage(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Say an order is planned, in the making or ready."""
    row = order_or_404(request, pk)
    with refusal_told(request):
        moved = move_to(order=row, state=request.POST.get("state", ""))
        messages.success(request, f"{moved} is {moved.get_state_display()}.")
    return back_to(request, pk)


@require_http_methods(["GET", "POST"])
@may_change
def order_deliveries(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Say what goes out when, and where to."""
    row = order_or_404(request, pk)
    if not row.is_open:
        messages.info(request, f"{row} is {row.get_state_display()}. Its deliveries stay.")
        return back_to(request, pk)
    lines = lines_now(row)
    stored = list(row.deliveries.prefetch_related("lines").order_by("position", "pk"))
    count, edit_number = len(stored), str(row.edit_number)
    if request.method == "POST":
        typed = request.POST.get("count", "")
        count = min(int(typed), MOST_DELIVERIES) if typed.isdecimal() and len(typed) < 5 else count
        edit_number = request.POST.get("edit_number", "")
        if "add" in request.POST:
            count = min(count + 1, MOST_DELIVERIES)
    forms = [
        DeliveryForm(
            request.POST if request.method == "POST" else None,
            prefix=f"d{place}",
            lines=lines,
            initial=stored_delivery(stored[place]) if place < len(stored) else {},
        )
        for place in range(max(count, 1))
    ]
    problem = ""
    sent = request.method == "POST" and "add" not in request.POST
    # each is asked, so that everything wrong is told at once
    if sent and not [form for form in forms if not form.is_valid()]:
        rows = {each.pk: each for each in stored}
        number = int(edit_number) if edit_number.isdecimal() and len(edit_number) < 9 else None
        try:
            save_deliveries(
                order=row,
                deliveries=[form.as_input(rows) for form in forms if not form.is_empty],
                edit_number=number,
            )
        except ChangedMeanwhile:
            problem = (
                "Somebody else saved this order while you had it open. Check the deliveries "
                "on its page, then save yours again."
            )
            edit_number = str(Order.objects.values_list("edit_number", flat=True).get(pk=pk))
        except Refusal as refusal:
            problem = refusal.message
        else:
            messages.success(request, "Deliveries saved.")
            return back_to(request, pk)
    context = {
        "order": row,
        "forms": forms,
        "count": len(forms),
        "edit_number": edit_number,
        "lines": lines,
        "may_add": len(forms) < MOST_DELIVERIES,
        "has_errors": bool(problem) or any(form.errors for form in forms if form.is_bound),
        "more_errors": [problem] if problem else [],
    }
    return render(request, "pricing/orders/deliveries.html", context, status=422 if sent else 200)


def _delivery_or_404(request: WorkshopRequest, pk: int, delivery: int) -> OrderDelivery:
    rows = OrderDelivery.objects.filter(order__in=Order.objects.of(request.workshop), order=pk)
    return row_or_404(rows.select_related("order__quote__customer__workshop"), delivery)


@require_http_methods(["GET", "POST"])
@may_change
def delivery_left(request: WorkshopRequest, pk: int, delivery: int) -> HttpResponse:
    """Say a delivery has left."""
    row, today = _delivery_or_404(request, pk, delivery), timezone.localdate()
    form = DateForm(request.POST or None, initial={"on": today})
    if request.method == "POST" and form.is_valid():
        try:
            deliver(delivery=row, on=form.cleaned_data["on"], today=today)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            back = reverse("pricing:delivery_undo", args=[request.workshop.slug, pk, delivery])
            undo_message(request, f"Delivery {row.position + 1} is marked as delivered.", back)
            return back_to(request, pk)
    context = {"order": row.order, "delivery": row, "form": form}
    status = 422 if request.method == "POST" else 200
    return render(request, "pricing/orders/delivery_left.html", context, status=status)


@require_POST
@may_change
def delivery_undo(request: WorkshopRequest, pk: int, delivery: int) -> HttpResponse:
    """Say a delivery has not left after all."""
    row = _delivery_or_404(request, pk, delivery)
    with refusal_told(request):
        undo_delivery(delivery=row)
        messages.success(request, f"Delivery {row.position + 1} is not delivered any more.")
    return back_to(request, pk)


@require_http_methods(["GET", "POST"])
@may_change
def order_cancel(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Cancel an order, and say what is owed for it."""
    row, today, shop = order_or_404(request, pk), timezone.localdate(), request.workshop
    by_stage = {each.stage.value: each.owed for each in owed_by_stage(row)}
    stages = [
        (each.value, f"{each.label.capitalize()}: {shop_money(shop, by_stage[each.value])}")
        for each in Order.Stage
    ]
    first = {"on": today, "stage": stage_reached(row)}
    form = CancelForm(request.POST or None, initial=first, workshop=shop, stages=stages)
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        by_terms = by_stage[typed["stage"]]
        try:
            cancel_order(
                order=row,
                on=typed["on"],
                today=today,
                reason=typed["reason"],
                stage=typed["stage"],
                owed=by_terms if typed["owed"] is None else typed["owed"],
            )
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            back = reverse("pricing:order_reinstate", args=[request.workshop.slug, pk])
            undo_message(request, f"{row} is cancelled.", back)
            return back_to(request, pk)
    context = {"order": row, "form": form}
    status = 422 if request.method == "POST" else 200
    return render(request, "pricing/orders/cancel.html", context, status=status)


@require_POST
@may_change
def order_reinstate(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Undo a cancellation."""
    row = order_or_404(request, pk)
    with refusal_told(request):
        reinstate_order(order=row)
        messages.success(request, f"{row} is planned again.")
    return back_to(request, pk)
