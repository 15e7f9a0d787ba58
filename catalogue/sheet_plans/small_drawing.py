"""Draws a layout small, to be told from others at a glance: pieces, what is left, no sizes."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from catalogue.calc.cutting.planning import Layout, SheetKind
from catalogue.calc.reels.planning import ReelJob, ReelLayout
from catalogue.sheet_plans.drawing import (
    ACCENT,
    FACE,
    INK,
    PIECE_FILL,
    SHEET_FILL,
    SOFT,
    hatching,
    n,
    rect,
    text,
)

LONGER, EDGE = 120.0, 2.0
REEL_HIGH = 24.0
LETTERS, LEAST = 15.0, 13.0
MARK_FILL = "#cfe5df"

# width and height in the unit of the job
Sides = tuple[Decimal, Decimal]


def draw_small(
    layout: Layout, sheet: SheetKind, numbers: Mapping[str, int], mark: Sides | None = None
) -> str:
    """Return the SVG text; offcuts of the size `mark` stand out from the others.

    It says nothing to listeners: what stands beside it does.
    """
    scale = LONGER / float(max(sheet.width, sheet.height))
    wide, high = float(sheet.width) * scale, float(sheet.height) * scale
    parts = [_begin(wide, high), rect(EDGE, EDGE, wide, high, SHEET_FILL, 1.5)]
    for offcut in layout.offcuts:
        x, y = EDGE + float(offcut.x) * scale, EDGE + float(offcut.y) * scale
        across, down = float(offcut.width) * scale, float(offcut.height) * scale
        if (offcut.width, offcut.height) == mark:
            parts.append(rect(x, y, across, down, MARK_FILL, 2, ACCENT))
        else:
            parts += [rect(x, y, across, down, "none", 0.5, SOFT), hatching(x, y, across, down)]
    for placed in layout.placements:
        x, y = EDGE + float(placed.x) * scale, EDGE + float(placed.y) * scale
        across, down = float(placed.width) * scale, float(placed.height) * scale
        parts.append(rect(x, y, across, down, PIECE_FILL, 1))
        if min(across, down) >= LEAST:
            parts.append(_number(numbers[placed.piece], x + across / 2, y + down / 2))
    return "".join([*parts, "</svg>"])


def draw_small_reel(layout: ReelLayout, job: ReelJob, numbers: Mapping[str, int]) -> str:
    """Return the SVG text of one reel: a bar of its lengths."""
    reel = next(reel for reel in job.reels if reel.name == layout.reel)
    sizes = {length.name: length.length_mm for length in job.lengths}
    scale = LONGER / float(reel.length_mm)
    parts = [_begin(LONGER, REEL_HIGH), rect(EDGE, EDGE, LONGER, REEL_HIGH, SHEET_FILL, 1.5)]
    at = EDGE
    for name, many in layout.lengths:
        wide = float(sizes[name] + job.cut_loss_mm) * scale * many
        parts.append(rect(at, EDGE, wide, REEL_HIGH, PIECE_FILL, 1))
        if wide >= LEAST:
            parts.append(_number(numbers[name], at + wide / 2, EDGE + REEL_HIGH / 2))
        at += wide
    left = EDGE + LONGER - at
    if left > 0.5:
        parts.append(hatching(at, EDGE, left, REEL_HIGH))
    return "".join([*parts, "</svg>"])


def _begin(wide: float, high: float) -> str:
    size = f"{n(wide + 2 * EDGE)} {n(high + 2 * EDGE)}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size}" aria-hidden="true"'
        f' focusable="false" font-family="{FACE}">'
    )


def _number(number: int, x: float, y: float) -> str:
    return text(str(number), x, y + LETTERS / 3, LETTERS, INK, "700")
