"""Batches: begun, finished, made at one go, there before, found, revalued, undone."""

import datetime
import uuid
from collections.abc import Mapping
from decimal import Decimal
from types import MappingProxyType

from django.db import transaction
from django.utils import timezone

from catalogue.stock.ledger import refuse_second_click
from catalogue.stock.models import StockEntry
from catalogue.stock.services import check_date, lock_materials, move_stock, reverse_entry
from maker.accounts.models import User
from maker.calc.money import with_working_precision
from pricing.calc.finished_stock.worth import NOTHING, PLACES, Worth
from pricing.costs.inputs import workshop_rates
from pricing.finished_stock.ledger import (
    BatchMovedOn,
    NothingMoved,
    enter,
    home_of,
    lock_item,
    refuse_nothing,
    replay_item,
    replay_with,
    reverse,
)
from pricing.finished_stock.models import (
    BatchMaterial,
    BatchSpoiled,
    FinishedBatch,
    FinishedItem,
    FinishedMove,
    Place,
)

ZERO = Decimal(0)
HOUR = Decimal(60)
Kind = FinishedMove.Kind


@transaction.atomic
def start_batch(
    *,
    item: FinishedItem,
    planned: int,
    started_on: datetime.date,
    today: datetime.date,
    materials: Mapping[int, Decimal],
    lots: Mapping[int, str] = MappingProxyType({}),
    order: int | None = None,
    note: str = "",
    by: User | None = None,
    form_key: uuid.UUID | None = None,
) -> FinishedBatch:
    """Begin a batch: its materials (amounts by key) leave stock; nothing is on the shelf yet.

    `lots` names the lot of a material, `order` is the key of the order it is made for. Refusals:
    NothingMoved, UnlikelyDate; AlreadyEntered for the same `form_key` a second time.
    """
    check_date(started_on, today, "made_on")
    refuse_nothing(planned)
    lock_item(item)
    refuse_second_click(FinishedBatch.objects.all(), form_key)  # type: ignore[arg-type]
    batch = FinishedBatch.objects.create(
        item=item,
        order_id=order,
        started_on=started_on,
        planned=planned,
        note=note,
        made_by=by,
        form_key=form_key,
    )
    _take_materials(batch, materials, lots, started_on, today, by)
    return batch


def _take_materials(
    batch: FinishedBatch,
    materials: Mapping[int, Decimal],
    lots: Mapping[int, str],
    on: datetime.date,
    today: datetime.date,
    by: User | None,
) -> None:
    wanted = {key: amount for key, amount in materials.items() if amount > 0}
    for key, material in lock_materials(wanted).items():
        entry = move_stock(
            material=material,
            kind=StockEntry.Kind.USED,
            amount=wanted[key],
            moved_on=on,
            today=today,
            by=by,
            lot=lots.get(key, ""),
            reason=f"{batch}: {batch.item.design}"[:200],
        )
        BatchMaterial.objects.create(batch=batch, entry=entry)


@transaction.atomic
def finish_batch(
    *,
    batch: FinishedBatch,
    quantity: int,
    made_on: datetime.date,
    today: datetime.date,
    minutes: Decimal,
    spoiled: Mapping[str, int] | None = None,
    place: Place | None = None,
    note: str | None = None,
    by: User | None = None,
) -> FinishedBatch:
    """Put the good items of an open batch on the shelf at what they cost, at home or a `place`.

    Materials at what they cost when they left stock; wage and overhead from `minutes` of work.
    `spoiled` counts by cause are paid by the good ones. Refusals: BatchMovedOn, UnlikelyDate,
    NothingMoved, and what `workshop_rates` refuses.
    """
    check_date(made_on, today, "made_on")
    item = lock_item(batch.item)
    held = _open_batch(batch)
    if made_on < held.started_on:
        raise NothingMoved("It can't be finished before it was started.", where="made_on")
    counts = {cause: count for cause, count in (spoiled or {}).items() if count}
    if quantity < 0 or (not quantity and not counts):
        raise NothingMoved("Enter how many came out, or how many were spoiled.", where="quantity")
    rates = workshop_rates(item.workshop)
    wage, overhead = (
        (minutes * each / HOUR).quantize(PLACES)
        for each in (rates.wage_per_hour, rates.overhead_per_hour)
    )
    held.quantity, held.made_on, held.minutes = quantity, made_on, minutes
    held.note = held.note if note is None else note
    held.worth = Worth(material_value_of(held), wage, overhead)
    held.save()
    BatchSpoiled.objects.bulk_create(
        BatchSpoiled(batch=held, cause=cause, count=count) for cause, count in counts.items()
    )
    if quantity:
        _arrive(held, place or home_of(item.workshop), Kind.MADE, by=by)
    return held


@with_working_precision
def material_value_of(batch: FinishedBatch) -> Decimal:
    """Return what the materials of a batch cost as stock has it today (one query)."""
    rows = batch.materials.values_list("entry__change", "entry__unit_cost")
    return sum(((-change * (cost or ZERO)).quantize(PLACES) for change, cost in rows), ZERO)


@transaction.atomic
def make_batch(
    *,
    item: FinishedItem,
    quantity: int,
    made_on: datetime.date,
    today: datetime.date,
    materials: Mapping[int, Decimal],
    minutes: Decimal,
    order: int | None = None,
    spoiled: Mapping[str, int] | None = None,
    place: Place | None = None,
    note: str = "",
    by: User | None = None,
    form_key: uuid.UUID | None = None,
) -> FinishedBatch:
    """Make a batch at one go: materials leave stock and items arrive, in one transaction.

    Refusals: as `start_batch` and `finish_batch`.
    """
    batch = start_batch(
        item=item,
        planned=max(quantity + sum((spoiled or {}).values()), 1),
        started_on=made_on,
        today=today,
        materials=materials,
        order=order,
        note=note,
        by=by,
        form_key=form_key,
    )
    return finish_batch(
        batch=batch,
        quantity=quantity,
        made_on=made_on,
        today=today,
        minutes=minutes,
        spoiled=spoiled,
        place=place,
        by=by,
    )


@transaction.atomic
def enter_opening(
    *,
    item: FinishedItem,
    quantity: int,
    on: datetime.date,
    today: datetime.date,
    worth: Worth,
    place: Place | None = None,
    note: str = "",
    by: User | None = None,
    form_key: uuid.UUID | None = None,
) -> FinishedBatch:
    """Enter items that were there before they were counted here; no material leaves stock.

    `worth` is what all of them cost. Refusals: as `start_batch`.
    """
    check_date(on, today, "made_on")
    refuse_nothing(quantity)
    locked = lock_item(item)
    refuse_second_click(FinishedBatch.objects.all(), form_key)  # type: ignore[arg-type]
    return _new_stock(
        locked,
        FinishedBatch.Kind.OPENING,
        quantity,
        on,
        worth,
        place or home_of(locked.workshop),
        note=note,
        by=by,
        form_key=form_key,
    )


def _new_stock(
    item: FinishedItem,
    kind: str,
    quantity: int,
    on: datetime.date,
    worth: Worth,
    place: Place,
    *,
    note: str = "",
    by: User | None = None,
    form_key: uuid.UUID | None = None,
) -> FinishedBatch:
    batch = FinishedBatch(
        item=item,
        kind=kind,
        started_on=on,
        made_on=on,
        planned=quantity,
        quantity=quantity,
        note=note,
        made_by=by,
        form_key=form_key,
    )
    batch.worth = worth
    batch.save()
    move_kind = Kind.FOUND if kind == FinishedBatch.Kind.FOUND else Kind.MADE
    _arrive(batch, place, move_kind, by=by)
    return batch


def _arrive(batch: FinishedBatch, place: Place, kind: str, *, by: User | None) -> None:
    row = FinishedMove.objects.create(
        item=batch.item,
        place=place,
        batch=batch,
        order_id=batch.order_id,
        kind=kind,
        change=batch.quantity or 0,
        moved_on=batch.made_on or batch.started_on,
        reason=batch.note,
        made_by=by,
    )
    replay_with(batch.item, row)


def find_items(
    item: FinishedItem, place: Place, quantity: int, on: datetime.date, *, by: User | None
) -> FinishedMove:
    """Enter found items, at what one of the last batch cost."""
    last = item.batches.made().filter(quantity__gt=0).order_by("-made_on", "-pk").first()
    worth = NOTHING
    if last is not None and last.quantity:
        worth = with_working_precision(last.worth.part)(quantity, last.quantity)
    batch = _new_stock(item, FinishedBatch.Kind.FOUND, quantity, on, worth, place, by=by)
    return FinishedMove.objects.get(batch=batch)


@transaction.atomic
def revalue(
    *, batch: FinishedBatch, on: datetime.date, today: datetime.date, by: User | None = None
) -> FinishedMove | None:
    """Take a batch's materials at what stock says they cost today; None where nothing changed.

    A receipt entered late changes what was used before. The difference is dated `on`: of those
    still there it changes the worth, of those gone it is a later cost. Refusals: BatchMovedOn.
    """
    check_date(on, today, "on")
    item = lock_item(batch.item)
    held = FinishedBatch.objects.get(pk=batch.pk)
    if held.undone_at or held.made_on is None:
        raise BatchMovedOn("This batch isn't finished.")
    moves = list(held.moves.standing())
    first = next((each for each in moves if each.kind == Kind.MADE), None)
    known = held.material_value + sum((each.added_material for each in moves), ZERO)
    more = material_value_of(held) - known
    if not more or first is None:
        return None
    return enter(
        item,
        first.place,
        Kind.REVALUED,
        0,
        max(on, held.made_on),
        batch=held,
        added_material=more,
        made_by=by,
    )


@transaction.atomic
def unmake(*, batch: FinishedBatch, by: User | None = None) -> FinishedBatch:
    """Undo a batch as if it had never been: its items go, its materials are back in stock.

    Refusals: BatchMovedOn where it was undone, NotThere where its items have left.
    """
    item = lock_item(batch.item)
    held = FinishedBatch.objects.select_for_update(of=("self",)).get(pk=batch.pk)
    if held.undone_at is not None:
        raise BatchMovedOn("This batch was already undone.")
    for row in held.moves.standing().order_by("-pk"):
        reverse(row, by=by, reason="batch undone")
    held.undone_at = timezone.now()
    held.save(update_fields=["undone_at"])
    rows = held.materials.select_related("entry__material__workshop")
    used = list(StockEntry.objects.filter(of_batch__in=rows).standing().order_by("material_id"))
    lock_materials(entry.material_id for entry in used)
    for entry in used:
        reverse_entry(entry=entry, by=by, reason=f"{held}: undone")
    replay_item(item)
    return held


def _open_batch(batch: FinishedBatch) -> FinishedBatch:
    rows = FinishedBatch.objects.select_for_update(of=("self",))
    held = rows.select_related("item__design", "item__workshop").get(pk=batch.pk)
    if not held.is_open:
        raise BatchMovedOn("This batch was already finished or undone.")
    return held
