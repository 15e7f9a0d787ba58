"""The picture of a whole item: the map from blank to picture, looks, size, words, hostile text."""

import re
import xml.etree.ElementTree as ET

import pytest

from catalogue.calc.flat_patterns import FORMS
from catalogue.calc.folded.places import ItemPiece
from catalogue.calc.folded.whole import whole_item
from catalogue.materials.looks import CardLook, CardPicture, Pattern, look_of, motif_svg, swatch_of
from catalogue.materials.models import Material
from catalogue.recipes.item_picture import LARGEST, MOST_PIECES, Item, item_picture
from catalogue.shapes.whole_picture import item_svg, screen_of
from tests.catalogue.patterns import sample_pattern

SVG = "{http://www.w3.org/2000/svg}"


def item(name, form):
    pattern = sample_pattern(form)
    piece = pattern.pieces[0]
    return ItemPiece(name, float(piece.width), float(piece.height), pattern)


def drawn(pieces, looks, **options):
    whole = whole_item(pieces)
    return item_svg(whole, looks, name="p", label=options.pop("label", "an item"), **options)


@pytest.mark.parametrize("form", ["tuck_box", "tray", "two_piece_bag", "hex_tray", "wallet"])
def test_the_map_leads_three_corners_of_each_panel_to_where_they_are_drawn(form):
    """Of every rigid panel, at the corners of its own outline: exact to a millionth of a pixel."""
    whole = whole_item([item("thing", form)])
    screen = screen_of(whole, 400, 320)
    for facet in whole.facets:
        if facet.is_hole:
            continue
        lie = facet.lie
        a, b, c, d, e, f = screen.matrix(lie)
        for point in facet.points[:3]:
            away = [p - o for p, o in zip(point, lie.origin, strict=True)]
            x = sum(p * q for p, q in zip(away, lie.across, strict=True))
            y = sum(p * q for p, q in zip(away, lie.up, strict=True))
            assert (a * x + c * y + e, b * x + d * y + f) == pytest.approx(
                screen.at(point), abs=1e-6
            )


def test_a_flat_card_is_seen_as_it_is():
    """A card of 100 x 50 on 400 x 320, ten clear: 3.8 pixels a mm, its corner at (10, 255)."""
    whole = whole_item([ItemPiece("card", 100, 50)])
    screen = screen_of(whole, 400, 320)
    assert screen.matrix(whole.facets[0].lie) == pytest.approx((3.8, 0, 0, -3.8, 10, 255))


def test_a_pattern_with_one_way_up_stands_upright_on_the_front_and_the_sides():
    whole = whole_item([item("box", "tuck_box")])
    screen = screen_of(whole, 400, 320)
    for facet in whole.facets:
        if facet.lie.panel in ("front", "right side"):
            _, _, c, d, _, _ = screen.matrix(facet.lie)
            assert abs(c) < 1e-9
            assert d < 0


def test_the_drop_of_a_lid_shows_a_pattern_upside_down_as_it_is_cut():
    """The lid strip runs lap, top, drop upwards: the drop hangs, its top edge is below."""
    whole = whole_item([item("bag", "two_piece_bag"), item("lid", "bag_lid")])
    screen = screen_of(whole, 400, 320)
    (drop,) = [facet for facet in whole.facets if facet.lie.panel == "drop"]
    assert screen.matrix(drop.lie)[3] > 0


@pytest.mark.parametrize("pattern", Pattern.values)
@pytest.mark.parametrize("form", FORMS)
def test_every_form_in_every_pattern_is_a_picture_of_at_most_60_kb(form, pattern):
    svg = drawn([item("thing", form)], [CardLook("#a9bd9c", pattern)])
    assert len(svg.encode()) <= 60_000
    ET.fromstring(svg)  # noqa: S314  # our own drawing


def test_a_bag_with_all_that_goes_with_it_is_at_most_60_kb():
    pieces = [
        item("body", "two_piece_bag"),
        item("lid", "bag_lid"),
        item("pocket", "pocket_box"),
        item("flap", "flap_extension"),
        item("handle", "handle_strip"),
        item("panel", "decorative_panel"),
        item("tag", "tag"),
        ItemPiece("badge", 40, 40, is_die=True),
    ]
    looks = [CardLook("#f6ecd6", Pattern.FLOWERS, f"#d9798{at}") for at in range(8)]
    assert len(drawn(pieces, looks).encode()) <= 60_000


def test_the_inside_shows_the_back_of_the_card_and_a_double_sided_one_its_good_side():
    look = CardLook("#102030", back="#f0e0d0")
    one, both = (
        drawn(
            [item("bag", "one_piece_bag")],
            [CardLook("#102030", back="#f0e0d0", is_double_sided=two)],
        )
        for two in (False, True)
    )
    assert look.back != look.colour

    def fills(svg):
        return {
            tuple(int(x[i : i + 2], 16) > 128 for i in (0, 2, 4))
            for x in re.findall(r'fill="#([0-9a-f]{6})"', svg)
        }

    assert (True, True, True) in fills(one)
    assert (True, True, True) not in fills(both)


def test_a_photo_of_the_card_is_clipped_and_turned_with_its_face():
    picture = CardPicture("/files/1?a=1&b=2", 304.8, 304.8)
    svg = drawn([item("box", "tuck_box")], [CardLook(picture=picture)])
    tree = ET.fromstring(svg)  # noqa: S314  # our own drawing
    (image,) = tree.iter(f"{SVG}image")
    assert image.get("href") == "/files/1?a=1&b=2"
    uses = [one.get("transform") for one in tree.iter(f"{SVG}use")]
    assert len(set(uses)) >= 3  # front, right and top each have their own map
    assert len(svg.encode()) < 20_000


def test_labels_are_escaped():
    svg = drawn([item("box", "tuck_box")], [CardLook()], label='<script>"x"</script>')
    assert "<script>" not in svg


@pytest.mark.parametrize("colour", ['"/><script>', "red", "#FFF", "#12345g", "", "#1234567"])
def test_what_is_no_colour_is_never_drawn(colour):
    material = Material(
        name="x", kind="sheet", colour=colour, second_colour=colour, back_colour=colour
    )
    look = look_of(material)
    for value in (look.colour, look.second, look.back):
        assert re.fullmatch(r"#[0-9a-f]{6}", value)


def test_a_pattern_is_drawn_on_the_blank_from_its_corner_up():
    """Stripes 12 apart, 6 wide, on 24 x 10: middles at 3, 15 and 27."""
    assert 'd="M3 0V10M15 0V10M27 0V10"' in motif_svg(CardLook(pattern=Pattern.STRIPES), 24, 10)


def test_only_what_is_seen_in_a_picture_has_a_swatch():
    assert "<svg" in swatch_of(Material(pk=1, name="x", kind="sheet"))
    assert swatch_of(Material(pk=2, name="glue", kind="volume")) == ""


@pytest.mark.parametrize("form", ["pillow_box", "gable_box", "cone"])
def test_many_large_pieces_are_still_a_small_picture(form):
    """Patterns go first, then pieces; what is where is said of all of them."""
    pieces = tuple(item(f"piece {at}", form) for at in range(MOST_PIECES))
    looks = (CardLook("#a9bd9c", Pattern.FLOWERS),) * MOST_PIECES
    shown = Item("Many", pieces, (), looks, ("card",) * MOST_PIECES)
    picture = item_picture(shown, name="many")
    assert 1_000 < len(picture.svg.encode()) <= LARGEST
    assert len(picture.words) == MOST_PIECES
