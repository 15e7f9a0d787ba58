"""Finds out what is cut, what is scored and what falls away, from panels and their folds alone.

Panels run counter-clockwise, so an edge that two of them share is met once each way. A shared
edge is a score where the two are folded on each other and a slit where they are not; an edge met
once is the outline. What the panels leave of the blank is cut away.
"""

import math
from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from catalogue.calc.flat_patterns.outlines import rectangle
from catalogue.calc.flat_patterns.pattern import ZERO, Outline, Point

Edge = tuple[Point, Point]
Path = tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class Traced:
    """Lines and parts of a blank: the path of each fold, slits, outlines and what is removed."""

    folds: Mapping[tuple[str, str], Path]
    slits: tuple[Path, ...]
    outlines: tuple[Outline, ...]
    removed: tuple[Outline, ...]


def trace(blank: Point, panels: Mapping[str, Outline], folds: Iterable[tuple[str, str]]) -> Traced:
    """Return the lines of a blank that reaches from (0, 0) to a corner.

    Panels may meet along part of an upright or level edge; along any other edge they share it
    whole. Two panels share no more than one run of edges.
    """
    border = rectangle(ZERO, ZERO, blank.x, blank.y)
    splitter = _Splitter((border, *panels.values()))
    owner = {edge: name for name, outline in panels.items() for edge in splitter.edges_of(outline)}
    frame = dict.fromkeys(splitter.edges_of(border))
    fold_of = {frozenset(pair): pair for pair in folds}
    scored: dict[tuple[str, str], list[Edge]] = {pair: [] for pair in fold_of.values()}
    slits: list[Edge] = []
    outer: list[Edge] = []
    for edge, name in owner.items():
        other = owner.get((edge[1], edge[0]))
        if other is None:
            outer.append(edge)
            continue
        pair = fold_of.get(frozenset((name, other)))
        if pair is None:
            if name < other:
                slits.append(edge)
        elif pair[0] == name:
            scored[pair].append(edge)
    gone = [edge for edge in frame if edge not in owner]
    gone += [(end, start) for start, end in outer if (start, end) not in frame]
    return Traced(
        {pair: _run(edges) for pair, edges in scored.items()},
        tuple(_slit_lines(slits)),
        tuple(_loops(outer)),
        tuple(_loops(gone)),
    )


class _Splitter:
    """Splits edges where another panel has a corner on them."""

    def __init__(self, outlines: Iterable[Outline]) -> None:
        on_x = defaultdict(set)
        on_y = defaultdict(set)
        for outline in outlines:
            for place in outline:
                on_x[place.x].add(place.y)
                on_y[place.y].add(place.x)
        self._on_x = {x: sorted(ys) for x, ys in on_x.items()}
        self._on_y = {y: sorted(xs) for y, xs in on_y.items()}

    def edges_of(self, outline: Outline) -> list[Edge]:
        edges: list[Edge] = []
        for start, end in zip(outline, (*outline[1:], outline[0]), strict=True):
            places = [start, *self._between(start, end), end]
            edges += pairwise(places)
        return edges

    def _between(self, start: Point, end: Point) -> list[Point]:
        if start.x == end.x:
            line, low, high = self._on_x[start.x], *sorted((start.y, end.y))
            found = [
                Point(start.x, y) for y in line[bisect_right(line, low) : bisect_left(line, high)]
            ]
            return found if start.y < end.y else found[::-1]
        if start.y == end.y:
            line, low, high = self._on_y[start.y], *sorted((start.x, end.x))
            found = [
                Point(x, start.y) for x in line[bisect_right(line, low) : bisect_left(line, high)]
            ]
            return found if start.x < end.x else found[::-1]
        return []


def _run(edges: list[Edge]) -> Path:
    """Join the edges of one fold into a line, straight stretches in one."""
    following = dict(edges)
    (start,) = following.keys() - following.values()
    path = [start]
    while path[-1] in following:
        path.append(following[path[-1]])
    inner = zip(path, path[1:], path[2:], strict=False)
    return (
        path[0],
        *(here for before, here, after in inner if _bends(before, here, after)),
        path[-1],
    )


def _slit_lines(edges: list[Edge]) -> list[Path]:
    """Join slits that continue each other straight on."""
    lines: list[Edge] = []
    for start, end in _from_the_left(edges):
        for at, (first, last) in enumerate(lines):
            if last == start and not _bends(first, start, end):
                lines[at] = (first, end)
                break
        else:
            lines.append((start, end))
    return list(lines)


def _from_the_left(edges: list[Edge]) -> list[Edge]:
    turned = [edge if _place(edge[0]) < _place(edge[1]) else edge[::-1] for edge in edges]
    return sorted(turned, key=lambda edge: (_place(edge[0]), _place(edge[1])))


def _loops(edges: list[Edge]) -> list[Outline]:
    """Join edges into closed outlines; where two touch in a corner, each stays by itself."""
    leaving: dict[Point, list[Point]] = defaultdict(list)
    for start, end in edges:
        leaving[start].append(end)
    loops: list[Outline] = []
    for first, _ in edges:
        while leaving[first]:
            path = [first, leaving[first].pop()]
            while path[-1] != first:
                path.append(_take_left(path[-2], path[-1], leaving[path[-1]]))
            loop = path[:-1]
            around = zip([loop[-1], *loop], loop, [*loop[1:], loop[0]], strict=False)
            loops.append(
                tuple(here for before, here, after in around if _bends(before, here, after))
            )
    return loops


def _take_left(before: Point, here: Point, choices: list[Point]) -> Point:
    if len(choices) > 1:
        choices.sort(key=lambda there: _turn(before, here, there))
    return choices.pop()


def _turn(before: Point, here: Point, there: Point) -> float:
    in_x, in_y = here.x - before.x, here.y - before.y
    out_x, out_y = there.x - here.x, there.y - here.y
    return math.atan2(float(in_x * out_y - in_y * out_x), float(in_x * out_x + in_y * out_y))


def _bends(before: Point, here: Point, after: Point) -> bool:
    return (here.x - before.x) * (after.y - here.y) != (here.y - before.y) * (after.x - here.x)


def _place(point: Point) -> tuple[Fraction, Fraction]:
    return point.x, point.y
