"""Columns of finished items and of one item's movements as a spreadsheet."""

from collections.abc import Iterable, Iterator
from typing import Any

from maker.documents.spreadsheet import Column, ColumnKind
from maker.workshop.models import Workshop
from pricing.finished_stock.inputs import OnHand
from pricing.finished_stock.models import FinishedMove


def on_hand_columns(workshop: Workshop) -> tuple[Column, ...]:
    """Return the columns, amounts in the workshop's currency."""
    money = f"({workshop.currency})"
    return (
        Column("Item", width=44),
        Column("Version", ColumnKind.WHOLE),
        Column("Quantity", ColumnKind.WHOLE),
        Column("Reserved for orders", ColumnKind.WHOLE),
        Column("Places", width=36),
        Column(f"Materials {money}", ColumnKind.MONEY),
        Column(f"Wage {money}", ColumnKind.MONEY),
        Column(f"Overhead {money}", ColumnKind.MONEY),
    )


def on_hand_rows(rows: Iterable[OnHand]) -> Iterator[tuple[Any, ...]]:
    """Yield a row for each item."""
    for row in rows:
        yield (
            str(row.item),
            row.item.version.number,
            row.quantity,
            row.reserved,
            "; ".join(f"{place}: {count}" for place, count in row.places),
            row.worth.material,
            row.worth.wage,
            row.worth.overhead,
        )


def move_columns(workshop: Workshop) -> tuple[Column, ...]:
    """Return the columns of a history."""
    money = f"({workshop.currency})"
    return (
        Column("Date", ColumnKind.DATE),
        Column("What happened", width=24),
        Column("Place", width=24),
        Column("Moved to", width=24),
        Column("Quantity", ColumnKind.WHOLE),
        Column("Order", width=16),
        Column("Note", width=36),
        Column("Undone", width=10),
        Column(f"Materials {money}", ColumnKind.MONEY),
        Column(f"Wage {money}", ColumnKind.MONEY),
        Column(f"Overhead {money}", ColumnKind.MONEY),
    )


def move_rows(moves: Iterable[FinishedMove]) -> Iterator[tuple[Any, ...]]:
    """Yield a row for each movement."""
    for move in moves:
        yield (
            move.moved_on,
            move.get_kind_display(),
            str(move.place),
            str(move.to_place) if move.to_place else "",
            move.change,
            move.order.number if move.order else "",
            move.reason,
            "" if move.counts else "undone",  # type: ignore[attr-defined]
            move.material_value,
            move.wage_value,
            move.overhead_value,
        )
