"""An order from the yes on: accepted, its stage, its deliveries, cancelled."""

import datetime
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from django.db.models import Case, F, When

from maker.calc.money import whole_up
from maker.calc.refusal import Refusal
from maker.web.editing import take_turn
from maker.workshop.models import Workshop
from pricing.orders.finished import send_out, take_in_again
from pricing.orders.inputs import lines_now
from pricing.orders.models import (
    Invoice,
    Order,
    OrderChange,
    OrderDelivery,
    OrderDeliveryLine,
    OrderNeed,
    OrderPayment,
    OrderQuerySet,
)
from pricing.quotes.documents import deposit_in, minutes_in
from pricing.quotes.inputs import WorkedQuote, work_out
from pricing.quotes.models import Quote, QuoteLine
from pricing.quotes.numbers import next_number
from pricing.quotes.sending import accept_quote, reopen_quote

ZERO = Decimal(0)
SERIES = "order"
PREFIX = "O"
State = Order.State
# kinds of material that leave stock in whole ones
COUNTED = ("sheet", "count", "pairs")
# the stages she sets by hand, in their order; delivered and settled follow from what happened
BY_HAND = (State.PLANNED, State.MAKING, State.READY)


class NotAnOrder(Refusal):
    """Only a quote that was accepted becomes an order."""


class OrderBegun(Refusal):
    """Something was made, paid, delivered or invoiced, so the answer cannot be undone."""


class NotPossibleNow(Refusal):
    """The order's stage does not allow it."""


class BadDelivery(Refusal):
    """Deliveries that do not add up to what was ordered."""


@dataclass(frozen=True, slots=True)
class DeliveryInput:
    """A delivery as typed; `counts` by key of the quote's line. `row` None: a new one."""

    row: OrderDelivery | None
    due_on: datetime.date | None
    address: str
    note: str
    counts: Mapping[int, int]


@transaction.atomic
def accept(*, quote: Quote, who: str, on: datetime.date, today: datetime.date) -> Order:
    """Store that a quote was accepted, and plan its order. Refusals: NotWaiting, Expired."""
    return plan_order(quote=accept_quote(quote=quote, who=who, on=on, today=today), today=today)


@transaction.atomic
def plan_order(*, quote: Quote, today: datetime.date) -> Order:
    """Make the order of an accepted quote, or return the one there is. Refusals: NotAnOrder.

    It has a delivery for each place the quote says how many go to, else one; what it needs of each
    material is reserved.
    """
    held = Quote.objects.select_for_update(of=("self",)).with_people().get(pk=quote.pk)
    if held.state != Quote.State.ACCEPTED:
        raise NotAnOrder("Only an accepted quote becomes an order.")
    there = Order.objects.filter(quote=held).first()
    if there is not None:
        return there
    number = next_number(held.workshop, SERIES, PREFIX, held.decided_on or today)
    order = Order.objects.create(
        quote=held,
        number=number,
        due_on=held.needed_on,
        deposit=deposit_in(held.frozen["public"]),
        quoted_minutes=minutes_in(held.frozen["own"]),
    )
    _plan_deliveries(order, held)
    _reserve(order, held)
    _take_deposit(order, held)
    return order


def _take_deposit(order: Order, quote: Quote) -> None:
    """Record the deposit that was paid at a fair for what was asked there, once."""
    first: Quote | None = quote
    while first is not None and not hasattr(first, "enquiry"):
        first = first.replaces
    sale = getattr(first.enquiry, "fair_sale", None) if first is not None else None
    if sale is None:
        return
    # held, as it may be undone at the table at this moment
    sale.refresh_from_db(from_queryset=type(sale).objects.select_for_update(of=("self",)))
    if sale.undone_at or sale.order_id or not sale.received:
        return
    OrderPayment.objects.create(
        order=order,
        received=sale.received,
        received_on=sale.day.held_on,
        way=sale.way,
        note=f"deposit at {sale.day.fair}"[:120],
        form_key=sale.uuid,
    )
    sale.order = order
    sale.save(update_fields=["order"])


def _plan_deliveries(order: Order, quote: Quote) -> None:
    """Make a delivery for each place; lines are shared out in their order, the last takes the rest.

    Places without quantities do not say what goes where: then all of it goes to the first.
    """
    lines = [(line, line.quantity) for line in quote.lines.kept()]
    drops = list(quote.drops.order_by("position", "pk"))
    if len(drops) > 1 and not all(drop.quantity for drop in drops[:-1]):
        drops = drops[:1]
    parts: list[tuple[str, int | None]] = [
        (drop.address or quote.customer.address, drop.quantity) for drop in drops
    ] or [(quote.customer.address, None)]
    rows: list[OrderDelivery] = []
    for position, (address, wanted) in enumerate(parts):
        is_last = position == len(parts) - 1
        room = sum(count for _, count in lines) if is_last or wanted is None else wanted
        taken, left = [], []
        for line, count in lines:
            here = min(count, room)
            room -= here
            taken += [(line, here)] if here else []
            left += [(line, count - here)] if count > here else []
        lines = left
        if not taken:
            continue
        delivery = OrderDelivery.objects.create(
            order=order, position=len(rows), due_on=quote.needed_on, address=address
        )
        rows.append(delivery)
        OrderDeliveryLine.objects.bulk_create(
            OrderDeliveryLine(delivery=delivery, line=line, quantity=count) for line, count in taken
        )


def _reserve(order: Order, quote: Quote) -> None:
    """Keep what the order needs of each material; nothing where it cannot be worked out now."""
    worked = work_out(quote)
    OrderNeed.objects.bulk_create(
        OrderNeed(order=order, material_id=key, amount=amount)
        for key, amount in needed(worked).items()
    )


def needed(worked: WorkedQuote) -> dict[int, Decimal]:
    """Return material -> how much of it is needed; nothing where that cannot be worked out."""
    needs: dict[int, Decimal] = {}
    whole: set[int] = set()
    for need in worked.price.order.needs if worked.price else ():
        identity = need.material.identity
        if isinstance(identity, int) and need.amount > 0:
            needs[identity] = needs.get(identity, ZERO) + need.amount
            if need.material.kind in COUNTED:
                whole.add(identity)
    return {key: whole_up(amount) if key in whole else amount for key, amount in needs.items()}


@transaction.atomic
def undo_answer(*, quote: Quote) -> None:
    """Undo the answer to a quote; its order goes with it while nothing was done for it.

    Refusals: OrderBegun, NotAnswered, NotADraft.
    """
    order = Order.objects.select_for_update(of=("self",)).filter(quote=quote).first()
    if order is not None:
        _refuse_begun(order)
        order.delete()
    reopen_quote(quote=quote)


def _paid_since(order: Order) -> bool:
    """Whether anything was paid but a deposit at a fair, which is there without the order."""
    at_fairs = order.from_fairs.values("uuid")
    return order.payments.filter(is_undone=False).exclude(form_key__in=at_fairs).exists()


def _refuse_begun(order: Order) -> None:
    begun = (
        (order.state != State.PLANNED, f"is {order.get_state_display()}"),
        (_paid_since(order), "has a payment"),
        (order.invoices.exists(), "has an invoice"),
        (order.deliveries.filter(delivered_on__isnull=False).exists(), "was delivered in part"),
        (order.needs.filter(taken__gt=0).exists(), "has used stock"),
        (order.batches.standing().exists(), "has a batch"),
        (order.changes.filter(state=OrderChange.State.OFFERED).exists(), "has a change"),
        (order.changes.filter(state=OrderChange.State.ACCEPTED).exists(), "was changed"),
    )
    for is_so, words in begun:
        if is_so:
            raise OrderBegun(f"Order {order} {words}. Cancel the order instead.")
    # a payment or a batch that was undone is history of an order that goes
    order.payments.all().delete()
    order.batches.update(order=None)
    order.finished_moves.update(order=None, delivery=None)
    order.changes.all().delete()


def let_lots_go(order: Order) -> None:
    """Let go of the lots that were kept for an order."""
    order.needs.exclude(lot="").update(lot="", lot_amount=ZERO)


def locked(order: Order) -> Order:
    """Read an order again and hold it until the end of the transaction."""
    return Order.objects.select_for_update(of=("self",)).with_people().get(pk=order.pk)


@transaction.atomic
def move_to(*, order: Order, state: str, edit_number: int | None = None) -> Order:
    """Say an order is planned, in the making or ready. Refusals: NotPossibleNow."""
    held = locked(order)
    if state not in BY_HAND:
        raise NotPossibleNow("Choose planned, in the making or ready.", where="state")
    if held.state not in BY_HAND:
        raise NotPossibleNow(f"Order {held} is {held.get_state_display()}.")
    held.state = state
    held.edit_number += 1
    held.save(update_fields=["state", "edit_number"])
    return held


@transaction.atomic
def save_order(
    *, order: Order, due_on: datetime.date | None, notes: str, edit_number: int | None
) -> Order:
    """Store date and notes. Refusals: NotPossibleNow, ChangedMeanwhile."""
    held = locked(order)
    if held.state == State.CANCELLED:
        raise NotPossibleNow(f"Order {held} is cancelled.")
    take_turn(held, edit_number)
    held.due_on, held.notes = due_on, notes
    held.save(update_fields=["due_on", "notes"])
    return held


@transaction.atomic
def save_deliveries(
    *, order: Order, deliveries: Sequence[DeliveryInput], edit_number: int | None
) -> Order:
    """Store what goes out when. A delivery that left or was invoiced stays as it was.

    Each line's counts add up to what was ordered. Refusals: BadDelivery, NotPossibleNow,
    ChangedMeanwhile.
    """
    held = locked(order)
    if not held.is_open:
        raise NotPossibleNow(f"Order {held} is {held.get_state_display()}.")
    take_turn(held, edit_number)
    lines = {line.pk: line for line in lines_now(held)}
    rows = {row.pk: row for row in held.deliveries.prefetch_related("lines", "invoice")}
    _refuse_wrong_counts(deliveries, lines)
    kept = {each.row.pk for each in deliveries if each.row is not None}
    for stored in rows.values():
        if stored.pk not in kept:
            _refuse_fixed(stored)
            stored.delete()
    for place, each in enumerate(deliveries):
        if each.row and each.row.pk not in rows:
            raise BadDelivery("A delivery of another order is in the list.")
        row = rows[each.row.pk] if each.row else OrderDelivery(order=held)
        before = {line.line_id: line.quantity for line in row.lines.all()} if row.pk else {}
        counts = {key: count for key, count in each.counts.items() if count}
        if row.pk and counts != before:
            _refuse_fixed(row)
        row.position, row.due_on = place, each.due_on
        row.address, row.note = each.address, each.note
        row.save()
        if counts != before:
            row.lines.all().delete()
            OrderDeliveryLine.objects.bulk_create(
                OrderDeliveryLine(delivery=row, line_id=key, quantity=count)
                for key, count in counts.items()
            )
    dates = [each.due_on for each in deliveries if each.due_on]
    held.due_on = max(dates) if dates else held.due_on
    held.save(update_fields=["due_on"])
    return restage(held)


def _refuse_wrong_counts(
    deliveries: Sequence[DeliveryInput], lines: Mapping[int, QuoteLine]
) -> None:
    for key, line in lines.items():
        planned = sum(each.counts.get(key, 0) for each in deliveries)
        if planned != line.quantity:
            raise BadDelivery(
                f"{planned} of {line.design} are in deliveries, and {line.quantity} are ordered."
            )
    for place, each in enumerate(deliveries, 1):
        if not any(each.counts.values()):
            raise BadDelivery(
                f"Delivery {place} is empty. Remove it, or enter how many go with it."
            )
        if any(key not in lines or count < 0 for key, count in each.counts.items()):
            raise BadDelivery(f"Delivery {place} has something that was not ordered.")


def _refuse_fixed(row: OrderDelivery) -> None:
    if row.delivered_on:
        raise BadDelivery(f"Delivery {row.position + 1} has left. What is in it stays.")
    if hasattr(row, "invoice"):
        raise BadDelivery(f"Delivery {row.position + 1} is on an invoice. What is in it stays.")


@transaction.atomic
def deliver(*, delivery: OrderDelivery, on: datetime.date, today: datetime.date) -> Order:
    """Say a delivery has left. Refusals: NotPossibleNow for a cancelled order or a future date."""
    held = locked(delivery.order)
    row = held.deliveries.select_for_update().get(pk=delivery.pk)
    if held.state == State.CANCELLED:
        raise NotPossibleNow(f"Order {held} is cancelled.")
    if row.delivered_on:
        raise NotPossibleNow(f"Delivery {row.position + 1} has left already.")
    if on > today:
        raise NotPossibleNow("That date is in the future.", where="delivered_on")
    row.delivered_on = on
    row.save(update_fields=["delivered_on"])
    send_out(held, row, on, today)
    return restage(held)


@transaction.atomic
def undo_delivery(*, delivery: OrderDelivery) -> Order:
    """Say a delivery has not left after all. Refusals: NotPossibleNow."""
    held = locked(delivery.order)
    row = held.deliveries.select_for_update().get(pk=delivery.pk)
    if held.state == State.CANCELLED or not row.delivered_on:
        raise NotPossibleNow("There is no delivery to undo.")
    row.delivered_on = None
    row.save(update_fields=["delivered_on"])
    take_in_again(row)
    return restage(held)


def restage(order: Order) -> Order:
    """Let the stage follow from deliveries and payments; the caller holds the order.

    Delivered when everything has left, settled when nothing is owed either; back to ready when
    that is not so any more.
    """
    if order.state == State.CANCELLED:
        return order
    state = order.state
    everything_left = not order.deliveries.filter(delivered_on__isnull=True).exists()
    if everything_left:
        state = State.SETTLED if owed_on(order) <= 0 else State.DELIVERED
    elif state in (State.DELIVERED, State.SETTLED):
        state = State.READY
    if state != order.state:
        order.state = state
        order.edit_number += 1
        order.save(update_fields=["state", "edit_number"])
        if state not in BY_HAND:
            let_lots_go(order)
    return order


def paid_on(order: Order) -> Decimal:
    """Return what was paid for an order, less what was paid back (one query)."""
    return paid_by_order(Order.objects.filter(pk=order.pk)).get(order.pk, ZERO)


def paid_by_order(orders: OrderQuerySet) -> dict[int, Decimal]:
    """Return order -> what was paid, less what was paid back (one query).

    Added up here: SQLite adds decimals as floats, and what is left would not be nothing.
    """
    rows = OrderPayment.objects.filter(order__in=orders.values("pk"), is_undone=False)
    paid: dict[int, Decimal] = defaultdict(Decimal)
    for key, received in rows.values_list("order_id", "received"):
        paid[key] += received
    return paid


def deposit_left(order: Order, paid: Decimal) -> Decimal:
    """Return what is missing of the deposit that was agreed; none once invoices ask for money."""
    if order.state not in BY_HAND or order.invoices.exists():
        return ZERO
    return max(order.deposit - max(paid, ZERO), ZERO)


def deposits_missing(workshop: Workshop, most: int) -> list[tuple[Order, Decimal]]:
    """Return the oldest orders with what is missing of their deposit (three queries).

    Each as `deposit_left` says, and never more than is owed. Only the `most` are read whole.
    """
    rows = Order.objects.of(workshop).filter(state__in=BY_HAND, invoices__isnull=True)
    paid = paid_by_order(rows)
    # a deposit is no more than its quote's total, so that is read only where a change took some
    # off: the database gets to it through the quote's long figures
    quoted = Case(When(changes_total__lt=0, then=F("quote__total")))
    asked = rows.filter(deposit__gt=0).order_by("pk")
    found: dict[int, Decimal] = {}
    for key, deposit, changes, total in asked.values_list("pk", "deposit", "changes_total", quoted):
        due = deposit if total is None else min(deposit, total + changes)
        missing = due - max(paid.get(key, ZERO), ZERO)
        if missing > 0:
            found[key] = missing
        if len(found) == most:
            break
    orders = Order.objects.in_short().in_bulk(found)
    return [(orders[key], missing) for key, missing in found.items()]


def owed_on(order: Order) -> Decimal:
    """Return what is still owed: of invoices where there are any, else of the accepted total."""
    paid = paid_on(order)
    invoiced = ZERO
    kinds = order.invoices.values_list("kind", "total")
    for kind, total in kinds:
        invoiced += -total if kind == Invoice.Kind.CREDIT else total
    if order.state == State.CANCELLED:
        return (order.cancel_owed or ZERO) - paid
    still_to_invoice = order.deliveries.filter(invoice__isnull=True).exists()
    if still_to_invoice or not kinds:
        credited = sum((total for kind, total in kinds if kind == Invoice.Kind.CREDIT), ZERO)
        return order.total - credited - paid
    return invoiced - paid


@transaction.atomic
def cancel_order(
    *,
    order: Order,
    on: datetime.date,
    today: datetime.date,
    reason: str,
    owed: Decimal,
    stage: str = "",
) -> Order:
    """Cancel an order; `owed` is what the customer owes for it by the terms, at that stage.

    What it reserved or kept is free again, and an open change is withdrawn. Refusals:
    NotPossibleNow when it has left or is cancelled.
    """
    held = locked(order)
    if held.state not in BY_HAND:
        raise NotPossibleNow(f"Order {held} is {held.get_state_display()}.")
    if on > today:
        raise NotPossibleNow("That date is in the future.", where="cancelled_on")
    if owed > held.total:
        raise NotPossibleNow("That is more than the whole order.", where="cancel_owed")
    held.state, held.cancelled_on = State.CANCELLED, on
    held.cancel_reason, held.cancel_owed, held.cancel_stage = reason, owed, stage
    held.edit_number += 1
    held.save()
    held.changes.open().update(state=OrderChange.State.WITHDRAWN)
    let_lots_go(held)
    return held


@transaction.atomic
def reinstate_order(*, order: Order) -> Order:
    """Undo a cancellation. Refusals: NotPossibleNow."""
    held = locked(order)
    if held.state != State.CANCELLED:
        raise NotPossibleNow("This order is not cancelled.")
    held.state, held.cancelled_on = State.PLANNED, None
    held.cancel_reason, held.cancel_owed, held.cancel_stage = "", None, ""
    held.edit_number += 1
    held.save()
    return restage(held)
