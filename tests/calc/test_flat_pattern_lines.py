"""The lines of a pattern: what is cut, what falls away, where it folds, what is glued."""

import math
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings

from catalogue.calc.flat_patterns import FORMS, flat_pattern
from catalogue.calc.flat_patterns.pattern import PanelKind, StrokeKind
from catalogue.calc.sheets.paper import pattern_weight_g
from tests.calc.flat_pattern_sizes import foldable, inputs_of


def pattern_of(form, **changed):
    inputs, unit = inputs_of(form)
    inputs.update({name: Fraction(size) for name, size in changed.items()})
    return flat_pattern(form, inputs, unit=unit)


def area(outline):
    # the shoelace formula, written apart from the one under test
    total = Fraction(0)
    for at, place in enumerate(outline):
        before = outline[at - 1]
        total += (before.x - place.x) * (before.y + place.y)
    return total / 2


@settings(max_examples=100, deadline=None)
@given(foldable())
def test_panels_and_what_is_cut_away_make_up_the_blank(case):
    form, sizes = case
    (piece,) = flat_pattern(form, sizes, unit="in").pieces
    panels = [area(panel.outline) for panel in piece.panels]
    gone = [area(outline) for outline in piece.removed]
    assert min(panels) > 0
    assert all(part > 0 for part in gone)
    holes = sum(area(s.points[:-1]) for s in piece.strokes if s.name == "hole")
    assert abs(sum(panels) - holes + sum(gone) - piece.width * piece.height) < Fraction(1, 10**20)
    for panel in piece.panels:
        for place in panel.outline:
            assert -1e-12 <= place.x <= piece.width + Fraction(1, 10**12)
            assert -1e-12 <= place.y <= piece.height + Fraction(1, 10**12)


@settings(max_examples=100, deadline=None)
@given(foldable())
def test_every_panel_hangs_on_the_others_and_every_tab_is_glued(case):
    form, sizes = case
    (piece,) = flat_pattern(form, sizes, unit="in").pieces
    hung = {piece.panels[0].name}
    for _ in piece.hinges:
        for hinge in piece.hinges:
            if hinge.first in hung or hinge.second in hung:
                hung |= {hinge.first, hinge.second}
    assert hung == {panel.name for panel in piece.panels}
    spread = {glue.panel for glue in piece.glue_areas}
    pressed_on = {glue.onto for glue in piece.glue_areas}
    for panel in piece.panels:
        # the ears of a covered board are held by the turn-in over them
        if panel.kind is PanelKind.TAB and not panel.name.endswith("ear"):
            assert panel.name in spread
    own = {name for name in pressed_on if "/" not in name}
    others = {"board", "face", "base card"}
    assert own - others <= hung


@settings(max_examples=100, deadline=None)
@given(foldable())
def test_a_fold_away_is_a_mountain_and_one_towards_you_a_valley(case):
    form, sizes = case
    (piece,) = flat_pattern(form, sizes, unit="in").pieces
    folds = {stroke.name: stroke for stroke in piece.strokes}
    for hinge in piece.hinges:
        stroke = folds[f"{hinge.first} / {hinge.second}"]
        assert {stroke.points[0], stroke.points[-1]} == {hinge.start, hinge.end}
        if hinge.angle_deg:
            wanted = StrokeKind.VALLEY if hinge.angle_deg > 0 else StrokeKind.MOUNTAIN
            assert stroke.kind is wanted


def test_the_bag_half_has_one_slit_and_its_corner_cut_out():
    # by hand: slit from the bottom edge to the base score; corner g x B; two wedges of
    # 1/8 x 1/2 in, half of each falls away
    (piece,) = pattern_of("two_piece_bag").pieces
    slits = [stroke.points for stroke in piece.strokes if stroke.name == "slit"]
    assert [[(p.x, p.y) for p in slit] for slit in slits] == [[(7.5, 0), (7.5, 4)]]
    corner_and_wedge, wedge = sorted(map(area, piece.removed), reverse=True)
    assert (corner_and_wedge, wedge) == (2 + Fraction(1, 32), Fraction(1, 32))


def test_a_bag_is_glued_along_its_tab_and_over_its_base():
    # tab 8 in, then one line round three sides of the front flap: 7.5 + 2 x 4 in
    (piece,) = pattern_of("two_piece_bag").pieces
    assert [glue.bead for glue in piece.glue_areas] == [8, Fraction("15.5")]
    assert piece.glue_bead == Fraction("23.5")


@pytest.mark.parametrize(
    ("form", "on_the_good_side", "on_the_back"),
    [
        # a tab lies behind a wall; a base flap is pressed on the others from outside
        ("two_piece_bag", {"tab"}, {"front base"}),
        ("one_piece_bag", {"tab"}, {"back base", "front base"}),
        ("gable_box", {"tab", "roof tab", "fin tab"}, {"front fin", "back base", "front base"}),
        ("wallet", {"left tab", "right tab"}, set()),
        (
            "board_wrap",
            set(),
            {"face", *(f"{s} turn-in" for s in ("bottom", "top", "right", "left"))},
        ),
        ("flap_extension", set(), {"glued part"}),
        ("cup_base", {f"tab {number}" for number in range(1, 17)}, set()),
    ],
)
def test_glue_goes_on_the_side_that_is_pressed_on(form, on_the_good_side, on_the_back):
    (piece,) = pattern_of(form).pieces
    assert {glue.panel for glue in piece.glue_areas if not glue.on_back} == on_the_good_side
    assert {glue.panel for glue in piece.glue_areas if glue.on_back} == on_the_back


def test_a_hem_is_turned_in_on_both_walls():
    plain, hemmed = pattern_of("two_piece_bag"), pattern_of("two_piece_bag", hem="0.75")
    assert hemmed.pieces[0].height - plain.pieces[0].height == Fraction("0.75")
    turned = [hinge for hinge in hemmed.pieces[0].hinges if hinge.angle_deg == -180]
    assert [hinge.second for hinge in turned] == ["front hem", "side hem"]
    assert hemmed.volume == plain.volume


@pytest.mark.parametrize(
    ("options", "height", "closures"),
    [
        ({}, 184, {"top closure": "back", "bottom closure": "back"}),
        ({"reverse": 1}, 184, {"top closure": "back", "bottom closure": "front"}),
        ({"glued_base": 1}, 172, {"top closure": "back"}),
    ],
)
def test_a_tuck_box_closes_as_asked(options, height, closures):
    (piece,) = pattern_of("tuck_box", **options).pieces
    assert piece.height == height
    found = {h.second: h.first for h in piece.hinges if h.second.endswith("closure")}
    assert found == closures


def test_a_square_pocket_box_has_dust_flaps_that_meet_in_the_middle():
    shallow, square = pattern_of("pocket_box"), pattern_of("pocket_box", d=3)
    # as deep as the box, and half of 4 in where that is less
    assert shallow.inputs["dust"] == Fraction(3, 4)
    assert square.inputs["dust"] == 2
    assert "Dust flaps of 2 in meet in the middle." in square.checks


def test_the_roof_of_a_gable_box_says_what_a_sheet_leaves_open():
    assert not any("one sheet" in line for line in pattern_of("gable_box").checks)
    thick = pattern_of("gable_box", t="0.4")
    assert any("to within one sheet, 0.4 mm" in line for line in thick.checks)


def test_the_last_wall_of_a_thick_tube_is_one_sheet_shorter():
    (piece,) = pattern_of("one_piece_bag", t="0.4").pieces
    widths = [b - a for a, b in pairwise((0, *piece.x_scores, piece.width))]
    assert widths == [Fraction("82.4"), Fraction("52.4"), Fraction("82.4"), 52, 12]


def test_on_board_the_walls_with_tabs_end_sooner():
    thin, thick = pattern_of("tray", t="0.4"), pattern_of("tray", t="2")

    def wall(pattern):
        outline = next(p.outline for p in pattern.pieces[0].panels if p.name == "front")
        return max(place.x for place in outline) - min(place.x for place in outline)

    assert wall(thin) == Fraction("100.4")
    assert wall(thick) == 102 - 2 * 2
    assert any("sooner" in check for check in thick.checks)


def test_corner_tabs_share_a_narrow_end():
    (piece,) = pattern_of("tray", W=40, t=0).pieces
    tabs = [panel.outline for panel in piece.panels if panel.kind is PanelKind.TAB]
    reach = {max(p.x for p in tab) - min(p.x for p in tab) for tab in tabs}
    assert reach == {20}


@pytest.mark.parametrize(
    ("form", "radii"), [("cone", (78,)), ("frustum", (269.649979, 188.754985))]
)
def test_arcs_stay_within_a_twentieth_of_a_millimetre(form, radii):
    (piece,) = pattern_of(form).pieces
    outline = next(panel.outline for panel in piece.panels if panel.kind is PanelKind.WALL)
    points = [(float(p.x), float(p.y)) for p in outline]
    # the middle of the circles is on the upright axis of the wall, one radius under its top
    left = min(x for x, _ in points)
    right = max(x for x, _ in points)
    centre = ((left + right) / 2, max(y for _, y in points) - radii[0])
    on_arcs = 0
    for (ax, ay), (bx, by) in pairwise(points):
        near = [r for r in radii if abs(math.dist((ax, ay), centre) - r) < 1e-5]
        if near and abs(math.dist((bx, by), centre) - near[0]) < 1e-5:
            on_arcs += 1
            middle = ((ax + bx) / 2, (ay + by) / 2)
            assert 0 <= near[0] - math.dist(middle, centre) < 0.05
    assert on_arcs >= 10


def test_the_end_of_a_pillow_box_is_a_cosine_within_a_twentieth():
    # f(s) = R (cos(s / R) - cos alpha), R 58, alpha = 2 atan(32 / 80), from the corner line
    (piece,) = pattern_of("pillow_box").pieces
    radius, alpha = 58.0, 2 * math.atan(32 / 80)
    crease = next(s for s in piece.strokes if s.name == "front / front bottom flap")
    assert crease.is_curve
    for one, other in pairwise(crease.points):
        for share in (0.0, 0.5):
            x = float(one.x) * (1 - share) + float(other.x) * share
            y = float(one.y) * (1 - share) + float(other.y) * share
            s = x - radius * alpha
            assert y == pytest.approx(
                16 + radius * (math.cos(s / radius) - math.cos(alpha)), abs=0.05
            )


def test_a_tag_is_punched_clear_of_its_edge():
    # centre one hole and 3 mm from the fold, on both leaves (common practice, no source)
    (piece,) = pattern_of("tag").pieces
    holes = [s.points for s in piece.strokes if s.name == "hole"]
    middles = sorted(float((max(p.y for p in hole) + min(p.y for p in hole)) / 2) for hole in holes)
    assert middles == pytest.approx([70 - 7, 70 + 7])


def test_the_weight_leaves_out_what_is_cut_away():
    # 2 halves x (144 sq in - corner 2 - wedges 1/16) x 645.16 mm2 x 250 g/m2, by hand
    pattern = pattern_of("two_piece_bag")
    by_hand = 2 * (Decimal(142) - Decimal("0.0625")) * Decimal("645.16") / 1_000_000 * 250
    assert pattern_weight_g(pattern, Decimal(250)) == pytest.approx(by_hand)


@pytest.mark.parametrize("form", FORMS)
def test_every_form_says_how_it_is_made_and_where_to_take_care(form):
    pattern = pattern_of(form)
    assert pattern.steps
    assert any("lade" in caution for caution in pattern.cautions)
    assert pattern.checks
    assert pattern.inputs.keys() == {asked.name for asked in FORMS[form].inputs}
