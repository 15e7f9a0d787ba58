"""Parts take the right sizes from what they go with, and fit it when both are folded."""

from fractions import Fraction

import pytest

from catalogue.calc.flat_patterns import FORMS, flat_pattern, goes_beside
from catalogue.calc.flat_patterns.together import COMPANIONS
from catalogue.shapes.samples import sample_sizes
from tests.calc.fold_up_sizes import SIZES, Dice

DRAWS = range(6)
# the two bags the geometry was worked out for, in inches: W, D, H
WIDE = {"W": Fraction(15, 2), "D": Fraction(4), "H": Fraction(8)}
SMALL = {"W": Fraction(5, 2), "D": Fraction(3, 2), "H": Fraction(4)}


def beside(form, sizes, unit="in"):
    return {one.companion.name: dict(one.sizes) for one in goes_beside(form, sizes, unit=unit)}


def test_every_relation_names_forms_and_sizes_there_are():
    for one in COMPANIONS:
        known = {asked.name for asked in FORMS[one.part].inputs}
        assert set(one.sizes) | set(one.proposals) <= known, one
        assert one.part in FORMS[one.whole].goes_with
        assert not set(one.sizes) & set(one.proposals)
        # from a part to its whole there is a way back
        if one.is_back:
            assert any(two.whole == one.part and two.part == one.whole for two in COMPANIONS)
    names = [(one.whole, one.part, one.name) for one in COMPANIONS]
    assert len(set(names)) == len(names)


def test_the_worked_bags_get_the_parts_they_were_worked_out_with():
    # lid, handle and pocket of both bags as they are in the worked examples (common practice, no
    # source): strip 7 1/2 x 8 1/2 in, two strips of 12 in make 23 1/2, pocket 4 x 3/4 x 4
    wide, small = beside("two_piece_bag", WIDE), beside("one_piece_bag", SMALL)
    assert wide["lid"] == {"W": Fraction(15, 2), "D": 4, "H": 8, "drop": 4}
    assert wide["handle"] == {"length": Fraction(47, 2), "width": 1}
    assert wide["pocket"] == {"W": 4, "H": 4, "d": Fraction(3, 4)}
    assert small["lid"]["drop"] == Fraction(3, 2)
    assert small["handle"]["width"] == Fraction(3, 4)
    assert small["pocket"] == {"W": 2, "H": 2, "d": Fraction(1, 2)}
    pocket = {**small["pocket"], "tuck": Fraction(1, 2)}
    assert beside("pocket_box", pocket)["flap"] == {
        "W": 2,
        "tuck": Fraction(1, 2),
        "reach": Fraction(1, 2),
    }


def test_a_panel_is_as_large_as_the_face_it_is_on_narrow_ones_too():
    faces = beside("two_piece_bag", WIDE)
    assert faces["front panel"] == {"w": Fraction(15, 2), "h": 8}
    assert faces["side panel"] == {"w": 4, "h": 8}
    # a side of 10 mm cannot keep 3 mm on both sides of a panel: a fifth of it is left
    narrow = beside("tuck_box", {"W": Fraction(60), "D": Fraction(6), "H": Fraction(90)}, "mm")
    assert narrow["side panel"] == {"w": 6, "h": 90, "border": Fraction(6, 5)}
    panel = flat_pattern("decorative_panel", narrow["side panel"]).pieces[0]
    assert panel.width == Fraction(18, 5)


def test_a_panel_goes_on_a_straight_drop_only():
    lid = {"W": Fraction(60), "D": Fraction(30), "drop": Fraction(40)}
    assert beside("bag_lid", lid, "mm")["drop panel"] == {"w": 60, "h": 40}
    for edge in (1, 2, 3):
        assert "drop panel" not in beside("bag_lid", lid | {"edge": Fraction(edge)}, "mm")


def test_a_lid_knows_the_bag_it_was_made_for_and_its_height_if_that_was_said():
    lid = {"W": Fraction(60), "D": Fraction(30), "drop": Fraction(40)}
    assert beside("bag_lid", lid, "mm")["body"] == {"W": 60, "D": 30}
    assert beside("bag_lid", lid | {"H": Fraction(90)}, "mm")["body"]["H"] == 90
    handle = {"length": Fraction(400), "width": Fraction(20)}
    assert beside("handle_strip", handle, "mm")["body"] == {}


@pytest.mark.parametrize("draw", DRAWS)
@pytest.mark.parametrize("form", ["two_piece_bag", "one_piece_bag"])
def test_lid_card_and_panels_fit_the_bag_as_it_is_cut(form, draw):
    sizes = SIZES[form](Dice(f"{form} {draw}")) | {"t": Fraction(0)}
    parts = beside(form, sizes, "mm")
    x, y = (flat_pattern(form, sizes).pieces[0].x_scores, flat_pattern(form, sizes).pieces[0])
    wide, deep = x[0], x[1] - x[0]
    high = sizes["H"]
    lid = flat_pattern("bag_lid", parts["lid"]).pieces[0]
    assert (lid.width, lid.y_scores[1] - lid.y_scores[0]) == (wide, deep)
    # the drop does not hang below the base
    assert lid.height - lid.y_scores[1] <= high
    for name, across in (("front panel", wide), ("side panel", deep)):
        panel = flat_pattern("decorative_panel", parts[name]).pieces[0]
        left, above = (across - panel.width) / 2, (high - panel.height) / 2
        assert left == above == Fraction(3), name
    card = flat_pattern("base_card", parts["base card"]).pieces[0]
    assert (wide - card.width, deep - card.height) == (1, 1)
    assert y.grain == "upright"


@pytest.mark.parametrize("draw", DRAWS)
def test_a_lid_goes_over_its_tray_and_a_sleeve_over_its_drawer_by_their_clearance(draw):
    tray = SIZES["tray"](Dice(f"tray {draw}"))
    t = tray["t"]
    over = flat_pattern("tray", tray).outside
    lid = flat_pattern("tray_lid", beside("tray", tray, "mm")["lid"])
    # the thickness came along: inside of the lid is outside of the tray and 1/2 mm on each side
    assert lid.inputs["t"] == t
    inside = [side - 2 * t for side in lid.outside[:2]]
    assert inside == [side + 1 for side in over[:2]]
    sleeve = flat_pattern("sleeve", beside("drawer", tray, "mm")["sleeve"])
    assert (sleeve.inputs["Wd"], sleeve.inputs["Ld"], sleeve.inputs["t"]) == (
        tray["W"],
        tray["L"],
        t,
    )
    back = beside("sleeve", {name: sleeve.inputs[name] for name in ("Wd", "Hd", "Ld", "t")}, "mm")
    drawer = dict(back["drawer"])
    assert {name: drawer.get(name, Fraction(0)) for name in tray} == tray


@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize("form", sorted({one.whole for one in COMPANIONS}))
def test_each_part_can_be_folded_at_the_sizes_it_is_given(form, unit):
    sizes = sample_sizes(FORMS[form], unit)
    for one in goes_beside(form, sizes, unit=unit):
        if not one.companion.is_back:
            flat_pattern(one.form.name, one.sizes, unit=unit)
    forward = [one for one in COMPANIONS if one.whole == form and not one.is_back]
    found = [one for one in goes_beside(form, sizes, unit=unit) if not one.companion.is_back]
    # at the size each form is shown with, nothing that goes with it is missing
    assert len(found) == len(forward)
