"""Strips and cords in a bow: from one side over the top to the other, or over one edge."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import cos, hypot, pi, sin

from catalogue.calc.folded.folding import normal_of
from catalogue.calc.folded.space import CUT, INNER, Facet, Lie, Vector

STEPS = 18
# of the height of what it holds: how far a bow goes down its sides, at least and at most
LEAST_DOWN, MOST_DOWN = 0.12, 0.6

Line = list[tuple[float, float]]


@dataclass(frozen=True, slots=True)
class Box:
    """The room something takes."""

    low: Vector
    high: Vector

    @classmethod
    def around(cls, facets: Sequence[Facet]) -> "Box":
        """Return the box round facets; there is at least one."""
        points = [point for facet in facets for point in facet.points]
        axes = range(3)
        low, high = (tuple(pick(p[at] for p in points) for at in axes) for pick in (min, max))
        return cls((low[0], low[1], low[2]), (high[0], high[1], high[2]))

    @property
    def size(self) -> Vector:
        """Width, depth and height."""
        return tuple(b - a for a, b in zip(self.low, self.high, strict=True))  # type: ignore[return-value]

    @property
    def middle(self) -> Vector:
        """Its middle."""
        return tuple((a + b) / 2 for a, b in zip(self.low, self.high, strict=True))  # type: ignore[return-value]

    @property
    def largest(self) -> float:
        """Its longest side."""
        return max(self.size)


def bow_line(span: float, length: float, height: float) -> Line:
    """Return the line of a strip of a length over a span: up one side, over, down the other.

    As (along the span, above the rim). As much as a half circle needs goes over the top, the rest
    down the sides; what is too short for that lies flatter, what is too long rises higher.
    """
    half_round = pi * span / 2
    down = min(max((length - half_round) / 2, LEAST_DOWN * height), MOST_DOWN * height)
    over = max(length - 2 * down, span)
    rise = _rise(span / 2, over)
    bow = [
        (-span / 2 * cos(pi * at / STEPS), rise * sin(pi * at / STEPS)) for at in range(STEPS + 1)
    ]
    return [(-span / 2, -down), *bow, (span / 2, -down)]


def _rise(half: float, over: float) -> float:
    """Return the height of the half ellipse that is so long, found by halving."""
    low, high = 0.0, over
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if _half_ellipse(half, middle) < over else (low, middle)
    return low


def _half_ellipse(half: float, rise: float) -> float:
    points = [(half * cos(pi * at / 60), rise * sin(pi * at / 60)) for at in range(61)]
    return sum(hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(points))


def strip_facets(
    line: Line, width: float, at: Vector, *, sideways: bool, join: float | None = None
) -> list[Facet]:
    """Return a strip along a line that starts from the rim at a middle place.

    Sideways: the line runs to the right, the strip is as wide as it goes back (a handle over a
    bag). Else it stands in a plane with the front, its width across the line is kept (a cord).
    The blank runs along the line, from one end to the join and again from the other.
    """
    found, along = [], 0.0
    total = sum(hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(line))
    edges = _rails(line, width, at) if not sideways else None
    for number, (a, b) in enumerate(pairwise(line)):
        step = hypot(b[0] - a[0], b[1] - a[1])
        if not step:
            continue
        if edges is None:
            start, end = (at[0] + a[0], at[1], at[2] + a[1]), (at[0] + b[0], at[1], at[2] + b[1])
            half = width / 2
            corners: tuple[Vector, ...] = (
                (start[0], at[1] - half, start[2]),
                (end[0], at[1] - half, end[2]),
                (end[0], at[1] + half, end[2]),
                (start[0], at[1] + half, start[2]),
            )
        else:
            (p, q), (r, s) = edges[number], edges[number + 1]
            corners = (p, r, s, q)
        direction = ((b[0] - a[0]) / step, 0.0, (b[1] - a[1]) / step)
        over = (0.0, 1.0, 0.0) if sideways else (-direction[2], 0.0, direction[0])
        is_second = join is not None and along >= total / 2
        origin = tuple(
            corner - direction[axis] * (along if not is_second else along - total / 2)
            for axis, corner in enumerate(corners[0])
        )
        kinds = (
            CUT,
            CUT if number == len(line) - 2 else INNER,
            CUT,
            CUT if number == 0 else INNER,
        )
        lie = Lie("strip", (origin[0], origin[1], origin[2]), direction, over)
        found.append(Facet(corners, kinds, normal_of(corners), lie=lie))
        along += step
    return found


def _rails(line: Line, width: float, at: Vector) -> list[tuple[Vector, Vector]]:
    """Return both edges of a cord along a line, which stays equally wide round the bow."""
    rails = []
    for number, (x, z) in enumerate(line):
        before, after = line[max(number - 1, 0)], line[min(number + 1, len(line) - 1)]
        dx, dz = after[0] - before[0], after[1] - before[1]
        length = hypot(dx, dz) or 1.0
        nx, nz = -dz / length * width / 2, dx / length * width / 2
        rails.append(
            (
                (at[0] + x - nx, at[1], at[2] + z - nz),
                (at[0] + x + nx, at[1], at[2] + z + nz),
            )
        )
    return rails
