"""Movements of finished items: out for good, back in, to another place, counted, undone."""

import datetime
import uuid
from collections.abc import Mapping

from django.db import transaction
from django.utils import timezone

from catalogue.stock.ledger import (
    AlreadyEntered,
    CannotBeTakenBack,
    refuse_reversal,
    refuse_second_click,
)
from catalogue.stock.services import check_date
from maker.accounts.models import User
from maker.workshop.models import Workshop
from pricing.calc.finished_stock.replay import NotThere
from pricing.finished_stock.batches import (
    enter_opening,
    find_items,
    finish_batch,
    make_batch,
    material_value_of,
    revalue,
    start_batch,
    unmake,
)
from pricing.finished_stock.ledger import (
    BatchMovedOn,
    NothingMoved,
    balance_on,
    enter,
    home_of,
    item_for,
    least_from,
    lock_item,
    refuse_nothing,
    replay_finished,
    replay_item,
    reverse,
)
from pricing.finished_stock.models import FinishedBatch, FinishedItem, FinishedMove, Place

__all__ = [
    "AlreadyEntered",
    "BatchMovedOn",
    "NotThere",
    "NothingMoved",
    "bring_back",
    "count",
    "count_many",
    "enter_opening",
    "finish_batch",
    "home_of",
    "item_for",
    "least_from",
    "lock_item",
    "make_batch",
    "material_value_of",
    "move",
    "replay_finished",
    "replay_item",
    "revalue",
    "start_batch",
    "take_out",
    "undo",
    "unmake",
]

Kind = FinishedMove.Kind
# what she may enter as gone; `DELIVERED` belongs to orders
OUTGOING = (Kind.SOLD, Kind.GIVEN, Kind.SAMPLE, Kind.SPOILED, Kind.UNMADE, Kind.DELIVERED)


@transaction.atomic
def take_out(
    *,
    item: FinishedItem,
    place: Place,
    quantity: int,
    kind: str,
    on: datetime.date,
    today: datetime.date,
    order: int | None = None,
    delivery: int | None = None,
    fair_line: int | None = None,
    settled: int | None = None,
    reason: str = "",
    by: User | None = None,
    form_key: uuid.UUID | None = None,
    may_find: bool = False,
) -> FinishedMove:
    """Let items leave a place for good: one of `OUTGOING`; `order` is the one they go to,
    `fair_line` the line of a sale at a fair, `settled` what a shop said it sold.

    Refusals: NotThere where fewer were there; with `may_find` those missing in the book are entered
    as found first, at what the last batch cost, so that what was sold is never lost.
    NothingMoved, UnlikelyDate; AlreadyEntered for the same `form_key` a second time.
    """
    check_date(on, today, "on")
    refuse_nothing(quantity)
    if kind not in OUTGOING:
        raise NothingMoved("Choose what happened to them.", where="kind")
    locked = lock_item(item)
    refuse_second_click(FinishedMove.objects.all(), form_key)
    if may_find:
        lacking = _lacking(locked, place, quantity, on)
        if lacking:
            find_items(locked, place, lacking, on, by=by)
    return enter(
        locked,
        place,
        kind,
        -quantity,
        on,
        order_id=order,
        delivery_id=delivery,
        fair_line_id=fair_line,
        settled_id=settled,
        reason=reason,
        made_by=by,
        form_key=form_key,
    )


def _lacking(item: FinishedItem, place: Place, quantity: int, on: datetime.date) -> int:
    """Return how many more must be there so that so many can leave on a date."""
    there = least_from(item, place, on)
    return max(quantity - there, 0)


@transaction.atomic
def bring_back(
    *,
    item: FinishedItem,
    place: Place,
    quantity: int,
    on: datetime.date,
    today: datetime.date,
    order: int | None = None,
    fair_line: int | None = None,
    reason: str = "",
    by: User | None = None,
    form_key: uuid.UUID | None = None,
) -> FinishedMove:
    """Take items that had gone out back in, at what they left with; from an `order` or the last.

    Refusals: NotThere where fewer had gone out; NothingMoved, UnlikelyDate, AlreadyEntered.
    """
    check_date(on, today, "on")
    refuse_nothing(quantity)
    locked = lock_item(item)
    refuse_second_click(FinishedMove.objects.all(), form_key)
    return enter(
        locked,
        place,
        Kind.CAME_BACK,
        quantity,
        on,
        order_id=order,
        fair_line_id=fair_line,
        reason=reason,
        made_by=by,
        form_key=form_key,
    )


@transaction.atomic
def move(
    *,
    item: FinishedItem,
    from_place: Place,
    to_place: Place,
    quantity: int,
    on: datetime.date,
    today: datetime.date,
    reason: str = "",
    by: User | None = None,
    form_key: uuid.UUID | None = None,
) -> FinishedMove:
    """Take items from one place to another. Refusals: as `take_out`."""
    check_date(on, today, "on")
    refuse_nothing(quantity)
    if from_place.pk == to_place.pk:
        raise NothingMoved("Choose another place.", where="to_place")
    locked = lock_item(item)
    refuse_second_click(FinishedMove.objects.all(), form_key)
    return enter(
        locked,
        from_place,
        Kind.MOVED,
        -quantity,
        on,
        to_place=to_place,
        reason=reason,
        made_by=by,
        form_key=form_key,
    )


@transaction.atomic
def count(
    *,
    item: FinishedItem,
    place: Place,
    counted: int,
    on: datetime.date,
    today: datetime.date,
    reason: str = "",
    by: User | None = None,
    form_key: uuid.UUID | None = None,
) -> FinishedMove | None:
    """Say how many were at a place at the end of a date; None where the ledger agrees.

    Those missing leave first in, first out; those found cost what one of the last batch did.
    Refusals: NothingMoved below zero, NotThere where later movements need more, UnlikelyDate.
    """
    check_date(on, today, "on")
    if counted < 0:
        raise NothingMoved("Enter 0 or more.", where="counted")
    locked = lock_item(item)
    refuse_second_click(FinishedMove.objects.all(), form_key)
    change = counted - balance_on(locked, place, on)
    if change > 0:
        found = find_items(locked, place, change, on, by=by)
        found.reason, found.form_key = reason, form_key
        found.save(update_fields=["reason", "form_key"])
        return found
    if change < 0:
        return enter(
            locked,
            place,
            Kind.MISSING,
            change,
            on,
            reason=reason,
            made_by=by,
            form_key=form_key,
        )
    return None


@transaction.atomic
def undo(*, move: FinishedMove, by: User | None = None, reason: str = "") -> FinishedMove:
    """Undo one movement by a new one of the same date; both stay.

    Refusals: CannotBeTakenBack for what a batch brought (undo the batch) or what was undone;
    NotThere where what came in has left since.
    """
    item = lock_item(move.item)
    refuse_reversal(move)
    if move.kind == Kind.MADE:
        raise CannotBeTakenBack("This came from a batch. Undo the batch instead.")
    back = reverse(move, by=by, reason=reason)
    if move.kind == Kind.FOUND and move.batch_id:
        FinishedBatch.objects.filter(pk=move.batch_id).update(undone_at=timezone.now())
    replay_item(item)
    return back


@transaction.atomic
def count_many(
    *,
    workshop: Workshop,
    place: Place,
    counted: Mapping[int, int],
    on: datetime.date,
    today: datetime.date,
    form_key: uuid.UUID,
    reason: str = "",
    by: User | None = None,
) -> int:
    """Say what was counted of many items (by key) at a place, all or none; return how many
    differed.

    The same `form_key` a second time raises AlreadyEntered where it changed something.
    """
    items = FinishedItem.objects.of(workshop).filter(pk__in=counted).order_by("pk")
    changed = [
        count(
            item=item,
            place=place,
            counted=counted[item.pk],
            on=on,
            today=today,
            reason=reason,
            by=by,
            form_key=uuid.uuid5(form_key, str(item.pk)),
        )
        for item in items
    ]
    return sum(each is not None for each in changed)
