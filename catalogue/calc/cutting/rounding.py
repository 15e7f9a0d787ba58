"""Rounds the linear optimum down in many ways and plans what each leaves with the best fillings.

The part kept costs no more than the bound says, and what it leaves is small, so a whole-number
programme over a list of good fillings is solved in no time where that of the whole job is not.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence

from catalogue.calc.cutting.integers import Filling
from catalogue.calc.cutting.master import LinearAnswer, Master
from catalogue.calc.cutting.start import cost_of
from catalogue.calc.cutting.state import SearchState
from catalogue.calc.cutting.surplus import rest_of

MOST_TURNS = 25
SECONDS = 0.3


def round_in_many_ways(
    state: SearchState, master: Master, answer: LinearAnswer, pool: Sequence[Filling], until: float
) -> None:
    """Keep none to two fewer of each filling than the linear programme uses, and plan the rest."""
    problem = state.problem
    # the same numbers each time, so that a plan can be made again
    rng = random.Random(1)  # noqa: S311  # nothing secret
    for turn in range(MOST_TURNS):
        seconds = min(SECONDS, until - state.course.clock())
        if state.proven or seconds <= 0:
            return
        state.tell("Rounding in another way")
        base = []
        for filling, use in zip(master.pool, answer.uses, strict=False):
            times = math.floor(use + 1e-6) - (rng.randint(0, 2) if turn else 0)
            if times > 0:
                base.append((filling, times))
        rest = rest_of(problem, base)
        if rest is None or not any(rest.counts):
            continue
        spent = cost_of(base, problem)
        chooser = Master(rest, state.course)
        for filling in [*pool, *master.pool]:
            if any(held and left for held, left in zip(filling.counts, rest.counts, strict=True)):
                chooser.add(filling)
        found = chooser.solve_whole(
            below=state.below - spent,
            goal=max(0, state.bound.value - spent),
            seconds=seconds,
            step=state.step,
        )
        if found is not None and found.plan is not None:
            state.offer([*base, *found.plan])
            for filling, _ in found.plan:
                master.add(filling)
