"""A tax year that starts on any date: its first and last day, its name, its months."""

import calendar
import datetime
from dataclasses import dataclass

DAY = datetime.timedelta(days=1)


@dataclass(frozen=True, slots=True)
class TaxYear:
    """Both days included; called by the year it starts in."""

    first: datetime.date
    last: datetime.date

    @property
    def name(self) -> str:
        """Return `2026`, or `2026/27` where it ends in another year."""
        if self.first.year == self.last.year:
            return str(self.first.year)
        return f"{self.first.year}/{self.last.year % 100:02}"

    def holds(self, day: datetime.date) -> bool:
        """Return whether a day lies in it."""
        return self.first <= day <= self.last


def starts_on(year: int, month: int, day: int) -> datetime.date:
    """Return the day the tax year starts on; in a shorter month its last."""
    return datetime.date(year, month, min(day, calendar.monthrange(year, month)[1]))


def tax_year(year: int, month: int, day: int) -> TaxYear:
    """Return the tax year that starts in a year."""
    return TaxYear(starts_on(year, month, day), starts_on(year + 1, month, day) - DAY)


def tax_year_of(on: datetime.date, month: int, day: int) -> TaxYear:
    """Return the tax year a day lies in."""
    found = tax_year(on.year, month, day)
    return found if on >= found.first else tax_year(on.year - 1, month, day)


def quarters_of(year: TaxYear) -> tuple[TaxYear, ...]:
    """Return its quarters, each from the day of its start in every third month."""
    starts = []
    for count in range(4):
        number = year.first.year * 12 + year.first.month - 1 + 3 * count
        starts.append(starts_on(number // 12, number % 12 + 1, year.first.day))
    ends = [start - DAY for start in starts[1:]] + [year.last]
    return tuple(TaxYear(*days) for days in zip(starts, ends, strict=True))
