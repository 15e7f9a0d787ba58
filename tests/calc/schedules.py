"""Small schedules for the tests, and a second way to lay them: minute by minute, in slots."""

import datetime
import itertools
from fractions import Fraction

from pricing.calc.schedule.calendar import MONDAY_TO_SATURDAY, CountedDays, WorkCalendar
from pricing.calc.schedule.job import Bench, Block, Cap, Delivery, Job, Promise

ONE_DAY = datetime.timedelta(days=1)
TODAY = datetime.date(2026, 3, 2)  # a Monday
EVERY_DAY = CountedDays(frozenset(range(7)))


def after(days):
    return TODAY + days * ONE_DAY


def bench(weekday_minutes=(3, 2, 0, 3, 2, 1, 0), days_off=(), other_days=None, **more):
    calendar = WorkCalendar(tuple(weekday_minutes), frozenset(days_off), other_days or {})
    return Bench(calendar, CountedDays(MONDAY_TO_SATURDAY), **more)


def chain(*minutes, cap=None, setup=0, due=None, proof=False, name="delivery", transit=0):
    """A delivery with blocks of so many minutes; `cap` is how many minutes of the first a rack
    holds on a date."""
    blocks = []
    for at, many in enumerate(minutes):
        last = at == len(minutes) - 1
        blocks.append(
            Block(
                f"block {at}",
                many,
                setup_minutes=setup if at == 0 else 0,
                caps=(Cap("rack", Fraction(1, cap)),) if cap and at == 0 else (),
                nights=0 if last else 1,
                after_proof=proof and last,
            )
        )
    return Delivery(name, tuple(blocks), due, transit)


def promise(minutes, due):
    return Promise("promised", minutes, due)


class Slots:
    """Every minute of every date is a slot; whoever has it writes its name there."""

    def __init__(self, calendar):
        self.calendar, self.slots = calendar, {}

    def on(self, date):
        return self.slots.setdefault(date, [None] * self.calendar.minutes_on(date))

    def put(self, date, name, most=None):
        """Put one minute on a date; False when the date or its rack is full."""
        there = self.on(date)
        if None not in there:
            return False
        if most is not None and sum(who is not None and who[2] for who in there) >= most:
            return False
        there[there.index(None)] = name
        return True

    def count(self, name):
        return sum(each[:2] == name for there in self.slots.values() for each in there if each)

    def dates(self, name):
        return sorted(
            date
            for date, there in self.slots.items()
            for each in there
            if each and each[:2] == name
        )


def cap_of(block):
    return int(1 / block.caps[0].share) if block.caps else None


def limit_of(job_bench, delivery):
    """The last workshop day, counted anew: carrier's days back, then the buffer."""
    date, transit = delivery.due_on, delivery.transit_days
    while transit:
        date -= ONE_DAY
        transit -= job_bench.carrier_days.counts(date)
    work_days = [
        date - back * ONE_DAY
        for back in range(1, 200)
        if job_bench.calendar.minutes_on(date - back * ONE_DAY) > 0
    ]
    return work_days[job_bench.buffer_days]


def laid_minute_by_minute(job, job_bench, order):
    """Lay the blocks of an order backwards, one minute after the other."""
    slots, first = Slots(job_bench.calendar), {}
    for place, at in order:
        delivery = job.deliveries[place]
        block = delivery.blocks[at]
        if at == len(delivery.blocks) - 1:
            date = limit_of(job_bench, delivery)
        else:
            date = first[place, at + 1] - ONE_DAY
        tasks = [(block.minutes, cap_of(block), True), (block.setup_minutes, None, False)]
        for minutes, most, on_rack in tasks:
            for _ in range(minutes):
                name = (place, at, on_rack and most is not None)
                while not slots.put(date, name, most):
                    date -= ONE_DAY
        first[place, at] = slots.dates((place, at))[0]
    return slots, first


def orders_of(job):
    """Every order of all blocks in which the later block of a delivery comes first."""
    names = [
        (place, at) for place, each in enumerate(job.deliveries) for at in range(len(each.blocks))
    ]
    for order in itertools.permutations(names):
        if all(
            order.index((place, at)) > order.index((place, at + 1))
            for place, at in names
            if (place, at + 1) in names
        ):
            yield order


def latest_start(job, job_bench):
    """The best of all orders, laid minute by minute."""
    return max(
        min(laid_minute_by_minute(job, job_bench, order)[1].values()) for order in orders_of(job)
    )


def can_be_done_from(job, job_bench, start):
    """Say whether everything can be done in time when work begins on a date: every way of giving
    each date's minutes to the blocks is followed, forwards. For very small jobs without set-up."""
    limits = [limit_of(job_bench, each) for each in job.deliveries]
    blocks = [
        (place, at, block)
        for place, each in enumerate(job.deliveries)
        for at, block in enumerate(each.blocks)
    ]
    states = {tuple(block.minutes for _, _, block in blocks)}
    date = start
    while date <= max(limits):
        after_date = set()
        for state in states:
            ways = []
            for (place, at, block), left in zip(blocks, state, strict=True):
                before = at == 0 or state[blocks_at(blocks, place, at - 1)] == 0
                most = min(left, cap_of(block) or left) if before and date <= limits[place] else 0
                ways.append(range(most + 1))
            free = job_bench.calendar.minutes_on(date)
            racks = [cap_of(block) for _, _, block in blocks]
            room = min((each for each in racks if each), default=None)
            for taken in itertools.product(*ways):
                on_rack = sum(t for t, rack in zip(taken, racks, strict=True) if rack)
                if sum(taken) <= free and (room is None or on_rack <= room):
                    after_date.add(tuple(a - b for a, b in zip(state, taken, strict=True)))
        states = after_date
        if any(not any(state) for state in states):
            return True
        date += ONE_DAY
    return False


def blocks_at(blocks, place, at):
    return next(n for n, (p, a, _) in enumerate(blocks) if (p, a) == (place, at))


def job_of(*deliveries, **more):
    return Job(tuple(deliveries), **more)
