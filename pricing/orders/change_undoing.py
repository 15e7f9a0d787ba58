"""An accepted change undone while nothing rests on it; later a counter-change takes it back."""

import datetime
from decimal import Decimal

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from catalogue.purchases.models import Purchase, PurchaseLine
from maker.calc.refusal import Refusal
from pricing.orders.change_answers import (
    add_to_deliveries,
    deliveries_without,
    move_needs,
    take_from_deliveries,
)
from pricing.orders.change_effects import BadChange, day_of
from pricing.orders.change_fees import fees_of, invoiced_fees
from pricing.orders.changes import add_like, held_change, refuse_too_late, start_change
from pricing.orders.inputs import lines_now
from pricing.orders.models import Order, OrderChange, OrderChangeLess
from pricing.orders.services import locked, restage

ZERO = Decimal(0)
State = OrderChange.State


class TooLateToUndo(Refusal):
    """Something rests on the change: the words say what."""


@transaction.atomic
def undo_accepted(*, change: OrderChange) -> OrderChange:
    """Let an accepted change wait for an answer again; the order is as it was without it.

    What it took off goes into the last open delivery. Refusals: TooLateToUndo once something was
    made, bought, taken from stock, delivered or invoiced since, or while another change is open or
    was accepted after it;
    NotPossibleNow for an order that is delivered or cancelled.
    """
    order, held = locked(change.order), held_change(change)
    if held.state != State.ACCEPTED:
        raise TooLateToUndo(f"Change {held.number} is {held.get_state_display()}.")
    refuse_too_late(order)
    _refuse_open(order)
    _refuse_rested_on(order, held)
    lines, own = list(held.lines.all()), held.document["own"]
    try:
        take_from_deliveries(deliveries_without(order, {line.pk: line.quantity for line in lines}))
    except BadChange as gone:
        raise TooLateToUndo("What it added has left or is on an invoice.") from gone
    back = [row.line for row in held.less.select_related("line").order_by("line")]
    counts = dict(held.less.values_list("line", "quantity"))
    for line in back:
        line.quantity = counts[line.pk]
    add_to_deliveries(order, back)
    move_needs(order, {name: str(-Decimal(amount)) for name, amount in own["needs"].items()})
    order.changes_total -= held.total_change or ZERO
    order.changes_minutes -= Decimal(own["minutes"] or 0)
    if held.due_on and order.due_on == held.due_on:
        order.due_on = day_of(held.document["due_before"])
        last = order.deliveries.filter(delivered_on=None).order_by("-position", "-pk").first()
        if last is not None and last.due_on == held.due_on:
            last.due_on = order.due_on
            last.save(update_fields=["due_on"])
    order.edit_number += 1
    order.save()
    held.state, held.decided_on = State.OFFERED, None
    held.decided_by, held.decided_how = "", ""
    held.edit_number += 1
    held.save()
    restage(order)
    return held


def _refuse_open(order: Order) -> None:
    other = order.changes.open().first()
    if other is not None:
        raise TooLateToUndo(f"Change {other.number} is still open. Finish it first.")


def _refuse_rested_on(order: Order, held: OrderChange) -> None:
    since = held.decided_on or timezone.localdate(held.created_at)
    needs = held.document["own"]["needs"]
    more = [name for name, amount in needs.items() if Decimal(amount) > 0]
    others = order.changes.exclude(pk=held.pk).filter(state=State.ACCEPTED)
    # one of an earlier number may have been opened again and accepted after it
    later = Q(number__gt=held.number) | Q(decided_on__gt=since)
    bought = PurchaseLine.objects.filter(
        purchase__state=Purchase.State.RECORDED,
        purchase__bought_on__gte=since,
        material__in=order.needs.filter(material__name__in=more).values("material"),
    )
    rests = (
        (others.filter(later).exists(), "another change was accepted"),
        (order.batches.standing().filter(started_on__gte=since).exists(), "a batch was made"),
        (
            order.needs.filter(material__name__in=needs, taken__gt=0).exists(),
            "materials were taken from stock",
        ),
        (bought.exists(), "materials for it were bought"),
        (order.deliveries.filter(delivered_on__gte=since).exists(), "a delivery has left"),
        (order.invoices.filter(issued_on__gte=since).exists(), "an invoice was issued"),
    )
    for is_so, words in rests:
        if is_so:
            raise TooLateToUndo(
                f"Change {held.number} can’t be undone: {words} since. "
                "Create a counter-change and agree it instead."
            )


@transaction.atomic
def counter_change(*, change: OrderChange, today: datetime.date) -> OrderChange:
    """Start a change that takes an accepted one back, as far as its items are still ordered.

    Refusals: NotPossibleNow, TooLateToUndo while another change is open.
    """
    order, held = locked(change.order), held_change(change)
    if held.state != State.ACCEPTED:
        raise TooLateToUndo(f"Change {held.number} is {held.get_state_display()}.")
    _refuse_open(order)
    waived, added = _fee_back(order, held), {line.pk for line in held.lines.all()}
    draft = start_change(order=order)
    draft.note = f"Undoes change {held.number}."
    if held.waives_fee_of:
        there = order.changes.get(number=held.waives_fee_of)
        draft.fee, draft.fee_reason = there.fee, there.fee_reason
    draft.waives_fee_of = waived
    before = day_of(held.document["due_before"])
    if held.due_on and before and before >= today:
        draft.due_on = before
    draft.save(update_fields=["note", "due_on", "fee", "fee_reason", "waives_fee_of"])
    OrderChangeLess.objects.bulk_create(
        OrderChangeLess(change=draft, line_id=line.pk, quantity=line.quantity)
        for line in lines_now(order)
        if line.pk in added
    )
    for row in held.less.select_related("line__colourway").order_by("line"):
        add_like(draft, row.line, row.line.colourway, row.quantity)
    return draft


def _fee_back(order: Order, held: OrderChange) -> int | None:
    """Return the number of the change whose fee can be taken back: it is on no invoice yet."""
    if held.number not in {fee.change for fee in fees_of(order)}:
        return None
    invoiced = invoiced_fees(order.invoices.all())
    if held.number not in invoiced:
        return held.number
    if not (held.lines.exists() or held.less.exists()):
        raise TooLateToUndo(
            f"The fee of change {held.number} is on invoice {invoiced[held.number]}. "
            "Credit it there."
        )
    return None
