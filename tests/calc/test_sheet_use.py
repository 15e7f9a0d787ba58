"""Sheets of a parts list: in her unit only where that is exact, shared by area, and how."""

from dataclasses import replace
from decimal import Decimal

import pytest

from catalogue.calc.cutting.planning import plan_cuts
from catalogue.calc.recipes.parts_list import CutCount, parts_for
from catalogue.calc.recipes.recipe import MaterialValues, RecipePiece
from catalogue.calc.sheets.use import cutting_job, sheets_for
from tests.calc.small_recipe import recipe

D = Decimal
INCH_CARD = MaterialValues("card", "sheet", "sheet", None, D("304.8"), D("304.8"), D("3.175"))
# 7 1/64 in x 3 in
BODY = RecipePiece("body", "body", D("178.196875"), D("76.2"))


def job(piece=BODY, material=INCH_CARD, gap_mm="1.5875", unit="in"):
    cut = CutCount(piece, material, 4, 4, unit)
    return cutting_job([cut], D(gap_mm), unit)


def lengths(made):
    (sheet,), (piece,) = made.sheets, made.pieces
    return [sheet.width, sheet.height, sheet.trim, made.gap, piece.width, piece.height]


def test_whole_64ths_are_planned_in_inches():
    # 12 in, 1/8 in, 1/16 in, 7 1/64 in, 3 in
    assert lengths(job()) == [D(12), D(12), D("0.125"), D("0.0625"), D("7.015625"), D(3)]


def test_in_a_workshop_of_millimetres_they_stay_in_millimetres():
    in_mm = [D("304.8"), D("304.8"), D("3.175"), D("1.5875"), D("178.196875"), D("76.2")]
    assert lengths(job(unit="mm")) == in_mm


@pytest.mark.parametrize(
    ("changed", "place"),
    [
        ({"material": replace(INCH_CARD, width_mm=D(305))}, 0),
        ({"material": replace(INCH_CARD, height_mm=D(305))}, 1),
        ({"material": replace(INCH_CARD, trim_mm=D(3))}, 2),
        ({"gap_mm": "2"}, 3),
        ({"piece": replace(BODY, width_mm=D(178))}, 4),
        ({"piece": replace(BODY, height_mm=D(76))}, 5),
    ],
    ids=["sheet's width", "sheet's height", "trim", "gap", "piece's width", "piece's height"],
)
def test_one_length_that_is_no_whole_64th_leaves_all_in_millimetres(changed, place):
    """178 mm are 7.00787401574... in, which no decimal number is."""
    made = lengths(job(**changed))
    assert made[place] == made[place].to_integral_value()
    assert all(
        length == in_mm
        for at, (length, in_mm) in enumerate(zip(made, lengths(job(unit="mm")), strict=True))
        if at != place
    )


def parts_of(card, pieces, quantity):
    """The parts of an item whose roles are all cut from one card."""
    materials = {piece.role: card for piece in pieces}
    return parts_for(recipe(materials=materials, pieces=pieces, fixings=(), steps=()), quantity)


def test_sheets_that_two_roles_share_are_shared_by_the_area_of_all_their_pieces():
    # two of 150 x 200 fill one sheet of 300 x 200, ten of 300 x 20 fill another
    card = MaterialValues("card", "sheet", "sheet", None, D(300), D(200))
    pieces = (
        RecipePiece("body", "body", D(150), D(200)),
        RecipePiece("strip", "strip", D(300), D(20), count=5),
    )
    body, strip = sheets_for(parts_of(card, pieces, 2), gap_mm=D(0), plan_sheets=plan_cuts)
    assert (body.sheets, strip.sheets) == (1, 1)
    assert str(body.line.how).startswith("1 of 2 shared by body, strip by area; ")
    waste = body.line.find("waste.body")
    assert (waste.number, str(waste.how)) == (0, "1 - 120000 / (2 x 60000), 4 decimals")


def test_of_one_role_nothing_is_shared():
    parts = parts_of(INCH_CARD, (BODY,), 4)
    (body,) = sheets_for(parts, gap_mm=D(0), plan_sheets=plan_cuts)
    assert "shared by" not in str(body.line.how)
