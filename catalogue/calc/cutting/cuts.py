"""The cuts that part one layout, first cut first, what they leave over, and the slack.

All lengths are folded (one gap added), so a returned rectangle is one gap too wide and high.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

Box: TypeAlias = tuple[int, int, int, int]  # x, y, width, height


@dataclass(frozen=True, slots=True)
class Cut:
    """A cut through the whole of `part`; `axis` is the one it divides, `at` ends the near side."""

    round: int
    axis: int
    at: int
    part: Box
    is_trim: bool


@dataclass(frozen=True, slots=True)
class Division:
    """Where the boxes lie (in their order), the cuts in order, offcuts with the largest first."""

    places: tuple[tuple[int, int], ...]
    cuts: tuple[Cut, ...]
    offcuts: tuple[Box, ...]
    slack: int


@dataclass(frozen=True, slots=True)
class _Node:
    """A box (its index), or nodes side by side along an axis, with the least size that takes."""

    size: tuple[int, int]
    index: int = -1
    nodes: tuple[_Node, ...] = ()


def divide(boxes: Sequence[Box], width: int, height: int, rounds: int | None) -> Division:
    """Return how to part the boxes in few cuts, and among those with the largest offcut whole.

    Boxes are pushed together where a cut allows it. The order of cuts suits a trimmer: all strips
    first, then each strip, and at last pieces are trimmed.
    """
    limit = rounds if rounds is not None else 2 * len(boxes) + 2
    numbered = list(enumerate(boxes))
    ways = []
    for axis in (0, 1):
        if _rounds(numbered, axis) <= limit:
            nodes = [_node(group, 1 - axis) for group in _groups(numbered, axis)]
            for joins in (True, False) if limit >= 3 else (False,):
                work = _Work(joins=joins)
                work.cut_up(nodes, (0, 0, width, height), axis, limit, 1)
                ways.append(work)
    best = max(ways, key=_Work.merit)
    lowest = min((cut.round for cut in best.cuts), default=1)
    cuts = [
        Cut(cut.round - lowest + 1, cut.axis, cut.at, cut.part, cut.is_trim) for cut in best.cuts
    ]
    places = tuple(best.places[index] for index in range(len(boxes)))
    return Division(
        places=places,
        cuts=tuple(sorted(cuts, key=lambda cut: (cut.is_trim, cut.round))),
        offcuts=tuple(sorted(best.free, key=lambda box: (-_area(box), box))),
        slack=min(
            width - max(x + box[2] for (x, _), box in zip(places, boxes, strict=True)),
            height - max(y + box[3] for (_, y), box in zip(places, boxes, strict=True)),
        ),
    )


class _Work:
    """Collects places, cuts and what is left over, in the order in which parts come up."""

    def __init__(self, *, joins: bool) -> None:
        self.joins = joins
        self.places: dict[int, tuple[int, int]] = {}
        self.cuts: list[Cut] = []
        self.free: list[Box] = []

    def merit(self) -> tuple[int, list[int]]:
        """Few cuts first, then large offcuts."""
        return -len(self.cuts), sorted((_area(box) for box in self.free), reverse=True)

    def cut_up(self, nodes: Sequence[_Node], part: Box, axis: int, limit: int, level: int) -> None:
        """Cut the nodes off the part one by one along the axis, then go on in each of them."""
        if self.joins and limit >= 3:
            nodes = _join_alike(nodes, part, axis)
        for node in nodes:
            inner, part = self.cut(part, axis, node.size[axis], level, is_trim=False)
            if node.nodes:
                self.cut_up(node.nodes, inner, 1 - axis, limit - 1, level + 1)
                continue
            self.places[node.index] = inner[:2]
            _, rest = self.cut(inner, 1 - axis, node.size[1 - axis], level + 1, is_trim=True)
            self.leave(rest)
        self.leave(part)

    def cut(self, part: Box, axis: int, size: int, level: int, *, is_trim: bool) -> tuple[Box, Box]:
        """Cut the part in two and return both; there is no cut where nothing lies behind it."""
        at, end = part[axis] + size, part[axis] + part[axis + 2]
        if at < end:
            self.cuts.append(Cut(level, axis, at, part, is_trim))
        return _within(part, axis, part[axis], at), _within(part, axis, at, end)

    def leave(self, part: Box) -> None:
        if _area(part):
            self.free.append(part)


def _node(boxes: list[tuple[int, Box]], axis: int) -> _Node:
    """Return the boxes as a tree that is cut at every possible place, first along the axis."""
    if len(boxes) == 1:
        return _Node(boxes[0][1][2:], index=boxes[0][0])
    return _side_by_side([_node(group, 1 - axis) for group in _groups(boxes, axis)], axis)


def _side_by_side(nodes: Sequence[_Node], axis: int) -> _Node:
    long = sum(node.size[axis] for node in nodes)
    wide = max(node.size[1 - axis] for node in nodes)
    return _Node((long, wide) if axis == 0 else (wide, long), nodes=tuple(nodes))


def _join_alike(nodes: Sequence[_Node], part: Box, axis: int) -> list[_Node]:
    """Keep neighbours of one width together when there are rounds left to part them later.

    Their trimmings then stay in one piece: one cut, and worth more than many narrow strips.
    """
    other = 1 - axis
    runs: list[list[_Node]] = []
    for node in nodes:
        alike = (
            runs
            and not node.nodes
            and not runs[-1][0].nodes
            and runs[-1][0].size[other] == node.size[other] < part[other + 2]
        )
        if alike:
            runs[-1].append(node)
        else:
            runs.append([node])
    return [
        run[0] if len(run) == 1 else _Node(row.size, nodes=(row,))
        for run, row in ((run, _side_by_side(run, axis)) for run in runs)
    ]


def _within(part: Box, axis: int, begin: int, end: int) -> Box:
    if axis == 0:
        return (begin, part[1], end - begin, part[3])
    return (part[0], begin, part[2], end - begin)


def _area(box: Box) -> int:
    return box[2] * box[3]


def _groups(boxes: list[tuple[int, Box]], axis: int) -> list[list[tuple[int, Box]]]:
    """Part the boxes at every line across the axis that crosses none of them."""
    groups: list[list[tuple[int, Box]]] = []
    reach = -1
    for index, box in sorted(boxes, key=lambda entry: (entry[1][axis], entry[1][1 - axis])):
        if not groups or box[axis] >= reach:
            groups.append([])
        groups[-1].append((index, box))
        reach = max(reach, box[axis] + box[axis + 2])
    return groups


def _rounds(boxes: list[tuple[int, Box]], axis: int) -> int:
    """Return how many rounds part all boxes when the first one cuts along the axis."""
    if len(boxes) == 1:
        return 0
    return 1 + max(_rounds(group, 1 - axis) for group in _groups(boxes, axis))
