"""When something that repeats comes due, and what overhead comes to beside what was counted."""

import calendar
import datetime
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from maker.calc.money import with_working_precision

ZERO = Decimal(0)
MONTHS = {"month": 1, "year": 12}


def months_on(date: datetime.date, months: int) -> datetime.date:
    """Return the same day some months later, the last day of a month that is too short."""
    number = date.year * 12 + date.month - 1 + months
    year, month = divmod(number, 12)
    last = calendar.monthrange(year, month + 1)[1]
    return datetime.date(year, month + 1, min(date.day, last))


def dates_due(first: datetime.date, repeats: str, until: datetime.date) -> Iterator[datetime.date]:
    """Yield the dates after the first one, up to and with `until`; none without repeating.

    Each is counted from the first date: the 31st comes back after February.
    """
    if repeats not in MONTHS:
        return
    count = MONTHS[repeats]
    while (date := months_on(first, count)) <= until:
        yield date
        count += MONTHS[repeats]


@dataclass(frozen=True, slots=True)
class Paid:
    """Something paid for that overhead has to bear; a tool lasts some years."""

    paid_on: datetime.date
    cost: Decimal
    lasts_years: int | None = None


@with_working_precision
def borne_in(paid: Paid, first: datetime.date, last: datetime.date) -> Decimal:
    """Return what of something paid falls on some whole months, both included; not rounded.

    `first` and `last` are first days of months. What lasts some years is borne in equal parts by
    that many times twelve months, from the month it was paid in (straight-line; common practice).
    """
    start = datetime.date(paid.paid_on.year, paid.paid_on.month, 1)
    if not paid.lasts_years:
        return paid.cost if first <= start <= last else ZERO
    months = paid.lasts_years * 12
    end = months_on(start, months - 1)
    begins, ends = max(start, first), min(end, last)
    count = (ends.year - begins.year) * 12 + ends.month - begins.month + 1
    return paid.cost * count / months if count > 0 else ZERO


@with_working_precision
def left_of(paid: Paid, month: datetime.date) -> Decimal:
    """Return what of a tool no month has borne yet when a month is over; not rounded."""
    start = datetime.date(paid.paid_on.year, paid.paid_on.month, 1)
    return paid.cost - borne_in(paid, start, month) if start <= month else paid.cost


@dataclass(frozen=True, slots=True)
class OverheadSoFar:
    """What the price counts for overhead in a year, and what a year of it came to."""

    counted: Decimal
    spent: Decimal

    @property
    def over(self) -> Decimal:
        """Return what was spent above what the price counts; below zero when less."""
        return self.spent - self.counted


@with_working_precision
def overhead_so_far(
    paid: Sequence[Paid], first: datetime.date, last: datetime.date, counted: Decimal
) -> OverheadSoFar:
    """Return overhead of some months beside what was counted for them."""
    return OverheadSoFar(counted, sum((borne_in(one, first, last) for one in paid), ZERO))
