"""The layout checker finds what is wrong with a layout it did not make."""

from dataclasses import replace
from decimal import Decimal

import pytest

from catalogue.calc.cutting.check import WrongLayout, check_layout, check_plan, rounds_needed
from catalogue.calc.cutting.planning import Layout, Placement, plan_cuts
from tests.calc.cutting_jobs import job, piece, sheet


def boxes(*rows):
    return list(rows)


PINWHEEL = boxes((0, 0, 2, 1), (2, 0, 3, 2), (1, 2, 3, 3), (0, 1, 1, 3), (1, 1, 2, 2))


@pytest.mark.parametrize(
    ("parts", "rounds"),
    [
        (boxes((0, 0, 1, 1)), 1),
        (boxes((0, 0, 1, 1), (1, 0, 2, 5)), 1),
        (boxes((0, 0, 1, 1), (0, 1, 1, 5)), 1),
        (boxes((0, 0, 1, 1), (1, 0, 2, 1), (0, 1, 2, 2)), 2),
        (boxes((0, 0, 1, 2), (1, 0, 2, 1), (1, 1, 2, 2), (0, 2, 2, 3)), 3),
        (PINWHEEL, None),
        (boxes((0, 0, 2, 2), (1, 1, 3, 3)), None),
    ],
)
def test_rounds_of_cuts_that_part_all_boxes(parts, rounds):
    assert rounds_needed(parts) == rounds


def layout_of(*rows, times=1):
    placed = tuple(
        Placement(name, *(Decimal(number) for number in numbers), turned)
        for name, *numbers, turned in rows
    )
    return Layout("card", times, placed, (), Decimal(0))


CARD_JOB = job(
    [sheet(width="10", height="10", trim="0.5")],
    [piece("a", "4", "3", 2), piece("b", "2", "5", 1, may_turn=True)],
    gap="0.5",
)


def test_a_good_layout_passes():
    check_layout(layout_of(("a", ".5", ".5", 4, 3, False), ("a", 5, ".5", 4, 3, False)), CARD_JOB)


@pytest.mark.parametrize(
    "rows",
    [
        [("a", "0.4", "0.5", 4, 3, False)],  # over the trim
        [("a", "5.6", "0.5", 4, 3, False)],  # over the far trim
        [("a", "0.5", "0.5", 3, 4, True)],  # may not be turned
        [("a", "0.5", "0.5", 4, 2, False)],  # changed size
        [("b", "0.5", "0.5", 5, 2, False)],  # turned but does not say so
        [("a", "0.5", "0.5", 4, 3, False), ("a", "4.9", "0.5", 4, 3, False)],  # gap too small
        [("a", "0.5", "0.5", 4, 3, False), ("b", "2", "2", 2, 5, False)],  # overlap
        [],
    ],
)
def test_a_wrong_layout_is_found(rows):
    with pytest.raises(WrongLayout):
        check_layout(layout_of(*rows), CARD_JOB)


def test_a_layout_needing_more_rounds_than_allowed_is_found():
    rows = [
        ("c", 0, 0, 1, 2, False),
        ("d", 1, 0, 1, 1, False),
        ("d", 1, 1, 1, 1, False),
        ("e", 0, 2, 2, 1, False),
    ]
    kinds = [piece("c", "1", "2"), piece("d", "1", "1", 2), piece("e", "2", "1")]
    check_layout(layout_of(*rows), job([sheet()], kinds, rounds=3))
    with pytest.raises(WrongLayout):
        check_layout(layout_of(*rows), job([sheet()], kinds, rounds=2))


@pytest.mark.parametrize(
    "spoil",
    [
        lambda plan: replace(plan, layouts=plan.layouts[:-1]),
        lambda plan: replace(plan, sheet_count=plan.sheet_count + 1),
        lambda plan: replace(plan, cost=plan.cost + 1),
        lambda plan: replace(plan, lower_bound=plan.lower_bound + 1),
        lambda plan: replace(plan, proven=not plan.proven),
        lambda plan: replace(plan, layouts=(*plan.layouts, plan.layouts[0])),
    ],
)
def test_a_spoiled_plan_is_found(spoil):
    plan = plan_cuts(CARD_JOB)
    check_plan(plan, CARD_JOB)
    with pytest.raises(WrongLayout):
        check_plan(spoil(plan), CARD_JOB)
