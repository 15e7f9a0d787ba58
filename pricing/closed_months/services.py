"""Closing months, and months as first closed beside what is known now."""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from catalogue.closed_months.models import ClosedMonth
from catalogue.closed_months.services import CannotClose, Closings, close_months
from catalogue.expenses.models import Expense
from catalogue.stock.models import StockEntry
from catalogue.stock.services import lock_materials
from maker.accounts.models import User
from maker.workshop.models import Workshop
from pricing.calc.spending.closing import (
    Compared,
    MonthFigures,
    compared,
    from_json,
    to_json,
)
from pricing.calc.spending.spend import month_of, months_from
from pricing.closed_months.inputs import as_first_booked, as_known, late_entries
from pricing.spending.inputs import Narrowed, first_month, moved_in
from pricing.spending.kept import moved_in_all

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class MonthRow:
    """A month: the closing that holds (None: open), as first closed, as known now."""

    month: datetime.date
    closing: ClosedMonth | None
    first: MonthFigures
    now: MonthFigures

    @property
    def figures(self) -> tuple[Compared, ...]:
        """Every figure both ways."""
        return compared(self.first, self.now)

    @property
    def differs(self) -> bool:
        """Whether anything is known otherwise now."""
        return any(one.more for one in self.figures if not one.key.startswith("late"))


@transaction.atomic
def close_through(
    *, workshop: Workshop, month: datetime.date, today: datetime.date, by: User | None = None
) -> list[ClosedMonth]:
    """Close a month and every open one before it. Refusals: CannotClose.

    Nothing moves between reading the ledgers and closing: it would count in neither.
    """
    Workshop.objects.select_for_update(no_key=True).get(pk=workshop.pk)
    lock_materials(workshop.materials.values_list("pk", flat=True))
    first = first_month(workshop)
    if first is None or month < first:
        raise CannotClose("There is nothing in that month to close.", where="month")
    moved = moved_in(workshop, first, month, Narrowed())
    booked = as_first_booked(workshop, Closings(workshop), first, month, moved)
    return close_months(
        workshop=workshop,
        months=list(months_from(first, month)),
        today=today,
        figures_of=lambda one: to_json(booked[one]),
        by=by,
    )


@transaction.atomic
def close_as_of(
    *, workshop: Workshop, month: datetime.date, closed_at: datetime.datetime
) -> list[ClosedMonth]:
    """Close a month and every open one before it as of an instant: what came later is late."""
    first, standing = first_month(workshop), Closings(workshop).standing
    if first is None:
        return []
    rows = ClosedMonth.objects.bulk_create(
        ClosedMonth(workshop=workshop, month=one, closed_at=closed_at)
        for one in months_from(first, month)
        if one not in standing
    )
    moved = moved_in(workshop, first, month, Narrowed())
    booked = as_first_booked(workshop, Closings(workshop), first, month, moved)
    for row in rows:
        row.figures = to_json(booked[row.month])
    ClosedMonth.objects.bulk_update(rows, ["figures"])
    return rows


def month_rows(workshop: Workshop, today: datetime.date) -> list[MonthRow]:
    """Return every month from the first movement to this one, the first first."""
    first = first_month(workshop)
    if first is None:
        return []
    last = max(month_of(today), first)
    closings = Closings(workshop)
    moved = moved_in_all(workshop, first, last)
    known = as_known(workshop, first, last, moved)
    booked = as_first_booked(workshop, closings, first, last, moved) if closings.rows else known
    standing = closings.standing
    return [
        MonthRow(
            month,
            closings.of(month),
            from_json(standing[month].figures) if month in standing else booked[month],
            known[month],
        )
        for month in months_from(first, last)
    ]


def year_of(rows: Sequence[MonthRow], year: int) -> MonthRow | None:
    """Return the months of a year together."""
    own = [row for row in rows if row.month.year == year]
    return together(own) if own else None


def together(rows: Sequence[MonthRow]) -> MonthRow:
    """Return months that follow each other as one row; closed when all of them are."""
    return MonthRow(
        rows[0].month,
        rows[-1].closing if all(row.closing for row in rows) else None,
        _together([row.first for row in rows]),
        _together([row.now for row in rows]),
    )


def _together(figures: Sequence[MonthFigures]) -> MonthFigures:
    moves, late = figures[0].moves, figures[0].late
    for one in figures[1:]:
        moves, late = moves + one.moves, late + one.late
    return MonthFigures(
        figures[0].opening,
        moves,
        late,
        figures[-1].closing,
        sum((one.expenses for one in figures), ZERO),
        sum((one.late_expenses for one in figures), ZERO),
    )


@dataclass(frozen=True, slots=True)
class LateRow:
    """Something entered after its month was closed."""

    dated: datetime.date
    entered: datetime.datetime
    entry: StockEntry | None = None
    expense: Expense | None = None
    deleted: bool = False

    @property
    def month(self) -> datetime.date:
        """The month it counts in as a correction."""
        return month_of(max(self.dated, timezone.localdate(self.entered)))


def late_rows(workshop: Workshop) -> list[LateRow]:
    """Return everything entered or deleted for closed months, the last entered first."""
    closings = Closings(workshop)
    late = late_entries(workshop, closings).select_related(
        "material", "purchase_line__purchase", "takes_back"
    )
    rows = [LateRow(entry.moved_on, entry.made_at, entry=entry) for entry in late]
    for one in Expense.objects.of(workshop).select_related("purchase") if closings.rows else ():
        entered = one.added_at if one.purchase is None else one.purchase.recorded_at
        if entered is not None and closings.is_late(one.paid_on, entered):
            rows.append(LateRow(one.paid_on, entered, expense=one))
        if one.deleted_at is not None and closings.is_late(one.paid_on, one.deleted_at):
            rows.append(LateRow(one.paid_on, one.deleted_at, expense=one, deleted=True))
    return sorted(rows, key=lambda row: row.entered, reverse=True)
