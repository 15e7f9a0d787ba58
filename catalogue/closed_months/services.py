"""Closing months and reopening them, and whether one was closed when something was entered."""

import datetime
from bisect import bisect_left
from collections.abc import Callable, Iterable
from itertools import accumulate
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.utils import timezone

from catalogue.closed_months.models import ClosedMonth
from maker.accounts.models import User
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop


class CannotClose(Refusal):
    """A month that is not over, or is closed or open already."""


class Closings:
    """Which months of a workshop are closed, and since when (one query).

    A month that was reopened is open: whatever came late for it belongs to it again. One before
    the first closed month is closed with that: its figures begin with what was there.
    """

    def __init__(self, workshop: Workshop) -> None:
        self.rows = list(ClosedMonth.objects.of(workshop).standing())
        self.standing = {row.month: row for row in self.rows}
        self._months = [row.month for row in self.rows]
        since = accumulate((row.closed_at for row in reversed(self.rows)), min)
        self._since = [*since][::-1]

    def _place(self, dated: datetime.date) -> int:
        return bisect_left(self._months, dated.replace(day=1))

    def of(self, dated: datetime.date) -> ClosedMonth | None:
        """Return what closed the month of a date; None when it is open."""
        place = self._place(dated)
        return self.rows[place] if place < len(self.rows) else None

    def is_late(self, dated: datetime.date, entered: datetime.datetime) -> bool:
        """Return whether the month of a date was closed when something was entered for it."""
        place = self._place(dated)
        return place < len(self._since) and self._since[place] < entered

    def booked_on(self, dated: datetime.date, entered: datetime.datetime) -> datetime.date:
        """Return the date under which something counts in months as they were first closed."""
        if not self.is_late(dated, entered):
            return dated
        return max(dated, timezone.localdate(entered))


def is_closed(workshop: Workshop, dated: datetime.date) -> bool:
    """Return whether the month of a date is closed now (one query)."""
    closed = ClosedMonth.objects.of(workshop).standing()
    return closed.filter(month__gte=dated.replace(day=1)).exists()


def say_closed(request: Any, dated: datetime.date) -> None:
    """Say that something was entered for a closed month, and where it counts."""
    if is_closed(request.workshop, dated):
        today = timezone.localdate()
        messages.info(
            request,
            f"{dated:%B %Y} is closed and stays as it was. This counts as a correction in "
            f"{today:%B %Y}.",
        )


@transaction.atomic
def close_months(
    *,
    workshop: Workshop,
    months: Iterable[datetime.date],
    today: datetime.date,
    figures_of: Callable[[datetime.date], dict[str, Any]],
    by: User | None = None,
) -> list[ClosedMonth]:
    """Close months in their order, each with what it comes to; those closed already stay.

    Refuses a month that is not over.
    """
    Workshop.objects.select_for_update(no_key=True).get(pk=workshop.pk)
    closed = Closings(workshop).standing
    made = []
    for month in sorted(months):
        if month in closed:
            continue
        if (month.year, month.month) >= (today.year, today.month):
            raise CannotClose(f"{month:%B %Y} is not over yet.", where="month")
        made.append(
            ClosedMonth.objects.create(
                workshop=workshop,
                month=month,
                figures=figures_of(month),
                closed_at=timezone.now(),
                closed_by=by,
            )
        )
    if not made:
        raise CannotClose("This month is already closed.", where="month")
    return made


@transaction.atomic
def reopen_from(
    *, workshop: Workshop, month: datetime.date, reason: str, by: User | None = None
) -> list[ClosedMonth]:
    """Reopen a month and all after it, on purpose; the record of each closing stays.

    Refuses without a reason, and a month that is open.
    """
    Workshop.objects.select_for_update(no_key=True).get(pk=workshop.pk)
    if not reason.strip():
        raise CannotClose("Enter a reason, for your records.", where="reason")
    rows = list(ClosedMonth.objects.of(workshop).standing().filter(month__gte=month))
    if not rows:
        raise CannotClose(f"{month:%B %Y} is not closed.", where="month")
    for row in rows:
        row.reopened_at, row.reopened_by, row.reason = timezone.now(), by, reason.strip()
    ClosedMonth.objects.bulk_update(rows, ["reopened_at", "reopened_by", "reason"])
    return rows
