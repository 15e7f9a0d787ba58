"""Ledger rows to values: the figures that are kept with each entry and with the material."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Count, Max

from catalogue.calc.supplies.stock_value import Move, ValuedMove, replay
from catalogue.calc.supplies.unit_cost import rounded_unit_cost
from catalogue.materials.models import Material
from catalogue.stock.models import StockEntry
from maker.workshop.models import Workshop

ZERO = Decimal(0)


def ledger_state(workshop: Workshop) -> tuple[Any, ...]:
    """Return what says which entries a workshop's ledger has: it only grows (two queries).

    What entries are worth follows from them and from the way stock is valued.
    """
    entries = StockEntry.objects.of(workshop).aggregate(count=Count("pk"), last=Max("pk"))
    last = StockEntry.objects.filter(pk=entries["last"]).values_list("made_at", flat=True)
    return workshop.pk, workshop.valuation, entries["count"], entries["last"], *last


@dataclass(frozen=True, slots=True)
class EntryFigures:
    """What moved, what one unit of it cost (None: not known or taken back), and what is left."""

    change: Decimal
    unit_cost: Decimal | None
    balance: Decimal
    value: Decimal


@dataclass(frozen=True, slots=True)
class LedgerFigures:
    """How a material stands after its last entry; names are those of the material's fields."""

    entries: tuple[EntryFigures, ...]
    on_hand: Decimal
    stock_value: Decimal
    average_cost: Decimal | None
    fifo_cost: Decimal | None
    latest_cost: Decimal | None
    latest_line_id: int | None


def figures_from(entries: Sequence[StockEntry], valuation: str) -> LedgerFigures:
    """Replay entries given in ledger order.

    A count moves the ledger to what was counted. Entries that were taken back, and those that
    take them back, move nothing and show the balance they stand beside. Only FIFO values the
    shelf by lots; latest cost is no way to value what is on it, so such a workshop keeps its
    ledger by average.
    """
    undone = {entry.takes_back_id for entry in entries if entry.takes_back_id is not None}
    standing = [
        entry for entry in entries if entry.takes_back_id is None and entry.pk not in undone
    ]
    result = replay(
        [
            Move(
                change=entry.change,
                cost_in=entry.cost_in,
                # goods of a receipt are found again by their line
                key=entry.purchase_line_id if entry.change > 0 else None,
                counted=entry.counted,
                lot=entry.purchase_line_id if entry.change < 0 else None,
                cost_out=entry.cost_out,
            )
            for entry in standing
        ]
    )
    by_lots = valuation == Workshop.Valuation.FIFO
    # not by key of the row: those that come in together are stored when they are valued
    valued = dict(zip(map(id, standing), result.entries, strict=True))
    balance, value, figures = ZERO, ZERO, []
    for entry in entries:
        move = valued.get(id(entry))
        unit_cost = None
        if move:
            balance = move.balance
            value = move.fifo_balance_value if by_lots else move.balance_value
            unit_cost = _unit_cost(move, by_lots=by_lots)
        change = move.change if move else entry.change
        figures.append(EntryFigures(change, unit_cost, balance, value))
    priced = [entry for entry in standing if entry.cost_in is not None and entry.change > 0]
    return LedgerFigures(
        entries=tuple(figures),
        on_hand=result.on_hand,
        stock_value=result.fifo_value if by_lots else result.value,
        average_cost=result.average_cost,
        fifo_cost=result.fifo_cost,
        latest_cost=result.latest_cost,
        latest_line_id=priced[-1].purchase_line_id if priced else None,
    )


def _unit_cost(move: ValuedMove, *, by_lots: bool) -> Decimal | None:
    if by_lots and move.unit_cost is not None and move.change:
        return rounded_unit_cost(move.fifo_value, move.change)
    return move.unit_cost


@dataclass(frozen=True, slots=True)
class Replayed:
    """A material's ledger worked out again: its figures, and stored entries that differ now."""

    material: Material
    figures: LedgerFigures
    changed: Sequence[StockEntry]


def replayed(
    material: Material, stored: Iterable[StockEntry], coming: Sequence[StockEntry] = ()
) -> Replayed:
    """Work out every balance, value and cost of a material, stored in ledger order, and no query.

    `coming` are entries that are not stored yet, in the order of entry: they get their figures here
    and are stored by who made them.
    """
    entries = sorted([*stored, *coming], key=lambda entry: entry.moved_on)
    figures = figures_from(entries, material.workshop.valuation)
    changed = []
    for entry, after in zip(entries, figures.entries, strict=True):
        kept = (entry.change, entry.unit_cost, entry.balance, entry.balance_value)
        if kept != (after.change, after.unit_cost, after.balance, after.value):
            entry.change, entry.unit_cost = after.change, after.unit_cost
            entry.balance, entry.balance_value = after.balance, after.value
            if not entry._state.adding:
                changed.append(entry)
    return Replayed(material, figures, changed)
