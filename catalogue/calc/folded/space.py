"""Points, turns and polygons in space, as folded blanks need them; for drawing, so in floats."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import cos, sin, sqrt

Vector = tuple[float, float, float]
Flat = tuple[float, float]

# kinds of polygon edges
INNER, FOLD, CUT = 0, 1, 2


def added(a: Vector, b: Vector) -> Vector:
    """Return a + b."""
    return a[0] + b[0], a[1] + b[1], a[2] + b[2]


def taken(a: Vector, b: Vector) -> Vector:
    """Return a - b."""
    return a[0] - b[0], a[1] - b[1], a[2] - b[2]


def scaled(a: Vector, factor: float) -> Vector:
    """Return a made longer or shorter."""
    return a[0] * factor, a[1] * factor, a[2] * factor


def dot(a: Vector, b: Vector) -> float:
    """Return the inner product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Vector, b: Vector) -> Vector:
    """Return the outer product."""
    return (
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    )


def unit_vector(a: Vector) -> Vector:
    """Return a with length 1; a point without direction stays as it is."""
    length = sqrt(dot(a, a))
    return scaled(a, 1 / length) if length else a


@dataclass(frozen=True, slots=True)
class Pose:
    """Where a rigid part lies: rows of a rotation, and a shift."""

    x_row: Vector = (1.0, 0.0, 0.0)
    y_row: Vector = (0.0, 1.0, 0.0)
    z_row: Vector = (0.0, 0.0, 1.0)
    shift: Vector = (0.0, 0.0, 0.0)

    def turned(self, vector: Vector) -> Vector:
        """Return a direction of the part as it points in space."""
        return dot(self.x_row, vector), dot(self.y_row, vector), dot(self.z_row, vector)

    def point(self, vector: Vector) -> Vector:
        """Return a point of the part as it lies in space."""
        return added(self.turned(vector), self.shift)

    def after(self, first: "Pose") -> "Pose":
        """Return the placement that does `first` and then this one."""
        columns = [
            self.turned((first.x_row[at], first.y_row[at], first.z_row[at])) for at in range(3)
        ]
        rows = [(columns[0][at], columns[1][at], columns[2][at]) for at in range(3)]
        return Pose(rows[0], rows[1], rows[2], self.point(first.shift))


def turn_about(start: Vector, end: Vector, angle: float) -> Pose:
    """Return the turn about the line from start to end, right-handed, in radians."""
    x, y, z = unit_vector(taken(end, start))
    c, s = cos(angle), sin(angle)
    k = 1 - c
    turn = Pose(
        (c + x * x * k, x * y * k - z * s, x * z * k + y * s),
        (y * x * k + z * s, c + y * y * k, y * z * k - x * s),
        (z * x * k - y * s, z * y * k + x * s, c + z * z * k),
    )
    return replace(turn, shift=taken(start, turn.turned(start)))


@dataclass(frozen=True, slots=True)
class Lie:
    """Where the blank lies that a facet is a part of: x and y of the blank as they run in space.

    `piece` is its number among the pieces of a whole item, `copy` which of equal ones it is.
    """

    panel: str
    origin: Vector = (0.0, 0.0, 0.0)
    across: Vector = (1.0, 0.0, 0.0)
    up: Vector = (0.0, 1.0, 0.0)
    piece: int = 0
    copy: int = 0

    def point(self, x: float, y: float) -> Vector:
        """Return where a place of the blank is."""
        return added(self.origin, added(scaled(self.across, x), scaled(self.up, y)))

    def moved(self, pose: Pose) -> "Lie":
        """Return it after the blank was moved."""
        return replace(
            self,
            origin=pose.point(self.origin),
            across=pose.turned(self.across),
            up=pose.turned(self.up),
        )


@dataclass(frozen=True, slots=True)
class Facet:
    """A flat convex polygon in space; `edges[i]` is the kind of the edge after `points[i]`.

    `normal` points out of the side that shows. `is_hole` is an opening drawn on its panel.
    `lie` says which place of the blank is where.
    """

    points: tuple[Vector, ...]
    edges: tuple[int, ...]
    normal: Vector
    is_hole: bool = False
    lie: Lie | None = None

    def moved(self, pose: Pose) -> "Facet":
        """Return it after it was moved, its blank with it."""
        return replace(
            self,
            points=tuple(pose.point(point) for point in self.points),
            normal=pose.turned(self.normal),
            lie=self.lie and self.lie.moved(pose),
        )


def kept_part(facet: Facet, heights: Sequence[float], side: int) -> list[Facet]:
    """Return what lies on one side of a plane, 1 above or -1 below it, none or one facet.

    `heights` says how far each point lies above the plane. The edge along the cut is not drawn.
    """
    points: list[Vector] = []
    edges: list[int] = []
    count = len(heights)
    for at in range(count):
        here, there = heights[at] * side, heights[(at + 1) % count] * side
        start, end = facet.points[at], facet.points[(at + 1) % count]
        if here >= 0:
            points.append(start)
            edges.append(facet.edges[at] if here > 0 or there >= 0 else INNER)
        if (here > 0 > there) or (here < 0 < there):
            share = here / (here - there)
            points.append(added(start, scaled(taken(end, start), share)))
            edges.append(facet.edges[at] if there > 0 else INNER)
    if len(points) < 3:
        return []
    return [replace(facet, points=tuple(points), edges=tuple(edges))]


def outline_area(outline: Sequence[Flat]) -> float:
    """Return the signed area, positive when it runs counter-clockwise."""
    return (
        sum(
            x1 * y2 - x2 * y1
            for (x1, y1), (x2, y2) in zip(outline, (*outline[1:], outline[0]), strict=True)
        )
        / 2
    )


def middle_of(outline: Sequence[Flat]) -> Flat:
    """Return the centre of area."""
    area = outline_area(outline)
    if not area:
        return (
            sum(x for x, _ in outline) / len(outline),
            sum(y for _, y in outline) / len(outline),
        )
    x_sum = y_sum = 0.0
    for (x1, y1), (x2, y2) in zip(outline, (*outline[1:], outline[0]), strict=True):
        weight = x1 * y2 - x2 * y1
        x_sum += (x1 + x2) * weight
        y_sum += (y1 + y2) * weight
    return x_sum / (6 * area), y_sum / (6 * area)


def triangles_of(outline: Sequence[Flat]) -> list[tuple[int, int, int]]:
    """Cut a simple polygon into triangles, by clipping ears; corners by their place."""
    left = list(range(len(outline)))
    if outline_area(outline) < 0:
        left.reverse()
    found = []
    while len(left) > 3:
        ears = [at for at in range(len(left)) if _is_ear(outline, left, at)]
        # where nothing is left but points on a line, any corner will do
        at = ears[0] if ears else 0
        found.append((left[at - 1], left[at], left[(at + 1) % len(left)]))
        del left[at]
    found.append((left[0], left[1], left[2]))
    return found


def is_convex(outline: Sequence[Flat]) -> bool:
    """Whether no corner turns the other way."""
    sign = 1 if outline_area(outline) > 0 else -1
    count = len(outline)
    return all(
        sign * _turn(outline[at - 1], outline[at], outline[(at + 1) % count]) >= -1e-9
        for at in range(count)
    )


def _turn(a: Flat, b: Flat, c: Flat) -> float:
    return (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])


def _is_ear(outline: Sequence[Flat], left: list[int], at: int) -> bool:
    a, b, c = left[at - 1], left[at], left[(at + 1) % len(left)]
    if _turn(outline[a], outline[b], outline[c]) <= 1e-12:
        return False
    return not any(
        _turn(outline[a], outline[b], outline[other]) > -1e-12
        and _turn(outline[b], outline[c], outline[other]) > -1e-12
        and _turn(outline[c], outline[a], outline[other]) > -1e-12
        for other in left
        if other not in (a, b, c)
    )
