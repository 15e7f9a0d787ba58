"""Outlines of panels: rectangles, tapered flaps, tabs on an edge, arcs."""

import math
from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import pairwise

from catalogue.calc.flat_patterns.numbers import hypotenuse
from catalogue.calc.flat_patterns.pattern import ZERO, Outline, Point

# a curve is cut along chords that leave it by no more than this
CHORD_ERROR_MM = Fraction(1, 50)


def rectangle(left: Fraction, bottom: Fraction, right: Fraction, top: Fraction) -> Outline:
    """Return the rectangle between four lines."""
    return Point(left, bottom), Point(right, bottom), Point(right, top), Point(left, top)


def tapered(outline: Outline, side: str, start: Fraction, end: Fraction | None = None) -> Outline:
    """Cut the ends of one side of a rectangle back, `start` at the left or bottom one."""
    end = start if end is None else end
    (left, bottom), (right, top) = low(outline), high(outline)
    match side:
        case "right":
            cut = ((left, bottom), (right, bottom + start), (right, top - end), (left, top))
        case "left":
            cut = ((left, bottom + start), (right, bottom), (right, top), (left, top - end))
        case "top":
            cut = ((left, bottom), (right, bottom), (right - end, top), (left + start, top))
        case _:
            cut = ((left + start, bottom), (right - end, bottom), (right, top), (left, top))
    return tuple(Point(*place) for place in cut)


EDGES = ("straight", "tapered", "pointed", "curved")


def shaped(
    outline: Outline, side: str, edge: str, by: Fraction, chord_error: Fraction
) -> tuple[Outline, Fraction | None]:
    """Give the free side (top or bottom) of a rectangle an edge; with the radius of a curve.

    Tapered: each corner comes in by so much, the sides run straight to it. Pointed and curved:
    the corners stay so far short of the middle, which a point or an arc of a circle reaches.
    """
    (left, bottom), (right, top) = low(outline), high(outline)
    width, height = right - left, top - bottom
    if not by or edge == "straight":
        return outline, None
    if edge == "tapered":
        return tapered(outline, side, min(by, width / 3)), None
    depth, middle, radius = min(by, height), (left + right) / 2, None
    if edge == "pointed":
        free = [Point(right, top - depth), Point(middle, top), Point(left, top - depth)]
    else:
        depth = min(depth, width / 2)
        radius = (width**2 / 4 + depth**2) / (2 * depth)
        centre = Point(middle, top - radius)
        start = math.atan2(float(radius - depth), float(width / 2))
        curve = arc(centre, radius, start, math.pi - start, chord_error)
        free = [Point(right, top - depth), *curve[1:-1], Point(left, top - depth)]
    places = [Point(left, bottom), Point(right, bottom), *free]
    if side == "bottom":
        places = [Point(place.x, bottom + top - place.y) for place in places][::-1]
    # a point that begins at the fold leaves no sides beside it
    return tuple(dict.fromkeys(places)), radius


def edge_tab(
    start: Point, end: Point, depth: Fraction, back_start: Fraction, back_end: Fraction
) -> Outline:
    """Return a tab on the right of an edge, its free side cut back at both ends."""
    length = _length(start, end)
    along_x, along_y = (end.x - start.x) / length, (end.y - start.y) / length
    out_x, out_y = along_y * depth, -along_x * depth
    return (
        end,
        start,
        Point(start.x + along_x * back_start + out_x, start.y + along_y * back_start + out_y),
        Point(end.x - along_x * back_end + out_x, end.y - along_y * back_end + out_y),
    )


def arc(
    centre: Point, radius: Fraction, start: float, end: float, chord_error: Fraction
) -> list[Point]:
    """Return points of a circle from one angle to another (radians), extremes included."""
    turn = math.copysign(1.0, end - start)
    quarters = [at * math.pi / 2 for at in range(-4, 9)]
    stops = [at for at in quarters if 1e-9 < (at - start) * turn < (end - start) * turn - 1e-9]
    stops = [start, *sorted(stops, reverse=turn < 0), end]
    # a chord over the angle a leaves its circle by r (1 - cos(a / 2)), about r a^2 / 8
    step = math.sqrt(8 * float(chord_error / radius))
    angles = [start]
    for one, other in pairwise(stops):
        count = max(1, math.ceil(abs(other - one) / step))
        angles += [one + (other - one) * at / count for at in range(1, count + 1)]
    return [on_circle(centre, radius, angle) for angle in angles]


def on_circle(centre: Point, radius: Fraction, angle: float) -> Point:
    """Return the place on a circle at an angle (radians)."""
    return Point(
        centre.x + radius * Fraction(math.cos(angle)), centre.y + radius * Fraction(math.sin(angle))
    )


def area_of(outline: Sequence[Point]) -> Fraction:
    """Return the area of a polygon, positive when it runs counter-clockwise."""
    following = [*outline[1:], outline[0]]
    twice = sum((p.x * q.y - q.x * p.y for p, q in zip(outline, following, strict=True)), ZERO)
    return twice / 2


def low(points: Iterable[Point]) -> tuple[Fraction, Fraction]:
    """Return the left and bottom of the box around points."""
    places = tuple(points)
    return min(place.x for place in places), min(place.y for place in places)


def high(points: Iterable[Point]) -> tuple[Fraction, Fraction]:
    """Return the right and top of the box around points."""
    places = tuple(points)
    return max(place.x for place in places), max(place.y for place in places)


def _length(start: Point, end: Point) -> Fraction:
    if start.x == end.x:
        return abs(end.y - start.y)
    if start.y == end.y:
        return abs(end.x - start.x)
    return hypotenuse(end.x - start.x, end.y - start.y)


def path_length(points: Sequence[Point]) -> Fraction:
    """Return the length of a line through points."""
    return sum((_length(p, q) for p, q in pairwise(points)), ZERO)
