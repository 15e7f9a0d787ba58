"""A month as weeks of dates, each with what is on and the hours there are to work."""

import calendar
import datetime
import re
from collections.abc import Iterable
from dataclasses import dataclass

from pricing.calc.schedule.calendar import WorkCalendar
from pricing.calendar.events import CalendarEvent

FIRST, LAST = datetime.date(1990, 1, 1), datetime.date(2200, 1, 1)
MINUTES = 60  # of an hour
_MONTH = re.compile(r"([0-9]{4})-(0[1-9]|1[0-2])", re.ASCII)


@dataclass(frozen=True, slots=True)
class CalendarDay:
    """A date of a month's page; some of the first and last week are of other months."""

    on: datetime.date
    is_inside: bool
    is_today: bool
    hours: str
    events: tuple[CalendarEvent, ...]


@dataclass(frozen=True, slots=True)
class Month:
    """A month and the dates its page shows, whole weeks from Monday."""

    first: datetime.date
    weeks: tuple[tuple[datetime.date, ...], ...]

    @property
    def start(self) -> datetime.date:
        """Return the first date on the page."""
        return self.weeks[0][0]

    @property
    def end(self) -> datetime.date:
        """Return the last date on the page."""
        return self.weeks[-1][-1]

    @property
    def before(self) -> str:
        """Return the month before, as addresses say it; empty where there is none."""
        day = self.first - datetime.timedelta(days=1)
        return f"{day:%Y-%m}" if day >= FIRST else ""

    @property
    def after(self) -> str:
        """Return the month after, as addresses say it; empty where there is none."""
        day = (self.first + datetime.timedelta(days=31)).replace(day=1)
        return f"{day:%Y-%m}" if day < LAST else ""


def month_of(asked: str, today: datetime.date) -> Month:
    """Return the month an address asks for, this one where it asks for none that there is."""
    found = _MONTH.fullmatch(asked)
    first = today.replace(day=1)
    if found:
        typed = datetime.date(max(int(found[1]), 1), int(found[2]), 1)
        first = typed if FIRST <= typed < LAST else first
    weeks = calendar.Calendar().monthdatescalendar(first.year, first.month)
    return Month(first, tuple(tuple(week) for week in weeks))


def days_of(
    month: Month, events: Iterable[CalendarEvent], work: WorkCalendar, today: datetime.date
) -> list[list[CalendarDay]]:
    """Return the page's dates, week by week."""
    on: dict[datetime.date, list[CalendarEvent]] = {}
    for event in events:
        start = max(event.on, month.start)
        for place in range((min(event.until, month.end) - start).days + 1):
            on.setdefault(start + datetime.timedelta(days=place), []).append(event)
    return [
        [
            CalendarDay(
                on=day,
                is_inside=day.month == month.first.month,
                is_today=day == today,
                hours=_hours(work.minutes_on(day)),
                events=tuple(on.get(day, ())),
            )
            for day in week
        ]
        for week in month.weeks
    ]


def _hours(minutes: int) -> str:
    """Write minutes as hours: 4 h, 2.5 h; nothing on a date without work."""
    if not minutes:
        return ""
    hours, rest = divmod(minutes, 60)
    return (
        f"{hours}{f'.{rest * 10 // 60}' if rest * 10 // 60 else ''} h" if hours else f"{rest} min"
    )
