"""Rows of the page on which an order is made, in words."""

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from maker.web.words import money
from maker.workshop.models import Workshop
from pricing.finished_stock.models import FinishedBatch
from pricing.making.inputs import MadeTogether, ToMake
from pricing.times.inputs import newest_steps

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class SheetRow:
    """Sheets of one material; `apart` is how many they take order by order, 0 where the same.

    `lot` is the one that is kept for it, in words.
    """

    name: str
    lot: str
    sheets: int
    pieces: str
    is_fewest: bool
    apart: int


def sheet_rows(
    together: MadeTogether, apart: Sequence[MadeTogether], lots: Mapping[str, str]
) -> list[SheetRow]:
    """Return the sheets by material, beside what the orders take by themselves.

    `lots` has the kept lot of a material in words, by its name.
    """
    if together.cost is None:
        return []
    alone: dict[str, int] = {}
    for each in apart:
        for job in each.cost.jobs if each.cost else ():
            key = str(job.material.identity)
            alone[key] = alone.get(key, 0) + job.sheets
    sheets: dict[str, int] = {}
    names: dict[str, str] = {}
    pieces: dict[str, list[str]] = {}
    fewest: dict[str, bool] = {}
    for job in together.cost.jobs:
        key = str(job.material.identity)
        sheets[key] = sheets.get(key, 0) + job.sheets
        names[key] = job.material.name
        fewest[key] = fewest.get(key, True) and job.shared.plan.plan.proven
        pieces.setdefault(key, []).extend(
            f"{cut.count} × {cut.piece.name} ({group.recipe.name})" for group, cut in job.cuts
        )
    return [
        SheetRow(
            names[key],
            lots.get(names[key], ""),
            count,
            ", ".join(pieces[key]),
            fewest[key],
            alone.get(key, 0) if alone.get(key, 0) != count else 0,
        )
        for key, count in sheets.items()
    ]


@dataclass(frozen=True, slots=True)
class BuyRow:
    """What is bought from one supplier, in words; `so_far` is the cash out until its date."""

    supplier: str
    packs: tuple[tuple[str, str, str], ...]
    goods: str
    postage: str
    to_free: str
    total: str
    so_far: str
    order_by: datetime.date | None
    is_late: bool


def buying_rows(made: ToMake, shop: Workshop, today: datetime.date) -> list[BuyRow]:
    """Return what to buy, the most urgent first."""
    rows, so_far = [], ZERO
    for each in made.suppliers:
        so_far += each.total
        rows.append(
            BuyRow(
                each.supplier,
                tuple(
                    (material, f"{count} × {pack}", money(cost, shop))
                    for material, pack, count, cost in each.packs
                ),
                money(each.goods, shop),
                money(each.postage, shop) if each.postage else "",
                money(each.to_free, shop) if each.to_free else "",
                money(each.total, shop),
                money(so_far, shop),
                each.order_by,
                bool(each.order_by and each.order_by < today),
            )
        )
    return rows


@dataclass(frozen=True, slots=True)
class OrderBatchRow:
    """A batch of an order, in words; `steps` are those a timer can be started on."""

    batch: FinishedBatch
    name: str
    spoiled: str
    worth: str
    timed: str
    steps: tuple[str, ...]


def order_batch_rows(batches: Sequence[FinishedBatch], shop: Workshop) -> list[OrderBatchRow]:
    """Return batches in words; they come from `batches_of` (one query)."""
    steps = newest_steps([row.item.design_id for row in batches if row.is_open])
    return [
        OrderBatchRow(
            batch=row,
            name=str(row.item),
            spoiled=", ".join(
                f"{each.count} {each.get_cause_display()}" for each in row.spoiled.all()
            ),
            worth="–" if row.is_open else money(row.worth.total, shop),
            timed=_timed(row),
            steps=tuple(step.name for step in steps.get(row.item.design_id, ()))
            if row.is_open
            else (),
        )
        for row in batches
    ]


def _timed(batch: FinishedBatch) -> str:
    seconds = sum(run.worked_seconds for run in batch.timed_runs.all() if not run.is_left_out)
    return f"{round(seconds / 60)} min" if seconds else ""


@dataclass(frozen=True, slots=True)
class CoverRow:
    """How far stock goes for a line, in words."""

    name: str
    count: int
    of: int
    first: str


def cover_rows(made: ToMake, alone: MadeTogether) -> list[CoverRow]:
    """Return how far stock goes, what runs out first on top; nothing where stock is enough."""
    found: dict[str, CoverRow] = {}
    for each in made.covered:
        line = alone.lines[each.place]
        name = str(line.design)
        if line.colourway_name:
            name = f"{name}, {line.colourway_name}"
        # a change adds more of an item as a line of its own
        there = found.get(name, CoverRow(name, 0, 0, ""))
        found[name] = CoverRow(
            name, there.count + each.count, there.of + each.of, there.first or each.first
        )
    rows = list(found.values())
    return rows if any(row.first for row in rows) else []
