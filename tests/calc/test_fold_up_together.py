"""Things that go together, both folded, fit: lids over trays, sleeves over drawers, halves of bags.

Thickness model: a score is a hinge in the middle of the sheet, so a wall reaches half a sheet to
either side of its fold. Every gap here is measured between the scores of two patterns.
"""

import math
from fractions import Fraction

import pytest

from catalogue.calc.flat_patterns import flat_pattern
from catalogue.calc.flat_patterns.pattern import BadSize
from tests.calc.fold_up_forms import widths
from tests.calc.fold_up_sizes import Dice
from tests.calc.fold_up_space import folded, lies_on
from tests.calc.folding import Frame, cross, flat

DRAWS = range(6)
CLOSE = 1e-6


def panels_across(form, sizes, axis="x"):
    """The widths between edge, scores and edge of the first piece."""
    piece = flat_pattern(form, sizes, unit="mm").pieces[0]
    if axis == "x":
        return widths([float(x) for x in piece.x_scores], float(piece.width))
    return widths([float(y) for y in piece.y_scores], float(piece.height))


def sheet(dice):
    """A thickness and a clearance."""
    return {"t": dice.thickness(), "c": dice(0.3, 1)}


@pytest.mark.parametrize("draw", DRAWS)
def test_a_lid_slides_over_its_tray(draw):
    dice = Dice(f"lid {draw}")
    inside = {"L": dice(60, 200), "W": dice(60, 200)}
    both = sheet(dice)
    t, c = float(both["t"]), float(both["c"])
    for axis in "xy":
        tray = panels_across("tray", inside | {"H": dice(20, 30), "t": both["t"]}, axis)[1]
        lid = panels_across("tray_lid", inside | both | {"Hl": dice(10, 20)}, axis)[1]
        assert ((lid - t) - (tray + t)) / 2 == pytest.approx(c, abs=CLOSE)


@pytest.mark.parametrize("draw", DRAWS)
def test_a_sleeve_slides_over_its_drawer(draw):
    dice = Dice(f"sleeve {draw}")
    length, width, wall = dice(60, 150), dice(50, 120), dice(18, 40)
    both = sheet(dice)
    t, c = float(both["t"]), float(both["c"])
    drawer = {"L": length, "W": width, "H": wall, "t": both["t"]}
    sleeve = panels_across("sleeve", both | {"Wd": width, "Hd": wall, "Ld": length})
    across = panels_across("drawer", drawer, "y")
    assert ((sleeve[0] - t) - (across[1] + t)) / 2 == pytest.approx(c, abs=CLOSE)
    # from the drawer's lowest face, half a sheet under its fold, to its rim
    assert ((sleeve[1] - t) - (across[0] + t / 2)) / 2 == pytest.approx(c, abs=CLOSE)
    outside = flat_pattern("sleeve", both | {"Wd": width, "Hd": wall, "Ld": length}, unit="mm")
    end_to_end = panels_across("drawer", drawer)[1] + t
    assert float(outside.pieces[0].height) == pytest.approx(end_to_end, abs=CLOSE)


@pytest.mark.parametrize("draw", DRAWS)
def test_a_hexagon_lid_slides_over_its_tray(draw):
    dice = Dice(f"hexagon {draw}")
    side, both = dice(40, 90), sheet(dice)
    t, c = float(both["t"]), float(both["c"])
    tray = panels_across("hex_tray", {"a": side, "H": dice(20, 30)}, "y")[1]
    lid = panels_across("hex_lid", both | {"a": side}, "y")[1]
    assert ((lid - t) - (tray + t)) / 2 == pytest.approx(c, abs=CLOSE)


@pytest.mark.parametrize("draw", DRAWS)
def test_a_band_touches_the_box_it_goes_round(draw):
    dice = Dice(f"band {draw}")
    tray = {"L": dice(60, 200), "W": dice(60, 200), "H": dice(20, 30), "t": dice.thickness()}
    outside = flat_pattern("tray", tray, unit="mm").outside
    t = dice.thickness()
    band = panels_across("belly_band", {"W": outside[0], "D": outside[1], "height": 30, "t": t})
    for axis, (there, back) in zip("xy", ((0, 2), (1, 3)), strict=True):
        box = panels_across("tray", tray, axis)[1] + float(tray["t"])
        assert band[there] - float(t) == pytest.approx(box, abs=CLOSE)
        assert band[back] - float(t) == pytest.approx(box, abs=CLOSE)


@pytest.mark.parametrize("draw", DRAWS)
def test_two_halves_make_a_bag(draw):
    dice = Dice(f"halves {draw}")
    width, t = dice(60, 200), dice.thickness()
    sizes = {"W": width, "D": dice(30, float(width)), "H": dice(80, 200), "g": dice(8, 15), "t": t}
    piece = flat_pattern("two_piece_bag", sizes, unit="mm").pieces[0]
    front, depth = float(piece.x_scores[0]), float(sizes["D"])
    frames = folded(piece)
    # the second half is the first turned half round about the middle of the bag
    other = {
        name: turned_round(frame, front, -(depth + float(t))) for name, frame in frames.items()
    }
    outlines = {panel.name: flat(panel.outline) for panel in piece.panels}
    assert {glue.panel for glue in piece.glue_areas} == {"tab", "front base"}
    for glue in piece.glue_areas:
        onto = glue.onto.split("/")[1]
        places = [frames[glue.panel].at(p) for p in outlines[glue.panel]]
        faults = lies_on(glue.panel, places, other[onto], outlines[onto], float(t), 1e-7)
        # the front base reaches over both side bases, so past the one it is glued onto
        is_longer = glue.panel == "front base" and front > depth + float(t) + CLOSE
        assert faults == (["front base sticks out"] if is_longer else [])


def turned_round(frame, width, depth):
    """A frame turned half round about the pipe | in the middle of width and depth."""
    x, y, z = frame.origin
    around = [(-a, b, -c) for a, b, c in (frame.x, frame.y, frame.z)]
    return Frame(around[0], around[1], around[2], (width - x, y, depth - z))


def test_turning_round_keeps_a_frame_right_handed():
    turned = turned_round(Frame(), 10.0, -5.0)
    assert cross(turned.x, turned.y) == turned.z
    assert math.dist(turned.at((0.0, 0.0)), (10.0, 0.0, -5.0)) == 0


@pytest.mark.parametrize("draw", DRAWS)
def test_lid_and_card_fit_their_bag(draw):
    dice = Dice(f"bag {draw}")
    width, depth = dice(60, 200), dice(30, 60)
    bag = panels_across("two_piece_bag", {"W": width, "D": depth, "H": Fraction(150)})
    lid = flat_pattern("bag_lid", {"W": width, "D": depth, "drop": dice(20, 60)}, unit="mm")
    top = [float(y) for y in lid.pieces[0].y_scores]
    assert float(lid.pieces[0].width) == pytest.approx(bag[0], abs=CLOSE)
    assert top[1] - top[0] == pytest.approx(bag[1], abs=CLOSE)
    gap = dice(0.3, 1)
    card = flat_pattern("base_card", {"W": width, "D": depth, "c": gap}, unit="mm").pieces[0]
    assert (bag[0] - float(card.width)) / 2 == pytest.approx(float(gap), abs=CLOSE)
    assert (bag[1] - float(card.height)) / 2 == pytest.approx(float(gap), abs=CLOSE)


@pytest.mark.parametrize("form", ["one_piece_bag", "two_piece_bag"])
def test_a_shorter_base_flap_is_as_long_as_asked(form):
    flap = Fraction(40)
    sizes = {"W": Fraction(95), "D": Fraction(60), "H": Fraction(150), "B": flap}
    piece = flat_pattern(form, sizes, unit="mm").pieces[0]
    assert piece.y_scores == (flap,)
    assert piece.height == flap + 150


@pytest.mark.parametrize(
    ("form", "sizes"),
    [
        ("one_piece_bag", {"W": 50, "D": 51, "H": 100}),
        ("two_piece_bag", {"W": 50, "D": 51, "H": 100}),
        ("gable_box", {"W": 50, "D": 51, "H": 100, "G": 20}),
        ("tuck_box", {"W": 50, "D": 60, "H": 100, "dust": 26}),
        ("tuck_box", {"W": 50, "D": 51, "H": 100, "glued_base": 1}),
        ("pocket_box", {"W": 50, "d": 51, "H": 100}),
        ("wallet", {"w": 90, "h": 50, "flap": 51}),
    ],
)
def test_what_would_collide_when_folded_is_refused(form, sizes):
    with pytest.raises(BadSize):
        flat_pattern(form, {name: Fraction(size) for name, size in sizes.items()}, unit="mm")
