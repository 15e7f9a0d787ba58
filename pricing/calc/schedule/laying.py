"""Lays single blocks on dates, forwards or backwards, beside what is laid there already."""

import datetime
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from pricing.calc.schedule.calendar import ONE_DAY, WorkCalendar
from pricing.calc.schedule.job import Bench, Block, Cap, Promise

# how far from its limit work is looked for before there is said to be no place
MOST_DAYS = 1100

Laid = tuple[tuple[datetime.date, int], ...]


@dataclass(frozen=True, slots=True)
class Span:
    """Where a block lies: dates with their minutes, in order. Never empty."""

    laid: Laid

    @property
    def first(self) -> datetime.date:
        """Return the date of its first minute."""
        return self.laid[0][0]

    @property
    def last(self) -> datetime.date:
        """Return the date of its last minute."""
        return self.laid[-1][0]


@dataclass(slots=True)
class Plan:
    """What is laid so far: minutes and room on racks, by date."""

    calendar: WorkCalendar
    minutes: dict[datetime.date, int] = field(default_factory=dict)
    room: dict[tuple[str, datetime.date], Fraction] = field(default_factory=dict)

    def copy(self) -> "Plan":
        """Return a plan that can be changed apart from this one."""
        return Plan(self.calendar, dict(self.minutes), dict(self.room))

    def free_on(self, on: datetime.date) -> int:
        """Return the minutes nobody has taken of a date."""
        return self.calendar.minutes_on(on) - self.minutes.get(on, 0)

    def take(self, on: datetime.date, minutes: int, caps: Sequence[Cap] = ()) -> int:
        """Take at most so many minutes of a date, as far as racks have room; return how many."""
        taken = min(minutes, self.free_on(on))
        for cap in caps:
            left = 1 - self.room.get((cap.resource, on), Fraction(0))
            # up: the minute in which the last item that has room is finished is worked whole
            taken = min(taken, math.ceil(left / cap.share))
        if taken <= 0:
            return 0
        self.minutes[on] = self.minutes.get(on, 0) + taken
        for cap in caps:
            key = (cap.resource, on)
            self.room[key] = self.room.get(key, Fraction(0)) + taken * cap.share
        return taken


def lay_back(plan: Plan, block: Block, limit: datetime.date) -> Span | None:
    """Lay a block as late as possible, its last minute by `limit`; its set-up before all else.

    None when it finds no place. The plan is changed either way.
    """
    need, setup, on = block.minutes, block.setup_minutes, limit
    laid: list[tuple[datetime.date, int]] = []
    while need or setup:
        taken = 0
        if need:
            taken = plan.take(on, need, block.caps)
            need -= taken
        if not need and setup:
            more = plan.take(on, setup)
            setup -= more
            taken += more
        if taken:
            laid.append((on, taken))
        on -= ONE_DAY
        if (limit - on).days > MOST_DAYS and (need or setup):
            return None
    return Span(tuple(reversed(laid)))


def lay_forward(plan: Plan, block: Block, start: datetime.date) -> Span | None:
    """Lay a block as early as possible from a date on, its set-up first.

    None when it finds no place. The plan is changed either way.
    """
    need, setup, on = block.minutes, block.setup_minutes, start
    laid: list[tuple[datetime.date, int]] = []
    while need or setup:
        taken = 0
        if setup:
            taken = plan.take(on, setup)
            setup -= taken
        if not setup and need:
            more = plan.take(on, need, block.caps)
            need -= more
            taken += more
        if taken:
            laid.append((on, taken))
        on += ONE_DAY
        if (on - start).days > MOST_DAYS and (need or setup):
            return None
    return Span(tuple(laid))


def together_by_date(promises: Sequence[Promise]) -> Sequence[Promise]:
    """Return promised work of each due date as one, where none of it needs racks.

    Laid after one another it takes the same minutes of the same dates: hundreds take as long as the
    dates they are due on.
    """
    minutes: dict[datetime.date, int] = {}
    for each in promises:
        if each.caps:
            return promises
        minutes[each.due_on] = minutes.get(each.due_on, 0) + each.minutes
    return [Promise("", whole, due_on) for due_on, whole in minutes.items()]


def lay_promises(plan: Plan, promises: Sequence[Promise], after: datetime.date) -> tuple[int, Laid]:
    """Lay promised work as late as possible, later than `after` and before its own due date.

    Returns the minutes that find no place, and the dates it keeps. The plan is changed.
    """
    left, kept = 0, dict[datetime.date, int]()
    # a date without a free minute -> one before it, with nothing free between the two
    full: dict[datetime.date, datetime.date] = {}
    for promise in sorted(promises, key=lambda each: each.due_on, reverse=True):
        need, on = promise.minutes, _not_full(full, promise.due_on - ONE_DAY)
        while need > 0 and on > after:
            taken = plan.take(on, need, promise.caps)
            if taken:
                need -= taken
                kept[on] = kept.get(on, 0) + taken
            if not plan.free_on(on):
                full[on] = on - ONE_DAY
            on = _not_full(full, on - ONE_DAY)
        left += need
    return left, tuple(sorted(kept.items()))


def _not_full(full: dict[datetime.date, datetime.date], on: datetime.date) -> datetime.date:
    """Return the last date up to `on` that is not known to be full, and shorten the way to it."""
    found = on
    while found in full:
        found = full[found]
    while on != found:
        full[on], on = found, full[on]
    return found


def last_work_date(bench: Bench, handed_over_on: datetime.date) -> datetime.date | None:
    """Return the last workshop day before a hand-over in the morning and the buffer before it.

    None when there is none for years.
    """
    on, buffer = handed_over_on - ONE_DAY, bench.buffer_days
    for _ in range(MOST_DAYS):
        works = bench.calendar.minutes_on(on) > 0
        if works and not buffer:
            return on
        buffer -= works
        on -= ONE_DAY
    return None


def date_after_buffer(bench: Bench, free_from: datetime.date) -> datetime.date | None:
    """Return the first date on which the carrier comes after the buffer; None as above."""
    on, buffer = free_from, bench.buffer_days
    for _ in range(MOST_DAYS):
        if not buffer:
            return bench.carrier_days.first_from(on)
        buffer -= bench.calendar.minutes_on(on) > 0
        on += ONE_DAY
    return None
