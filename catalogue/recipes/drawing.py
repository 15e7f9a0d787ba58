"""The pieces of a design drawn beside each other, all to one scale."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

# of the drawing's width; lines and letters keep their size whatever the pieces measure
WIDTH = 640.0
GAP = 16.0
ROW_SHARE = 0.55  # the widest piece takes no more than this
MOST_HEIGHT = 560.0
MOST_PIECES = 40


@dataclass(frozen=True, slots=True)
class Blank:
    """One piece in its place."""

    number: int
    x: str
    y: str
    width: str
    height: str
    text_x: str
    text_y: str
    die: tuple[str, str, str, str] | None = None


@dataclass(frozen=True, slots=True)
class Blanks:
    """All pieces in rows, and a line that says the scale in words."""

    width: str
    height: str
    blanks: tuple[Blank, ...]
    caption: str
    stroke: str = "2"
    text: str = "26"


def draw_blanks(pieces: Iterable[Any]) -> Blanks:
    """Place one blank of each piece in rows from left to right; counts are in the table."""
    rows = list(pieces)[:MOST_PIECES]
    if not rows:
        return Blanks("0", "0", (), "")
    sizes = []
    for row in rows:
        margin = 2 * row.die_margin_mm if row.shape == "die" else 0
        sizes.append((float(row.width_mm + margin), float(row.height_mm + margin)))
    scale = min(
        WIDTH * ROW_SHARE / max(width for width, _ in sizes),
        MOST_HEIGHT / 2 / max(height for _, height in sizes),
    )
    blanks = []
    x, y, tallest = GAP, GAP, 0.0
    for number, (row, (width_mm, height_mm)) in enumerate(zip(rows, sizes, strict=True), 1):
        # a strip too thin to see is still drawn as a line
        width, height = max(width_mm * scale, 2.0), max(height_mm * scale, 2.0)
        if x + width + GAP > WIDTH and x > GAP:
            x, y, tallest = GAP, y + tallest + GAP, 0.0
        # the number stands beside a piece that is too small to hold it
        inside = width >= 36 and height >= 36
        text_x = x + width / 2 if inside else x + width + 18
        text_y = y + height / 2 + 9 if inside else y + max(height, 30) / 2 + 9
        blanks.append(
            Blank(
                number=number,
                x=f"{x:.1f}",
                y=f"{y:.1f}",
                width=f"{width:.1f}",
                height=f"{height:.1f}",
                text_x=f"{text_x:.1f}",
                text_y=f"{text_y:.1f}",
                die=_die(row, x, y, width, height, scale),
            )
        )
        x += width + GAP + (0 if inside else 30)
        tallest = max(tallest, height, 0 if inside else 40)
    caption = "One of each piece, drawn to one scale."
    if any(blank.die for blank in blanks):
        caption += " Where there are two outlines, the inner one is the die."
    return Blanks(f"{WIDTH:.0f}", f"{y + tallest + GAP:.0f}", tuple(blanks), caption)


def _die(
    row: Any, x: float, y: float, width: float, height: float, scale: float
) -> tuple[str, str, str, str] | None:
    """Return the outline of the die inside its blank, if the blank is larger."""
    margin = float(row.die_margin_mm) * scale
    if row.shape != "die" or margin <= 0:
        return None
    wide, high = width - 2 * margin, height - 2 * margin
    return f"{x + margin:.1f}", f"{y + margin:.1f}", f"{wide:.1f}", f"{high:.1f}"
