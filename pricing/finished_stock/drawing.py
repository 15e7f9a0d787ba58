"""Rows of finished stock as its pages show them."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

from django.db import models

from maker.web.words import money
from maker.workshop.models import Workshop
from pricing.costs.forms import OPTION_PREFIX
from pricing.finished_stock.inputs import OnHand
from pricing.finished_stock.models import (
    BatchMaterial,
    FinishedBatch,
    FinishedItem,
    FinishedMove,
)

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class ShelfRow:
    """What is there of an item, in words."""

    item: FinishedItem
    name: str
    quantity: int
    reserved: int
    free: int
    places: str
    worth: str
    materials: str
    wage: str
    overhead: str


def shelf_rows(rows: Iterable[OnHand], workshop: Workshop) -> list[ShelfRow]:
    """Return what is there, in words."""
    return [
        ShelfRow(
            item=row.item,
            name=str(row.item),
            quantity=row.quantity,
            reserved=row.reserved,
            free=row.free,
            places=", ".join(f"{place} {count}" for place, count in row.places),
            worth=money(row.worth.total, workshop),
            materials=money(row.worth.material, workshop),
            wage=money(row.worth.wage, workshop),
            overhead=money(row.worth.overhead, workshop),
        )
        for row in rows
    ]


@dataclass(frozen=True, slots=True)
class BatchRow:
    """A batch in words; `off` is how much more its materials cost now, empty for nothing."""

    batch: FinishedBatch
    spoiled: str
    each: str
    worth: str
    left: int
    off: str
    again: str


def again_query(batch: FinishedBatch) -> str:
    """Return what asks for a batch of the same item, as many as this one."""
    item, quantity = batch.item, batch.planned or batch.quantity
    asked = {
        "design": item.design_id,
        "quantity": quantity or 1,
        "colourway": item.colourway_name,
        **{f"{OPTION_PREFIX}{key}": choice for key, choice in item.choices.items()},
    }
    return urlencode(asked)


def batch_rows(item: FinishedItem, workshop: Workshop) -> list[BatchRow]:
    """Return the batches of an item, the newest first (five queries)."""
    batches = item.batches.select_related("order").prefetch_related(
        "spoiled",
        "layers",
        models.Prefetch("materials", BatchMaterial.objects.select_related("entry")),
        models.Prefetch("moves", FinishedMove.objects.standing(), to_attr="standing"),
    )
    return [_batch_row(row, workshop) for row in batches.order_by("-started_on", "-pk")]


def _batch_row(batch: Any, workshop: Workshop) -> BatchRow:
    used = [row.entry for row in batch.materials.all()]
    today = sum((-each.change * (each.unit_cost or ZERO) for each in used), ZERO)
    known = batch.material_value + sum((each.added_material for each in batch.standing), ZERO)
    off = today - known if batch.made_on and used and not batch.undone_at else ZERO
    is_off = abs(off) >= Decimal("0.01")
    return BatchRow(
        batch=batch,
        spoiled=", ".join(
            f"{each.count} {each.get_cause_display()}" for each in batch.spoiled.all()
        ),
        each=money(batch.worth.total / batch.quantity, workshop) if batch.quantity else "–",
        worth=money(batch.worth.total, workshop) if batch.made_on else "–",
        left=sum(layer.quantity for layer in batch.layers.all()),
        off=money(off, workshop) if is_off else "",
        again=again_query(batch),
    )


@dataclass(frozen=True, slots=True)
class MoveRow:
    """A movement, in words."""

    move: FinishedMove
    place: str
    change: str
    worth: str
    counts: bool
    can_undo: bool


def move_rows_of(moves: Sequence[Any], workshop: Workshop) -> list[MoveRow]:
    """Return movements, in words; a movement of a batch or an order is undone with that."""
    kind = FinishedMove.Kind
    return [
        MoveRow(
            move=row,
            place=f"{row.place} → {row.to_place}" if row.to_place else str(row.place),
            change=f"{row.change:+d}".replace("-", "−") if row.change else "–",
            worth=money(row.worth.total, workshop) if row.counts else "–",
            counts=row.counts,
            can_undo=row.counts and row.kind not in (kind.MADE, kind.DELIVERED),
        )
        for row in moves
    ]
