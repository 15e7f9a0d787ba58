"""Reels and lengths in whole units: the best filling of a reel, and what reels must cost."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

MOST_CELLS = 40_000_000
FINEST_ROOM = 1 << 18
MOST_COST_CELLS = 2_000_000
MOST_COVERS = 20_000


@dataclass(frozen=True, slots=True)
class Roll:
    """A kind of reel: the room for lengths on it, its cost, how many there are (None: plenty)."""

    room: int
    cost: int
    available: int | None


@dataclass(frozen=True, slots=True)
class ReelTask:
    """Reels and lengths in whole units, loss at the cut included in each size."""

    rolls: tuple[Roll, ...]
    sizes: tuple[int, ...]
    counts: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class ReelFilling:
    """How many of each length are cut from one reel."""

    roll: int
    counts: tuple[int, ...]


class Knapsack:
    """The most valuable filling of every kind of reel, in one pass over the lengths.

    On a reel of very many units sizes are rounded: up for a filling that surely fits, down for a
    worth that surely is not exceeded.
    """

    def __init__(self, rack: ReelTask) -> None:
        self.rack = rack
        room = max(roll.room for roll in rack.rolls)
        splits = sum(
            min(count, room // size).bit_length()
            for size, count in zip(rack.sizes, rack.counts, strict=True)
        )
        finest = max(1, min(FINEST_ROOM, MOST_CELLS // max(splits, 1)))
        self.step = -(-room // finest)
        self.is_exact = self.step <= 1

    def fill(
        self, worth: Sequence[int], counts: Sequence[int], *, rolls: Sequence[int]
    ) -> list[tuple[int, tuple[int, ...]]]:
        """Return (worth, filling) of each of these kinds of reel; every filling fits."""
        sizes = [-(-size // self.step) for size in self.rack.sizes]
        return self._fill(sizes, worth, counts, rolls)

    def most(self, worth: Sequence[int]) -> tuple[int, ...]:
        """Return a worth for each kind of reel that no filling of it exceeds."""
        sizes = [size // self.step for size in self.rack.sizes]
        every = range(len(self.rack.rolls))
        return tuple(
            held for held, _ in self._fill(sizes, worth, self.rack.counts, every, trace=False)
        )

    def _fill(
        self,
        sizes: Sequence[int],
        worth: Sequence[int],
        counts: Sequence[int],
        rolls: Sequence[int],
        *,
        trace: bool = True,
    ) -> list[tuple[int, tuple[int, ...]]]:
        rooms = [self.rack.rolls[roll].room // self.step for roll in rolls]
        if list(worth) == list(sizes) and all(sizes):
            return fullest(sizes, counts, rooms)
        import numpy as np

        room = max(rooms)
        best = np.zeros(room + 1, dtype=np.int64)
        taken: list[tuple[int, int, Any]] = []
        base = 0
        for kind, (size, value, count) in enumerate(zip(sizes, worth, counts, strict=True)):
            if value <= 0:
                continue
            if size == 0:  # rounded to nothing: all of them go on every reel
                base += value * count
                continue
            left = min(count, room // size)
            many = 1
            while left > 0:
                many = min(many, left)
                left -= many
                by = many * size
                with_it = best[: room + 1 - by] + many * value
                is_better = with_it > best[by:]
                np.copyto(best[by:], with_it, where=is_better)
                if trace:
                    taken.append((kind, many, is_better))
                many *= 2
        answers = []
        for at in rooms:
            held, filling = int(best[at]) + base, [0] * len(sizes)
            for kind, many, is_better in reversed(taken):
                by = many * sizes[kind]
                if at >= by and is_better[at - by]:
                    filling[kind] += many
                    at -= by
            answers.append((held, tuple(filling)))
        return answers


def fullest(
    sizes: Sequence[int], counts: Sequence[int], rooms: Sequence[int]
) -> list[tuple[int, tuple[int, ...]]]:
    """Return (length held, filling) of each room where a length is worth what it takes.

    The lengths that can be reached are the bits of one whole number, so that what most workshops
    ask needs no numpy, which takes longer to load than the answer.
    """
    room = max(rooms)
    within = (1 << (room + 1)) - 1
    reached = 1
    steps: list[tuple[int, int, int]] = []
    for kind, (size, count) in enumerate(zip(sizes, counts, strict=True)):
        left = min(count, room // size)
        many = 1
        while left > 0:
            many = min(many, left)
            left -= many
            steps.append((kind, many, reached))
            reached |= (reached << (many * size)) & within
            many *= 2

    def most(lengths: int, at: int) -> int:
        return (lengths & ((1 << (at + 1)) - 1)).bit_length() - 1

    answers = []
    for at in rooms:
        held, filling = most(reached, at), [0] * len(sizes)
        for kind, many, before in reversed(steps):
            by = many * sizes[kind]
            if at >= by and most(before, at - by) + by > most(before, at):
                filling[kind] += many
                at -= by
        answers.append((held, tuple(filling)))
    return answers


def cover_bound(rack: ReelTask, need: int, most: Sequence[int], *, below: int | None) -> int:
    """Return the least cost of reels that hold `need` in worth; `below`, if it is not less.

    Every plan's reels hold all the worth, so no plan costs less. With one kind of reel that is a
    division; with several, a table of the most that can be held for each cost.
    """
    needed = _paid_need(rack, need, most)
    if needed <= 0:
        return 0
    paid = [(roll, held) for roll, held in zip(rack.rolls, most, strict=True) if roll.cost and held]
    if not paid:
        return below or 0
    if len(paid) == 1:
        roll, held = paid[0]
        least = -(-needed // held) * roll.cost
        return least if below is None else min(least, below)
    # the best worth for the money, as if parts of reels could be bought
    least = min(-(-needed * roll.cost // held) for roll, held in paid)
    if below is None:
        return least
    if below > MOST_COST_CELLS or least >= below:
        return min(least, below)
    import numpy as np

    enough = np.nonzero(_most_for_cost(paid, needed, below) >= needed)[0]
    return int(enough[0]) if len(enough) else below


def cheapest_covers(
    rack: ReelTask, need: int, most: Sequence[int], *, cost: int
) -> Iterator[list[int | None]]:
    """Yield sets of reels of this cost that hold `need` in worth, those of most worth first.

    Reels that cost nothing are in every set, as many as there are.
    """
    needed = _paid_need(rack, need, most)
    paid = [at for at, roll in enumerate(rack.rolls) if roll.cost and most[at]]
    sets: list[tuple[int, list[int]]] = []

    tries = 0

    def choose(place: int, money: int, held: int, taken: list[int]) -> None:
        nonlocal tries
        tries += 1
        if tries > MOST_COVERS:
            return
        if place == len(paid):
            if held >= needed and money == 0:
                sets.append((held, taken))
            return
        roll = rack.rolls[paid[place]]
        top = money // roll.cost
        if roll.available is not None:
            top = min(top, roll.available)
        for many in range(top, -1, -1):
            if place == len(paid) - 1 and many * roll.cost != money:
                break
            choose(
                place + 1, money - many * roll.cost, held + many * most[paid[place]], [*taken, many]
            )

    choose(0, cost, 0, [])
    for _, taken in sorted(sets, key=lambda one: -one[0]):
        spare = [0 if roll.cost else roll.available for roll in rack.rolls]
        for at, many in zip(paid, taken, strict=True):
            spare[at] = many
        yield spare


def _paid_need(rack: ReelTask, need: int, most: Sequence[int]) -> int:
    """Return the worth that is left for reels that cost something."""
    return need - sum(
        held * (need if roll.available is None else roll.available)
        for roll, held in zip(rack.rolls, most, strict=True)
        if roll.cost == 0
    )


def _most_for_cost(paid: Sequence[tuple[Roll, int]], need: int, below: int) -> Any:
    import numpy as np

    best = np.zeros(below + 1, dtype=np.int64)
    for roll, held in paid:
        left = min(below // roll.cost, -(-need // held))
        if roll.available is not None:
            left = min(left, roll.available)
        many = 1
        while left > 0:
            many = min(many, left)
            left -= many
            by = many * roll.cost
            best[by:] = np.maximum(best[by:], best[: below + 1 - by] + many * held)
            many *= 2
    return best


def holds(rack: ReelTask, plan: Sequence[tuple[ReelFilling, int]]) -> bool:
    """Check in whole numbers that all lengths are made from reels that are there."""
    for kind, count in enumerate(rack.counts):
        if sum(filling.counts[kind] * times for filling, times in plan) < count:
            return False
    for index, roll in enumerate(rack.rolls):
        used = sum(times for filling, times in plan if filling.roll == index)
        if roll.available is not None and used > roll.available:
            return False
    return True


def without_surplus(
    rack: ReelTask, plan: Sequence[tuple[ReelFilling, int]]
) -> list[tuple[ReelFilling, int]]:
    """Return the plan with exactly the lengths wanted; what is left out makes one rest longer."""
    uses: dict[ReelFilling, int] = {}
    for filling, times in plan:
        uses[filling] = uses.get(filling, 0) + times

    def rest(filling: ReelFilling) -> int:
        taken = sum(n * size for n, size in zip(filling.counts, rack.sizes, strict=True))
        return rack.rolls[filling.roll].room - taken

    for kind, count in enumerate(rack.counts):
        surplus = sum(filling.counts[kind] * times for filling, times in uses.items()) - count
        while surplus > 0:
            having = [filling for filling, times in uses.items() if times and filling.counts[kind]]
            filling = max(having, key=lambda one: (rest(one), one.roll, one.counts))
            many = min(surplus, filling.counts[kind])
            times = min(surplus // many, uses[filling])
            counts = list(filling.counts)
            counts[kind] -= many
            less = ReelFilling(filling.roll, tuple(counts))
            uses[filling] -= times
            if any(counts):
                uses[less] = uses.get(less, 0) + times
            surplus -= many * times
    kept = [(filling, times) for filling, times in uses.items() if times]
    return sorted(kept, key=lambda use: (rest(use[0]), use[0].roll, use[0].counts))
