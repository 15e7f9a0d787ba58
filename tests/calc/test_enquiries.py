"""What is read of an enquiry: quantities, contents, budget, recipients."""

from decimal import Decimal
from fractions import Fraction

import pytest

from catalogue.calc.recipes.recipe import Basis, Choice, RecipeOption, RecipeStep
from pricing.calc.enquiries.colours import split_by_colour
from pricing.calc.enquiries.wanted import NoQuantity, quantities_in, too_small_by
from pricing.calc.enquiries.warnings import Recipients, general_warnings, warnings_of
from pricing.calc.enquiries.within_budget import MOST_TRIED, way_within


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("120, maybe 100 or 150", (120, 100, 150)),
        ("100 to 150", (100, 150)),
        ("80", (80,)),
        ("about 1,200 of them, or 1.500", (1200, 1500)),
        ("10,000 or 1 250", (10_000, 1250)),  # nobody wants 000, nor 1 before 250
        ("50, 100, 50", (50, 100)),
    ],
)
def test_quantities_as_they_are_said(text, found):
    assert quantities_in(text) == found


@pytest.mark.parametrize("text", ["", "some", "0", "9999999", "1 2 3 4 5 6 7"])
def test_no_quantity_is_refused_with_what_to_type(text):
    with pytest.raises(NoQuantity, match="Enter"):
        quantities_in(text)


@pytest.mark.parametrize("text", ["50 100 50", "100,150", "120.150 or more"])
def test_a_thousand_that_may_be_two_quantities_is_refused(text):
    with pytest.raises(NoQuantity, match="can be read two ways"):
        quantities_in(text)


def test_contents_may_be_turned_but_need_room_on_each_length():
    assert too_small_by((90, 45, 140), (138, 43, 88)) == 0
    assert too_small_by((90, 45, 140), (138, 44, 88)) == 1
    assert too_small_by((60, 30, 110), (Fraction(60), 60, 60)) == 32


def option(key, name, *choices):
    return RecipeOption(
        key, name, tuple(Choice(c, c.capitalize(), place == 0) for place, c in enumerate(choices))
    )


HANDLE = option("handle", "Handle", "rope", "ribbon", "none")
NAME = option("name", "Name", "no", "yes")
PRICES = {"rope": "3.00", "ribbon": "2.60", "none": "2.35"}


def price_of(choices):
    extra = Decimal("0.70") if choices.get("name", "no") == "yes" else 0
    return Decimal(PRICES[choices.get("handle", "rope")]) + extra


def test_the_least_is_left_out_that_comes_within_the_budget():
    usual, way = way_within(Decimal("2.40"), [HANDLE, NAME], price_of)
    assert (usual.price_each, way.price_each) == (Decimal("3.00"), Decimal("2.35"))
    assert (way.words, way.choices) == ("without handle", {"handle": "none"})
    _, dearer = way_within(Decimal("2.70"), [HANDLE, NAME], price_of)
    assert dearer.words == "with handle: ribbon"
    assert way_within(Decimal("2.30"), [HANDLE, NAME], price_of)[1] is None
    usual, way = way_within(Decimal("3.00"), [HANDLE, NAME], price_of)
    assert way is usual
    assert way_within(None, [HANDLE], lambda choices: None) == (None, None)


def test_a_design_of_many_options_is_not_worked_out_without_end():
    asked = []
    options = [option(f"o{n}", f"O{n}", "a", "b", "c") for n in range(9)]
    way_within(Decimal(1), options, lambda choices: asked.append(choices) or Decimal(5))
    assert len(asked) == MOST_TRIED


def test_warnings_by_age_food_and_load():
    steps = [
        RecipeStep("bead", Basis.MADE, Decimal(1), caution=caution)
        for caution in ("small parts", "magnet", "cord or loop", "load on a handle")
    ]
    toddler = Recipients(youngest=2, is_food=True, weight_g=Decimal(500))
    said = " ".join(warnings_of(toddler, steps))
    for words in ("small parts", "magnet", "cord", "wrapped food only", "1.5 kg"):
        assert words in said
    assert len(warnings_of(Recipients(youngest=3), steps)) == 1  # the magnet
    assert warnings_of(Recipients(youngest=14), steps) == ()
    assert warnings_of(Recipients(), steps) == ()
    assert warnings_of(toddler, []) == ("Not made with food in mind: wrapped food only.",)
    assert len(general_warnings(toddler)) == 2


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("60 moss, 60 plum", [("Moss", 60), ("Plum", 60)]),
        ("moss 70,plum 50", [("Moss", 70), ("Plum", 50)]),
        ("moss and plum", [("Moss", 60), ("Plum", 60)]),
        ("Plum & moss; sage", [("Plum", 40), ("Moss", 40), ("Sage and cream", 40)]),
        ("30 moss / plum / sage and cream", [("Moss", 30), ("Plum", 45), ("Sage and cream", 45)]),
        ("Moss", [("Moss", 120)]),
        ("60 × moss, 60 in plum, no gold", [("Moss", 60), ("Plum", 60)]),
        ("1,000 moss, 500 plum", [("Moss", 1000), ("Plum", 500)]),  # as said, not as asked
        ("60 moss, 20 moss, plum", [("Moss", 80), ("Plum", 40)]),
        ("", []),
        ("blues, no gold", []),
        ("no moss", []),
        ("moss or plum", []),
        ("moss, gold ribbon", []),
        ("50% moss, 50% plum", []),
        ("120 moss, plum", []),  # nothing is left for plum
        ("0 moss, 60 plum", []),
    ],
)
def test_colours_as_they_are_said(text, found):
    assert split_by_colour(text, ["Moss", "Plum", "Sage and cream"], 120) == found


def test_what_is_left_over_is_the_first_ones_and_each_gets_something():
    assert split_by_colour("a, b, c", ["A", "B", "C"], 11) == [("A", 5), ("B", 3), ("C", 3)]
    assert split_by_colour("a, b, c", ["A", "B", "C"], 2) == []
    assert split_by_colour("blue", ["Dark blue", "Pale blue"], 12) == []
