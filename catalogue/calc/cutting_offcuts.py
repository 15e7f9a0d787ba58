"""What is left of a sheet: offcuts, cut so that the largest one stays whole, and the slack."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

Box: TypeAlias = tuple[int, int, int, int]  # x, y, width, height


def offcuts_and_slack(
    boxes: Sequence[Box], width: int, height: int, rounds: int | None
) -> tuple[list[Box], int]:
    """Return the offcuts, largest first, and by how much the sheet could be smaller.

    All lengths are folded (one gap added), so a returned offcut is one gap too wide and high.
    """
    slack = min(
        width - max(x + wide for x, _, wide, _ in boxes),
        height - max(y + high for _, y, _, high in boxes),
    )
    limit = rounds if rounds is not None else 2 * len(boxes) + 2
    region = (0, 0, width, height)
    choices = [
        _cut_up(list(boxes), region, axis, limit)
        for axis in (0, 1)
        if _rounds(boxes, axis) <= limit
    ]
    best = max(choices, key=lambda free: sorted((_area(box) for box in free), reverse=True))
    return sorted(best, key=lambda box: (-_area(box), box)), slack


def _cut_up(boxes: list[Box], region: Box, axis: int, limit: int) -> list[Box]:
    """Cut the region at every possible place along the axis and go on in the parts."""
    free: list[Box] = []
    parts = _join_alike(_part(boxes, axis), region, axis, limit)
    if len(boxes) == 1:
        parts = [list(boxes)]
    end = region[axis] + region[axis + 2]
    reached = region[axis]
    for part in parts:
        reached = max(box[axis] + box[axis + 2] for box in part)
        begin = min(box[axis] for box in part)
        inner = _within(region, axis, begin, reached)
        if len(part) == 1:
            free.extend(_trimmings(part[0], inner, 1 - axis))
        else:
            free.extend(_cut_up(part, inner, 1 - axis, limit - 1))
    if end > reached:
        free.append(_within(region, axis, reached, end))
    return free


def _trimmings(box: Box, region: Box, axis: int) -> list[Box]:
    far = box[axis] + box[axis + 2]
    end = region[axis] + region[axis + 2]
    return [_within(region, axis, far, end)] if end > far else []


def _join_alike(parts: list[list[Box]], region: Box, axis: int, limit: int) -> list[list[Box]]:
    """Keep neighbours of one width together when there are rounds left to part them later.

    Their trimmings then stay in one piece, which is worth more than many narrow strips.
    """
    other = 1 - axis
    end = region[other] + region[other + 2]
    joined: list[list[Box]] = []
    for part in parts:
        alike = (
            limit >= 3
            and joined
            and len(part) == 1
            and part[0][other] + part[0][other + 2] < end
            and all(box[other + 2] == part[0][other + 2] for box in joined[-1])
            and all(box[other] == part[0][other] for box in joined[-1])
        )
        if alike:
            joined[-1].extend(part)
        else:
            joined.append(list(part))
    return joined if len(joined) > 1 else parts


def _within(region: Box, axis: int, begin: int, end: int) -> Box:
    if axis == 0:
        return (begin, region[1], end - begin, region[3])
    return (region[0], begin, region[2], end - begin)


def _area(box: Box) -> int:
    return box[2] * box[3]


def _part(boxes: Sequence[Box], axis: int) -> list[list[Box]]:
    parts: list[list[Box]] = []
    reach = -1
    for box in sorted(boxes, key=lambda box: (box[axis], box[1 - axis])):
        if not parts or box[axis] >= reach:
            parts.append([])
        parts[-1].append(box)
        reach = max(reach, box[axis] + box[axis + 2])
    return parts


def _rounds(boxes: Sequence[Box], axis: int) -> int:
    """Return how many rounds part all boxes when the first one cuts along the axis."""
    if len(boxes) == 1:
        return 0
    return 1 + max(_rounds(part, 1 - axis) for part in _part(boxes, axis))
