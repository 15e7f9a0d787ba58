"""Dates of a job: backwards the latest ones, forwards the earliest, and which chain binds."""

import datetime
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from pricing.calc.schedule.calendar import ONE_DAY
from pricing.calc.schedule.job import Bench, Delivery, Job, NoTimeToWork, Promise, Supply
from pricing.calc.schedule.laying import (
    Laid,
    Plan,
    Span,
    date_after_buffer,
    last_work_date,
    lay_back,
    lay_forward,
    lay_promises,
    together_by_date,
)

# orders of blocks are tried exactly up to so many deliveries, beyond that by due date
MOST_TRIED = 4

# (place of the delivery, place of the block in its chain)
Place = tuple[int, int]


@dataclass(frozen=True, slots=True)
class LatestDates:
    """The latest dates that keep every due date.

    `yes_on` is the last date for a yes: the earliest of what purchases (`yes_to_buy_on`), the proof
    (`yes_for_proof_on`) and the work itself (`yes_to_start_on`) allow; None when the due dates
    cannot be kept beside the promised work, of which `promised_left` minutes find no place.
    `spans` has no entry for a block without minutes.
    """

    handed_over_on: tuple[datetime.date, ...]
    spans: Mapping[Place, Span]
    order: tuple[Place, ...]
    laid: Laid
    start_on: datetime.date | None
    after_proof_on: datetime.date | None
    yes_to_buy_on: datetime.date | None
    yes_for_proof_on: datetime.date | None
    yes_to_start_on: datetime.date | None
    yes_on: datetime.date | None
    slowest: Supply | None
    promised_left: int
    promised: Laid

    @property
    def binding(self) -> tuple[str, ...]:
        """Return what sets the last date: "purchases", "proof", or else "work"."""
        if self.yes_on is None:
            return ()
        chains = {"purchases": self.yes_to_buy_on, "proof": self.yes_for_proof_on}
        named = tuple(name for name, on in chains.items() if on == self.yes_on)
        return named or ("work",)


@dataclass(frozen=True, slots=True)
class DeliveryDates:
    """When one delivery can be done; `ready_on` is when its last work or drying is over."""

    ready_on: datetime.date
    handed_over_on: datetime.date
    arrives_on: datetime.date


@dataclass(frozen=True, slots=True)
class EarliestDates:
    """The earliest dates after a yes on `yes_on`; deliveries are done in their order.

    `bought_on` and `approved_on` are None when nothing is short and nothing waits for a proof.
    `deliveries` is None when there is no place for the work within years.
    """

    yes_on: datetime.date
    bought_on: datetime.date | None
    approved_on: datetime.date | None
    spans: Mapping[Place, Span]
    deliveries: tuple[DeliveryDates, ...] | None
    laid: Laid
    slowest: Supply | None
    promised_left: int
    promised: Laid


def latest_dates(
    job: Job, bench: Bench, promises: Sequence[Promise], today: datetime.date
) -> LatestDates:
    """Lay a job backwards as late as possible, then promised work into what is left.

    Of all orders of blocks the one counts whose first block starts latest, then whose first block
    after the proof does; of equal ones the first found. An order under which promised minutes find
    no place between today and their due date is left out while another one keeps them. Every
    delivery needs its due date. Errors: NoTimeToWork.
    """
    _check(bench)
    handed = tuple(_handed_over(each, bench) for each in job.deliveries)
    limits = [last_work_date(bench, on) for on in handed]
    search = _Search(job, bench, limits, promises, today)
    found = search.best(keep_promises=False)
    if found is not None and found.promised_left:
        found = search.best(keep_promises=True) or found
    if found is None:
        left, promised = lay_promises(Plan(bench.calendar), promises, today)
        return LatestDates(
            handed, {}, (), (), None, None, None, None, None, None, None, left, promised
        )
    to_buy_on, slowest = _yes_to_buy(job, found.start_on)
    for_proof_on = _yes_for_proof(job, bench, found.after_proof_on)
    to_start_on = found.start_on - ONE_DAY
    bounds = [on for on in (to_buy_on, for_proof_on, to_start_on) if on is not None]
    return LatestDates(
        handed_over_on=handed,
        spans=found.spans,
        order=found.order,
        laid=tuple(sorted(found.plan.minutes.items())),
        start_on=found.start_on,
        after_proof_on=found.after_proof_on,
        yes_to_buy_on=to_buy_on,
        yes_for_proof_on=for_proof_on,
        yes_to_start_on=to_start_on,
        yes_on=None if found.promised_left else min(bounds),
        slowest=slowest,
        promised_left=found.promised_left,
        promised=found.promised,
    )


def earliest_dates(
    job: Job, bench: Bench, promises: Sequence[Promise], yes_on: datetime.date
) -> EarliestDates:
    """Lay a job forwards after a yes, beside promised work that waits as long as it may.

    Errors: NoTimeToWork.
    """
    _check(bench)
    plan = Plan(bench.calendar)
    left, promised = lay_promises(plan, promises, yes_on)
    bought_on, slowest = _bought(job, yes_on)
    approved_on = None
    if job.needs_proof:
        approved_on = bench.customer_days.after(yes_on + ONE_DAY, job.proof_days)
    start = (bought_on or yes_on) + ONE_DAY
    spans: dict[Place, Span] = {}
    dates: list[DeliveryDates] = []
    own: dict[datetime.date, int] = {}
    for place, delivery in enumerate(job.deliveries):
        free_from, ready_on = start, start - ONE_DAY
        for at, block in enumerate(delivery.blocks):
            if not block.all_minutes:
                continue
            if block.after_proof and approved_on is not None:
                free_from = max(free_from, approved_on + ONE_DAY)
            span = lay_forward(plan, block, free_from)
            if span is None:
                return EarliestDates(
                    yes_on, bought_on, approved_on, spans, None, (), slowest, left, promised
                )
            spans[place, at] = span
            for on, minutes in span.laid:
                own[on] = own.get(on, 0) + minutes
            free_from = span.last + max(1, block.nights) * ONE_DAY
            ready_on = span.last + block.nights * ONE_DAY
        handed = date_after_buffer(bench, free_from)
        if handed is None:
            return EarliestDates(
                yes_on, bought_on, approved_on, spans, None, (), slowest, left, promised
            )
        arrives_on = bench.carrier_days.after(handed, delivery.transit_days)
        dates.append(DeliveryDates(ready_on, handed, arrives_on))
    return EarliestDates(
        yes_on=yes_on,
        bought_on=bought_on,
        approved_on=approved_on,
        spans=spans,
        deliveries=tuple(dates),
        laid=tuple(sorted(own.items())),
        slowest=slowest,
        promised_left=left,
        promised=promised,
    )


def _check(bench: Bench) -> None:
    if not bench.calendar.has_work:
        raise NoTimeToWork(
            "You have no working hours. Enter them in Settings.", where="weekday_minutes"
        )


def _handed_over(delivery: Delivery, bench: Bench) -> datetime.date:
    if delivery.due_on is None:
        raise ValueError(f"“{delivery.name}” has no due date")
    return bench.carrier_days.before(delivery.due_on, delivery.transit_days)


def _bought(job: Job, yes_on: datetime.date) -> tuple[datetime.date | None, Supply | None]:
    """Return when everything short is in the house, and what comes last."""
    latest: datetime.date | None = None
    slowest: Supply | None = None
    for supply in job.supplies:
        on = supply.days.after(supply.days.first_from(yes_on), supply.lead_days)
        if latest is None or on > latest:
            latest, slowest = on, supply
    return latest, slowest


def _yes_to_buy(job: Job, start_on: datetime.date) -> tuple[datetime.date | None, Supply | None]:
    """Return the last date to order what is short, and what has to be ordered first."""
    earliest: datetime.date | None = None
    slowest: Supply | None = None
    for supply in job.supplies:
        on = supply.days.before(supply.days.last_until(start_on - ONE_DAY), supply.lead_days)
        if earliest is None or on < earliest:
            earliest, slowest = on, supply
    return earliest, slowest


def _yes_for_proof(
    job: Job, bench: Bench, after_proof_on: datetime.date | None
) -> datetime.date | None:
    if after_proof_on is None:
        return None
    answered = bench.customer_days.last_until(after_proof_on - ONE_DAY)
    return bench.customer_days.before(answered, job.proof_days) - ONE_DAY


@dataclass(frozen=True, slots=True)
class _Found:
    """One order of blocks, laid."""

    plan: Plan
    spans: Mapping[Place, Span]
    order: tuple[Place, ...]
    start_on: datetime.date
    after_proof_on: datetime.date | None
    promised_left: int
    promised: Laid


_Key = tuple[datetime.date, datetime.date]


class _Search:
    """Tries orders of blocks, last block of a delivery first; a prefix is laid once.

    Laying more can only make the key of a prefix earlier and the room for promised work smaller, so
    a prefix that cannot beat the best is left, and so is one that comes to where another has been.
    """

    def __init__(
        self,
        job: Job,
        bench: Bench,
        limits: Sequence[datetime.date | None],
        promises: Sequence[Promise],
        today: datetime.date,
    ) -> None:
        self.job, self.bench, self.limits = job, bench, limits
        self.promises, self.today = together_by_date(promises), today
        self.keep_promises = False
        self.found: _Found | None = None
        self.found_key: _Key | None = None
        self.least: _Key | None = None
        self.seen: set[tuple[object, ...]] = set()

    def best(self, *, keep_promises: bool) -> _Found | None:
        """Return the order that starts latest; with promises kept, or None if none keeps them."""
        if None in self.limits:
            return None
        self.keep_promises, self.found, self.found_key, self.least = keep_promises, None, None, None
        self.seen.clear()
        by_due = self._by_due_date()
        if len(self.job.deliveries) > MOST_TRIED:
            self._follow(by_due)
            return self.found
        if len(self.job.deliveries) > 1:
            # a good order first: what is worse need not be tried, what is equal still is
            self._follow(by_due)
            self.found, self.found_key, self.least = None, None, self.found_key
        waiting = tuple(len(each.blocks) for each in self.job.deliveries)
        self._try(Plan(self.bench.calendar), {}, (), waiting, (datetime.date.max,) * 2)
        return self.found

    def _by_due_date(self) -> list[Place]:
        due = [each.due_on or datetime.date.max for each in self.job.deliveries]
        order = sorted(range(len(due)), key=lambda place: due[place], reverse=True)
        return [
            (place, at)
            for place in order
            for at in reversed(range(len(self.job.deliveries[place].blocks)))
        ]

    def _follow(self, order: Sequence[Place]) -> None:
        plan, spans = Plan(self.bench.calendar), dict[Place, Span]()
        key: _Key = (datetime.date.max, datetime.date.max)
        for place in order:
            next_key = self._lay(plan, spans, place, key)
            if next_key is None:
                return
            key = next_key
        self._end(plan, spans, tuple(order), key)

    def _try(
        self,
        plan: Plan,
        spans: dict[Place, Span],
        order: tuple[Place, ...],
        waiting: Sequence[int],
        key: _Key,
    ) -> None:
        if not any(waiting):
            self._end(plan, spans, order, key)
            return
        for place, left in self._choices(waiting):
            next_plan, next_spans = plan.copy(), dict(spans)
            step = (place, left - 1)
            next_key = self._lay(next_plan, next_spans, step, key)
            still = (*waiting[:place], left - 1, *waiting[place + 1 :])
            if next_key is None or self._is_beaten(next_key) or self._has_been(next_spans, still):
                continue
            if self.keep_promises and self._promised(next_plan)[0]:
                continue
            self._try(next_plan, next_spans, (*order, step), still, next_key)

    def _choices(self, waiting: Sequence[int]) -> Iterator[Place]:
        return ((place, left) for place, left in enumerate(waiting) if left)

    def _is_beaten(self, key: _Key) -> bool:
        if self.found_key is not None and key <= self.found_key:
            return True
        return self.least is not None and key < self.least

    def _has_been(self, spans: Mapping[Place, Span], waiting: Sequence[int]) -> bool:
        """Say whether the same blocks lie on the same dates already, laid in another order."""
        state = (tuple(waiting), frozenset(spans.items()))
        is_known = state in self.seen
        self.seen.add(state)
        return is_known

    def _promised(self, plan: Plan) -> tuple[int, Laid]:
        return lay_promises(plan.copy(), self.promises, self.today)

    def _lay(self, plan: Plan, spans: dict[Place, Span], step: Place, key: _Key) -> _Key | None:
        """Lay one block; return the key that leaves, or None when there is no place for it."""
        place, at = step
        block = self.job.deliveries[place].blocks[at]
        if not block.all_minutes:
            return key
        limit = self._limit(spans, step)
        span = lay_back(plan, block, limit)
        if span is None:
            return None
        spans[step] = span
        after_proof = min(key[1], span.first) if block.after_proof else key[1]
        return min(key[0], span.first), after_proof

    def _limit(self, spans: Mapping[Place, Span], step: Place) -> datetime.date:
        """Return the last date of a block: before what follows it, with the nights between."""
        place, at = step
        blocks = self.job.deliveries[place].blocks
        for later in range(at + 1, len(blocks)):
            if (place, later) in spans:
                return spans[place, later].first - max(1, blocks[at].nights) * ONE_DAY
        limit = self.limits[place]
        assert limit is not None  # noqa: S101 - `best` has looked
        return limit - max(0, blocks[at].nights - 1) * ONE_DAY

    def _end(
        self, plan: Plan, spans: Mapping[Place, Span], order: tuple[Place, ...], key: _Key
    ) -> None:
        left, promised = self._promised(plan)
        if self.keep_promises and left:
            return
        start_on, after_proof_on = key
        if start_on == datetime.date.max:  # nothing to do: it could begin when it leaves
            start_on = min(on for on in self.limits if on is not None) + ONE_DAY
        self.found_key = key
        self.found = _Found(
            plan=plan,
            spans=spans,
            order=order,
            start_on=start_on,
            after_proof_on=None if after_proof_on == datetime.date.max else after_proof_on,
            promised_left=left,
            promised=promised,
        )
