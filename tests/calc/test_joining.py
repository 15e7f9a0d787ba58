"""Joining what is longer than the sheet."""

from fractions import Fraction

import pytest

from catalogue.calc.flat_patterns import flat_pattern
from catalogue.calc.flat_patterns.pattern import BadSize
from catalogue.calc.sheets.joining import (
    join_advice,
    join_body,
    largest_one_piece_bag,
    longest_on_diagonal,
    strips_along,
    strips_round,
)

HALF = Fraction(1, 2)


def test_the_big_bag_closes_with_two_strips_and_nothing_left():
    # 23 / 11.5 = 2 exactly
    assert strips_round(Fraction(23), Fraction(12), HALF) == 2
    assert strips_round(Fraction("23.01"), Fraction(12), HALF) == 3


@pytest.mark.parametrize(
    ("length", "strips"), [(12, 1), (5, 1), ("23.5", 2), ("23.51", 3), ("0.25", 1)]
)
def test_a_handle_takes_strips_lapped(length, strips):
    # two 12 in strips with a lap of 1/2 reach 12 + 12 - 1/2
    assert strips_along(Fraction(length), Fraction(12), HALF) == strips


def test_a_strip_on_the_diagonal():
    # 12 sqrt 2 - 1 = 15.97 in
    assert float(longest_on_diagonal(Fraction(12), Fraction(1))) == pytest.approx(15.9705627)
    with pytest.raises(BadSize):
        longest_on_diagonal(Fraction(12), Fraction(17))


@pytest.mark.parametrize(
    ("along", "across", "room"),
    [("304.8", "304.8", 146), (297, 210, 142), (420, 297, 204)],
)
def test_the_largest_bag_of_one_piece(along, across, room):
    # worked with a tab of 12.7 mm, given in whole millimetres
    found = largest_one_piece_bag(Fraction(along), Fraction(across), Fraction("12.7"))
    assert round(found.width_and_depth) == room
    assert found.height_and_depth == Fraction(across)
    step = Fraction(1, 100)
    width = found.width_and_depth * 3 / 5
    depth = found.width_and_depth - width
    sizes = {"W": width, "D": depth, "H": found.height_and_depth - depth, "g": Fraction("12.7")}
    (fitting,) = flat_pattern("one_piece_bag", sizes).pieces
    assert (fitting.width, fitting.height) == (Fraction(along), Fraction(across))
    (larger,) = flat_pattern("one_piece_bag", {**sizes, "W": width + step}).pieces
    assert larger.width > Fraction(along)


def test_a_bag_too_wide_is_joined_at_its_corners():
    sizes = {"W": Fraction(15, 2), "D": Fraction(4), "H": Fraction(8), "g": HALF}
    pattern = flat_pattern("one_piece_bag", sizes, unit="in")
    joined = join_body(pattern, Fraction(12), Fraction(12))
    # the two-piece body: 7.5 + 4 + 0.5 wide, 12 high
    assert [(part.width, part.height) for part in joined.parts] == [(12, 12), (12, 12)]
    assert "corner folds" in joined.advice


def test_a_panel_that_just_fits_with_its_tab_is_a_part_of_its_own():
    # 10 + 1/2 is the whole sheet, 10 + 4 does not fit
    sizes = {"W": Fraction(10), "D": Fraction(4), "H": Fraction(8), "g": HALF}
    joined = join_body(
        flat_pattern("one_piece_bag", sizes, unit="in"), Fraction("10.5"), Fraction(12)
    )
    assert sorted(part.width for part in joined.parts) == [4.5, 4.5, 10.5, 10.5]


def test_a_mug_box_needs_two_wraps_of_a3():
    sizes = {"W": 105, "D": 105, "H": 110, "g": 15, "tuck": 15}
    pattern = flat_pattern("tuck_box", {name: Fraction(size) for name, size in sizes.items()})
    joined = join_body(pattern, Fraction(297), Fraction(420))
    assert [part.width for part in joined.parts] == [225, 225]


def test_what_cannot_be_joined():
    tray = flat_pattern("tray", {"L": Fraction(400), "W": Fraction(300), "H": Fraction(40)})
    assert join_body(tray, Fraction(210), Fraction(297)) is None
    tall = flat_pattern("one_piece_bag", {"W": Fraction(50), "D": Fraction(40), "H": Fraction(900)})
    assert join_body(tall, Fraction(210), Fraction(297)) is None
    small = flat_pattern("one_piece_bag", {"W": Fraction(50), "D": Fraction(30), "H": Fraction(90)})
    assert len(join_body(small, Fraction(210), Fraction(297)).parts) == 1
    for strip, lap in ((1, 1), (1, 2), (5, -1)):
        with pytest.raises(BadSize) as refused:
            strips_round(Fraction(100), Fraction(strip), Fraction(lap))
        assert refused.value.where == "strip"


def advice(form, unit, sheet, **sizes):
    exact = {name: Fraction(size) for name, size in sizes.items()}
    side, other = (Fraction(length) for length in sheet)
    return join_advice(flat_pattern(form, exact, unit=unit), side, other)


def test_a_bag_too_large_says_what_one_piece_would_give():
    # (12 - 1/2) / 2 = 5 3/4
    words = advice("one_piece_bag", "in", (12, 12), W="7.5", D=4, H=8)
    assert words.startswith("In 2 parts 12 in, 12 in wide")
    assert "width and depth 5 3/4 in together, height and depth 12 in together" in words


def test_a_handle_too_long_is_lapped_or_laid_from_corner_to_corner():
    # 15 <= 12 sqrt 2 - 1 = 15.97; 16 is more
    one = advice("handle_strip", "in", (12, 12), length=15, width=1, lap="0.5")
    assert one.startswith("Of 2 strips lapped by 1/2 in it fits.")
    assert "corner to corner" in one
    assert "corner" not in advice("handle_strip", "in", (12, 12), length=16, width=1, lap="0.5")
    assert "corner" not in advice("handle_strip", "in", (12, 11), length=15, width=1, lap="0.5")
    assert advice("handle_strip", "in", (12, 12), length=40, width=13) == ""


def test_a_band_with_a_wall_longer_than_the_sheet_is_made_of_strips():
    # round 20 + 4 + 20 + 4 = 48 in, each strip 12 - 1/2: 48 / 11.5 = 4.17, so 5
    words = advice("belly_band", "in", (12, 12), W=20, D=4, height=2, lap="0.5")
    assert words == "Of 5 strips 12 in long, each lapped onto the next."
    narrow = advice("belly_band", "in", (12, 12), W="7.5", D=4, height=2, lap="0.5")
    assert narrow.endswith("each with a tab of 1/2 in, edges level.")
    assert advice("tray", "in", (12, 12), L=20, W=4, H=2) == ""
