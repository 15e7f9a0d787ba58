"""Draws one layout of a cutting plan as SVG: solid cut lines, a number on each kind of piece."""

from __future__ import annotations

from decimal import Decimal
from xml.sax.saxutils import escape

from catalogue.calc.cutting import Layout, SheetKind

PIECE_FILL = "#f4efe6"
SHEET_FILL = "#ffffff"
OFFCUT_FILL = "#e3ddd2"
INK = "#2b2a28"


def draw_layout(layout: Layout, sheet: SheetKind, *, unit: str, number: int, of: int) -> str:
    """Return the SVG text of the layout; `number` and `of` count the layouts of the plan."""
    width, height = float(sheet.width), float(sheet.height)
    step = max(width, height)
    text, line = step / 36, step / 400
    names = sorted({placed.piece for placed in layout.placements})
    numbers = {name: at for at, name in enumerate(names, start=1)}
    legend = _legend(layout, numbers, unit)
    margin = step / 50
    below = text * 1.5 * (len(legend) + 1) + text
    title = f"Layout {number} of {of}: {layout.sheet}, {_times(layout.times)}"
    parts = [
        '<svg xmlns="http://www.w3.org/2000/svg" role="img"'
        f' aria-labelledby="layout-{number}-title layout-{number}-desc"'
        f' viewBox="{_n(-margin)} {_n(-margin)} {_n(width + 2 * margin)}'
        f' {_n(height + 2 * margin + below)}" font-family="sans-serif"'
        f' font-size="{_n(text)}" fill="{INK}">',
        f'<title id="layout-{number}-title">{escape(title)}</title>',
        f'<desc id="layout-{number}-desc">{escape(_description(layout, legend, unit))}</desc>',
        f'<rect width="{_n(width)}" height="{_n(height)}" fill="{SHEET_FILL}"'
        f' stroke="{INK}" stroke-width="{_n(2 * line)}"/>',
    ]
    parts.extend(
        _rect(offcut.x, offcut.y, offcut.width, offcut.height, OFFCUT_FILL, line)
        for offcut in layout.offcuts
    )
    for placed in layout.placements:
        parts.append(_rect(placed.x, placed.y, placed.width, placed.height, PIECE_FILL, 1.5 * line))
        size = min(text, 0.7 * float(min(placed.width, placed.height)))
        parts.append(
            f'<text x="{_n(float(placed.x + placed.width / 2))}"'
            f' y="{_n(float(placed.y + placed.height / 2) + size / 3)}"'
            f' font-size="{_n(size)}" text-anchor="middle">{numbers[placed.piece]}</text>'
        )
    parts.extend(
        f'<text x="0" y="{_n(height + margin + text * 1.5 * at)}">{escape(words)}</text>'
        for at, words in enumerate([title, *legend], start=1)
    )
    parts.append("</svg>")
    return "\n".join(parts) + "\n"


def _legend(layout: Layout, numbers: dict[str, int], unit: str) -> list[str]:
    lines = []
    for name, number in numbers.items():
        placed = [placement for placement in layout.placements if placement.piece == name]
        turned = sum(placement.turned for placement in placed)
        upright = placed[0]
        sides = (upright.width, upright.height)
        if upright.turned:
            sides = (upright.height, upright.width)
        size = f"{_length(sides[0])} x {_length(sides[1])} {unit}"
        lines.append(
            f"{number}: {name}, {size}, {len(placed)} on the sheet"
            + (f", {turned} turned" if turned else "")
        )
    return lines


def _description(layout: Layout, legend: list[str], unit: str) -> str:
    slack = (
        "It needs the full size of the sheet."
        if layout.slack == 0
        else f"The sheet may be up to {_length(layout.slack)} {unit} smaller."
    )
    return f"{'; '.join(legend)}. {slack}"


def _rect(x: Decimal, y: Decimal, width: Decimal, height: Decimal, fill: str, line: float) -> str:
    return (
        f'<rect x="{_n(float(x))}" y="{_n(float(y))}" width="{_n(float(width))}"'
        f' height="{_n(float(height))}" fill="{fill}" stroke="{INK}" stroke-width="{_n(line)}"/>'
    )


def _times(times: int) -> str:
    return "once" if times == 1 else f"{times} times"


def _length(value: Decimal) -> str:
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _n(value: float) -> str:
    return f"{value:.6g}"
