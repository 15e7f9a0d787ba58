"""Pieces folded from a shape: their blank, their glue in a parts list, what the card weighs.

The bag of 7 1/2 x 4 x 8 in from two blanks of 12 x 12 in is common practice, no source; every
other figure is worked by hand beside its check.
"""

from decimal import Decimal

import pytest

from catalogue.calc.flat_patterns.pattern import BadSize, UnknownForm
from catalogue.calc.recipes.form_blank import form_blank, form_pattern, refusal_words, with_defaults
from catalogue.calc.recipes.made_of import made_of
from catalogue.calc.recipes.parts_list import parts_for
from catalogue.calc.recipes.recipe import (
    Basis,
    Choice,
    MaterialValues,
    Measure,
    Recipe,
    RecipeFixing,
    RecipeOption,
    RecipePiece,
    When,
)

D = Decimal
BAG = {"W": "190.5", "D": "101.6", "H": "203.2", "g": "12.7"}
CARD = MaterialValues("card", "sheet", "sheet", None, D(304), D(304), grammage=D(300), id=1)
FOAM = MaterialValues("foam", "sheet", "sheet", None, D(304), D(304), id=2)
GLUE = MaterialValues("glue", "volume", "ml", None, waste_share=D("0.15"), id=3)

BODY = RecipePiece(
    "body", "card", D("304.8"), D("304.8"), count=2, layers=2,
    glue_bead_mm=D("203.2"), glue_area_mm2=D(5000),
)  # fmt: skip
POCKET = RecipePiece(
    "pocket", "card", D(100), D(50), glue_bead_mm=D("101.6"), glue_area_mm2=D(2000),
    when=When(only_with=("pocket", "yes")),
)  # fmt: skip
OPTIONS = (
    RecipeOption("pocket", "Pocket", (Choice("no", "no", is_default=True), Choice("yes", "yes"))),
)


def recipe(
    *fixings: RecipeFixing, pieces: tuple[RecipePiece, ...] = (BODY, POCKET), unit: str = "in"
) -> Recipe:
    return Recipe(
        "bag", {"card": CARD, "foam": FOAM, "glue": GLUE}, pieces, fixings,
        options=OPTIONS, unit=unit,
    )  # fmt: skip


def test_the_blank_of_a_bag_is_two_whole_sheets_and_only_the_corner_is_gone():
    blank = form_blank("two_piece_bag", BAG)
    assert (blank.width_mm, blank.height_mm, blank.count) == (D("304.8"), D("304.8"), 2)
    # the corner under the tab is 1/2 x 4 in = 1290.32 mm2, its two wedges less than 1/16 sq in
    gone = D("304.8") * D("304.8") - blank.area_mm2
    assert D("1290.32") <= gone < D("1290.32") + D("40.33")


def test_a_blank_of_nothing_but_straight_sides_keeps_its_whole_area():
    # 50 x 80 mm folded over the long side: 50 x 160 mm, all of it card
    blank = form_blank("tag", {"w": "50", "h": "80", "folded": "1"})
    assert (blank.width_mm, blank.height_mm, blank.area_mm2) == (D(50), D(160), D(8000))
    assert (blank.glue_bead_mm, blank.glue_area_mm2) == (0, 0)


def test_a_yes_or_no_and_a_number_are_no_lengths_in_inches_either():
    folded = form_pattern("tag", {"w": "25.4", "h": "50.8", "folded": "1"}, "in")
    assert (folded.pieces[0].width, folded.pieces[0].height) == (1, 4)
    # three strips for a handle of 30 in, two joins of 1/2 in: 30 = 3 x - 1, so 31/3 in each
    strip = {"length": "762", "width": "25.4", "strips": "3", "lap": "12.7"}
    (blank,) = form_pattern("handle_strip", strip, "in").pieces
    assert blank.count == 3
    assert blank.width * 3 - 1 == 30


def test_the_same_blank_is_drawn_once_and_remembered():
    assert form_blank("two_piece_bag", BAG) is form_blank(
        "two_piece_bag", dict(reversed(BAG.items()))
    )


def test_usual_sizes_are_written_down_and_those_that_follow_are_left_to_follow():
    # the dust flap of a tuck box follows from its width, so a wider box gets a wider one
    kept = with_defaults("tuck_box", {"W": "60", "D": "35", "H": "90"})
    assert kept["g"] == "12"
    assert "dust" not in kept
    assert with_defaults("tuck_box", {"g": "9"})["g"] == "9"


def test_a_size_in_the_way_is_told_in_her_unit_with_the_nearest_that_works():
    deep = {**BAG, "D": "203.2"}
    with pytest.raises(BadSize) as refused:
        form_blank("two_piece_bag", deep)
    assert refused.value.nearest == D("190.5")
    where, inches = refusal_words("two_piece_bag", deep, "in", refused.value)
    assert where == "D"
    assert "8 in" in inches
    assert "7 1/2 in" in inches
    assert "190.5 mm" in refusal_words("two_piece_bag", deep, "mm", refused.value)[1]


def test_a_form_nobody_knows_is_refused():
    with pytest.raises(UnknownForm):
        form_blank("castle", {})


def test_a_glue_line_runs_over_the_folded_pieces_that_hold():
    seams = RecipeFixing("seams", "glue", D(2), measure=Measure.FORM_BEAD, rate=D("3.1"))
    made = recipe(seams)
    # by hand: 2 bodies x 8 in = 406.4 mm, two lines of 3.1 ml/m: 2.51968 ml, 15 % waste, 10 of it
    alone = parts_for(made, 10).uses[0]
    assert alone.amount == D("2.51968") * D("1.15") * 10
    (line,) = alone.line.lines
    assert str(line.how) == ("10 x 2.51968 x 1.15; 2 body x 8 in = 16 in; 2 x 2.8346 ml per yard")
    # with its pocket 4 in more: 508 mm, 3.1496 ml
    with_pocket = parts_for(made, 10, {"pocket": "yes"}).uses[0]
    assert with_pocket.amount == D("3.1496") * D("1.15") * 10
    assert "2 body x 8 in + 1 pocket x 4 in = 20 in" in str(with_pocket.line.lines[0].how)


def test_a_spread_covers_the_glued_places():
    spread = RecipeFixing(
        "spread", "glue", D(1), measure=Measure.FORM_AREA, rate=D(90), waste_share=D(0)
    )
    # by hand: 2 x 50 cm2 + 20 cm2 = 0.012 m2, 90 ml a square metre: 1.08 ml
    use = parts_for(recipe(spread, unit="mm"), 5, {"pocket": "yes"}).uses[0]
    assert use.amount == D("5.4")
    assert str(use.line.lines[0].how) == (
        "5 x 1.08; 2 body x 50 cm² + 1 pocket x 20 cm² = 0.012 m²; 90 ml per square metre"
    )


def test_glue_on_folded_pieces_is_nothing_where_none_is_glued():
    seams = RecipeFixing("seams", "glue", D(1), measure=Measure.FORM_BEAD, rate=D("3.1"))
    use = parts_for(recipe(seams, pieces=(RecipePiece("lid", "card", D(10), D(10)),)), 3).uses[0]
    assert use.amount == 0
    assert "no folded piece is glued" in str(use.line.lines[0].how)


def test_spares_are_glued_too():
    seams = RecipeFixing(
        "seams", "glue", D(1), measure=Measure.FORM_BEAD, rate=D(10), waste_share=D(0)
    )
    made = Recipe("bag", {"card": CARD, "glue": GLUE}, (BODY,), (seams,), reject_share=D("0.1"))
    # 20 good ones and 2 spares, each 0.4064 m x 10 ml
    assert parts_for(made, 20).uses[0].amount == D("4.064") * 22


def test_a_sum_of_many_pieces_is_cut_short_in_words_alone():
    pieces = tuple(
        RecipePiece(f"part {at}", "card", D(10), D(10), glue_bead_mm=D(100)) for at in range(30)
    )
    seams = RecipeFixing(
        "seams", "glue", D(1), measure=Measure.FORM_BEAD, rate=D(1), waste_share=D(0)
    )
    use = parts_for(recipe(seams, pieces=pieces, unit="mm"), 1).uses[0]
    assert use.amount == 3
    assert "+ 22 more = 3 m" in str(use.line.lines[0].how)


def test_stated_amounts_stay_what_they_were():
    dots = RecipeFixing("dots", "glue", D("1.5"), basis=Basis.JOB, waste_share=D(0))
    assert str(parts_for(recipe(dots), 7).uses[0].line.lines[0].how) == "1 x 1.5"


def test_card_weighs_its_area_without_what_is_cut_out():
    pieces = (
        RecipePiece("side", "card", D(100), D(50), count=2, layers=2),
        RecipePiece("ring", "card", D(100), D(100), area_mm2=D(7500)),
        RecipePiece("core", "foam", D(100), D(100)),
        RecipePiece("pocket", "card", D(100), D(100), when=When(only_with=("pocket", "yes"))),
    )
    made = made_of(recipe(pieces=pieces))
    # by hand at 300 g/m2: 4 x 0.005 m2 = 6 g, 0.0075 m2 = 2.25 g; foam has no weight on its label
    assert [(row.count, row.weight_g) for row in made.rows] == [
        (4, D(6)), (1, D("2.25")), (1, None),
    ]  # fmt: skip
    assert made.weight_g == D("8.25")
    assert made.not_weighed == ("foam",)
    assert made_of(recipe(pieces=pieces), {"pocket": "yes"}).weight_g == D("11.25")


def test_the_glue_line_of_one_is_that_of_its_folded_pieces():
    assert made_of(recipe()).glue_line_mm == D("406.4")
    assert made_of(recipe(), {"pocket": "yes"}).glue_line_mm == D(508)
