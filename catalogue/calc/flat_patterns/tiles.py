"""Lays a blank at true size over as many pages as it takes, with an overlap to join them by."""

from dataclasses import dataclass
from math import ceil

# printers leave a rim; ours is wider than theirs (common practice, no source)
MARGIN_MM = 9.0
# for the page's name and number above, and the measuring bars below
HEAD_MM, FOOT_MM = 10.0, 22.0
OVERLAP_MM = 10.0
# room around the blank, so that its outline is not on the very edge of what is printed
RIM_MM = 3.0

# width and height, upright. A sizes: ISO 216, as in catalogue/calc/sheets/paper.py; Letter is
# 8 1/2 x 11 in (ANSI/ASME Y14.1, size A)
PAPERS_MM = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4), "A3": (297.0, 420.0)}


@dataclass(frozen=True, slots=True)
class Tile:
    """One page of the template: `x`, `y` are its lower left corner on the blank, in mm."""

    row: int
    column: int
    x: float
    y: float
    width: float
    height: float

    @property
    def label(self) -> str:
        """Rows have letters from the top, columns numbers from the left."""
        return f"{letters(self.row)}{self.column + 1}"


@dataclass(frozen=True, slots=True)
class Tiling:
    """How a blank is spread over pages of one paper."""

    paper: str
    is_lying: bool
    columns: int
    rows: int
    tiles: tuple[Tile, ...]


def letters(number: int) -> str:
    """Return A, B … Z, AA, AB … for 0, 1 …"""
    text = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        text = chr(65 + rest) + text
    return text


def usable_mm(paper: str, *, is_lying: bool) -> tuple[float, float]:
    """Return the width and height of a page that a template may cover."""
    width, height = PAPERS_MM[paper]
    if is_lying:
        width, height = height, width
    return width - 2 * MARGIN_MM, height - 2 * MARGIN_MM - HEAD_MM - FOOT_MM


def tiling_of(width_mm: float, height_mm: float, paper: str) -> Tiling:
    """Return the tiling with the fewest pages; upright when both ways take as many."""
    return min(
        (_tiling(width_mm, height_mm, paper, is_lying) for is_lying in (False, True)),
        key=lambda tiling: (len(tiling.tiles), tiling.is_lying),
    )


def _tiling(width_mm: float, height_mm: float, paper: str, is_lying: bool) -> Tiling:
    usable = usable_mm(paper, is_lying=is_lying)
    needed = (width_mm + 2 * RIM_MM, height_mm + 2 * RIM_MM)
    columns, rows = (_count(*pair) for pair in zip(needed, usable, strict=True))
    steps = tuple(length - OVERLAP_MM for length in usable)
    width = min(usable[0], needed[0]) if columns == 1 else usable[0]
    height = min(usable[1], needed[1]) if rows == 1 else usable[1]
    top = height_mm + RIM_MM
    tiles = tuple(
        Tile(
            row,
            column,
            -RIM_MM + column * steps[0],
            top - height - row * steps[1],
            width,
            height,
        )
        for row in range(rows)
        for column in range(columns)
    )
    return Tiling(paper, is_lying, columns, rows, tiles)


def _count(needed: float, usable: float) -> int:
    if needed <= usable:
        return 1
    return ceil((needed - OVERLAP_MM) / (usable - OVERLAP_MM) - 1e-9)
