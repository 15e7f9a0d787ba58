"""Changes of an accepted order as drafts: started, written, withdrawn, restored.

What was accepted stays as it was; each change is counted from what the order is then.
"""

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from django.db import transaction
from django.db.models import Max

from catalogue.recipes.models import Colourway
from maker.calc.refusal import Refusal
from maker.web.editing import take_turn
from pricing.orders.change_effects import BadChange
from pricing.orders.inputs import lines_now, price_of
from pricing.orders.models import Order, OrderChange, OrderChangeLess
from pricing.orders.services import BY_HAND, NotPossibleNow, locked
from pricing.quotes.inputs import names_of
from pricing.quotes.models import QuoteLine
from pricing.quotes.services import MOST_LINES, QuoteLineInput

State = OrderChange.State


class AnsweredAlready(Refusal):
    """The change was answered or withdrawn before."""


@dataclass(frozen=True, slots=True)
class ChangeInput:
    """A change as typed, by key of the line.

    `counts`: how many there shall be of what is ordered; `colourways`: another one for them;
    `extras`: how many of a line of the change, and its price each (None: the suggested one);
    `fee`: charged beside them, for a reason.
    """

    note: str = ""
    due_on: datetime.date | None = None
    counts: Mapping[int, int] = field(default_factory=dict)
    colourways: Mapping[int, Colourway] = field(default_factory=dict)
    extras: Mapping[int, tuple[int, Decimal | None]] = field(default_factory=dict)
    fee: Decimal | None = None
    fee_reason: str = ""


@transaction.atomic
def start_change(*, order: Order) -> OrderChange:
    """Start a numbered change, or return the open one. Refusals: NotPossibleNow."""
    held = locked(order)
    refuse_too_late(held)
    there = held.changes.open().first()
    if there is not None:
        return there
    last = held.changes.aggregate(last=Max("number"))["last"] or 0
    return OrderChange.objects.create(order=held, number=last + 1)


def refuse_too_late(order: Order) -> None:
    if order.state not in BY_HAND:
        raise NotPossibleNow(
            f"Order {order} is {order.get_state_display()}. Create a new quote instead."
        )


def held_draft(change: OrderChange, edit_number: int | None) -> OrderChange:
    """Hold a draft for one edit. Refusals: NotPossibleNow, AnsweredAlready, ChangedMeanwhile."""
    refuse_too_late(locked(change.order))
    held = held_change(change)
    if held.state != State.DRAFT:
        raise AnsweredAlready(f"Change {held.number} is {held.get_state_display()}.")
    take_turn(held, edit_number)
    return held


def held_change(change: OrderChange) -> OrderChange:
    rows = OrderChange.objects.select_for_update(of=("self",))
    return rows.select_related("order__quote__customer__workshop").get(pk=change.pk)


@transaction.atomic
def save_change(
    *, change: OrderChange, typed: ChangeInput, today: datetime.date, edit_number: int | None
) -> OrderChange:
    """Store what a draft changes.

    Refusals: NotPossibleNow, AnsweredAlready, ChangedMeanwhile, BadChange.
    """
    held = held_draft(change, edit_number)
    if typed.due_on and typed.due_on < today:
        raise BadChange("That date has passed.", where="due_on")
    if typed.fee and not typed.fee_reason:
        raise BadChange("Enter what the fee is for.", where="fee_reason")
    if typed.fee_reason and not typed.fee:
        raise BadChange("Enter the fee.", where="fee")
    held.note, held.due_on = typed.note, typed.due_on
    held.fee = typed.fee or None
    held.fee_reason = typed.fee_reason if held.fee else ""
    held.save(update_fields=["note", "due_on", "fee", "fee_reason"])
    for line in held.lines.all():
        if line.pk in typed.extras:
            line.quantity, line.price_asked = typed.extras[line.pk]
            if line.quantity:
                line.save(update_fields=["quantity", "price_asked"])
            else:
                line.delete()
    held.less.all().delete()
    less: list[OrderChangeLess] = []
    more: list[tuple[QuoteLine, Colourway | None, int]] = []
    for line in lines_now(held.order):
        wanted = typed.counts.get(line.pk, line.quantity)
        way = typed.colourways.get(line.pk)
        if way is not None and way.pk != line.colourway_id:
            less.append(OrderChangeLess(change=held, line_id=line.pk, quantity=line.quantity))
            more.append((line, way, wanted))
        elif wanted < line.quantity:
            less.append(
                OrderChangeLess(change=held, line_id=line.pk, quantity=line.quantity - wanted)
            )
        elif wanted > line.quantity:
            more.append((line, line.colourway, wanted - line.quantity))
    OrderChangeLess.objects.bulk_create(less)
    for line, way, count in more:
        if count:
            add_like(held, line, way, count)
    return held


def add_like(change: OrderChange, line: QuoteLine, way: Colourway | None, count: int) -> None:
    """Add more of an item at the price that was accepted."""
    name = way.name if way else line.colourway_name
    for there in change.lines.filter(version=line.version_id, colourway=way):
        if there.choices == line.choices and there.description == line.description:
            there.quantity += count
            there.save(update_fields=["quantity"])
            return
    _add(
        change,
        QuoteLine(
            design_id=line.design_id,
            version_id=line.version_id,
            colourway=way,
            colourway_name=name,
            choices=line.choices,
            quantity=count,
            description=line.description,
            price_asked=price_of(line),
        ),
    )


def _add(change: OrderChange, line: QuoteLine) -> QuoteLine:
    rows = QuoteLine.objects.filter(quote=change.order.quote_id)
    if rows.count() >= MOST_LINES:
        raise BadChange(f"An order holds at most {MOST_LINES} lines. Create a new quote.")
    line.quote, line.change = change.order.quote, change
    line.position = (rows.aggregate(last=Max("position"))["last"] or 0) + 1
    line.save()
    return line


@transaction.atomic
def add_item(*, change: OrderChange, line: QuoteLineInput, edit_number: int | None) -> QuoteLine:
    """Add an extra item to a draft. Refusals as `save_change`."""
    held = held_draft(change, edit_number)
    design = line.version.design
    if design.workshop_id != held.order.workshop.pk or design.retired_on:
        raise BadChange(f"“{design}” is archived. Restore the design first.", where="design")
    names = len(names_of(line.names))
    if names > line.quantity:
        raise BadChange(f"{names} names are more than {line.quantity} items.", where="names")
    return _add(
        held,
        QuoteLine(
            design=design,
            version=line.version,
            colourway=line.colourway,
            colourway_name=line.colourway.name if line.colourway else "",
            choices=dict(line.choices or {}),
            quantity=line.quantity,
            names=line.names,
            description=line.description,
            price_asked=line.price_asked,
        ),
    )


@transaction.atomic
def withdraw_change(*, change: OrderChange) -> OrderChange:
    """Take an open change back; it can be restored. Refusals: AnsweredAlready."""
    locked(change.order)
    held = held_change(change)
    if not held.is_open:
        raise AnsweredAlready(f"Change {held.number} is {held.get_state_display()}.")
    held.state = State.WITHDRAWN
    held.edit_number += 1
    held.save(update_fields=["state", "edit_number"])
    return held


@transaction.atomic
def restore_change(*, change: OrderChange) -> OrderChange:
    """Open a withdrawn or declined change again, as a draft. Refusals: NotPossibleNow."""
    order = locked(change.order)
    refuse_too_late(order)
    held = held_change(change)
    if held.state not in (State.WITHDRAWN, State.DECLINED, State.OFFERED):
        raise NotPossibleNow(f"Change {held.number} is {held.get_state_display()}.")
    other = order.changes.open().exclude(pk=held.pk).first()
    if other is not None:
        raise NotPossibleNow(f"Change {other.number} is still open. Finish it first.")
    held.state, held.offered_on, held.document = State.DRAFT, None, {}
    held.decided_on, held.decided_by, held.decided_how, held.decline_note = None, "", "", ""
    held.total_change = None
    held.edit_number += 1
    held.save()
    held.lines.update(frozen={})
    return held
