"""The cuts of a layout, made one after the other, give its pieces and offcuts in a usable order."""

from dataclasses import replace
from decimal import Decimal
from itertools import pairwise

import pytest

from catalogue.calc.cutting.check import WrongLayout, check_cuts
from catalogue.calc.cutting.cuts import divide
from catalogue.calc.cutting.planning import CutStep, PlannedOffcut, plan_cuts
from tests.calc.cutting_jobs import job, piece, sheet

CARD_JOB = job(
    [sheet(width="10", height="10", trim="0.5")],
    [piece("a", "4", "3", 4), piece("b", "2", "3.5", 1, may_turn=True)],
    gap="0.25",
)


def only_layout(cutting_job):
    (layout,) = plan_cuts(cutting_job).layouts
    return layout


def test_edges_are_trimmed_first_all_four():
    edges = [cut for cut in only_layout(CARD_JOB).cuts if cut.round == 0]
    assert [(cut.is_vertical, cut.at) for cut in edges] == [
        (True, Decimal("0.5")),
        (True, Decimal("9.5")),
        (False, Decimal("0.5")),
        (False, Decimal("9.5")),
    ]
    assert list(only_layout(CARD_JOB).cuts[:4]) == edges


def test_rounds_come_one_after_the_other_and_pieces_are_trimmed_last():
    layout = only_layout(CARD_JOB)
    cuts = layout.cuts[4:]
    assert {cut.round for cut in cuts if not cut.is_trim} <= {1, 2, 3}
    for one, two in pairwise(cuts):
        assert (one.is_trim, one.round) <= (two.is_trim, two.round)


def test_cuts_by_hand():
    """Two pieces 5.5 wide beside each other leave 1 at the side, and 8.5 above them."""
    layout = only_layout(job([sheet()], [piece("a", "5.5", "3.5", 2)], rounds=2))
    assert [(cut.is_vertical, cut.at, cut.is_trim) for cut in layout.cuts] == [
        (False, Decimal("3.5"), False),
        (True, Decimal("5.5"), False),
        (True, Decimal("11"), False),
    ]
    assert layout.cuts[0] == CutStep(
        1, False, Decimal("3.5"), Decimal(0), Decimal(0), Decimal(12), Decimal(12), False
    )
    assert layout.offcuts == (
        PlannedOffcut(Decimal(0), Decimal("3.5"), Decimal(12), Decimal("8.5")),
        PlannedOffcut(Decimal(11), Decimal(0), Decimal(1), Decimal("3.5")),
    )


def test_a_piece_as_large_as_the_sheet_needs_no_cut():
    assert only_layout(job([sheet()], [piece("a", "12", "12")])).cuts == ()


def test_what_a_gap_takes_whole_leaves_no_offcut():
    layout = only_layout(job([sheet()], [piece("a", "11.9", "12")], gap="0.125"))
    assert len(layout.cuts) == 1
    assert layout.offcuts == ()


def test_cuts_of_a_plan_are_counted_sheet_by_sheet():
    plan = plan_cuts(job([sheet()], [piece("a", "5.5", "3.5", 60)]))
    assert plan.cut_count == sum(layout.times * len(layout.cuts) for layout in plan.layouts)
    assert plan.cut_count > plan.sheet_count


def test_pieces_are_pushed_together_where_a_cut_allows_it():
    """Two strips; in the upper one the boxes stand apart until the first cut is made."""
    boxes = [(0, 0, 3, 5), (3, 0, 3, 5), (6, 0, 3, 5), (0, 5, 1, 4), (3, 5, 1, 4), (6, 5, 1, 4)]
    division = divide(boxes, 10, 9, 3)
    assert division.places[3:] == ((0, 5), (1, 5), (2, 5))
    assert division.offcuts[0] == (3, 5, 7, 4)


@pytest.mark.parametrize(
    "spoil",
    [
        lambda cuts: cuts[:-1],
        lambda cuts: cuts[1:],
        lambda cuts: (*cuts, cuts[-1]),
        lambda cuts: tuple(reversed(cuts)),
        lambda cuts: (*cuts[:-1], replace(cuts[-1], at=cuts[-1].at + Decimal("0.1"))),
        lambda cuts: (*cuts[:-1], replace(cuts[-1], is_vertical=not cuts[-1].is_vertical)),
        lambda cuts: tuple(replace(cut, round=cut.round + 3) for cut in cuts),
        lambda cuts: tuple(replace(cut, round=max(1, cut.round)) for cut in cuts),
        lambda cuts: tuple(replace(cut, is_trim=True) for cut in cuts),
    ],
)
def test_spoiled_cuts_are_found(spoil):
    layout = only_layout(CARD_JOB)
    check_cuts(layout, CARD_JOB)
    with pytest.raises(WrongLayout):
        check_cuts(replace(layout, cuts=spoil(layout.cuts)), CARD_JOB)


def test_a_hidden_or_invented_offcut_is_found():
    layout = only_layout(CARD_JOB)
    invented = replace(layout.offcuts[0], width=layout.offcuts[0].width + 1)
    for offcuts in (layout.offcuts[1:], (*layout.offcuts, invented)):
        with pytest.raises(WrongLayout):
            check_cuts(replace(layout, offcuts=offcuts), CARD_JOB)
