"""Bends curved forms: where each point of the flat sheet lies when part of the work is done.

Pillow box and cone bend without stretching, so every point of the sheet has one place in space.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import asin, atan2, cos, hypot, pi, sin, sqrt

from catalogue.calc.flat_patterns.pattern import FlatPiece
from catalogue.calc.folded.folding import edge_kinds, flat_outline, normal_of
from catalogue.calc.folded.space import (
    Facet,
    Flat,
    Lie,
    Vector,
    added,
    kept_part,
    scaled,
    taken,
)

# strips of one panel of a pillow, and of the whole way round a cone
STRIPS = 10
CONE_STRIPS = 28
# what turns less than this is a point of a curve
CORNER_COSINE = 0.93
# ends are drawn a little short, so that their rims lie clear of the panel they meet
END_SHARE = 0.96


@dataclass(frozen=True, slots=True)
class Bend:
    """How a form bends.

    `levels` are the lines that stay straight, where the panels are cut into strips: `beyond`
    says how far a point lies beyond one, below zero before it. `place` bends a point.
    """

    levels: tuple[float, ...]
    beyond: Callable[[Flat, float], float]
    place: Callable[[Flat, float], Vector]


def flat_strips(piece: FlatPiece, bend: Bend) -> list[Facet]:
    """Return the panels in strips as they lie on the sheet: the same in every state."""
    strips = []
    for panel in piece.panels:
        outline = flat_outline(panel.outline)
        edges = edge_kinds(panel, piece)
        flat = Facet(
            tuple((x, y, 0.0) for x, y in outline),
            edges,
            (0.0, 0.0, 1.0),
            lie=Lie(panel.name),
        )
        strips += [_plain(strip) for strip in _strips(flat, bend)]
    return strips


def bent_facets(strips: Iterable[Facet], bend: Bend, share: float) -> list[Facet]:
    """Return each strip where the bending takes it."""
    return [_laid(strip, bend, share) for strip in strips]


def _plain(strip: Facet) -> Facet:
    """Leave out the points of curves within a strip, which then is flat and soon drawn."""
    points = strip.points
    kept = [
        at
        for at in range(len(points))
        if _is_corner(points[at - 1], points[at], points[(at + 1) % len(points)])
    ]
    if len(kept) < 3:
        return strip
    return replace(
        strip,
        points=tuple(points[at] for at in kept),
        edges=tuple(strip.edges[at] for at in kept),
    )


def _is_corner(before: Vector, here: Vector, after: Vector) -> bool:
    first = (here[0] - before[0], here[1] - before[1])
    second = (after[0] - here[0], after[1] - here[1])
    lengths = hypot(*first) * hypot(*second)
    return first[0] * second[0] + first[1] * second[1] < CORNER_COSINE * lengths


def _strips(flat: Facet, bend: Bend) -> list[Facet]:
    """Cut a panel along the straight lines of the bending."""
    found = []
    rest = [flat]
    for level in bend.levels:
        beyond = []
        for part in rest:
            heights = [bend.beyond((x, y), level) for x, y, _ in part.points]
            heights = [0.0 if abs(height) < 1e-7 else height for height in heights]
            if max(heights) <= 0:
                found.append(part)
            elif min(heights) >= 0:
                beyond.append(part)
            else:
                found += kept_part(part, heights, -1)
                beyond += kept_part(part, heights, 1)
        rest = beyond
    return found + rest


def _laid(strip: Facet, bend: Bend, share: float) -> Facet:
    points = tuple(bend.place((x, y), share) for x, y, _ in strip.points)
    lie = strip.lie and _lie_of(strip.lie, strip.points, points)
    return replace(strip, points=points, normal=normal_of(points), lie=lie)


def _lie_of(lie: Lie, flat: Sequence[Vector], bent: Sequence[Vector]) -> Lie:
    """Return how the blank lies about a strip, from its three corners farthest from one line."""
    start = flat[0]
    first, second = max(
        combinations(range(1, len(flat)), 2),
        key=lambda pair: abs(_twice_the_area(start, flat[pair[0]], flat[pair[1]])),
    )
    area = _twice_the_area(start, flat[first], flat[second])
    if not area:
        return lie
    a, b = taken(flat[first], start), taken(flat[second], start)
    p, q = taken(bent[first], bent[0]), taken(bent[second], bent[0])
    across = scaled(taken(scaled(p, b[1]), scaled(q, a[1])), 1 / area)
    up = scaled(taken(scaled(q, a[0]), scaled(p, b[0])), 1 / area)
    origin = taken(bent[0], added(scaled(across, start[0]), scaled(up, start[1])))
    return replace(lie, origin=origin, across=across, up=up)


def _twice_the_area(a: Vector, b: Vector, c: Vector) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (b[1] - a[1])


def cone_bend(apex: Flat, middle: float, sweep: float, tab: float) -> Bend:
    """Return the bending of a sector into a cone, its show side outside.

    `middle` is the direction of the middle of the part that becomes the whole way round, `sweep`
    its angle, `tab` that of the tab beside it.
    """

    def angle(point: Flat) -> float:
        turn = atan2(point[1] - apex[1], point[0] - apex[0]) - middle
        return (turn + pi) % (2 * pi) - pi

    def beyond(point: Flat, level: float) -> float:
        away = hypot(point[0] - apex[0], point[1] - apex[1])
        turn = angle(point) - level
        return away * (sin(turn) if abs(turn) < pi / 2 else turn)

    def place(point: Flat, share: float) -> Vector:
        away = hypot(point[0] - apex[0], point[1] - apex[1])
        if away < 1e-9:
            return 0.0, 0.0, 0.0
        round_full = sweep + share * (2 * pi - sweep)
        turn = angle(point)
        # the tab goes inside by a little
        inner = 1 - 0.06 * share if abs(turn) > sweep / 2 * 1.0001 else 1.0
        slope = asin(min(1.0, sweep / round_full))
        turn *= round_full / sweep
        radius = away * sin(slope) * inner
        return radius * sin(turn), -radius * cos(turn), -away * cos(slope)

    count = CONE_STRIPS
    inside = [sweep * (at / count - 0.5) for at in range(count + 1)]
    outside = [sign * (sweep + tab) / 2 for sign in (-1, 1)]
    return Bend(tuple(sorted([*inside, *outside])), beyond, place)


def pillow_bend(*, radius: float, alpha: float, panel: float, low: float, high: float) -> Bend:
    """Return the bending of a pillow box: two panels of width `panel`, then the tab.

    `low` and `high` are the corner lines. Beyond the curved score, the sheet is mirrored in a
    plane that stands at 45 degrees when the box is done.
    """

    def dip(s: float) -> float:
        return radius * (cos(s / radius) - cos(alpha))

    def arc(point: Flat, share: float) -> Vector:
        """Place a point: bowed within its panel, then turned with the folds before it."""
        bow = radius / max(share, 1e-6)
        middle = panel / 2
        number = min(2, max(0, int((point[0] + 1e-9 * panel) / panel)))
        s = point[0] - middle - number * panel
        half = bow * sin(middle / bow)
        # the tab, the third panel, lies inside the first
        up = bow * (cos(s / bow) - cos(middle / bow)) - (
            0.012 * radius * share if number > 1 else 0
        )
        y = point[1]
        if number > 1:
            # as far as it is seen, the tab ends where the curved scores are
            y = min(max(y, low + dip(s)), high - dip(s))
        elif y < low + dip(s):
            crease = low + dip(s)
            y, up = _mirrored(low, crease + (y - crease) * END_SHARE, up, share, -1)
            # the ends of the second panel lie inside those of the first
            y += number * share * 0.02 * radius
        elif y > high - dip(s):
            crease = high - dip(s)
            y, up = _mirrored(high, crease + (y - crease) * END_SHARE, up, share, 1)
            y -= number * share * 0.02 * radius
        x, z = bow * sin(s / bow) + half, up
        turn = pi * share
        for _ in range(number):
            x, z = 2 * half + x * cos(turn) + z * sin(turn), z * cos(turn) - x * sin(turn)
        return x, y, z

    levels = tuple(panel * at / STRIPS for at in range(1, 2 * STRIPS + 1))
    return Bend(levels, lambda point, level: point[0] - level, arc)


def _mirrored(line: float, y: float, up: float, share: float, way: int) -> tuple[float, float]:
    """Mirror a point in the plane through the corner line that leans inwards."""
    # the plane holds the directions (0, 1, 0) across and (way * -1, share) along the panel
    length = sqrt(1 + share * share)
    along, rise = -way / length, share / length
    forward = y - line
    onto = forward * along + up * rise
    return line + 2 * onto * along - forward, 2 * onto * rise - up
