"""Dates as they are said: Tue 1 Dec 2026."""

import datetime

_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = (
    "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
)  # fmt: skip


def say_date(on: datetime.date, *, year: bool = True) -> str:
    """Return the date with its weekday, the same in every locale, as the pages are English."""
    said = f"{_WEEKDAYS[on.weekday()]} {on.day} {_MONTHS[on.month - 1]}"
    return f"{said} {on.year}" if year else said


def short_date(on: datetime.date) -> str:
    """Return the date without its weekday: 1 Dec 2026."""
    return f"{on.day} {_MONTHS[on.month - 1]} {on.year}"


def say_span(first: datetime.date, last: datetime.date) -> str:
    """Return one date, or two with “to” between them, without the year."""
    if first == last:
        return say_date(first, year=False)
    return f"{say_date(first, year=False)} to {say_date(last, year=False)}"
