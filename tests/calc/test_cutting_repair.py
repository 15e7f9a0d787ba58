"""Pieces cut from one sheet find back onto one sheet, turned or not, with little room to spare."""

import random

import pytest

from catalogue.calc.cutting.generation import make_fillers
from catalogue.calc.cutting.integers import split_into_problems
from catalogue.calc.cutting.planning import plan_cuts
from catalogue.calc.cutting.repair import try_one_sheet_less
from catalogue.calc.cutting.start import cost_of, plan_in_rows
from catalogue.calc.cutting.state import SearchState
from catalogue.calc.cutting.watch import Course
from tests.calc.cutting_jobs import job, piece, sheet
from tests.thorough import tries

SIDE = 30


def parts(rng, length, low, high):
    """Cut a length into parts."""
    found = []
    while length >= low + high:
        found.append(rng.randint(low, high))
        length -= found[-1]
    return [*found, length]


def cut_sheet(seed, may_turn):
    """Cut a sheet in three rounds, turn some pieces and lose one of middling size."""
    rng = random.Random(seed)
    sizes = [
        (width, high)
        for wide in parts(rng, SIDE, 5, 11)
        for high in parts(rng, SIDE, 3, 9)
        for width in parts(rng, wide, 2, 6)
    ]
    sizes.remove(sorted(sizes, key=lambda size: size[0] * size[1])[len(sizes) // 2])
    turned = [size[::-1] if may_turn and rng.random() < 0.5 else size for size in sizes]
    rng.shuffle(turned)
    return job(
        [sheet("s", str(SIDE), str(SIDE))],
        [piece(f"p{at}", str(w), str(h), may_turn=may_turn) for at, (w, h) in enumerate(turned)],
        time_limit_s=30.0,
    )


@pytest.mark.parametrize("seed", range(tries(2, thorough=12)))
@pytest.mark.parametrize("may_turn", [False, True])
def test_pieces_of_one_sheet_find_back_onto_one(seed, may_turn):
    (problem,) = split_into_problems(cut_sheet(seed, may_turn))
    course = Course(60.0)
    state = SearchState(problem, course.end, course)
    state.offer(plan_in_rows(problem, state.is_over))
    assert state.best_cost > 1
    try_one_sheet_less(state, make_fillers(state), course.end, 2_000)
    assert state.best_cost == 1
    assert cost_of(state.best, problem) == 1
    made = [sum(f.counts[kind] * n for f, n in state.best) for kind in range(len(problem.counts))]
    assert tuple(made) == problem.counts


def test_the_whole_planner_does_it_too():
    plan = plan_cuts(cut_sheet(5, may_turn=True))
    assert plan.sheet_count == 1
    assert plan.proven


def test_what_cannot_be_is_given_up_after_so_many_turns():
    """Three pieces of more than half a sheet each."""
    (problem,) = split_into_problems(job([sheet()], [piece("a", "12", "7", 3)]))
    course = Course(60.0)
    state = SearchState(problem, course.end, course)
    state.bound = type(state.bound)(1, "not looked at here")
    state.offer(plan_in_rows(problem, state.is_over))
    try_one_sheet_less(state, make_fillers(state), course.end, 50)
    assert state.best_cost == 3
