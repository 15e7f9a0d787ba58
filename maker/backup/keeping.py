"""Which of the copies made on different days stay."""

from collections.abc import Callable, Iterable
from datetime import datetime
from typing import Any

DAYS, WEEKS, MONTHS = 7, 5, 12


def those_that_stay(moments: Iterable[datetime]) -> set[datetime]:
    """Return the moments of the copies that stay, of copies made at these.

    All of the newest seven days that have one; the last of each of the newest five weeks (Monday
    to Sunday) and twelve months that have one. Days without a copy do not count: a machine that was
    off for a month loses nothing by it.
    """
    newest_first = sorted(set(moments), reverse=True)
    days: list[Any] = []
    stay = set()
    for moment in newest_first:
        if moment.date() not in days:
            days.append(moment.date())
        if len(days) <= DAYS:
            stay.add(moment)
    return (
        stay
        | _last_of_each(newest_first, lambda moment: moment.isocalendar()[:2], WEEKS)
        | _last_of_each(newest_first, lambda moment: (moment.year, moment.month), MONTHS)
    )


def _last_of_each(
    newest_first: list[datetime], period: Callable[[datetime], Any], most: int
) -> set[datetime]:
    last: dict[Any, datetime] = {}
    for moment in newest_first:
        last.setdefault(period(moment), moment)
    return set(list(last.values())[:most])
