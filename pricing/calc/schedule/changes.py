"""What one change of each kind would bring, and three ways out when a yes comes late."""

import datetime
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from pricing.calc.schedule.dates import LatestDates, latest_dates
from pricing.calc.schedule.job import Bench, Job, Promise, with_caps_doubled

ONE_HOUR = 60


@dataclass(frozen=True, slots=True)
class Change:
    """One change and how many calendar days later a yes could come; None when one can't be said."""

    key: str
    label: str
    gain: int | None


def _with_lead_shorter(job: Job) -> Job:
    shorter = tuple(replace(each, lead_days=max(0, each.lead_days - 1)) for each in job.supplies)
    return replace(job, supplies=shorter)


def _with_carrier_faster(job: Job) -> Job:
    faster = tuple(
        replace(each, transit_days=max(0, each.transit_days - 1)) for each in job.deliveries
    )
    return replace(job, deliveries=faster)


def with_added_minutes(bench: Bench, minutes: int) -> Bench:
    """Return the bench with so many minutes more on every workshop day."""
    calendar = bench.calendar
    longer = replace(calendar, added_minutes=calendar.added_minutes + minutes)
    return replace(bench, calendar=longer)


def changes_of(
    job: Job,
    bench: Bench,
    promises: Sequence[Promise],
    today: datetime.date,
    latest: LatestDates,
) -> tuple[Change, ...]:
    """Return by how many calendar days each change moves the last date for a yes."""

    def gain(job: Job = job, bench: Bench = bench) -> int | None:
        changed = latest_dates(job, bench, promises, today).yes_on
        if changed is None or latest.yes_on is None:
            return None
        return (changed - latest.yes_on).days

    proof = replace(job, proof_days=max(0, job.proof_days - 1))
    buffer = replace(bench, buffer_days=max(0, bench.buffer_days - 1))
    return (
        Change("lead", "materials arrive 1 weekday sooner", gain(_with_lead_shorter(job))),
        Change("proof", "proof approved one weekday sooner", gain(proof)),
        Change("rack", "a second rack", gain(with_caps_doubled(job))),
        Change(
            "hour",
            "1 more hour every workday",
            gain(bench=with_added_minutes(bench, ONE_HOUR)),
        ),
        Change("buffer", "1 spare day less", gain(bench=buffer)),
        Change("transit", "delivery 1 day faster", gain(_with_carrier_faster(job))),
    )


def best_of(changes: Iterable[Change]) -> tuple[Change, ...]:
    """Return every change with the largest gain."""
    known = [(each, each.gain) for each in changes if each.gain is not None]
    top = max((gain for _, gain in known), default=None)
    return tuple(each for each, gain in known if gain == top)


def least_in_time(fits: Callable[[int], bool], most: int) -> int | None:
    """Return a number from 0 to `most` that fits while the one before it does not.

    None when `most` does not fit. Where each try is dear it takes log2(most) of them; where
    minutes fall in jumps a smaller number may fit too, never a larger one be needed.
    """
    if fits(0):
        return 0
    if most < 1 or not fits(most):
        return None
    low, high = 0, most
    while high - low > 1:
        middle = (low + high) // 2
        if fits(middle):
            high = middle
        else:
            low = middle
    return high


def first_in_time(
    jobs: Callable[[int], Job],
    most: int,
    bench: Bench,
    promises: Sequence[Promise],
    today: datetime.date,
    late_yes: datetime.date,
) -> int | None:
    """Return the least number from 0 to `most` whose job can still be accepted on `late_yes`.

    None when none can. Spares and cartons make the minutes fall in jumps, so each is tried.
    """
    for count in range(most + 1):
        yes_on = latest_dates(jobs(count), bench, promises, today).yes_on
        if yes_on is not None and yes_on >= late_yes:
            return count
    return None
