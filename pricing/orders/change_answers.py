"""A change offered to the customer, and what comes of the answer."""

import datetime
from collections.abc import Mapping, Sequence
from decimal import Decimal

from django.db import transaction

from catalogue.materials.models import Material
from catalogue.recipes.models import DesignVersion
from catalogue.recipes.services import freeze_version
from pricing.orders.change_effects import (
    BadChange,
    WorkedChange,
    document_of_change,
    work_out_change,
)
from pricing.orders.change_fees import fees_of, invoiced_fees
from pricing.orders.changes import AnsweredAlready, held_change, held_draft, refuse_too_late
from pricing.orders.models import (
    Order,
    OrderApproval,
    OrderChange,
    OrderDelivery,
    OrderDeliveryLine,
    OrderNeed,
)
from pricing.orders.services import locked, restage
from pricing.quotes.models import QuoteLine

ZERO = Decimal(0)
NO_INVOICE_LEFT = (
    "The whole order is invoiced, so a fee would be on no invoice. Create a new quote for it."
)
State = OrderChange.State


def offer_change(*, change: OrderChange, today: datetime.date) -> OrderChange:
    """Lock a draft with its price and date, so that the customer can answer it.

    Refusals: BadChange for nothing or too much, AnsweredAlready, NotPossibleNow.
    """
    worked = work_out_change(change, today)
    if worked.is_empty:
        raise BadChange("Nothing changes yet. Enter what is different.")
    return _offer(worked, today)


@transaction.atomic
def _offer(worked: WorkedChange, today: datetime.date) -> OrderChange:
    held = held_draft(worked.change, worked.change.edit_number)
    if held.due_on and held.due_on < today:
        raise BadChange("The new date has passed. Choose a later one.", where="due_on")
    if worked.total_after < 0:
        raise BadChange("The order would cost less than nothing.")
    deliveries_without(held.order, {row.line.pk: row.quantity for row in worked.less})
    if held.fee and not worked.lines and not held.order.deliveries.filter(invoice=None).exists():
        raise BadChange(NO_INVOICE_LEFT, where="fee")
    versions = DesignVersion.objects.in_bulk({line.version_id for line in worked.lines})
    for version in versions.values():
        freeze_version(version)
    QuoteLine.objects.bulk_update(worked.lines, ["frozen"])
    held.document = document_of_change(worked)
    held.total_change = worked.total_change
    held.state, held.offered_on = State.OFFERED, today
    held.save(update_fields=["document", "total_change", "state", "offered_on"])
    return held


@transaction.atomic
def accept_change(
    *, change: OrderChange, who: str, how: str, on: datetime.date, today: datetime.date
) -> OrderChange:
    """Make an offered change part of its order: deliveries, needs, minutes, total and date.

    Refusals: AnsweredAlready, NotPossibleNow, BadChange when what it takes off has left meanwhile.
    """
    order, held = _waiting(change, on, today)
    lines = list(held.lines.all())
    fewer = dict(held.less.values_list("line", "quantity"))
    take_from_deliveries(deliveries_without(order, fewer))
    add_to_deliveries(order, lines)
    own = held.document["own"]
    move_needs(order, own["needs"])
    order.changes_total += held.total_change or ZERO
    order.changes_minutes += Decimal(own["minutes"] or 0)
    if held.due_on:
        order.due_on = held.due_on
        last = order.deliveries.filter(delivered_on=None).order_by("-position", "-pk").first()
        if last is not None:
            last.due_on = held.due_on
            last.save(update_fields=["due_on"])
    if lines and order.state == Order.State.READY:
        order.state = Order.State.MAKING
    if lines:
        # what was approved is not what is made any more
        stale = [OrderApproval.Kind.PROOF]
        if any(line.names for line in lines):
            stale.append(OrderApproval.Kind.NAMES)
        order.approvals.filter(kind__in=stale).delete()
    order.edit_number += 1
    order.save()
    held.state, held.decided_on = State.ACCEPTED, on
    held.decided_by, held.decided_how = who, how
    held.edit_number += 1
    held.save()
    _refuse_stranded_fees(order, held)
    restage(order)
    return held


def _refuse_stranded_fees(order: Order, held: OrderChange) -> None:
    """Refuse a change after which a fee could be on no invoice, or takes one back that is."""
    invoiced = invoiced_fees(order.invoices.all())
    if held.waives_fee_of in invoiced:
        raise BadChange(
            f"The fee of change {held.waives_fee_of} is on invoice "
            f"{invoiced[held.waives_fee_of]} already. "
            "Credit it there."
        )
    open_fees = [fee for fee in fees_of(order) if fee.change not in invoiced]
    if open_fees and not order.deliveries.filter(invoice=None).exists():
        raise BadChange(NO_INVOICE_LEFT)


def _waiting(
    change: OrderChange, on: datetime.date, today: datetime.date
) -> tuple[Order, OrderChange]:
    order, held = locked(change.order), held_change(change)
    if held.state != State.OFFERED:
        raise AnsweredAlready(f"Change {held.number} is {held.get_state_display()}.")
    refuse_too_late(order)
    if on > today:
        raise BadChange("That date is in the future.", where="decided_on")
    if held.offered_on and on < held.offered_on:
        raise BadChange("That date is before the change was offered.", where="decided_on")
    return order, held


Taken = list[tuple[OrderDeliveryLine, int]]


def deliveries_without(order: Order, fewer: Mapping[int, int]) -> Taken:
    """Return from which lines of deliveries how much goes, the last delivery first.

    What has left or is invoiced stays: BadChange.
    """
    open_lines = OrderDeliveryLine.objects.filter(
        delivery__order=order, delivery__delivered_on=None, delivery__invoice=None
    ).select_related("delivery", "line__design")
    taken: Taken = []
    for key, count in fewer.items():
        rest = count
        for row in open_lines.filter(line=key).order_by("-delivery__position", "-delivery"):
            part = min(rest, row.quantity)
            if part:
                taken.append((row, part))
                rest -= part
        if rest:
            design = QuoteLine.objects.select_related("design").get(pk=key).design
            raise BadChange(
                f"Only {count - rest} of {design} can be taken off: the others have left or are on "
                "an invoice. Credit the invoice instead."
            )
    return taken


def take_from_deliveries(taken: Taken) -> None:
    """Take lines or parts of them out of their deliveries."""
    for row, part in taken:
        if row.quantity == part:
            row.delete()
        else:
            row.quantity -= part
            row.save(update_fields=["quantity"])


def add_to_deliveries(order: Order, lines: Sequence[QuoteLine]) -> None:
    """Put lines into the last delivery that is still open, or into a new one.

    One that is in it already grows. Open ones in which nothing is left go.
    """
    still_open = order.deliveries.filter(delivered_on=None, invoice=None)
    if lines:
        last = still_open.order_by("-position", "-pk").first()
        if last is None:
            before = order.deliveries.order_by("-position", "-pk").first()
            last = OrderDelivery.objects.create(
                order=order,
                position=before.position + 1 if before else 0,
                due_on=order.due_on,
                address=before.address if before else "",
            )
        there = {row.line_id: row for row in last.lines.all()}
        for line in lines:
            row = there.get(line.pk) or OrderDeliveryLine(delivery=last, line=line, quantity=0)
            row.quantity += line.quantity
            row.save()
    still_open.filter(lines=None).delete()


def move_needs(order: Order, by_name: Mapping[str, str]) -> None:
    """Reserve what a change needs more, and let go of what it needs less."""
    rows = {row.material.name: row for row in order.needs.select_related("material")}
    missing = Material.objects.of(order.workshop).filter(name__in=set(by_name) - set(rows))
    for material in missing:
        rows[material.name] = OrderNeed(order=order, material=material, amount=ZERO)
    for name, text in by_name.items():
        row = rows.get(name)
        if row is not None:
            row.amount = max(row.amount + Decimal(text), row.taken, ZERO)
            # what was let go may be kept for another order by the time this one needs more again
            row.lot_amount = row.kept
            row.save()


@transaction.atomic
def decline_change(
    *, change: OrderChange, who: str, how: str, note: str, on: datetime.date, today: datetime.date
) -> OrderChange:
    """Store that the customer does not want a change; the order stays. Refusals: as accepting."""
    _, held = _waiting(change, on, today)
    held.state, held.decided_on = State.DECLINED, on
    held.decided_by, held.decided_how, held.decline_note = who, how, note
    held.edit_number += 1
    held.save()
    return held
