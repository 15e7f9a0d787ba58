"""Folds flat panels in space as rigid bodies and measures them, knowing nothing of any form.

Everything here is plain geometry in floats: polygons on the sheet, and frames (where a flat panel
has got to in space). It is the measuring side of the fold-up checks, so it takes no length from
the formulas it measures.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

Flat = tuple[float, float]
Vector = tuple[float, float, float]
Segment = tuple[Flat, Flat]
Polygon = Sequence[Flat]


# --- on the sheet ---------------------------------------------------------------------------


def flat(points) -> list[Flat]:
    """The points of an outline or stroke as floats."""
    return [(float(each.x), float(each.y)) for each in points]


def area(polygon: Polygon) -> float:
    """Signed area: positive when the outline runs counter-clockwise."""
    total = 0.0
    x0, y0 = polygon[-1]
    for x1, y1 in polygon:
        total += x0 * y1 - x1 * y0
        x0, y0 = x1, y1
    return total / 2


def edges(polygon: Polygon) -> list[Segment]:
    """The sides of an outline in its direction."""
    return list(zip(polygon, [*polygon[1:], polygon[0]], strict=True))


def chain(points: Polygon) -> list[Segment]:
    """The straight parts of an open line."""
    return list(pairwise(points))


def overlap(first: Polygon, second: Polygon) -> float:
    """The area two counter-clockwise outlines have in common.

    Each outline is the sum of the strips under its sides, counted positive where the side runs
    to the left; so is the common part of two outlines the sum over all pairs of strips.
    """
    if apart(first, second):
        return 0.0
    floor = min(y for _, y in [*first, *second])
    a, b = _strips(first, floor), _strips(second, floor)
    left = np.maximum(a.left[:, None], b.left[None, :])
    right = np.minimum(a.right[:, None], b.right[None, :])
    i, j = np.nonzero(right > left)
    left, right = left[i, j], right[i, j]
    ends = [
        (a.at_left[i] + a.slope[i] * (x - a.left[i]), b.at_left[j] + b.slope[j] * (x - b.left[j]))
        for x in (left, right)
    ]
    heights = sum(one + other for one, other in ends) / 2
    from_, to = (one - other for one, other in ends)
    total = np.maximum(np.abs(from_) + np.abs(to), 1e-300)
    between = np.where(from_ * to >= 0, total / 2, (from_**2 + to**2) / (2 * total))
    return float(((heights - between) / 2 * (right - left) * a.sign[i] * b.sign[j]).sum())


@dataclass(frozen=True, slots=True)
class _Strips:
    left: np.ndarray
    right: np.ndarray
    at_left: np.ndarray
    slope: np.ndarray
    sign: np.ndarray


def _strips(polygon: Polygon, floor: float) -> _Strips:
    start = np.array(polygon) - (0.0, floor)
    end = np.roll(start, -1, axis=0)
    keep = start[:, 0] != end[:, 0]
    start, end = start[keep], end[keep]
    runs_left = start[:, 0] > end[:, 0]
    low = np.where(runs_left[:, None], end, start)
    high = np.where(runs_left[:, None], start, end)
    slope = (high[:, 1] - low[:, 1]) / (high[:, 0] - low[:, 0])
    return _Strips(low[:, 0], high[:, 0], low[:, 1], slope, np.where(runs_left, 1.0, -1.0))


def apart(first: Polygon, second: Polygon, by: float = 0.0) -> bool:
    """Whether the rectangles round two outlines overlap by no more than this."""
    for axis in (0, 1):
        ones, others = [p[axis] for p in first], [p[axis] for p in second]
        if max(ones) <= min(others) + by or max(others) <= min(ones) + by:
            return True
    return False


def outside_by(point: Flat, polygon: Polygon) -> float:
    """How far a point lies outside an outline; 0 inside and on it."""
    x, y = point
    inside = False
    for (x0, y0), (x1, y1) in edges(polygon):
        if (y0 > y) != (y1 > y) and x < x0 + (y - y0) * (x1 - x0) / (y1 - y0):
            inside = not inside
    if inside:
        return 0.0
    return min(to_segment(point, each) for each in edges(polygon))


def to_segment(point: Flat, segment: Segment) -> float:
    """The distance from a point to a straight line between two points."""
    (x0, y0), (x1, y1) = segment
    dx, dy = x1 - x0, y1 - y0
    square = dx * dx + dy * dy
    share = 0.0
    if square:
        share = min(1.0, max(0.0, ((point[0] - x0) * dx + (point[1] - y0) * dy) / square))
    return math.dist(point, (x0 + share * dx, y0 + share * dy))


def from_line(point: Flat, line: Sequence[Flat]) -> float:
    """The distance of a point from an endless line through two points."""
    (x0, y0), (x1, y1) = line[0], line[-1]
    off = (x1 - x0) * (point[1] - y0) - (y1 - y0) * (point[0] - x0)
    return abs(off) / math.dist(line[0], line[-1])


def shared(segment: Segment, others: Iterable[Segment], near: float) -> list[tuple[float, float]]:
    """The stretches (from, to, along the segment) that lie on one of the other segments."""
    (x0, y0), (x1, y1) = segment
    length = math.dist(*segment)
    if length <= near:
        return []
    ux, uy = (x1 - x0) / length, (y1 - y0) / length
    found = []
    for start, end in others:
        a = (start[0] - x0) * ux + (start[1] - y0) * uy
        b = (end[0] - x0) * ux + (end[1] - y0) * uy
        if abs((start[1] - y0) * ux - (start[0] - x0) * uy) > near:
            continue
        if abs((end[1] - y0) * ux - (end[0] - x0) * uy) > near:
            continue
        low, high = max(0.0, min(a, b)), min(length, max(a, b))
        if high - low > near:
            found.append((low, high))
    return found


def bare(segment: Segment, others: Iterable[Segment], near: float) -> float:
    """How much of a segment lies on none of the other segments."""
    reached, missing = 0.0, 0.0
    for low, high in sorted(shared(segment, others, near)):
        missing += max(0.0, low - reached)
        reached = max(reached, high)
    return missing + max(0.0, math.dist(*segment) - reached)


def common_border(first: Polygon, second: Polygon, near: float) -> list[Segment]:
    """The stretches where two outlines touch side by side."""
    if apart(first, second, -near):
        return []
    found = []
    sides = edges(second)
    for side in edges(first):
        for low, high in shared(side, sides, near):
            length = math.dist(*side)
            found.append((along(side, low / length), along(side, high / length)))
    return found


def along(segment: Segment, share: float) -> Flat:
    """The point at this share of the way from a segment's start to its end."""
    (x0, y0), (x1, y1) = segment
    return (x0 + share * (x1 - x0), y0 + share * (y1 - y0))


# --- in space -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Frame:
    """Where the sheet's x, y and upward directions and its zero point have got to."""

    x: Vector = (1.0, 0.0, 0.0)
    y: Vector = (0.0, 1.0, 0.0)
    z: Vector = (0.0, 0.0, 1.0)
    origin: Vector = (0.0, 0.0, 0.0)

    def at(self, point: Flat, lift: float = 0.0) -> Vector:
        """Where a point of the sheet is, `lift` above its face."""
        return add(self.origin, self.along((point[0], point[1], lift)))

    def along(self, step: Vector) -> Vector:
        """A direction of the sheet, as it points in space."""
        return (
            self.x[0] * step[0] + self.y[0] * step[1] + self.z[0] * step[2],
            self.x[1] * step[0] + self.y[1] * step[1] + self.z[1] * step[2],
            self.x[2] * step[0] + self.y[2] * step[1] + self.z[2] * step[2],
        )

    def seen_from(self, place: Vector) -> Vector:
        """A place in space as x, y on this panel and height above it."""
        step = minus(place, self.origin)
        return (dot(step, self.x), dot(step, self.y), dot(step, self.z))

    def folded(self, start: Flat, end: Flat, angle: float) -> "Frame":
        """The frame beyond a score: what lies left of start-end is turned towards the viewer."""
        length = math.dist(start, end)
        ux, uy = (end[0] - start[0]) / length, (end[1] - start[1]) / length
        cos, sin = math.cos(angle), math.sin(angle)
        x = (ux * ux * (1 - cos) + cos, ux * uy * (1 - cos), -uy * sin)
        y = (ux * uy * (1 - cos), uy * uy * (1 - cos) + cos, ux * sin)
        z = (uy * sin, -ux * sin, cos)
        moved = tuple(x[i] * start[0] + y[i] * start[1] for i in range(3))
        shift = (start[0] - moved[0], start[1] - moved[1], -moved[2])
        return Frame(
            self.along(x), self.along(y), self.along(z), add(self.origin, self.along(shift))
        )


def add(a: Vector, b: Vector) -> Vector:
    """Sum of two vectors."""
    return (a[0] + b[0], a[1] + b[1], a[2] + b[2])


def minus(a: Vector, b: Vector) -> Vector:
    """Difference of two vectors."""
    return (a[0] - b[0], a[1] - b[1], a[2] - b[2])


def dot(a: Vector, b: Vector) -> float:
    """Scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Vector, b: Vector) -> Vector:
    """Vector product."""
    return (
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    )


def differ(a: Frame, b: Frame, points: Iterable[Flat]) -> float:
    """How far two frames put the same points of the sheet from each other."""
    return max(math.dist(a.at(p, lift), b.at(p, lift)) for p in points for lift in (0.0, 1.0))


@dataclass(frozen=True, slots=True)
class Joint:
    """A score between two panels: `first` right of start-end, `second` left, turned by `angle`."""

    first: str
    second: str
    start: Flat
    end: Flat
    angle: float


def fold(root: str, joints: Sequence[Joint]) -> dict[str, Frame]:
    """Every panel reached from `root` over the joints, folded as rigid bodies."""
    frames = {root: Frame()}
    waiting = [root]
    while waiting:
        here = waiting.pop(0)
        for joint in joints:
            frame = frames[here]
            if joint.first == here and joint.second not in frames:
                frames[joint.second] = frame.folded(joint.start, joint.end, joint.angle)
                waiting.append(joint.second)
            elif joint.second == here and joint.first not in frames:
                frames[joint.first] = frame.folded(joint.end, joint.start, joint.angle)
                waiting.append(joint.first)
    return frames


def volume(faces: Iterable[Sequence[Vector]]) -> float:
    """The volume inside closed outward faces, by the divergence theorem."""
    total = 0.0
    for face in faces:
        for b, c in pairwise(face[1:]):
            total += dot(face[0], cross(b, c))
    return total / 6


def closed_volume(faces: Sequence[Sequence[Vector]], near: float) -> float:
    """The volume inside outward faces whose openings are closed by flat lids."""
    places: list[Vector] = []

    def number(place: Vector) -> int:
        for i, known in enumerate(places):
            if math.dist(known, place) <= near:
                return i
        places.append(place)
        return len(places) - 1

    loops = [[number(place) for place in face] for face in faces]
    sides = [pair for loop in loops for pair in zip(loop, loop[1:] + loop[:1], strict=True)]
    free = {a: b for a, b in sides if (b, a) not in sides and a != b}
    lids = []
    while free:
        start = here = next(iter(free))
        rim = [start]
        while (here := free.pop(here, start)) != start:
            rim.append(here)
        lids.append([places[i] for i in reversed(rim)])
    return volume([*faces, *lids])
