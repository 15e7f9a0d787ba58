"""Batches of an order: made in parts, reserved for it; materials leave as they are used."""

import datetime
import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType

from django.db import transaction

from catalogue.recipes.models import DesignVersion
from maker.accounts.models import User
from maker.calc.refusal import Refusal
from pricing.finished_stock.models import FinishedBatch, FinishedItem, FinishedMove
from pricing.finished_stock.services import finish_batch, item_for, start_batch, unmake
from pricing.orders.finished import items_of, versions_of, what_of
from pricing.orders.inputs import lines_now
from pricing.orders.models import Order, OrderNeed
from pricing.orders.services import NotPossibleNow, locked
from pricing.prices.inputs import Item
from pricing.quotes.models import QuoteLine

State = Order.State
ZERO = Decimal(0)


class NothingOrdered(Refusal):
    """The order has no such line."""


@dataclass(frozen=True, slots=True)
class Progress:
    """How far one item of an order is; `line` stands for all lines that ask for it."""

    line: QuoteLine
    lines: tuple[int, ...]
    item: FinishedItem | None
    ordered: int
    made: int
    spoiled: int
    under_way: int
    delivered: int

    @property
    def left(self) -> int:
        """Return how many are still to be made."""
        return max(self.ordered - self.made - self.under_way, 0)


def batches_of(order: Order) -> list[FinishedBatch]:
    """Return the batches of an order that count, in order of date (five queries)."""
    rows = order.batches.standing().select_related("item__design", "item__version")
    hanging = ("spoiled", "timed_runs", "item__version__options__choices")
    return list(rows.prefetch_related(*hanging).order_by("started_on", "pk"))


def progress_of(
    order: Order,
    lines: Sequence[QuoteLine] | None = None,
    versions: Mapping[int, DesignVersion] | None = None,
    batches: Sequence[FinishedBatch] | None = None,
) -> list[Progress]:
    """Return how far each item of an order is (two queries, eight with what is not given)."""
    lines = lines_now(order) if lines is None else lines
    versions = versions or versions_of(lines)
    if batches is None:
        batches = list(order.batches.standing().prefetch_related("spoiled"))
    items = items_of(lines)
    ordered: dict[tuple[int, Item], int] = {}
    first: dict[tuple[int, Item], QuoteLine] = {}
    keys: dict[tuple[int, Item], list[int]] = {}
    for line in lines:
        what = what_of(line, versions)
        ordered[what] = ordered.get(what, 0) + line.quantity
        first.setdefault(what, line)
        keys.setdefault(what, []).append(line.pk)
    made: dict[int, int] = {}
    bad: dict[int, int] = {}
    open_: dict[int, int] = {}
    for batch in batches:
        key = batch.item_id
        if batch.is_open:
            open_[key] = open_.get(key, 0) + batch.planned
        made[key] = made.get(key, 0) + (batch.quantity or 0)
        bad[key] = bad.get(key, 0) + sum(each.count for each in batch.spoiled.all())
    gone: dict[int, int] = {}
    out = FinishedMove.objects.standing().filter(order=order)
    kinds = (FinishedMove.Kind.DELIVERED, FinishedMove.Kind.CAME_BACK)
    for key, change in out.filter(kind__in=kinds).values_list("item_id", "change"):
        gone[key] = gone.get(key, 0) - change
    found = []
    for what, count in ordered.items():
        item = items.get(what)
        key = item.pk if item else 0
        found.append(
            Progress(
                first[what],
                tuple(keys[what]),
                item,
                count,
                made.get(key, 0),
                bad.get(key, 0),
                open_.get(key, 0),
                gone.get(key, 0),
            )
        )
    return found


def left_by_line(progress: Sequence[Progress], lines: Sequence[QuoteLine]) -> dict[int, int]:
    """Return place of a line -> how many of it are left; lines of one item fill up in order."""
    found: dict[int, int] = {}
    for row in progress:
        done = row.ordered - row.left
        for place, line in enumerate(lines):
            if line.pk in row.lines:
                from_this = min(done, line.quantity)
                done -= from_this
                found[place] = line.quantity - from_this
    return found


@transaction.atomic
def start_order_batch(
    *,
    order: Order,
    line: QuoteLine,
    planned: int,
    started_on: datetime.date,
    today: datetime.date,
    materials: Mapping[int, Decimal],
    lots: Mapping[int, str] = MappingProxyType({}),
    note: str = "",
    by: User | None = None,
    form_key: uuid.UUID | None = None,
) -> FinishedBatch:
    """Begin a batch for an order; what it uses counts as taken of what the order reserved.

    Refusals: NotPossibleNow for an order that is over, and those of `start_batch`.
    """
    held = locked(order)
    if held.state not in (State.PLANNED, State.MAKING, State.READY):
        raise NotPossibleNow(f"Order {held} is {held.get_state_display()}.")
    version = versions_of([line])[line.version_id]
    item = item_for(version, line.colourway_name, line.choices)
    batch = start_batch(
        item=item,
        planned=planned,
        started_on=started_on,
        today=today,
        materials=materials,
        lots=lots,
        order=held.pk,
        note=note,
        by=by,
        form_key=form_key,
    )
    _count_taken(held, materials, 1)
    if held.state == State.PLANNED:
        held.state = State.MAKING
        held.edit_number += 1
        held.save(update_fields=["state", "edit_number"])
    return batch


@transaction.atomic
def make_order_batch(
    *,
    order: Order,
    line: QuoteLine,
    quantity: int,
    made_on: datetime.date,
    today: datetime.date,
    materials: Mapping[int, Decimal],
    minutes: Decimal,
    lots: Mapping[int, str] = MappingProxyType({}),
    spoiled: Mapping[str, int] | None = None,
    note: str = "",
    by: User | None = None,
    form_key: uuid.UUID | None = None,
) -> FinishedBatch:
    """Make a batch for an order at one go; it arrives reserved for it. Refusals: as above."""
    batch = start_order_batch(
        order=order,
        line=line,
        planned=max(quantity + sum((spoiled or {}).values()), 1),
        started_on=made_on,
        today=today,
        materials=materials,
        lots=lots,
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
        by=by,
    )


@transaction.atomic
def undo_order_batch(*, batch: FinishedBatch, by: User | None = None) -> FinishedBatch:
    """Undo a batch of an order; its materials are in stock and reserved again.

    Refusals: NothingOrdered for a batch of no order, and those of `unmake`.
    """
    if batch.order is None:
        raise NothingOrdered("This batch is for stock.")
    held = locked(batch.order)
    used: dict[int, Decimal] = {}
    rows = batch.materials.filter(entry__taken_back_by__isnull=True)
    for key, change in rows.values_list("entry__material_id", "entry__change"):
        used[key] = used.get(key, ZERO) - change
    undone = unmake(batch=batch, by=by)
    _count_taken(held, used, -1)
    return undone


def _count_taken(order: Order, amounts: Mapping[int, Decimal], sign: int) -> None:
    needs = list(order.needs.select_for_update().filter(material__in=amounts))
    for need in needs:
        need.taken = max(need.taken + sign * amounts[need.material_id], ZERO)
    OrderNeed.objects.bulk_update(needs, ["taken"])


def spoiled_by_cause(batches: Iterable[FinishedBatch]) -> dict[str, int]:
    """Return cause in words -> how many were spoiled by it; batches come from `batches_of`."""
    found: dict[str, int] = {}
    for batch in batches:
        for bad in batch.spoiled.all():
            words = bad.get_cause_display()
            found[words] = found.get(words, 0) + bad.count
    return found
