"""Draws how one reel is cut into lengths: a bar, each kind of length a block, the rest hatched."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from xml.sax.saxutils import escape

from catalogue.calc.reels.planning import ReelJob, ReelLayout
from catalogue.sheet_plans.drawing import (
    FACE,
    INK,
    LETTER,
    PIECE_FILL,
    SHEET_FILL,
    SMALL,
    SOFT,
    TEXT,
    Write,
    hatching,
    n,
    rect,
    text,
    times_text,
)

WIDE, HIGH, EDGE = 680.0, 56.0, 12.0
MOST_TICKS = 80


def draw_reel(
    layout: ReelLayout,
    job: ReelJob,
    *,
    number: int,
    of: int,
    numbers: Mapping[str, int],
    write: Write,
    write_reel: Write,
) -> str:
    """Return the SVG text of one reel's lengths; `number` and `of` count the layouts.

    `write` says a length that is cut, `write_reel` how much is on a reel or left of it.
    """
    reel = next(reel for reel in job.reels if reel.name == layout.reel)
    sizes = {length.name: length.length_mm for length in job.lengths}
    scale = (WIDE - 2 * EDGE) / float(reel.length_mm)
    title = f"Reel {number} of {of}: {layout.reel}, {times_text(layout.times)}"
    told = "; ".join(
        f"{many} of {numbers[name]}: {name}, {write(sizes[name])}" for name, many in layout.lengths
    )
    left_text = write_reel(layout.left_mm)
    parts = [
        '<svg xmlns="http://www.w3.org/2000/svg" role="img"'
        f' aria-labelledby="reel-{number}-title reel-{number}-desc"'
        f' viewBox="0 0 {n(WIDE)} {n(HIGH + 2 * EDGE + 14)}" width="{n(WIDE)}"'
        f' height="{n(HIGH + 2 * EDGE + 14)}"'
        f' font-family="{FACE}"'
        f' font-size="{n(TEXT)}" fill="{INK}">',
        f'<title id="reel-{number}-title">{escape(title)}</title>',
        f'<desc id="reel-{number}-desc">{escape(f"{told}; {left_text} left.")}</desc>',
        rect(EDGE, EDGE, WIDE - 2 * EDGE, HIGH, SHEET_FILL, 2.5),
    ]
    at = EDGE
    for name, many in layout.lengths:
        each = float(sizes[name] + job.cut_loss_mm) * scale
        parts.append(_block(at, each, many, f"{many} × {numbers[name]}"))
        at += each * many
    left = WIDE - EDGE - at
    if left > 0.5:
        parts += [rect(at, EDGE, left, HIGH, "none", 0.75, SOFT), hatching(at, EDGE, left, HIGH)]
    words = f"{write_reel(reel.length_mm)}, {left_text} left"
    parts.append(text(words, WIDE / 2, HIGH + 2 * EDGE + 8, SMALL, SOFT))
    parts.append("</svg>")
    return "\n".join(parts) + "\n"


def _block(x: float, each: float, many: int, words: str) -> str:
    """Return all lengths of one kind side by side, with a tick at every cut that shows."""
    wide = each * many
    drawn = [rect(x, EDGE, wide, HIGH, PIECE_FILL, 1.5)]
    if many <= MOST_TICKS and each >= 3:
        ticks = "".join(f"M{n(x + each * at)} {n(EDGE)}V{n(EDGE + HIGH)}" for at in range(1, many))
        if ticks:
            drawn.append(f'<path d="{ticks}" stroke="{INK}" stroke-width="1.25" fill="none"/>')
    size = min(TEXT, 0.9 * wide / (LETTER * len(words)))
    if size >= 8:
        half = len(words) * LETTER * size / 2 + 3
        drawn.append(
            f'<rect x="{n(x + wide / 2 - half)}" y="{n(EDGE + HIGH / 2 - size * 0.75)}"'
            f' width="{n(2 * half)}" height="{n(size * 1.5)}" fill="{PIECE_FILL}"/>'
        )
        drawn.append(text(words, x + wide / 2, EDGE + HIGH / 2 + size / 3, size, INK, "700"))
    return f"<g>{''.join(drawn)}</g>"


def useful_left(layout: ReelLayout, job: ReelJob) -> Decimal:
    """Return what is left of a reel without the end nobody can use."""
    return max(layout.left_mm - job.end_mm, Decimal(0))
