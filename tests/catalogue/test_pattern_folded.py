"""The folded picture: nothing is stretched, the finished thing has its size, near hides far."""

import math
import random
from itertools import pairwise

import pytest

from catalogue.calc.flat_patterns import FORMS
from catalogue.calc.flat_patterns.tiles import letters, tiling_of, usable_mm
from catalogue.calc.folded.assembly import thing_facets
from catalogue.calc.folded.depth import back_to_front
from catalogue.calc.folded.folding import normal_of
from catalogue.calc.folded.space import CUT, Facet, cross, dot, taken, triangles_of
from catalogue.shapes.folded import Camera, finished_svg, folding_frames, folds
from tests.catalogue.patterns import sample_pattern


def area_of(points):
    total = (0.0, 0.0, 0.0)
    for a, b in pairwise(points[1:]):
        part = cross(taken(a, points[0]), taken(b, points[0]))
        total = tuple(x + y for x, y in zip(total, part, strict=True))
    return math.sqrt(dot(total, total)) / 2


def paper_of(facets):
    return sum(area_of(facet.points) for facet in facets if not facet.is_hole)


@pytest.mark.parametrize("name", FORMS)
@pytest.mark.parametrize("share", [0.0, 0.35, 0.7, 1.0])
def test_paper_is_neither_stretched_nor_lost(name, share):
    pattern = sample_pattern(name)
    flat = paper_of(thing_facets(pattern, 0.0))
    # chords of bent panels, the shortened ends of the pillow and a tab out of sight
    near = 0.05 if name in ("pillow_box", "cone", "frustum", "tetra_pouch") else 1e-6
    assert paper_of(thing_facets(pattern, share)) == pytest.approx(flat, rel=near)


@pytest.mark.parametrize(
    "name",
    ["two_piece_bag", "one_piece_bag", "pocket_box", "tuck_box", "tray", "tray_lid", "drawer",
     "belly_band", "tent_box", "pyramid"],
)  # fmt: skip
def test_the_finished_thing_has_its_outside_size(name):
    """The form says it by formula; here it is measured after folding."""
    pattern = sample_pattern(name)
    points = [point for facet in thing_facets(pattern, 1.0) for point in facet.points]
    for axis, said in enumerate(pattern.outside):
        extent = max(p[axis] for p in points) - min(p[axis] for p in points)
        # layers are drawn a hair apart
        assert extent == pytest.approx(float(said), rel=0.03, abs=1.5)


def test_a_pillow_is_as_wide_and_thick_as_asked():
    """GEOMETRY.md 4.3: C 80, T 32, L 120; folded and measured by an independent program."""
    points = [
        point for facet in thing_facets(sample_pattern("pillow_box"), 1.0) for point in facet.points
    ]
    sides = sorted(max(p[axis] for p in points) - min(p[axis] for p in points) for axis in range(3))
    assert sides == pytest.approx([32, 80, 120], rel=0.02)


def test_a_cone_and_a_cup_close_to_their_radius():
    """GEOMETRY.md 4.9: r 30, h 72; r 40 and 28, h 80."""
    for name, radius, height in (("cone", 30, 72), ("frustum", 40, 80)):
        points = [
            point for facet in thing_facets(sample_pattern(name), 1.0) for point in facet.points
        ]
        extents = [max(p[a] for p in points) - min(p[a] for p in points) for a in range(3)]
        assert extents == pytest.approx([2 * radius, 2 * radius, height], rel=0.02)


def triangle(corners):
    return Facet(tuple(corners), (CUT,) * 3, normal_of(corners))


def depth_at(facet, x, y):
    """How near the facet is at a place of a picture taken along the z axis; None beside it."""
    a, b, c = facet.points[0], facet.points[1], facet.points[2]
    nx, ny, nz = normal_of(facet.points)
    if abs(nz) < 1e-6 or not _is_over(facet.points, x, y):
        return None
    assert b != c
    return a[2] - (nx * (x - a[0]) + ny * (y - a[1])) / nz


def _is_over(points, x, y):
    sides = [
        (b[0] - a[0]) * (y - a[1]) - (b[1] - a[1]) * (x - a[0])
        for a, b in zip(points, (*points[1:], points[0]), strict=True)
    ]
    return all(side > 1e-6 for side in sides) or all(side < -1e-6 for side in sides)


@pytest.mark.parametrize("seed", range(12))
def test_what_is_nearer_is_painted_later(seed):
    """Random triangles that pass through each other: wherever one looks, the nearest is on top."""
    chance = random.Random(seed)
    facets = [
        triangle([tuple(chance.uniform(-1, 1) for _ in range(3)) for _ in range(3)])
        for _ in range(14)
    ]
    ordered = back_to_front(facets, eye=(0.0, 0.0, 1.0), size=2.0)
    assert paper_of(ordered) == pytest.approx(paper_of(facets), rel=1e-6)
    looked = 0
    for _ in range(400):
        x, y = chance.uniform(-1, 1), chance.uniform(-1, 1)
        depths = [depth for facet in ordered if (depth := depth_at(facet, x, y)) is not None]
        if depths:
            looked += 1
            assert depths[-1] == pytest.approx(max(depths), abs=2e-3)
    assert looked > 50


def test_a_polygon_is_cut_into_triangles_of_the_same_area():
    star = [(0, 0), (4, 1), (8, 0), (5, 3), (6, 7), (3, 4), (-1, 6), (2, 3)]
    parts = triangles_of(star)
    assert len(parts) == len(star) - 2

    def area(corners):
        return sum(
            x1 * y2 - x2 * y1
            for (x1, y1), (x2, y2) in zip(corners, (*corners[1:], corners[0]), strict=True)
        ) / 2  # fmt: skip

    assert sum(abs(area([star[at] for at in part])) for part in parts) == pytest.approx(
        abs(area(star))
    )


@pytest.mark.parametrize("name", FORMS)
def test_each_form_has_a_picture_and_states_of_folding(name):
    pattern = sample_pattern(name)
    svg = finished_svg(pattern, title="A <thing>")
    assert "<title>A &lt;thing&gt;</title>" in svg
    assert "nan" not in svg
    frames = folding_frames(pattern)
    assert [frame.percent for frame in (frames[0], frames[-1])] == [0, 100]
    assert [frame.is_shown for frame in frames].index(True) == len(frames) - 1
    assert sum(len(frame.svg) for frame in frames) < 400_000
    if folds(pattern):
        assert frames[0].svg != frames[-1].svg


def test_the_eye_looks_at_what_it_sees():
    camera = Camera()
    x, y = camera.seen(camera.eye)
    assert (x, y) == pytest.approx((0, 0), abs=1e-9)


@pytest.mark.parametrize("paper", ["A4", "Letter", "A3"])
@pytest.mark.parametrize(("width", "height"), [(50, 60), (280, 202), (400, 300), (1000, 700)])
def test_tiles_cover_the_blank_and_overlap_by_10_mm(paper, width, height):
    tiling = tiling_of(width, height, paper)
    usable = usable_mm(paper, is_lying=tiling.is_lying)
    assert len(tiling.tiles) == tiling.rows * tiling.columns
    for tile in tiling.tiles:
        assert tile.width <= usable[0] + 1e-9
        assert tile.height <= usable[1] + 1e-9
    assert min(tile.x for tile in tiling.tiles) < 0
    assert min(tile.y for tile in tiling.tiles) < 0
    assert max(tile.x + tile.width for tile in tiling.tiles) > width
    assert max(tile.y + tile.height for tile in tiling.tiles) > height
    by_place = {(tile.row, tile.column): tile for tile in tiling.tiles}
    for (row, column), tile in by_place.items():
        right, below = by_place.get((row, column + 1)), by_place.get((row + 1, column))
        if right:
            assert tile.x + tile.width - right.x == pytest.approx(10)
        if below:
            assert below.y + below.height - tile.y == pytest.approx(10)


def test_rows_go_on_after_z():
    assert [letters(number) for number in (0, 25, 26, 27, 51, 52)] == [
        "A", "Z", "AA", "AB", "AZ", "BA",
    ]  # fmt: skip
