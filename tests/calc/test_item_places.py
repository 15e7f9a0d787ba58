"""Pieces in their places: pairs that belong together, worked out by hand."""

import pytest

from catalogue.calc.folded.cords import Cord, CordKind
from catalogue.calc.folded.places import How, ItemPiece, Outline, Place, places_of
from catalogue.calc.folded.strips import Box, bow_line
from catalogue.calc.folded.whole import LAYER, whole_item
from tests.catalogue.patterns import sample_pattern


def folded(name, form, count=1, **sizes):
    pattern = sample_pattern(form, **sizes)
    piece = pattern.pieces[0]
    return ItemPiece(name, float(piece.width), float(piece.height), pattern, count)


def box_of(whole, number):
    return Box.around([facet for facet in whole.facets if facet.lie.piece == number])


def test_a_lid_sits_over_the_middle_of_its_tray():
    """Tray 100 x 70 x 35, lid 20 high: its top at 35, its rim at 15, its middle over (0, 0)."""
    whole = whole_item(
        [folded("tray", "tray", L=100, W=70, H=35), folded("lid", "tray_lid", L=100, W=70, Hl=20)]
    )
    lid = box_of(whole, 1)
    gap = LAYER * 100
    # the half of the tray that is seen: 17.5; the lid is raised by 20 - 17.5
    assert lid.high[2] == pytest.approx(35 + 2.5, abs=gap)
    assert lid.low[2] == pytest.approx(17.5, abs=gap)
    assert lid.middle[:2] == pytest.approx((0, 0), abs=gap)


def test_a_panel_leaves_its_border_on_the_front():
    """A face of 60 x 90, border 3: the panel of 54 x 84 from (-27, 3) to (27, 87)."""
    whole = whole_item(
        [
            folded("box", "tuck_box", W=60, D=35, H=90),
            folded("panel", "decorative_panel", w=60, h=90),
        ]
    )
    (seat,) = [seat for seat in whole.seats if seat.piece == 1]
    assert (seat.place.how, seat.place.face) == (How.FACE, "front")
    front, panel = whole.faces[0]["front"], box_of(whole, 1)
    assert (panel.low[0], panel.high[0]) == pytest.approx((-27, 27))
    assert (panel.low[2], panel.high[2]) == pytest.approx(
        (front.origin[2] + 3, front.origin[2] + 87)
    )
    # in front of it by a layer
    assert panel.low[1] < front.origin[1]


def test_a_second_panel_is_on_the_back_and_a_narrow_one_on_the_side():
    pieces = [
        folded("box", "tuck_box", W=60, D=35, H=90),
        folded("panel", "decorative_panel", count=2, w=60, h=90),
        folded("narrow", "decorative_panel", count=2, w=35, h=90),
    ]
    places = places_of(pieces)
    assert [place.face for place in places[1]] == ["front", "back"]
    assert [place.face for place in places[2]] == ["right", "left"]


def test_a_pocket_is_on_the_front_and_its_panel_on_the_pocket():
    pieces = [
        folded("body", "two_piece_bag"),
        folded("pocket", "pocket_box"),
        folded("panel of the pocket", "decorative_panel", w=100, h=100),
        folded("flap", "flap_extension", W=100, tuck=12, reach=26),
    ]
    whole = whole_item(pieces)
    front, pocket = whole.faces[0]["front"], box_of(whole, 1)
    # its back touches the face, but for two layers
    assert pocket.high[1] == pytest.approx(front.origin[1] - 2 * LAYER * 200, abs=1)
    assert pocket.middle[0] == pytest.approx(0, abs=0.5)
    assert [seat.place.on for seat in whole.seats] == [0, 0, 1, 1]


def test_a_drawer_stands_out_of_its_sleeve():
    """Drawer 110 long, pulled out by 42 % of that: its front 46.2 before the sleeve's."""
    pieces = [
        folded("drawer", "drawer", L=110, W=75, H=40),
        folded("sleeve", "sleeve", Wd=75, Hd=40, Ld=110),
    ]
    whole = whole_item(pieces)
    sleeve, drawer = box_of(whole, 1), box_of(whole, 0)
    assert sleeve.low[1] - drawer.low[1] == pytest.approx(46.2, abs=1)
    assert (drawer.size[0], drawer.size[1]) == pytest.approx((75, 110), abs=1.5)
    assert drawer.high[2] < sleeve.high[2]
    assert drawer.low[2] > sleeve.low[2]


def test_a_lid_of_a_bag_covers_it_and_hangs_before_the_front():
    pieces = [folded("body", "two_piece_bag"), folded("lid", "bag_lid")]
    whole = whole_item(pieces)
    bag, lid = box_of(whole, 0), box_of(whole, 1)
    assert lid.high[2] == pytest.approx(bag.high[2], abs=2)
    assert lid.low[1] < bag.low[1]
    assert whole.faces[1]["drop"].out == pytest.approx((0, -1, 0))


def test_a_handle_goes_from_side_to_side():
    """585 long over a span of 185: a half circle takes 290.6, so 147.2 go down each side."""
    line = bow_line(185, 585, 300)
    assert line[0] == pytest.approx((-92.5, -147.2), abs=0.1)
    assert line[-1] == pytest.approx((92.5, -147.2), abs=0.1)
    assert max(z for _, z in line) == pytest.approx(92.5, rel=0.01)


def test_a_short_handle_lies_flat_and_a_long_one_rises():
    assert max(z for _, z in bow_line(100, 130, 100)) < 50
    assert max(z for _, z in bow_line(100, 600, 100)) > 50


def test_a_band_goes_round_outside():
    pieces = [folded("box", "tuck_box", W=60, D=35, H=90), folded("band", "belly_band", W=60, D=35)]
    whole = whole_item(pieces)
    box, band = box_of(whole, 0), box_of(whole, 1)
    assert band.low[0] < box.low[0]
    assert band.high[0] > box.high[0]
    assert band.low[1] < box.low[1]
    assert band.high[1] > box.high[1]


def test_a_free_piece_is_drawn_flat_in_its_card():
    whole = whole_item([ItemPiece("body", 290, 148)])
    assert whole.is_flat
    (facet,) = whole.facets
    assert sorted({round(x) for x, _, _ in facet.points}) == [-145, 145]
    assert sorted({round(z) for _, _, z in facet.points}) == [0, 148]


def test_a_place_of_her_own_is_kept():
    """Turned by a quarter, 10 layers in front, a quarter across and three quarters up."""
    own = Place(How.FACE, 0, face="back", x=0.25, y=0.75, turn=90.0, layers=10)
    pieces = [folded("box", "tuck_box", W=60, D=35, H=90), ItemPiece("star", 20, 10, own=(own,))]
    whole = whole_item(pieces)
    star, back = box_of(whole, 1), whole.faces[0]["back"]
    assert (star.size[0], star.size[2]) == pytest.approx((10, 20))
    # seen from behind, a quarter across is to the right of who stands in front
    assert star.middle[0] == pytest.approx(15)
    assert star.middle[2] - back.origin[2] == pytest.approx(67.5)
    assert star.low[1] > back.origin[1]


def test_pieces_that_sit_on_each_other_in_a_ring_are_still_drawn():
    pieces = [
        ItemPiece("body", 100, 100),
        ItemPiece("one", 10, 10, own=(Place(How.FACE, 2),)),
        ItemPiece("two", 10, 10, own=(Place(How.FACE, 1),)),
    ]
    assert {facet.lie.piece for facet in whole_item(pieces).facets} == {0, 1, 2}


def test_what_lies_inside_is_not_seen():
    pieces = [folded("body", "one_piece_bag"), folded("base", "base_card", W=82, D=52)]
    whole = whole_item(pieces)
    assert not next(seat for seat in whole.seats if seat.piece == 1).is_drawn


def test_die_cut_pieces_have_the_outline_their_name_speaks_of():
    assert ItemPiece("star", 48, 48, is_die=True).shown_as is Outline.STAR
    assert ItemPiece("large badge", 48, 48, is_die=True).shown_as is Outline.CIRCLE
    assert ItemPiece("star panel", 48, 48).shown_as is Outline.RECTANGLE


def test_an_open_bag_has_its_bow_in_front_and_a_pillow_is_tied_round():
    bow = Cord("bow", CordKind.BAND, 6, 300)
    bag = whole_item([folded("bag", "one_piece_bag")], [bow])
    assert box_of(bag, 1).high[1] < box_of(bag, 0).low[1]
    pillow = whole_item([folded("pillow", "pillow_box")], [bow])
    assert box_of(pillow, 1).low[2] < box_of(pillow, 0).low[2]
    assert box_of(pillow, 1).high[2] > box_of(pillow, 0).high[2]


def test_nothing_gives_nothing():
    assert whole_item([]).facets == ()
