"""Checks a finished layout from its placements alone, knowing nothing of how it was found."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from decimal import Decimal
from typing import TypeAlias

from catalogue.calc.cutting.job import (
    CutStep,
    CuttingJob,
    Layout,
    Placement,
    PlannedOffcut,
    SheetPlan,
)

# left, bottom, right, top in whole parts
Box: TypeAlias = tuple[int, int, int, int]
# how many decimals a length can have: those of a job are limited, and sums add none
DECIMALS = 12


class WrongLayout(Exception):
    """A layout that cannot be cut as drawn: a mistake in the planner, never shown as a plan."""


def check_plan(plan: SheetPlan, job: CuttingJob) -> None:
    """Check every layout, the counts, the sheets at hand, the cost and the bound."""
    made = dict.fromkeys((piece.name for piece in job.pieces), 0)
    for layout in plan.layouts:
        check_layout(layout, job)
        check_cuts(layout, job)
        for placement in layout.placements:
            made[placement.piece] += layout.times
    for piece in job.pieces:
        if made[piece.name] != piece.count:
            raise WrongLayout(f"{made[piece.name]} of {piece.name} planned, {piece.count} wanted")
    cost = Decimal(0)
    for sheet in job.sheets:
        used = plan.sheets_of(sheet.name)
        cost += used * sheet.price
        if sheet.available is not None and used > sheet.available:
            raise WrongLayout(f"{used} of {sheet.name} planned, {sheet.available} at hand")
    if plan.sheet_count != sum(layout.times for layout in plan.layouts) or plan.cost != cost:
        raise WrongLayout("the sheets or the cost are added up wrongly")
    reached = Decimal(plan.sheet_count) if len(job.sheets) == 1 else plan.cost
    if plan.lower_bound > reached or plan.proven != (plan.lower_bound == reached):
        raise WrongLayout("the bound is above the plan, or the proof does not match it")


def check_layout(layout: Layout, job: CuttingJob) -> None:
    """Check one layout: inside the sheet, sizes and directions kept, no overlap, cuttable."""
    sheet = next(sheet for sheet in job.sheets if sheet.name == layout.sheet)
    if layout.times < 1 or not layout.placements:
        raise WrongLayout("a layout that is never used or holds nothing")
    kinds = {piece.name: piece for piece in job.pieces}
    trim, gap = _whole(sheet.trim), _whole(job.gap)
    right, top = _whole(sheet.width) - trim, _whole(sheet.height) - trim
    boxes: list[Box] = []
    for placed in layout.placements:
        piece = kinds[placed.piece]
        if piece.sheet not in (None, sheet.name):
            raise WrongLayout(f"{piece.name} may not be cut from {sheet.name}")
        size = (piece.height, piece.width) if placed.turned else (piece.width, piece.height)
        if (placed.width, placed.height) != size or (placed.turned and not piece.may_turn):
            raise WrongLayout(f"{piece.name} has changed size or is turned though it may not be")
        x, y = _whole(placed.x), _whole(placed.y)
        far_x, far_y = x + _whole(placed.width), y + _whole(placed.height)
        if x < trim or y < trim or far_x > right or far_y > top:
            raise WrongLayout(f"{piece.name} lies over the edge of {sheet.name}")
        boxes.append((x, y, far_x + gap, far_y + gap))
    rounds = rounds_needed(boxes)
    if rounds is None or (job.rounds is not None and rounds > job.rounds):
        raise WrongLayout("the layout cannot be cut edge to edge in the allowed rounds")


def check_cuts(layout: Layout, job: CuttingJob) -> None:
    """Make the cuts one after the other: exactly the pieces and the offcuts must come of it."""
    sheet = next(sheet for sheet in job.sheets if sheet.name == layout.sheet)
    gap, trim = _whole(job.gap), _whole(sheet.trim)
    parts: set[Box] = {(0, 0, _whole(sheet.width), _whole(sheet.height))}
    directions: dict[int, bool] = {}
    for cut in layout.cuts:
        part, at = _box(cut), _whole(cut.at)
        axis = 0 if cut.is_vertical else 1
        if part not in parts or not part[axis] < at < part[axis + 2]:
            raise WrongLayout("a cut goes through something that is not there")
        parts.remove(part)
        if cut.round == 0:
            ends = (trim, _whole(sheet.width if cut.is_vertical else sheet.height) - trim)
            if not cut.is_trim or at not in ends:
                raise WrongLayout("a cut before the first round does not trim an edge")
            parts.add(
                _beside(part, axis, at, part[axis + 2])
                if at == trim
                else _beside(part, axis, part[axis], at)
            )
            continue
        if cut.is_trim:
            if sum(_is_in(_box(placed), part) for placed in layout.placements) != 1:
                raise WrongLayout("a cut said to trim a piece does more than that")
        elif job.rounds is not None and cut.round > job.rounds:
            raise WrongLayout("a cut comes in a round that is not allowed")
        if directions.setdefault(cut.round % 2, cut.is_vertical) != cut.is_vertical:
            raise WrongLayout("the cutting stages do not alternate")
        parts.add(_beside(part, axis, part[axis], at))
        if at + gap < part[axis + 2]:
            parts.add(_beside(part, axis, at + gap, part[axis + 2]))
    wanted = [_box(placed) for placed in layout.placements]
    wanted += [_box(offcut) for offcut in layout.offcuts]
    if len(wanted) != len(parts) or set(wanted) != parts:
        raise WrongLayout("the cuts do not give the pieces and the offcuts")


def _whole(length: Decimal) -> int:
    """Return a length in whole parts, exactly."""
    parts = length.scaleb(DECIMALS)
    whole = int(parts)
    if whole != parts:
        raise WrongLayout(f"{length} has more decimals than any length of a job")
    return whole


def _box(rectangle: Placement | PlannedOffcut | CutStep) -> Box:
    x, y = _whole(rectangle.x), _whole(rectangle.y)
    return x, y, x + _whole(rectangle.width), y + _whole(rectangle.height)


def _beside(part: Box, axis: int, begin: int, end: int) -> Box:
    if axis == 0:
        return begin, part[1], end, part[3]
    return part[0], begin, part[2], end


def _is_in(inner: Box, outer: Box) -> bool:
    return (
        outer[0] <= inner[0]
        and outer[1] <= inner[1]
        and inner[2] <= outer[2]
        and inner[3] <= outer[3]
    )


def rounds_needed(boxes: Sequence[Box]) -> int | None:
    """Return the fewest alternating cutting stages that part all boxes, None when they cannot.

    Boxes are (left, bottom, right, top) with the gap behind them. A cut runs through the whole part
    and crosses no box. Trimming a part with a single box to size is not counted, but the first
    cut is: every sheet needs one round. Cutting at every place possible is never worse, since parts
    with fewer boxes need no more rounds. Boxes that overlap can never be parted.
    """
    if len(boxes) == 1:
        return 1
    answers = [_rounds(boxes, axis, blocked=False) for axis in (0, 1)]
    reached = [rounds for rounds in answers if rounds is not None]
    return min(reached) if reached else None


def _rounds(boxes: Sequence[Box], axis: int, *, blocked: bool) -> int | None:
    if len(boxes) == 1:
        return 0
    parts = part_boxes(boxes, axis)
    if len(parts) == 1 and blocked:
        return None
    most = 0
    for part in parts:
        rounds = _rounds(part, 1 - axis, blocked=len(parts) == 1)
        if rounds is None:
            return None
        most = max(most, rounds)
    return most + 1


def part_boxes(boxes: Sequence[Box], axis: int) -> list[list[Box]]:
    """Part the boxes at every line across `axis` that crosses none of them."""
    start: Callable[[Box], tuple[int, int]] = lambda box: (box[axis], box[axis + 2])  # noqa: E731
    parts: list[list[Box]] = []
    reach: int | None = None
    for box in sorted(boxes, key=start):
        if reach is None or box[axis] >= reach:
            parts.append([])
            reach = box[axis + 2]
        parts[-1].append(box)
        reach = max(reach, box[axis + 2])
    return parts
