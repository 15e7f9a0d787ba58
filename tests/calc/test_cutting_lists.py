"""The list of close fillings is complete, and the flow programme agrees with trying everything."""

from itertools import product

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from catalogue.calc.cutting.columns import fillings_of, maximal
from catalogue.calc.cutting.flow import FlowModel
from catalogue.calc.cutting.integers import split_into_problems, tree_size
from catalogue.calc.cutting.patterns import SheetFiller
from catalogue.calc.cutting.steps import steps_of
from catalogue.calc.cutting.watch import Course
from tests.calc.cutting_jobs import job, piece, sheet
from tests.calc.test_cutting_plans import most_by_trying

quick = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
KINDS = st.lists(
    st.tuples(st.integers(2, 6), st.integers(2, 6), st.integers(1, 3)), min_size=1, max_size=3
)
MANY = 1_000_000


def small_problem(kinds, width, height, rounds):
    pieces = [piece(f"p{at}", str(w), str(h), count) for at, (w, h, count) in enumerate(kinds)]
    (problem,) = split_into_problems(
        job([sheet("s", str(width), str(height))], pieces, rounds=rounds)
    )
    fillers = [SheetFiller(problem, 0, first, rounds) for first in (0, 1)]
    return problem, fillers


def counts_by_trying(kinds, width, height, rounds):
    fits = most_by_trying(width, height, [(w, h) for w, h, _ in kinds], rounds)
    return {
        counts
        for counts in product(*(range(count + 1) for _, _, count in kinds))
        if any(counts) and fits(counts)
    }


@quick
@given(
    KINDS,
    st.integers(6, 9),
    st.integers(6, 9),
    st.sampled_from([1, 2, 3]),
    st.lists(st.integers(0, 9), min_size=3, max_size=3),
    st.integers(1, 20),
)
def test_every_filling_worth_enough_is_listed(kinds, width, height, rounds, worth, enough):
    problem, fillers = small_problem(kinds, width, height, rounds)
    worth = worth[: len(kinds)]
    listed = []
    for filler in fillers:
        if filler.best(worth) < enough:
            continue
        steps = steps_of(filler, worth, enough, MANY)
        listed.extend(fillings_of(steps, problem, worth, enough, MANY, lambda: False))
    for filling in listed:
        size = tree_size(filling.tree, filling.first, problem.variants)
        room = problem.sheets[0].width, problem.sheets[0].height
        assert size[0] <= room[0]
        assert size[1] <= room[1]
    possible = counts_by_trying(kinds, width, height, rounds)
    good = {
        counts
        for counts in possible
        if sum(n * w for n, w in zip(counts, worth, strict=True)) >= enough
    }
    found = {filling.counts for filling in listed}
    assert found <= possible
    # per item sold is there, or one that holds as much of everything
    for counts in good:
        assert any(all(m >= n for m, n in zip(other, counts, strict=True)) for other in found), (
            counts
        )
    kept = {filling.counts for filling in maximal(listed)}
    assert kept <= found
    for counts in found:
        assert any(all(m >= n for m, n in zip(other, counts, strict=True)) for other in kept)


@quick
@given(KINDS, st.integers(6, 9), st.integers(6, 9), st.sampled_from([1, 2, 3]))
def test_the_flow_programme_finds_the_fewest_sheets(kinds, width, height, rounds):
    problem, fillers = small_problem(kinds, width, height, rounds)
    nothing = [0] * len(kinds)
    steps = []
    for filler in fillers:
        filler.best(nothing)
        # nothing is worth anything and nothing is needed: no layout is left out
        steps.append(steps_of(filler, nothing, 0, MANY))
    wanted = tuple(count for _, _, count in kinds)
    possible = counts_by_trying(kinds, width, height, rounds)
    fewest = {tuple(0 for _ in wanted): 0}
    for counts in product(*(range(count + 1) for count in wanted)):
        if any(counts):
            fewest[counts] = min(
                1 + fewest[tuple(n - m for n, m in zip(counts, part, strict=True))]
                for part in product(*(range(n + 1) for n in counts))
                if part in possible
            )
    course = Course(60)
    answer = FlowModel(problem, steps).solve(
        limit=sum(wanted), goal=0, step=1, seconds=60, course=course
    )
    assert answer is not None
    assert answer.least == fewest[wanted]
    assert sum(times for _, times in answer.plan) == fewest[wanted]
    fewer = FlowModel(problem, steps).solve(
        limit=fewest[wanted] - 1, goal=0, step=1, seconds=60, course=course
    )
    assert fewer is not None
    assert fewer.plan is None
    assert fewer.least == fewest[wanted]
