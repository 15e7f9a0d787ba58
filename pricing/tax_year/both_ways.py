"""A tax year as its months were first closed beside what is known now, and why they differ.

Closed months are whole months: of a year that begins within one, the twelve from that month on.
"""

import datetime
from dataclasses import dataclass

from catalogue.closed_months.models import ClosedMonth
from maker.workshop.models import Workshop
from pricing.calc.spending.spend import month_of, months_later
from pricing.calc.spending.tax_year import TaxYear
from pricing.closed_months.drawing import FigureText, LateText, figure_texts, late_texts
from pricing.closed_months.services import MonthRow, late_rows, month_rows, together

MONTHS = 12
MOST_LATE = 20


@dataclass(frozen=True, slots=True)
class BothWays:
    """What the page shows: figures, how many months are closed, what came late."""

    figures: tuple[FigureText, ...]
    months: int
    closed: int
    first: datetime.date
    last: datetime.date
    differs: bool
    late: list[LateText]
    more_late: int
    is_by_whole_months: bool


def has_closed(workshop: Workshop, year: TaxYear) -> bool:
    """Return whether one of the months of a year is closed (one query)."""
    first, last = _months(year)
    closed = ClosedMonth.objects.of(workshop).standing()
    return closed.filter(month__gte=first, month__lte=last).exists()


def _months(year: TaxYear) -> tuple[datetime.date, datetime.date]:
    """Return the first and the last month of a year."""
    first = month_of(year.first)
    return first, months_later(first, MONTHS - 1)


def months_of(workshop: Workshop, year: TaxYear, today: datetime.date) -> list[MonthRow]:
    """Return the months of a year; none when not one of them was closed."""
    if not has_closed(workshop, year):
        return []
    first, last = _months(year)
    return [row for row in month_rows(workshop, today) if first <= row.month <= last]


def both_ways(workshop: Workshop, year: TaxYear, today: datetime.date) -> BothWays | None:
    """Return a year both ways; None when none of its months was closed."""
    rows = months_of(workshop, year, today)
    if not rows:
        return None
    own = {row.month for row in rows}
    late = [one for one in late_rows(workshop) if month_of(one.dated) in own]
    whole = together(rows)
    return BothWays(
        figures=figure_texts(whole.figures, workshop),
        months=len(rows),
        closed=sum(row.closing is not None for row in rows),
        first=rows[0].month,
        last=rows[-1].month,
        differs=any(row.differs for row in rows),
        late=late_texts(late[:MOST_LATE], workshop),
        more_late=max(len(late) - MOST_LATE, 0),
        is_by_whole_months=year.first.day != 1,
    )
