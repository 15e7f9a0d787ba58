"""Flat pieces standing in the room, their middle at (0, 0, 0), the good side to the front."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from math import cos, pi, sin

from catalogue.calc.flat_patterns.pattern import FlatPiece
from catalogue.calc.folded.folding import flat_parts
from catalogue.calc.folded.places import Outline
from catalogue.calc.folded.space import (
    CUT,
    INNER,
    Facet,
    Flat,
    Lie,
    Pose,
    is_convex,
    outline_area,
    triangles_of,
)

# corners of a circle
ROUND_STEPS = 28


def card_facets(outline: Outline, width: float, height: float) -> list[Facet]:
    """Return a card of an outline within a rectangle."""
    points = [(x * width, y * height) for x, y in OUTLINES[outline](width, height)]
    return _standing(_flat_facets(points), width, height)


def pattern_facets(piece: FlatPiece) -> list[Facet]:
    """Return a flat blank of a form (a tag with its hole)."""
    found = []
    for name, parts in flat_parts(piece).items():
        found += [replace(part, lie=Lie(name)) for part in parts]
    return _standing(found, float(piece.width), float(piece.height))


def _standing(facets: list[Facet], width: float, height: float) -> list[Facet]:
    """Stand up what lies on the sheet: y becomes up, the good side looks to the front."""
    pose = Pose((1.0, 0.0, 0.0), (0.0, 0.0, -1.0), (0.0, 1.0, 0.0), (-width / 2, 0.0, -height / 2))
    return [facet.moved(pose) for facet in facets]


def _flat_facets(outline: list[Flat]) -> list[Facet]:
    up = (0.0, 0.0, 1.0)
    if outline_area(outline) < 0:
        outline = outline[::-1]
    lie = Lie("card")
    if is_convex(outline):
        return [Facet(tuple((x, y, 0.0) for x, y in outline), (CUT,) * len(outline), up, lie=lie)]
    count = len(outline)
    found = []
    for corners in triangles_of(outline):
        kinds = tuple(
            CUT if there == (here + 1) % count else INNER
            for here, there in zip(corners, (*corners[1:], corners[0]), strict=True)
        )
        found.append(Facet(tuple((*outline[at], 0.0) for at in corners), kinds, up, lie=lie))
    return found


def _rectangle(_width: float, _height: float) -> list[Flat]:
    return [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)]


def _rounded(width: float, height: float) -> list[Flat]:
    radius = min(width, height) * 0.16
    rx, ry = radius / width, radius / height
    corners = ((1 - rx, ry, -90), (1 - rx, 1 - ry, 0), (rx, 1 - ry, 90), (rx, ry, 180))
    return [
        (x + rx * cos((start + step) * pi / 180), y + ry * sin((start + step) * pi / 180))
        for x, y, start in corners
        for step in (0, 30, 60, 90)
    ]


def _circle(_width: float, _height: float) -> list[Flat]:
    turns = [2 * pi * at / ROUND_STEPS for at in range(ROUND_STEPS)]
    return [(0.5 + cos(turn) / 2, 0.5 + sin(turn) / 2) for turn in turns]


def _star(_width: float, _height: float) -> list[Flat]:
    """Five points; the inner corners where the lines between the points cross."""
    inner = sin(pi / 10) / sin(3 * pi / 10)
    turns = [(pi / 2 + pi * at / 5, 1.0 if at % 2 == 0 else inner) for at in range(10)]
    points = [(cos(turn) * far, sin(turn) * far) for turn, far in turns]
    left, low = min(x for x, _ in points), min(y for _, y in points)
    wide, high = max(x for x, _ in points) - left, max(y for _, y in points) - low
    return [((x - left) / wide, (y - low) / high) for x, y in points]


def _heart(_width: float, _height: float) -> list[Flat]:
    """Two half circles above, straight down to the point."""
    bows = [
        (middle + 0.25 * cos(pi * at / 8), 0.72 + 0.28 * sin(pi * at / 8))
        for middle in (0.75, 0.25)
        for at in range(9)
    ]
    return [(0.5, 0.0), *dict.fromkeys((round(x, 9), round(y, 9)) for x, y in bows)]


def _tag(_width: float, _height: float) -> list[Flat]:
    return [(0.0, 0.0), (1.0, 0.0), (1.0, 0.85), (0.8, 1.0), (0.2, 1.0), (0.0, 0.85)]


OUTLINES: Mapping[Outline, Callable[[float, float], list[Flat]]] = {
    Outline.RECTANGLE: _rectangle,
    Outline.ROUNDED: _rounded,
    Outline.CIRCLE: _circle,
    Outline.STAR: _star,
    Outline.HEART: _heart,
    Outline.TAG: _tag,
}
