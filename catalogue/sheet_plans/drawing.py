"""Draws layouts as SVG: cut lines whole, pieces numbered, offcuts hatched, cuts in their order.

Everything is said by attributes, not by a style sheet, so that the page, a PDF and a file of its
own show the same.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from xml.sax.saxutils import escape

from catalogue.calc.cutting.planning import CutStep, Layout, Placement, PlannedOffcut, SheetKind

FACE = "Source Sans 3, Pleat Sans, Pleat Sans Ext, sans-serif"
# the longer side of a sheet in the drawing; letters keep their size whatever the sheet measures
LONGER = 640.0
MARGIN = 34.0
TEXT, SMALL = 22.0, 17.0
LETTER = 0.54  # how wide a letter is, of its size
MOST_BADGES = 60
HATCH = 14.0

PIECE_FILL = "#fbf7ee"
SHEET_FILL = "#ffffff"
HATCH_INK = "#b9ad95"
INK = "#1f2747"
SOFT = "#4c5370"
ACCENT = "#0b6b5d"

Write = Callable[[Decimal], str]


@dataclass(frozen=True, slots=True)
class _Frame:
    """From lengths of the job to places in the drawing."""

    scale: float
    left: float = MARGIN
    top: float = MARGIN

    def x(self, value: Decimal) -> float:
        return self.left + float(value) * self.scale

    def y(self, value: Decimal) -> float:
        return self.top + float(value) * self.scale

    def size(self, value: Decimal) -> float:
        return float(value) * self.scale


def draw_layout(
    layout: Layout,
    sheet: SheetKind,
    *,
    unit: str,
    number: int,
    of: int,
    numbers: Mapping[str, int] | None = None,
    write: Write | None = None,
    is_directional: bool = False,
    has_legend: bool = True,
) -> str:
    """Return the SVG text of a layout; `number` and `of` count the layouts of the plan.

    `numbers` are those of the pieces by name (else they are counted in the order of the names),
    `write` writes a length of the job. Without a legend the page beside it says the same.
    """
    say = write or (lambda length: f"{_plain(length)} {unit}")
    names = sorted({placed.piece for placed in layout.placements})
    known = numbers or {name: at for at, name in enumerate(names, start=1)}
    frame = _Frame(LONGER / float(max(sheet.width, sheet.height)))
    wide, high = frame.size(sheet.width), frame.size(sheet.height)
    legend = _legend(layout, known, say)
    title = f"Layout {number} of {of}: {layout.sheet}, {times_text(layout.times)}"
    below = (len(legend) + 1) * TEXT * 1.4 + 8 if has_legend else 0.0
    whole = (wide + 2 * MARGIN, high + 2 * MARGIN + below)
    parts = [
        '<svg xmlns="http://www.w3.org/2000/svg" role="img"'
        f' aria-labelledby="layout-{number}-title layout-{number}-desc"'
        f' viewBox="0 0 {n(whole[0])} {n(whole[1])}" width="{n(whole[0])}"'
        f' height="{n(whole[1])}" font-family="{FACE}"'
        f' font-size="{n(TEXT)}" fill="{INK}">',
        f'<title id="layout-{number}-title">{escape(title)}</title>',
        f'<desc id="layout-{number}-desc">{escape(_description(layout, legend, say))}</desc>',
        rect(MARGIN, MARGIN, wide, high, SHEET_FILL, 2.5),
        *_sides(frame, sheet, say),
    ]
    parts += [_offcut(frame, offcut, say) for offcut in layout.offcuts]
    parts += [_piece(frame, placed, known[placed.piece], say) for placed in layout.placements]
    parts += [_cut_line(frame, cut) for cut in layout.cuts]
    if is_directional:
        parts.append(_arrow(frame, wide, high))
    if len(layout.cuts) <= MOST_BADGES:
        parts += [_badge(frame, cut, at) for at, cut in enumerate(layout.cuts, start=1)]
    if has_legend:
        top = high + 2 * MARGIN + TEXT
        parts += [
            f'<text x="{n(MARGIN)}" y="{n(top + TEXT * 1.4 * at)}">{escape(words)}</text>'
            for at, words in enumerate([title, *legend])
        ]
    parts.append("</svg>")
    return "\n".join(parts) + "\n"


def _sides(frame: _Frame, sheet: SheetKind, say: Write) -> list[str]:
    """Write the size of the sheet along its upper and its left edge."""
    wide, high = frame.size(sheet.width), frame.size(sheet.height)
    x, y = MARGIN + wide / 2, MARGIN + high / 2
    return [
        text(say(sheet.width), x, MARGIN - 11, SMALL, SOFT),
        f'<g transform="rotate(-90 {n(MARGIN - 11)} {n(y)})">'
        + text(say(sheet.height), MARGIN - 11, y, SMALL, SOFT)
        + "</g>",
    ]


def _offcut(frame: _Frame, offcut: PlannedOffcut, say: Write) -> str:
    x, y = frame.x(offcut.x), frame.y(offcut.y)
    wide, high = frame.size(offcut.width), frame.size(offcut.height)
    drawn = [rect(x, y, wide, high, "none", 0.75, SOFT), hatching(x, y, wide, high)]
    words = f"{_bare(say(offcut.width))} × {say(offcut.height)}"
    drawn.append(_label([(words, SMALL, "400")], x, y, wide, high, ground=SHEET_FILL, ink=SOFT))
    return "".join(drawn)


def _piece(frame: _Frame, placed: Placement, number: int, say: Write) -> str:
    x, y = frame.x(placed.x), frame.y(placed.y)
    wide, high = frame.size(placed.width), frame.size(placed.height)
    words = f"{_bare(say(placed.width))} × {say(placed.height)}"
    lines = [(str(number), TEXT * 1.25, "700"), (placed.piece, SMALL, "400"), (words, SMALL, "400")]
    drawn = rect(x, y, wide, high, PIECE_FILL, 1.25)
    drawn += _label(lines, x, y, wide, high)
    if placed.turned and min(wide, high) >= 20:
        drawn += _turned(x + wide - 15, y + high - 15)
    return drawn


def _label(
    lines: list[tuple[str, float, str]],
    x: float,
    y: float,
    wide: float,
    high: float,
    *,
    ground: str = "",
    ink: str = INK,
) -> str:
    """Write lines into a rectangle, upright where it is narrow; what has no room is left out.

    The first line is always there, small where it must be.
    """
    room, depth = (wide, high) if wide >= high * 0.8 or wide >= 90 else (high, wide)
    is_upright = room == high and wide != high
    first, size, weight = lines[0]
    size = min(size, 0.9 * room / (LETTER * max(len(first), 1)), 0.85 * depth)
    if size < (9 if ground else 5):
        return ""
    kept, used = [(first, size, weight)], size * 1.15
    for words, wanted, weight in lines[1:]:
        fits = len(words) * LETTER * wanted <= room - 8
        if fits and used + wanted * 1.2 <= depth - 6:
            kept.append((words, wanted, weight))
            used += wanted * 1.2
    middle_x, middle_y = x + wide / 2, y + high / 2
    drawn, at = [], middle_y - used / 2
    for words, one, weight in kept:
        at += one * 1.0
        if ground:
            half = len(words) * LETTER * one / 2 + 4
            drawn.append(
                f'<rect x="{n(middle_x - half)}" y="{n(at - one)}" width="{n(2 * half)}"'
                f' height="{n(one * 1.3)}" fill="{ground}"/>'
            )
        drawn.append(text(words, middle_x, at, one, ink, weight))
        at += one * 0.2
    turn = f' transform="rotate(-90 {n(middle_x)} {n(middle_y)})"' if is_upright else ""
    return f"<g{turn}>{''.join(drawn)}</g>"


def hatching(x: float, y: float, wide: float, high: float) -> str:
    """Return slanted lines over a rectangle, one path."""
    steps, reach = [], wide + high
    at = HATCH - (x + y) % HATCH
    while at < reach:
        begin_x, begin_y = x + max(0.0, at - high), y + min(at, high)
        end_x, end_y = x + min(at, wide), y + max(0.0, at - wide)
        steps.append(f"M{n(begin_x)} {n(begin_y)}L{n(end_x)} {n(end_y)}")
        at += HATCH
    if not steps:
        return ""
    return f'<path d="{"".join(steps)}" stroke="{HATCH_INK}" stroke-width="0.8" fill="none"/>'


def _cut_line(frame: _Frame, cut: CutStep) -> str:
    begin, end = _ends(frame, cut)
    width = 1.25 if cut.is_trim else 2.25
    return (
        f'<line x1="{n(begin[0])}" y1="{n(begin[1])}" x2="{n(end[0])}" y2="{n(end[1])}"'
        f' stroke="{INK}" stroke-width="{n(width)}"/>'
    )


def _ends(frame: _Frame, cut: CutStep) -> tuple[tuple[float, float], tuple[float, float]]:
    if cut.is_vertical:
        x = frame.x(cut.at)
        return (x, frame.y(cut.y)), (x, frame.y(cut.y + cut.height))
    y = frame.y(cut.at)
    return (frame.x(cut.x), y), (frame.x(cut.x + cut.width), y)


def _badge(frame: _Frame, cut: CutStep, number: int) -> str:
    """Put the number of a cut on its line: near the beginning, or where that is short, midway."""
    (x1, y1), (x2, y2) = _ends(frame, cut)
    length = max(abs(x2 - x1), abs(y2 - y1), 0.001)
    share = min(0.5, (22 + 3 * (number % 3)) / length)
    x, y = x1 + (x2 - x1) * share, y1 + (y2 - y1) * share
    radius = 9.5 if number < 10 else 11.5
    return (
        f'<circle cx="{n(x)}" cy="{n(y)}" r="{n(radius)}" fill="#ffffff" stroke="{ACCENT}"'
        ' stroke-width="1.25"/>' + text(str(number), x, y + 4.8, 13.5, ACCENT, "700")
    )


def _turned(x: float, y: float) -> str:
    """Draw the mark of a piece that lies turned: a quarter of a circle with a tip."""
    return (
        f'<path d="M{n(x - 6)} {n(y + 6)}A12 12 0 0 1 {n(x + 6)} {n(y - 6)}'
        f"M{n(x + 1)} {n(y - 9)}L{n(x + 6)} {n(y - 6)}L{n(x + 3)} {n(y - 1)}"
        f'" stroke="{ACCENT}" stroke-width="1.75" fill="none"/>'
    )


def _arrow(frame: _Frame, wide: float, high: float) -> str:
    """Draw beside the sheet which way its pattern stands up."""
    x, low, top = MARGIN * 1.5 + wide, MARGIN + high * 0.62, MARGIN + high * 0.38
    return (
        f'<path d="M{n(x)} {n(low)}L{n(x)} {n(top)}M{n(x - 6)} {n(top + 9)}'
        f'L{n(x)} {n(top)}L{n(x + 6)} {n(top + 9)}" stroke="{ACCENT}" stroke-width="2"'
        ' fill="none"/>' + text("up", x, low + SMALL + 1, SMALL, ACCENT, "700")
    )


def _legend(layout: Layout, numbers: Mapping[str, int], say: Write) -> list[str]:
    lines = []
    names = {placed.piece for placed in layout.placements}
    for name in sorted(names, key=lambda name: numbers[name]):
        placed = [placement for placement in layout.placements if placement.piece == name]
        turned = sum(placement.turned for placement in placed)
        upright = placed[0]
        sides = (upright.width, upright.height)
        if upright.turned:
            sides = (upright.height, upright.width)
        lines.append(
            f"{numbers[name]}: {name}, {_bare(say(sides[0]))} x {say(sides[1])}, "
            f"{len(placed)} on the sheet" + (f", {turned} turned" if turned else "")
        )
    return lines


def _description(layout: Layout, legend: list[str], say: Write) -> str:
    slack = (
        "It needs the full size of the sheet."
        if layout.slack == 0
        else f"The sheet may be up to {say(layout.slack)} smaller."
    )
    return f"{'; '.join(legend)}. {slack}"


def rect(
    x: float, y: float, wide: float, high: float, fill: str, line: float, ink: str = INK
) -> str:
    """Return a rectangle."""
    return (
        f'<rect x="{n(x)}" y="{n(y)}" width="{n(wide)}"'
        f' height="{n(high)}" fill="{fill}" stroke="{ink}" stroke-width="{n(line)}"/>'
    )


def text(words: str, x: float, y: float, size: float, ink: str, weight: str = "400") -> str:
    """Return words around a place."""
    return (
        f'<text x="{n(x)}" y="{n(y)}" font-size="{n(size)}" font-weight="{weight}"'
        f' fill="{ink}" text-anchor="middle">{escape(words)}</text>'
    )


def times_text(times: int) -> str:
    """Say how often a layout is cut."""
    return "once" if times == 1 else f"{times} times"


def _bare(length: str) -> str:
    """Return a length without its unit, for the first of two."""
    return length.rsplit(" ", 1)[0]


def _plain(value: Decimal) -> str:
    said = f"{value:f}"
    return said.rstrip("0").rstrip(".") if "." in said else said


def n(value: float) -> str:
    """Write a place in a drawing."""
    return f"{value:.6g}"
