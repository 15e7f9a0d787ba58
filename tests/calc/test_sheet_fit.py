"""Which sheets take a blank, what may grow for nothing, which change saves a sheet."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.calc.flat_patterns import flat_pattern
from catalogue.calc.flat_patterns.pattern import BadSize
from catalogue.calc.sheets.fit import (
    LEAST_SHARE,
    MOST_SHARE,
    Sheet,
    fits,
    free_sizes,
    largest_scale,
    saving_changes,
    sheets_in_rows,
)

A4 = Sheet("A4", Fraction(210), Fraction(297))
SQUARE = Sheet("12 x 12", Fraction(12), Fraction(12))
STEP = Fraction(1, 2)


def tag(width, height):
    return {"w": Fraction(width), "h": Fraction(height)}


def test_slack_is_what_is_left_on_either_side():
    # by hand: 280 x 202 turned on 210 x 297 leaves 8 and 17
    pattern = flat_pattern(
        "one_piece_bag", {"W": Fraction(82), "D": Fraction(52), "H": Fraction(150)}
    )
    (fit,) = fits(pattern, [A4])
    assert (fit.takes_it, fit.is_turned) == (True, True)
    assert (fit.slack_across, fit.slack_up) == (8, 17)
    assert not fit.is_exact


@pytest.mark.parametrize(
    ("width", "is_exact"), [("210", True), ("208.01", True), ("208", False), ("150", False)]
)
def test_under_two_millimetres_the_sheet_must_be_measured(width, is_exact):
    # ISO 216: sides of 150 to 600 mm may be 2 mm off
    (fit,) = fits(flat_pattern("tag", tag(width, 200)), [A4], may_turn=False)
    assert fit.takes_it
    assert fit.is_exact is is_exact


def test_two_millimetres_are_meant_in_inches_too():
    tight, loose = (
        fits(flat_pattern("tag", tag(width, 5), unit="in"), [SQUARE])[0]
        for width in ("11.93", "11.92")
    )
    assert (tight.is_exact, loose.is_exact) == (True, False)


def test_a_directional_sheet_takes_it_upright_only():
    pattern = flat_pattern("tag", tag(290, 200))
    striped = Sheet("striped", Fraction(210), Fraction(297), is_directional=True)
    plain, directional = fits(pattern, [A4, striped])
    assert (plain.takes_it, directional.takes_it) == (True, False)
    assert directional.slack_across == -80


def test_blanks_are_counted_in_rows_with_the_gap_between_them():
    # 3 x 4 of 70 x 70 fit 210 x 297; with 1 mm between only 2 x 4
    pattern = flat_pattern("tag", tag(70, 70))
    assert fits(pattern, [A4])[0].per_sheet == 12
    assert fits(pattern, [A4], gap=Fraction(1))[0].per_sheet == 8
    trimmed = Sheet("A4", A4.width, A4.height, trim=Fraction(5))
    assert fits(pattern, [trimmed])[0].per_sheet == 8


def test_the_free_size_is_how_far_each_side_may_grow():
    # by hand: 60 x 90 tags lie 3 x 3 on A4; sides may grow to 70 and 99
    inputs = tag(60, 90)
    found = free_sizes("tag", inputs, sheets_in_rows(A4, 9, may_turn=False), unit="mm", step=STEP)
    assert [(each.name, each.after, each.sheets) for each in found] == [
        ("w", 70, 1),
        ("h", 99, 1),
    ]


def test_the_big_bag_uses_the_whole_sheet():
    sizes = {"W": Fraction(15, 2), "D": Fraction(4), "H": Fraction(8), "g": Fraction(1, 2)}
    found = free_sizes(
        "two_piece_bag", sizes, sheets_in_rows(SQUARE, 1), unit="in", step=Fraction(1, 16)
    )
    assert [each.change for each in found] == [0, 0, 0]


def test_the_smallest_decrease_that_saves_a_sheet_is_named():
    # by hand: 72 mm wide only two lie side by side; 70 is the first width at which three do
    found = saving_changes(
        "tag", tag(72, 99), sheets_in_rows(A4, 9, may_turn=False), unit="mm", step=STEP
    )
    assert [(each.name, each.after, each.sheets) for each in found] == [("w", 70, 1)]


def test_what_does_not_fit_is_told_the_nearest_that_does():
    # 220 x 120 with the top along 210: 210 is the nearest width
    count = sheets_in_rows(A4, 1, may_turn=False)
    found = saving_changes("tag", tag(220, 120), count, unit="mm", step=STEP)
    assert [(each.name, each.after) for each in found] == [("w", 210)]
    assert free_sizes("tag", tag(220, 120), count, unit="mm", step=STEP) == ()
    assert saving_changes("tag", tag(300, 300), count, unit="mm", step=STEP) == ()


def test_a_shrunken_one_of_the_same_shape():
    count = sheets_in_rows(A4, 1)
    # by hand: of 400 x 200 turned, 74 % is 296 x 148, 75 % would be 300
    assert largest_scale("tag", tag(400, 200), count, unit="mm", step=STEP) == tag(296, 148)
    assert largest_scale("tag", tag(100, 50), count, unit="mm", step=STEP) == tag(100, 50)


def test_nothing_of_the_shape_fits_where_the_tab_alone_is_too_wide():
    # a bag of W, D, H shrunk to a scrap of 20 mm would be narrower than its tab of 12
    bag = {"W": Fraction(190), "D": Fraction(100), "H": Fraction(200), "g": Fraction(12)}
    count = sheets_in_rows(Sheet("scrap", Fraction(20), Fraction(20)), 1)
    assert largest_scale("two_piece_bag", bag, count, unit="mm", step=STEP) is None
    count = sheets_in_rows(Sheet("half A4", Fraction(210), Fraction(148)), 1)
    found = largest_scale("two_piece_bag", bag, count, unit="mm", step=STEP)
    assert count(flat_pattern("two_piece_bag", {**bag, **found})) == 2


def test_no_size_is_advised_beyond_a_fifth_more_or_fifteen_hundredths_less():
    # alone on its sheet a tag of 60 x 70 could grow to 105 x 297; a fifth more is 72 x 84
    found = free_sizes("tag", tag(60, 70), sheets_in_rows(A4, 1), unit="mm", step=STEP)
    assert [(each.name, each.after) for each in found] == [("w", 72), ("h", 84)]
    # by hand: three of 82 want 70 across A4, which is 85.4 %; three of 83 would be 84.3 %
    count = sheets_in_rows(A4, 9, may_turn=False)
    for width, names in ((82, ["w"]), (83, [])):
        found = saving_changes("tag", tag(width, 99), count, unit="mm", step=STEP)
        assert [each.name for each in found] == names
    assert (Fraction(85, 100), Fraction(120, 100)) == (LEAST_SHARE, MOST_SHARE)


@settings(max_examples=40, deadline=None)
@given(
    width=st.integers(80, 200),
    depth=st.integers(60, 120),
    height=st.integers(20, 90),
    quantity=st.integers(1, 12),
)
def test_one_step_beyond_the_free_size_costs_a_sheet_or_cannot_be_folded(
    width, depth, height, quantity
):
    sizes = {"L": Fraction(width), "W": Fraction(depth), "H": Fraction(height)}
    count = sheets_in_rows(Sheet("A3", Fraction(297), Fraction(420)), quantity)
    now = count(flat_pattern("tray", sizes))
    for each in free_sizes("tray", sizes, count, unit="mm", step=STEP):
        assert count(flat_pattern("tray", {**sizes, each.name: each.after})) == now == each.sheets
        try:
            beyond = count(flat_pattern("tray", {**sizes, each.name: each.after + STEP}))
        except BadSize:
            continue
        if each.after + STEP > MOST_SHARE * each.before:
            continue
        assert beyond is None or beyond > now


def test_a_step_of_nothing_is_refused():
    with pytest.raises(BadSize):
        free_sizes("tag", tag(10, 10), sheets_in_rows(A4, 1), unit="mm", step=Fraction(0))
