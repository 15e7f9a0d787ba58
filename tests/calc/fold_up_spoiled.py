"""Spoils one number of a pattern, or one formula behind it, by one per cent."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

from catalogue.calc.flat_patterns.pattern import FlatPattern, FlatPiece, Point

WRONG = Fraction(101, 100)
Spoiled = tuple[str, FlatPattern]


def spoiled_measures(pattern: FlatPattern) -> Iterator[Spoiled]:
    """Every blank, score, named length, volume and outside size, one at a time."""
    piece = pattern.pieces[0]
    for name in ("width", "height"):
        yield name, _with(pattern, replace(piece, **{name: getattr(piece, name) * WRONG}))
    for name in ("x_scores", "y_scores"):
        scores = getattr(piece, name)
        for i in range(len(scores)):
            moved = _swapped(scores, i, scores[i] * WRONG)
            yield f"{name} {i}", _with(pattern, replace(piece, **{name: moved}))
    for name, length in piece.details.items():
        details = dict(piece.details) | {name: length * WRONG}
        yield f"detail {name}", _with(pattern, replace(piece, details=details))
    if pattern.volume is not None:
        yield "volume", replace(pattern, volume=pattern.volume * WRONG)
    for i in range(3 if pattern.outside else 0):
        yield (
            f"outside {i}",
            replace(pattern, outside=_swapped(pattern.outside, i, pattern.outside[i] * WRONG)),
        )


def spoiled_panels(pattern: FlatPattern) -> Iterator[Spoiled]:
    """A corner of every panel, line, glued and removed part; every hinge, bead and area."""
    piece = pattern.pieces[0]
    for i, panel in enumerate(piece.panels):
        worse = replace(panel, outline=_one_corner_off(panel.outline))
        yield f"panel {panel.name}", _swap(pattern, "panels", i, worse)
    for i, hinge in enumerate(piece.hinges):
        name = f"{hinge.first}-{hinge.second}"
        # a fold of 90 degrees is off by 0.9, one of 0 by as much
        angle = hinge.angle_deg * 1.01 if hinge.angle_deg else 0.9
        yield f"angle {name}", _swap(pattern, "hinges", i, replace(hinge, angle_deg=angle))
        angle = -hinge.angle_deg if hinge.angle_deg else 180.0
        yield f"sense {name}", _swap(pattern, "hinges", i, replace(hinge, angle_deg=angle))
        start, end = _one_corner_off((hinge.start, hinge.end))
        worse = replace(hinge, start=start, end=end)
        yield f"hinge {name}", _swap(pattern, "hinges", i, worse)
    for i, stroke in enumerate(piece.strokes):
        points = _one_corner_off(stroke.points)
        yield f"line {stroke.name}", _swap(pattern, "strokes", i, replace(stroke, points=points))
    for i, glue in enumerate(piece.glue_areas):
        for what, worse in (
            ("outline", replace(glue, outline=_one_corner_off(glue.outline))),
            ("bead", replace(glue, bead=glue.bead * WRONG)),
            ("area", replace(glue, area=glue.area * WRONG)),
        ):
            yield f"glue {what} {glue.panel}", _swap(pattern, "glue_areas", i, worse)
    for i, outline in enumerate(piece.removed):
        yield f"removed {i}", _swap(pattern, "removed", i, _one_corner_off(outline))


def spoiled_widths(pattern: FlatPattern) -> Iterator[Spoiled]:
    """Each strip between two scores one per cent wider, with all that lies on and beyond it.

    This is what a wrong formula looks like: blank, scores, panels and cuts agree with each other.
    """
    piece = pattern.pieces[0]
    for axis, scores, end in (
        ("x", piece.x_scores, piece.width),
        ("y", piece.y_scores, piece.height),
    ):
        stops = (Fraction(0), *scores, end)
        for low, high in pairwise(stops):

            def stretch(length: Fraction, low: Fraction = low, high: Fraction = high) -> Fraction:
                return length + (WRONG - 1) * (min(max(length, low), high) - low)

            worse = _stretched(piece, axis, stretch)
            yield f"{axis} strip from {float(low):.6g}", _with(pattern, worse)


def _stretched(piece: FlatPiece, axis: str, stretch: Callable[[Fraction], Fraction]) -> FlatPiece:
    def at(point: Point) -> Point:
        return replace(point, **{axis: stretch(getattr(point, axis))})

    def along(points: tuple[Point, ...]) -> tuple[Point, ...]:
        return tuple(at(point) for point in points)

    size, scores = ("width", "x_scores") if axis == "x" else ("height", "y_scores")
    return replace(
        piece,
        **{
            size: stretch(getattr(piece, size)),
            scores: tuple(stretch(each) for each in getattr(piece, scores)),
        },
        panels=tuple(replace(each, outline=along(each.outline)) for each in piece.panels),
        strokes=tuple(replace(each, points=along(each.points)) for each in piece.strokes),
        hinges=tuple(
            replace(each, start=at(each.start), end=at(each.end)) for each in piece.hinges
        ),
        removed=tuple(along(each) for each in piece.removed),
    )


def _one_corner_off(points: tuple[Point, ...]) -> tuple[Point, ...]:
    """Move the corner that is farthest out, the one a per cent moves most."""
    i = max(range(len(points)), key=lambda i: points[i].x + points[i].y)
    return _swapped(points, i, Point(points[i].x * WRONG, points[i].y * WRONG))


def _swapped(values: tuple, i: int, value: object) -> tuple:
    return (*values[:i], value, *values[i + 1 :])


def _swap(pattern: FlatPattern, name: str, i: int, value: object) -> FlatPattern:
    piece = pattern.pieces[0]
    return _with(pattern, replace(piece, **{name: _swapped(getattr(piece, name), i, value)}))


def _with(pattern: FlatPattern, piece: FlatPiece) -> FlatPattern:
    return replace(pattern, pieces=(piece, *pattern.pieces[1:]))
