"""Faces of folded things: corners worked out by hand, and every blank where it lies."""

import pytest

from catalogue.calc.flat_patterns import FORMS
from catalogue.calc.folded.assembly import thing_facets
from catalogue.calc.folded.faces import faces_of
from catalogue.calc.folded.space import added, dot, scaled, taken
from catalogue.calc.folded.whole import at_home
from tests.catalogue.patterns import sample_pattern

BENT = ("pillow_box", "cone", "frustum")


def faces(name, **sizes):
    pattern = sample_pattern(name, **sizes)
    return faces_of(pattern, at_home(pattern))


def corners(face):
    return [
        tuple(round(value, 6) for value in face.point(x, y))
        for x, y in ((0, 0), (face.width, 0), (face.width, face.height), (0, face.height))
    ]


def test_the_front_of_a_tuck_box_is_where_it_was_worked_out_by_hand():
    """60 x 35 x 90 (GEOMETRY 4.2) about (0, 0): x from -30 to 30, y from -17.5 to 17.5."""
    found = faces("tuck_box", W=60, D=35, H=90)
    # a hair above the ground, for its bottom closure is folded outside its dust flaps
    z = pytest.approx(0, abs=1)
    (x1, y1, z1), (x2, y2, z2), (x3, _y3, z3), (x4, _y4, z4) = corners(found["front"])
    assert (x1, y1, x2, y2) == (
        -30,
        pytest.approx(-17.5, abs=0.5),
        30,
        pytest.approx(-17.5, abs=0.5),
    )
    assert (z1, z2) == (z, z)
    assert (x3, z3 - z2, x4, z4 - z1) == (30, 90, -30, 90)
    assert found["front"].out == pytest.approx((0, -1, 0))


def test_the_right_side_reads_from_front_to_back():
    """Seen from the right, what is near the front is on the left."""
    face = faces("tuck_box", W=60, D=35, H=90)["right"]
    assert face.across == pytest.approx((0, 1, 0))
    assert face.up == pytest.approx((0, 0, 1))
    assert (face.width, face.height) == pytest.approx((35, 90))
    x, y, _ = corners(face)[0]
    assert (x, y) == (pytest.approx(30), pytest.approx(-17.5, abs=0.5))


def test_a_tray_has_four_walls_and_a_base_and_no_top():
    """100 x 70 x 35 (GEOMETRY 4.4)."""
    found = faces("tray", L=100, W=70, H=35)
    assert "top" not in found
    assert (found["front"].width, found["front"].height) == pytest.approx((100, 35))
    assert (found["left"].width, found["left"].height) == pytest.approx((70, 35))
    assert found["front"].out == pytest.approx((0, -1, 0))
    assert (found["base"].width, found["base"].height) == pytest.approx((100, 70))
    assert found["base"].out == pytest.approx((0, 0, -1))


def test_a_bag_in_two_pieces_has_the_second_front_behind():
    found = faces("two_piece_bag")
    assert found["front 2"].out == pytest.approx((0, 1, 0))
    assert found["back"].origin == found["front 2"].origin
    assert found["left"].origin == found["side 2"].origin


def test_the_flap_of_a_wallet_is_named():
    assert faces("wallet")["flap"].height == pytest.approx(28)


@pytest.mark.parametrize("name", FORMS)
def test_every_blank_lies_where_its_facets_are(name):
    """The map of each facet leads from a place on the blank to each of its corners."""
    pattern = sample_pattern(name)
    piece = pattern.pieces[0]
    near = 1.0 if name in BENT else 1e-6
    for facet in thing_facets(pattern, 1.0):
        if facet.is_hole:
            continue
        lie = facet.lie
        for point in facet.points:
            away = taken(point, lie.origin)
            if name in BENT:
                # strips bend a little: their corners lie near, not on, the plane
                continue
            x, y = dot(away, lie.across), dot(away, lie.up)
            assert -near <= x <= float(piece.width) + near
            assert -near <= y <= float(piece.height) + near
            there = added(lie.origin, added(scaled(lie.across, x), scaled(lie.up, y)))
            assert there == pytest.approx(point, abs=1e-6)


@pytest.mark.parametrize("name", [name for name in FORMS if name not in BENT])
def test_no_blank_is_stretched_or_mirrored(name):
    """Right and up of the blank keep their length and angle, and its good side its side."""
    for facet in thing_facets(sample_pattern(name), 1.0):
        lie = facet.lie
        assert dot(lie.across, lie.across) == pytest.approx(1)
        assert dot(lie.up, lie.up) == pytest.approx(1)
        assert dot(lie.across, lie.up) == pytest.approx(0, abs=1e-9)
        if not facet.is_hole:
            x, y, z = lie.across, lie.up, facet.normal
            turned = (
                x[1] * y[2] - x[2] * y[1],
                x[2] * y[0] - x[0] * y[2],
                x[0] * y[1] - x[1] * y[0],
            )
            assert turned == pytest.approx(z, abs=1e-9)


@pytest.mark.parametrize("name", BENT)
def test_a_strip_of_what_is_bent_is_hardly_stretched(name):
    """Tabs apart, which are drawn inside by a hair, and ends by END_SHARE."""
    for facet in thing_facets(sample_pattern(name), 1.0):
        if facet.lie.panel == "tab":
            continue
        along = dot(facet.lie.across, facet.lie.across) ** 0.5
        up = dot(facet.lie.up, facet.lie.up) ** 0.5
        assert 0.93 < along < 1.07
        assert 0.93 < up < 1.07
