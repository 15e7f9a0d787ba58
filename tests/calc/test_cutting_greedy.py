"""The greedy start makes exactly what is wanted, in the rounds allowed, and turns single pieces."""

from decimal import Decimal
from itertools import combinations

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from catalogue.calc.cutting.check import check_plan, rounds_needed
from catalogue.calc.cutting.greedy import plan_largest_first
from catalogue.calc.cutting.integers import place_tree, split_into_problems
from catalogue.calc.cutting.planning import plan_cuts
from catalogue.calc.cutting.start import cost_of, plan_in_rows
from tests.calc.cutting_jobs import job, piece, sheet


def never():
    return False


def problem_of(*args, **kwargs):
    (problem,) = split_into_problems(job(*args, **kwargs))
    return problem


def test_one_piece_is_turned_beside_two_that_are_not():
    """Two of 3 x 2 above each other and a turned one: 3 on 5 x 4, where rows one way hold 2."""
    problem = problem_of([sheet("s", "5", "4")], [piece("a", "3", "2", 12, may_turn=True)])
    assert cost_of(plan_largest_first(problem, never), problem) == 4
    assert cost_of(plan_in_rows(problem, never), problem) == 6


def test_sheets_that_give_most_area_for_their_price_come_first_while_they_last():
    few, plenty = sheet("few", "12", "12", "0.10", 2), sheet("plenty", "12", "12", "1")
    problem = problem_of([few, plenty], [piece("big", "11", "11", 5)])
    plan = plan_largest_first(problem, never)
    assert [(filling.sheet, times) for filling, times in plan] == [(0, 2), (1, 3)]


def test_there_is_no_plan_where_the_sheets_run_out():
    problem = problem_of([sheet("few", available=2)], [piece("big", "11", "11", 5)])
    assert plan_largest_first(problem, never) is None


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(
        st.tuples(st.integers(1, 9), st.integers(1, 9), st.integers(1, 20), st.booleans()),
        min_size=1,
        max_size=8,
    ),
    st.integers(9, 16),
    st.integers(9, 16),
    st.sampled_from([1, 2, 3, None]),
)
def test_every_greedy_plan_is_exact_and_can_be_cut(kinds, width, height, rounds):
    pieces = [
        piece(f"p{at}", str(w), str(h), many, may_turn=may_turn)
        for at, (w, h, many, may_turn) in enumerate(kinds)
    ]
    problem = problem_of([sheet("s", str(width), str(height))], pieces, rounds=rounds)
    plan = plan_largest_first(problem, never)
    made = [sum(f.counts[kind] * times for f, times in plan) for kind in range(len(kinds))]
    assert tuple(made) == problem.counts
    for filling, _ in plan:
        room = problem.sheets[filling.sheet]
        boxes = []
        for index, x, y in place_tree(filling.tree, filling.first, problem.variants):
            variant = problem.variants[index]
            boxes.append((x, y, x + variant.width, y + variant.height))
        assert all(box[2] <= room.width and box[3] <= room.height for box in boxes)
        assert not any(
            one[0] < two[2] and two[0] < one[2] and one[1] < two[3] and two[1] < one[3]
            for one, two in combinations(boxes, 2)
        )
        assert rounds_needed(boxes) is not None
        assert rounds is None or rounds_needed(boxes) <= rounds


def test_two_hundred_odd_sizes_come_close_to_their_bound():
    """No outside value is known for this invented job; the planner's own bound is the measure."""
    pieces = [
        piece(
            f"p{n}",
            Decimal(17 + n * 7 % 251) / 16,
            Decimal(16 + n * 13 % 239) / 16,
            n % 12 + 1,
            may_turn=True,
        )
        for n in range(200)
    ]
    cutting_job = job([sheet(width="17", height="17")], pieces)
    plan = plan_cuts(cutting_job)
    check_plan(plan, cutting_job)
    assert plan.sheet_count <= plan.lower_bound * Decimal("1.02")
    assert plan.seconds < 6
