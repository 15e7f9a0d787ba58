"""Of plans with the same sheets, those with few layouts, few cuts and large offcuts are handed out.

The expected numbers are counted by hand from the sizes in each test.
"""

from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from catalogue.calc.cutting.few import FewLayouts
from catalogue.calc.cutting.gather import gathered
from catalogue.calc.cutting.generation import make_fillers
from catalogue.calc.cutting.integers import Filling, split_into_problems
from catalogue.calc.cutting.merit import Handler, handling_of
from catalogue.calc.cutting.planning import plan_cuts
from catalogue.calc.cutting.start import cost_of, plan_in_rows
from catalogue.calc.cutting.state import SearchState
from catalogue.calc.cutting.tidy import tidied
from catalogue.calc.cutting.watch import Course
from tests.calc.cutting_jobs import job, piece, sheet


def never():
    return False


def state_of(cutting_job):
    (problem,) = split_into_problems(cutting_job)
    course = Course(60.0)
    return SearchState(problem, course.end, course)


def made_by(plan, kinds):
    return tuple(sum(f.counts[kind] * times for f, times in plan) for kind in range(kinds))


def test_halves_of_two_kinds_are_cut_from_one_layout():
    """Ten fronts and ten backs, two of anything to a sheet: one layout of both does for all."""
    pieces = [piece("front", "6", "12", 10), piece("back", "5.5", "11", 10)]
    (layout,) = plan_cuts(job([sheet()], pieces)).layouts
    assert layout.times == 10
    assert sorted(placed.piece for placed in layout.placements) == ["back", "front"]


@pytest.mark.parametrize("copies", [1, 10, 250])
def test_a_job_many_times_over_needs_no_more_layouts(copies):
    """Three bodies and six lids fill two sheets in two layouts, so 500 sheets need two too."""
    pieces = [piece("body", "6", "8", 3 * copies), piece("lid", "6", "4", 6 * copies)]
    plan = plan_cuts(job([sheet()], pieces))
    assert plan.sheet_count == 2 * copies
    assert len(plan.layouts) <= 2


def test_four_squares_leave_room_on_every_side_rather_than_fill_a_row_exactly():
    """Three squares of 4 in a row are exactly 12; two by two take 8 x 8 of the sheet."""
    (layout,) = plan_cuts(job([sheet()], [piece("square", "4", "4", 4)])).layouts
    assert layout.slack == Decimal("4")


def test_three_squares_stay_in_one_row_since_the_offcut_is_twice_as_large():
    """A row leaves 12 x 8 after three cuts; two rows need five cuts and leave 12 x 4."""
    (layout,) = plan_cuts(job([sheet()], [piece("square", "4", "4", 3)])).layouts
    assert len(layout.cuts) == 3
    assert max(offcut.width * offcut.height for offcut in layout.offcuts) == 96


def test_a_plan_in_two_layouts_is_combined_into_one():
    state = state_of(job([sheet()], [piece("a", "6", "12", 4), piece("b", "6", "12", 4)]))
    plan = [(Filling(0, 0, (0, 0), (2, 0)), 2), (Filling(0, 0, (1, 1), (0, 2)), 2)]
    few = FewLayouts(state.problem, make_fillers(state), never)
    for better in (few.combined(plan), few.anew(plan)):
        assert [(filling.counts, times) for filling, times in better] == [((1, 1), 4)]


def test_pieces_move_off_the_sheet_with_most_room_when_others_can_take_them():
    """A fourth a fits on the first sheet; what stays on the second is one row and leaves 12 x 7."""
    state = state_of(job([sheet()], [piece("a", "6", "5", 5), piece("b", "6", "2", 2)]))
    fillers = make_fillers(state)
    plan = [
        (Filling(0, 1, ((0, 0), 0, 1), (3, 1)), 1),
        (Filling(0, 1, ((0, 0), 1), (2, 1)), 1),
    ]
    better = gathered(state.problem, fillers, Handler(state.problem, fillers, never), plan, never)
    handled = [handling_of(state.problem, filling) for filling, _ in better]
    before = [handling_of(state.problem, filling) for filling, _ in plan]
    assert made_by(better, 2) == (5, 2)
    assert sum(one.cuts for one in handled) <= sum(one.cuts for one in before)
    assert max(one.largest_offcut for one in before) == 60
    assert max(one.largest_offcut for one in handled) == 84


KINDS = st.lists(
    st.tuples(st.integers(2, 9), st.integers(2, 9), st.integers(1, 30), st.booleans()),
    min_size=1,
    max_size=5,
)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(KINDS, st.integers(9, 16), st.integers(9, 16), st.sampled_from([2, 3, None]))
def test_tidying_keeps_the_cost_and_the_counts_and_makes_nothing_worse(
    kinds, width, height, rounds
):
    pieces = [
        piece(f"p{at}", str(w), str(h), many, may_turn=may_turn)
        for at, (w, h, many, may_turn) in enumerate(kinds)
    ]
    state = state_of(job([sheet("s", str(width), str(height))], pieces, rounds=rounds))
    state.offer(plan_in_rows(state.problem, never))
    better = tidied(state, state.best)
    assert made_by(better, len(kinds)) == state.problem.counts
    assert cost_of(better, state.problem) <= state.best_cost
    if cost_of(better, state.problem) == state.best_cost:
        assert len(better) <= len(state.best)
        if len(better) == len(state.best):
            assert effort(better, state.problem) <= effort(state.best, state.problem)


def effort(plan, problem):
    return sum(handling_of(problem, filling).effort * times for filling, times in plan)
