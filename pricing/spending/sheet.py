"""Columns of the report as a spreadsheet: a row for each month or year."""

from collections.abc import Iterator, Mapping
from typing import Any

from maker.calc.money import minor_digits
from maker.documents.spreadsheet import Column, ColumnKind
from maker.workshop.models import Workshop
from pricing.calc.spending.spend import last_day
from pricing.spending.services import SpendReport


def spend_columns(
    report: SpendReport, names: Mapping[str, str], workshop: Workshop
) -> tuple[Column, ...]:
    """Return the columns; every group that is drawn by itself has one."""
    digits = minor_digits(workshop.currency)
    parts = [names[key] for key in report.series] + (["All others"] if report.rest else [])
    return (
        Column("From", ColumnKind.DATE),
        Column("To", ColumnKind.DATE),
        *(
            Column(name, ColumnKind.MONEY, digits)
            for name in (
                *parts,
                "Spent",
                "Budget",
                "A year before",
                "Used",
                "Scrapped or missing",
                "Other removals",
                "In stock",
            )
        ),
    )


def spend_rows(report: SpendReport) -> Iterator[tuple[Any, ...]]:
    """Yield a row for each month or year; what the shelf cannot say stays empty."""
    for row in report.rows:
        moves = row.moves
        yield (
            row.period.first,
            last_day(row.period.last),
            *row.parts,
            row.spent,
            row.budget,
            row.before,
            moves.used if moves else None,
            moves.lost if moves else None,
            moves.given + moves.sold + moves.returned if moves else None,
            row.closing,
        )
