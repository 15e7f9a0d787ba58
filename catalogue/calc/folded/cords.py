"""Cords and ribbons as they are seen on an item: handles, a loop to hang it by, a bow."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise
from math import hypot

from catalogue.calc.folded.folding import normal_of
from catalogue.calc.folded.space import CUT, INNER, Facet, Lie, Pose, Vector
from catalogue.calc.folded.strips import Box, bow_line, strip_facets


class CordKind(StrEnum):
    """What a cord or ribbon does on an item."""

    HANDLES = "handles"  # one on the front, one on the back
    LOOP = "loop"  # to hang it by
    BAND = "band"  # round the middle, tied in a bow


# the first that a name speaks of
CORD_WORDS = {
    "handle": CordKind.HANDLES,
    "loop": CordKind.LOOP,
    "ribbon": CordKind.BAND,
    "bow": CordKind.BAND,
    "twine": CordKind.BAND,
}
# a loop of a bow beside its knot: (along, away), in widths of the bow
BOW = ((0.0, 0.0), (0.55, 0.42), (0.95, 0.3), (1.0, 0.02), (0.8, -0.2), (0.4, -0.16))
TAIL = ((0.05, -0.05), (0.5, -0.85), (0.72, -0.72), (0.2, 0.0))


@dataclass(frozen=True, slots=True)
class Cord:
    """A cord, ribbon or pair of handles that is seen on an item; sizes in mm."""

    name: str
    kind: CordKind
    width: float
    length: float = 0.0


def cord_facets(
    cord: Cord,
    main: Sequence[Facet],
    all_of: Sequence[Facet],
    gap: float,
    *,
    is_open: bool = False,
) -> list[Facet]:
    """Return a cord on the main piece of an item, `gap` away from it.

    What is open above is not tied up: it has its bow in front, below the rim.
    """
    box = Box.around(main)
    if cord.kind is CordKind.HANDLES:
        span = box.size[0] * 0.44
        line = bow_line(span, span * 1.9, box.size[2] * 0.9)
        found: list[Facet] = []
        for y in (box.low[1] - gap, box.high[1] + gap):
            at = (box.middle[0], y, box.high[2])
            found += strip_facets(line, cord.width, at, sideways=False)
        return found
    if cord.kind is CordKind.LOOP:
        top = Box.around(all_of).high[2]
        span = min(box.size[0] * 0.3, max(cord.length / 3, cord.width * 2))
        line = bow_line(span, max(span * 2.2, min(cord.length, 1.2 * box.size[0])), 0.0)
        return strip_facets(line, cord.width, (box.middle[0], box.middle[1], top), sideways=False)
    if is_open:
        size = max(3.2 * cord.width, 0.2 * box.size[0])
        place = (box.middle[0], box.low[1] - 2 * gap, box.high[2] - 0.16 * box.size[2])
        lying = _bow(size, (0.0, 0.0, 0.0), gap)
        return [facet.moved(replace(STANDING, shift=place)) for facet in lying]
    return _band(cord, main, box, gap)


# from lying face up to standing with the face to the front
STANDING = Pose((1.0, 0.0, 0.0), (0.0, 0.0, -1.0), (0.0, 1.0, 0.0))


def _band(cord: Cord, main: Sequence[Facet], box: Box, gap: float) -> list[Facet]:
    """Return a ring round the middle, across the longer way it lies, and a bow on top of it."""
    ring = _section(main, box)
    middle = (box.middle[1], box.middle[2])
    grown = [_away(point, middle, gap) for point in ring]
    x, half = box.middle[0], cord.width / 2
    found = []
    for (y1, z1), (y2, z2) in pairwise([*grown, grown[0]]):
        step = hypot(y2 - y1, z2 - z1)
        if step < 1e-9:
            continue
        corners: tuple[Vector, ...] = (
            (x - half, y1, z1),
            (x + half, y1, z1),
            (x + half, y2, z2),
            (x - half, y2, z2),
        )
        direction = (0.0, (y2 - y1) / step, (z2 - z1) / step)
        lie = Lie("band", corners[0], (1.0, 0.0, 0.0), direction)
        found.append(Facet(corners, (INNER, CUT, INNER, CUT), normal_of(corners), lie=lie))
    size = max(3.2 * cord.width, 0.16 * box.size[0])
    return found + _bow(size, (x, box.middle[1], box.high[2] + 2.5 * gap), gap)


def _bow(size: float, at: Vector, gap: float) -> list[Facet]:
    """Return a bow lying face up: two tails, two loops over them."""
    found = []
    for number, way in enumerate((1.0, -1.0)):
        level = (at[0], at[1], at[2] + number * gap / 2)
        found += [_flat_on_top(shape, way, size, level) for shape in (TAIL, BOW)]
    return found


def _flat_on_top(
    shape: Sequence[tuple[float, float]], way: float, size: float, at: Vector
) -> Facet:
    points = [(at[0] + way * a * size, at[1] + b * size, at[2]) for a, b in shape]
    if way > 0:
        points.reverse()
    return Facet(
        tuple(points),
        (CUT,) * len(points),
        (0.0, 0.0, 1.0),
        lie=Lie("band", (at[0] - size, at[1] - size, at[2])),
    )


def _section(main: Sequence[Facet], box: Box) -> list[tuple[float, float]]:
    """Return the outline of an item cut across its middle, as (y, z), convex."""
    x = box.middle[0]
    points = []
    for facet in main:
        for a, b in pairwise([*facet.points, facet.points[0]]):
            if (a[0] - x) * (b[0] - x) <= 0 and a[0] != b[0]:
                share = (x - a[0]) / (b[0] - a[0])
                points.append((a[1] + share * (b[1] - a[1]), a[2] + share * (b[2] - a[2])))
    if len(points) < 3:
        (_, y1, z1), (_, y2, z2) = box.low, box.high
        points = [(y1, z1), (y2, z1), (y2, z2), (y1, z2)]
    return hull_of(points)


def hull_of(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return the convex hull, counter-clockwise (monotone chain, A. M. Andrew 1979)."""
    ordered = sorted(set(points))

    def half(those: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
        found: list[tuple[float, float]] = []
        for p in those:
            while len(found) > 1:
                (ax, ay), (bx, by) = found[-2], found[-1]
                if (bx - ax) * (p[1] - ay) - (by - ay) * (p[0] - ax) > 0:
                    break
                found.pop()
            found.append(p)
        return found[:-1]

    return half(ordered) + half(ordered[::-1])


def _away(
    point: tuple[float, float], middle: tuple[float, float], gap: float
) -> tuple[float, float]:
    dy, dz = point[0] - middle[0], point[1] - middle[1]
    length = hypot(dy, dz) or 1.0
    return point[0] + dy / length * gap, point[1] + dz / length * gap
