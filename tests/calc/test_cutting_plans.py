"""Any job gets a valid plan whose bound is not above it, the same one each time."""

from dataclasses import replace
from decimal import Decimal
from itertools import pairwise, product

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from catalogue.calc.cutting.check import check_plan, rounds_needed
from catalogue.calc.cutting.free import FreeFiller
from catalogue.calc.cutting.integers import split_into_problems
from catalogue.calc.cutting.patterns import SheetFiller
from catalogue.calc.cutting.planning import NotEnoughSheets, plan_cuts
from tests.calc.cutting_jobs import job, piece, sheet
from tests.thorough import tries

quick = settings(
    max_examples=tries(30, thorough=500),
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)


def eighths(low, high):
    return st.integers(low, high).map(lambda number: str(Decimal(number) / 8))


@st.composite
def jobs(draw, most_count=40, kinds_of_sheet=3):
    sheets = [
        sheet(
            f"s{number}",
            draw(eighths(48, 96)),
            draw(eighths(48, 96)),
            price=draw(st.sampled_from(["0", "0.30", "0.75", "1.20"])),
            trim=draw(st.sampled_from(["0", "0.125", "0.25"])),
            available=draw(st.sampled_from([None, None, None, 5, 50])),
        )
        for number in range(draw(st.integers(1, kinds_of_sheet)))
    ]
    pieces = [
        piece(
            f"p{number}",
            draw(eighths(6, 40)),
            draw(eighths(6, 40)),
            draw(st.integers(1, most_count)),
            may_turn=draw(st.booleans()),
            on=draw(st.sampled_from([None, None, "s0"])),
        )
        for number in range(draw(st.integers(1, 5)))
    ]
    return job(
        sheets,
        pieces,
        gap=draw(st.sampled_from(["0", "0.125", "0.05"])),
        rounds=draw(st.sampled_from([1, 2, 3, 4, None])),
        time_limit_s=0.3,
    )


@quick
@given(jobs())
def test_every_plan_is_valid_and_not_below_its_bound(cutting_job):
    try:
        plan = plan_cuts(cutting_job)
    except NotEnoughSheets:
        assert any(kind.available is not None for kind in cutting_job.sheets)
        return
    check_plan(plan, cutting_job)
    assert plan.reason
    # it stops soon after its limit
    assert plan.seconds < 1


@quick
@given(jobs(most_count=6, kinds_of_sheet=1))
def test_the_same_job_gives_the_same_plan(cutting_job):
    unhurried = replace(cutting_job, time_limit_s=60.0, rounds=3)
    try:
        first, second = plan_cuts(unhurried), plan_cuts(unhurried)
    except NotEnoughSheets:
        return
    assert replace(first, seconds=0.0) == replace(second, seconds=0.0)


@quick
@given(jobs(most_count=4, kinds_of_sheet=2))
def test_more_rounds_never_cost_more_where_both_are_proven(cutting_job):
    plans = []
    for rounds in (1, 2, 3):
        try:
            plans.append(plan_cuts(replace(cutting_job, rounds=rounds, time_limit_s=0.5)))
        except NotEnoughSheets:
            return
    for fewer, more in pairwise(plans):
        if more.proven:
            assert more.lower_bound <= fewer.lower_bound or not fewer.proven
        one_kind = len(cutting_job.sheets) == 1
        assert more.lower_bound <= (fewer.sheet_count if one_kind else fewer.cost)


def most_by_trying(width, height, sizes, rounds):
    """Return which counts fit on a sheet, by trying all cuts: slow, simple and independent."""
    known = {}

    def fits(w, h, counts, left, axis):
        """Whether the pieces fit into w x h in `left` rounds, the next one along `axis`."""
        key = (w, h, counts, left, axis)
        if key in known:
            return known[key]
        total = sum(counts)
        if total == 0:
            answer = True
        elif total == 1:
            size = sizes[counts.index(1)]
            answer = size[0] <= w and size[1] <= h
        elif left == 0:
            answer = False
        else:
            answer = fits(w, h, counts, left - 1, 1 - axis)
            side = w if axis == 0 else h
            for cut, part in product(range(1, side), product(*(range(n + 1) for n in counts))):
                if answer:
                    break
                if not 0 < sum(part) < total:
                    continue
                rest = tuple(n - m for n, m in zip(counts, part, strict=True))
                one = (cut, h) if axis == 0 else (w, cut)
                two = (w - cut, h) if axis == 0 else (w, h - cut)
                answer = fits(*one, part, left - 1, 1 - axis) and fits(*two, rest, left, axis)
        known[key] = answer
        return answer

    return lambda counts: any(fits(width, height, counts, rounds, axis) for axis in (0, 1))


SMALL = st.lists(
    st.tuples(st.integers(2, 6), st.integers(2, 6), st.integers(1, 3)), min_size=1, max_size=3
)


@quick
@given(SMALL, st.integers(6, 9), st.integers(6, 9), st.sampled_from([1, 2, 3]))
def test_proven_counts_are_those_found_by_trying_all_cuts(kinds, width, height, rounds):
    sizes = [(w, h) for w, h, _ in kinds]
    wanted = tuple(count for _, _, count in kinds)
    pieces = [piece(f"p{at}", str(w), str(h), n) for at, (w, h, n) in enumerate(kinds)]
    cutting_job = job([sheet("s", str(width), str(height))], pieces, rounds=rounds)
    plan = plan_cuts(cutting_job)
    check_plan(plan, cutting_job)
    fits = most_by_trying(width, height, sizes, rounds)
    fewest = {tuple(0 for _ in wanted): 0}
    for counts in product(*(range(n + 1) for n in wanted)):
        if any(counts):
            fewest[counts] = min(
                1 + fewest[tuple(n - m for n, m in zip(counts, part, strict=True))]
                for part in product(*(range(n + 1) for n in counts))
                if any(part) and fits(part)
            )
    assert plan.lower_bound <= fewest[wanted] <= plan.sheet_count
    assert plan.proven


@quick
@given(SMALL, st.integers(6, 14), st.integers(6, 14), st.lists(st.integers(0, 50), min_size=3))
def test_the_tables_value_is_what_their_tree_holds(kinds, width, height, worth):
    pieces = [
        piece(f"p{at}", str(w), str(h), 99, may_turn=at % 2 == 1)
        for at, (w, h, _) in enumerate(kinds)
    ]
    (problem,) = split_into_problems(job([sheet("s", str(width), str(height))], pieces))
    values = worth[: len(kinds)]
    staged = []
    for rounds in (1, 2, 3):
        best = []
        for first in (0, 1):
            filler = SheetFiller(problem, 0, first, rounds)
            best.append(filler.best(values))
            assert held_by(filler.best_tree(), problem, values) == best[-1]
        staged.append(max(best))
    free = FreeFiller(problem, 0)
    assert staged == sorted(staged)
    assert staged[-1] <= free.best(values)
    assert held_by(free.best_tree(), problem, values) == free.best(values)


def held_by(tree, problem, values):
    if isinstance(tree, int):
        return values[problem.variants[tree].kind]
    return sum(held_by(child, problem, values) for child in tree)


def test_several_kinds_of_sheet_are_chosen_by_cost():
    small, large = sheet("small", "6", "6", "0.30"), sheet("large", "12", "12", "1")
    pieces = [piece("square", "6", "6", 9)]
    plan = plan_cuts(job([small, large], pieces))
    assert (plan.cost, plan.sheets_of("large"), plan.sheets_of("small")) == (Decimal("2.30"), 2, 1)
    assert plan.proven


def test_a_limited_cheap_sheet_is_used_up_first():
    few, plenty = sheet("few", "12", "12", "0.10", 2), sheet("plenty", "12", "12", "1")
    plan = plan_cuts(job([few, plenty], [piece("big", "11", "11", 5)]))
    assert (plan.sheets_of("few"), plan.sheets_of("plenty")) == (2, 3)
    assert plan.cost == Decimal("3.20")
    assert plan.proven


def test_a_pinwheel_cannot_be_cut_edge_to_edge():
    """Five pieces that fill 3 x 3 only as a pinwheel need a second sheet."""
    pieces = [piece("flat", "2", "1", 2), piece("tall", "1", "2", 2), piece("middle", "1", "1", 1)]
    for rounds in (3, None):
        plan = plan_cuts(job([sheet("s", "3", "3")], pieces, rounds=rounds))
        assert plan.sheet_count == 2
        assert plan.proven == (rounds == 3)  # with any number of rounds the bound stays at 1


def test_more_rounds_can_save_a_sheet():
    """Four rounds are needed for a spiral of strips round a square."""
    pieces = [
        piece("a", "5", "1"),
        piece("b", "1", "4"),
        piece("c", "4", "1"),
        piece("d", "1", "3"),
        piece("e", "3", "1"),
        piece("f", "3", "2"),
    ]
    counts = {
        rounds: plan_cuts(job([sheet("s", "5", "5")], pieces, rounds=rounds)).sheet_count
        for rounds in (1, 2, 3, None)
    }
    assert counts[None] == 1
    assert counts[1] >= counts[2] >= counts[3] >= counts[None]


@pytest.mark.parametrize("rounds", [2, 3, 4, None])
def test_no_layout_takes_more_rounds_than_allowed(rounds):
    pieces = [piece(f"p{n}", str(2 + n % 5), str(1 + n % 4), 3, may_turn=True) for n in range(8)]
    cutting_job = job([sheet()], pieces, rounds=rounds)
    plan = plan_cuts(cutting_job)
    check_plan(plan, cutting_job)
    for layout in plan.layouts:
        needed = rounds_needed(
            [(p.x, p.y, p.x + p.width, p.y + p.height) for p in layout.placements]
        )
        assert needed is not None
        assert rounds is None or needed <= rounds


def test_slack_says_how_much_smaller_the_sheet_may_be():
    plan = plan_cuts(job([sheet(width="12", height="12")], [piece("a", "5.5", "3.5", 6)]))
    (layout,) = plan.layouts
    assert layout.slack == Decimal("1")
    smaller = sheet(width="11", height="11")
    assert plan_cuts(job([smaller], [piece("a", "5.5", "3.5", 6)])).sheet_count == 1


def test_offcuts_do_not_touch_pieces_and_lie_on_the_sheet():
    cutting_job = job(
        [sheet(trim="0.25")],
        [piece("a", "5", "3", 5), piece("b", "2", "2.5", 7, may_turn=True)],
        gap="0.125",
    )
    for layout in plan_cuts(cutting_job).layouts:
        rectangles = [*layout.placements, *layout.offcuts]
        for at, one in enumerate(rectangles):
            assert Decimal("0.25") <= one.x
            assert one.x + one.width <= Decimal("11.75")
            assert one.y + one.height <= Decimal("11.75")
            for other in rectangles[at + 1 :]:
                apart = (
                    one.x + one.width <= other.x
                    or other.x + other.width <= one.x
                    or one.y + one.height <= other.y
                    or other.y + other.height <= one.y
                )
                assert apart
