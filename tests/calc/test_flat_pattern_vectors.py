"""Flat patterns come out as worked: every form, every number, and which sheets take them."""

from fractions import Fraction

import pytest

from catalogue.calc.flat_patterns import FORMS, flat_pattern
from catalogue.calc.sheets.fit import Sheet, fits
from tests.calc.flat_pattern_sizes import SHEET_FIT, VECTORS

NOT_MEASURES = {"unit", "inputs", "form", "pieces", "volume"}


@pytest.mark.parametrize("name", VECTORS)
def test_every_measure_is_as_worked(name):
    worked = VECTORS[name]
    pattern = flat_pattern(name, worked["inputs"], unit=worked["unit"])
    (piece,) = pattern.pieces
    found = {
        "blank": (piece.width, piece.height),
        "x_scores": piece.x_scores,
        "y_scores": piece.y_scores,
        **piece.details,
        **piece.marks,
        **{key: [(at.x, at.y) for at in places] for key, places in piece.spots.items()},
    }
    for key in worked.keys() - NOT_MEASURES:
        assert flattened(found[key]) == pytest.approx(flattened(worked[key]), abs=1e-6), key
    assert piece.count == worked.get("pieces", 1)


@pytest.mark.parametrize("name", [name for name in VECTORS if "volume" in VECTORS[name]])
def test_every_volume_is_as_worked(name):
    worked = VECTORS[name]
    pattern = flat_pattern(name, worked["inputs"], unit=worked["unit"])
    # the height of the pouch is given to six decimals, which moves its volume in the eighth digit
    assert float(pattern.volume) == pytest.approx(float(worked["volume"]), rel=1e-8)


@pytest.mark.parametrize(
    ("form", "unit", "sizes", "volume"),
    [
        # two-piece bag: 7.5 x 4 x 8 in = 240 cubic inches, by hand
        ("two_piece_bag", "in", {"W": "7.5", "D": 4, "H": 8, "g": "0.5"}, 240),
        # half of 60 x 40 x 80, and a third of 60 x 60 x 40
        ("tent_box", "mm", {"B": 60, "Ht": 40, "L": 80, "g": 10}, 96_000),
        ("pyramid", "mm", {"a": 60, "Ht": 40}, 48_000),
        ("tray", "mm", {"L": 100, "W": 70, "H": 35, "t": "0.3"}, 245_000),
    ],
)
def test_volumes_worked_by_hand(form, unit, sizes, volume):
    assert flat_pattern(form, fractions(sizes), unit=unit).volume == volume


def flattened(value):
    if isinstance(value, Fraction):
        return [float(value)]
    return [number for each in value for number in flattened(each)]


def fractions(sizes):
    return {name: Fraction(size) for name, size in sizes.items()}


SHEETS_MM = (
    Sheet("12x12 in", Fraction("304.8"), Fraction("304.8")),
    Sheet("A4", Fraction(210), Fraction(297)),
    Sheet("A3", Fraction(297), Fraction(420)),
)
# the finished sizes of the list, with the making allowances its blanks were worked with
FINISHED = {
    "two-piece bag body (each)": (
        "two_piece_bag",
        {"W": "7.5", "D": 4, "H": 8, "g": "0.5"},
    ),
    "same bag as one piece": ("one_piece_bag", {"W": "7.5", "D": 4, "H": 8, "g": "0.5"}),
    "bag lid": ("bag_lid", {"W": "7.5", "D": 4, "lap": "0.5", "drop": 4}),
    "pocket box": ("pocket_box", {"W": 4, "d": "0.75", "H": 4, "g": "0.5", "tuck": "0.5"}),
    "one-piece bag": ("one_piece_bag", {"W": 82, "D": 52, "H": 150, "g": 12}),
    "one-piece mini favour bag": ("one_piece_bag", {"W": 60, "D": 35, "H": 80, "g": 10}),
    "one-piece bag, shirt size": ("one_piece_bag", {"W": 180, "D": 80, "H": 220, "g": 15}),
    "as two pieces (each)": ("two_piece_bag", {"W": 180, "D": 80, "H": 220, "g": 15}),
    "bottle bag, one piece": ("one_piece_bag", {"W": 95, "D": 95, "H": 340, "g": 15}),
    "bottle bag, two pieces (each)": ("two_piece_bag", {"W": 95, "D": 95, "H": 340, "g": 15}),
    "tuck-top box": ("tuck_box", {"W": 60, "D": 35, "H": 90, "g": 12, "tuck": 12}),
    "tuck-top mug box": ("tuck_box", {"W": 105, "D": 105, "H": 110, "g": 15, "tuck": 15}),
    "mug box, glued base": (
        "tuck_box",
        {"W": 105, "D": 105, "H": 110, "g": 15, "tuck": 15, "glued_base": 1},
    ),
    "pillow box": ("pillow_box", {"chord": 80, "T": 32, "L": 120, "g": 12}),
    "pillow box, scarf size": ("pillow_box", {"chord": 150, "T": 50, "L": 260, "g": 15}),
    "tray": ("tray", {"L": 100, "W": 70, "H": 35, "t": "0.3"}),
    "its lid": ("tray_lid", {"L": 100, "W": 70, "Hl": 20, "t": "0.3", "c": "0.5"}),
    "shirt tray": ("tray", {"L": 240, "W": 180, "H": 40, "t": "0.3"}),
    "sleeve": ("sleeve", {"Wd": 60, "Hd": 22, "Ld": 95, "g": 12, "t": "0.3", "c": "0.5"}),
    "drawer": ("drawer", {"L": 95, "W": 60, "H": 22, "t": "0.3"}),
    "gift-card wallet": ("wallet", {"w": 92, "h": 60, "flap": 28, "g": 12}),
    "diagonal envelope": ("diagonal_envelope", {"w": 120, "h": 90, "a": 20}),
    "diagonal envelope for A5 card": ("diagonal_envelope", {"w": 215, "h": 153, "a": 20}),
    "tent box": ("tent_box", {"B": 60, "Ht": 40, "L": 80, "g": 10}),
    "pyramid": ("pyramid", {"a": 60, "Ht": 40}),
    "gable carton": ("gable_box", {"W": 60, "D": 40, "H": 70, "G": 21, "fin": 15, "g": 12}),
    "gable carton, half-litre size": (
        "gable_box",
        {"W": 95, "D": 65, "H": 110, "G": 40, "fin": 20, "g": 15},
    ),
    "cone": ("cone", {"r": 30, "h": 72, "g": 10}),
    "cone, sweet size": ("cone", {"r": 45, "h": 160, "g": 12}),
    "frustum cup": ("frustum", {"r1": 40, "r2": 28, "h": 80, "g": 10}),
    "hex tray with tabs": ("hex_tray", {"a": 40, "H": 30, "g": 9}),
    "hex tray with tabs, large": ("hex_tray", {"a": 75, "H": 60, "g": 12}),
    "hex tube": ("hex_tube", {"a": 40, "H": 110, "g": 12, "foot": 15}),
    "belly band": ("belly_band", {"W": 60, "D": 40, "t": "0.3", "lap": 12, "height": 25}),
    "belly band round the big bag": (
        "belly_band",
        {"W": 191, "D": 102, "t": "0.35", "lap": 10, "height": 40},
    ),
    "tetra pouch": ("tetra_pouch", {"w": 70, "h": "60.621778", "g": 10, "seal": 10}),
}


@pytest.mark.parametrize("row", SHEET_FIT, ids=lambda row: row["piece"])
def test_sheets_take_the_blanks_of_the_list(row):
    form, sizes = FINISHED[row["piece"]]
    unit = row["unit"]
    pattern = flat_pattern(form, fractions(sizes), unit=unit)
    (piece,) = pattern.pieces
    assert [float(piece.width), float(piece.height)] == pytest.approx(
        [float(side) for side in row["blank"]], abs=5e-5
    )
    per_unit = 1 if unit == "mm" else Fraction(127, 5)
    sheets = [Sheet(each.name, each.width / per_unit, each.height / per_unit) for each in SHEETS_MM]
    said = {
        fit.sheet.name: "no" if not fit.takes_it else "exact" if fit.is_exact else "yes"
        for fit in fits(pattern, sheets)
    }
    assert said == {each.name: row[each.name] for each in SHEETS_MM}


def test_a_shallower_base_lets_the_bottle_bag_onto_a3():
    # base flaps of half the depth and a lap of 10: 57.5 + 340 = 397.5, by hand
    sizes = fractions({"W": 95, "D": 95, "H": 340, "g": 15, "B": "57.5"})
    pattern = flat_pattern("two_piece_bag", sizes)
    (piece,) = pattern.pieces
    assert (piece.width, piece.height) == (205, Fraction("397.5"))
    assert [fit.takes_it for fit in fits(pattern, SHEETS_MM)] == [False, False, True]
    assert any("base card" in check for check in pattern.checks)


@pytest.mark.parametrize(
    ("form", "sizes", "unit", "blank", "y_scores"),
    [
        # small parts, common practice, no source
        (
            "bag_lid",
            {"W": "7.5", "lap": "0.5", "D": 4, "drop": 4},
            "in",
            ("7.5", "8.5"),
            ("0.5", "4.5"),
        ),
        ("flap_extension", {"W": 4, "tuck": "0.5", "reach": 1}, "in", (4, "1.5"), ()),
        ("decorative_panel", {"w": 4, "h": 4}, "in", ("3.75", "3.75"), ()),
        ("handle_strip", {"length": "23.5", "width": 1, "strips": 2}, "in", (12, 1), ()),
        ("tag", {"w": 50, "h": 80}, "mm", (50, 80), ()),
        ("tag", {"w": 50, "h": 80, "folded": 1}, "mm", (50, 160), (80,)),
        ("base_card", {"W": 180, "D": 80, "c": 1}, "mm", (178, 78), ()),
    ],
)
def test_small_parts_by_hand(form, sizes, unit, blank, y_scores):
    (piece,) = flat_pattern(form, fractions(sizes), unit=unit).pieces
    assert (piece.width, piece.height) == tuple(map(Fraction, blank))
    assert piece.y_scores == tuple(map(Fraction, y_scores))


def test_every_worked_form_is_in_the_library():
    assert VECTORS.keys() <= FORMS.keys()


def test_bases_of_a_cup_and_of_a_hexagon_tube_by_hand():
    # a cup as wide below as above is a tube: 16 sides round a radius of 20, a tab of 8 on each;
    # from tab to tab 2 x (20 cos 11.25 degrees + 8) = 2 x (19.615706 + 8)
    (disc,) = flat_pattern("cup_base", fractions({"r1": 20, "r2": 20, "h": 80, "g": 8})).pieces
    assert [float(disc.width), float(disc.height)] == pytest.approx([55.231411] * 2, abs=1e-6)
    # from side to side the tube has 40 sqrt 3 = 69.282032, the card 1 mm less at each
    (card,) = flat_pattern("hex_base", fractions({"a": 40, "c": 1})).pieces
    assert [float(card.width), float(card.height)] == pytest.approx([77.690599, 67.282032])
