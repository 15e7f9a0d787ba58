"""A chart over quantities: prices as steps, several lines told apart by how they are drawn."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape

from maker.documents.charts import ACCENT, HAIRLINE, INK, SOFT, round_ticks

# in units of the viewBox; the page scales it as a whole down to a phone, where it scrolls
WIDTH, HEIGHT = 720, 300
LEFT, RIGHT, TOP, BOTTOM = 70, 704, 16, 40

_LOOKS = {
    "main": f'stroke="{ACCENT}" stroke-width="3"',
    "thin": f'stroke="{INK}" stroke-width="1.2" stroke-opacity="0.75"',
    "dashed": f'stroke="{INK}" stroke-width="1.5" stroke-dasharray="7 4"',
    "dotted": f'stroke="{SOFT}" stroke-width="1.8" stroke-dasharray="1.5 4"',
}


@dataclass(frozen=True, slots=True)
class Series:
    """Values by quantity, drawn as steps; `look` is main, thin, dashed or dotted."""

    name: str
    look: str
    points: Sequence[tuple[int, float]]


@dataclass(frozen=True, slots=True)
class Mark:
    """A dot at a quantity with words that a pointer shows."""

    quantity: int
    value: float
    text: str


def quantity_chart(
    series: Sequence[Series],
    *,
    title: str,
    description: str,
    tick_text: Callable[[float], str],
    marks: Sequence[Mark] = (),
    name: str = "quantities",
) -> str:
    """Draw steps over a logarithmic scale of quantities, because a dozen more matters less at 200.

    The scale of values starts at zero. A price holds until the next quantity, so lines are
    steps. Without points the answer is empty.
    """
    drawn = [one for one in series if one.points]
    if not drawn:
        return ""
    quantities = [quantity for one in drawn for quantity, _ in one.points]
    first, last = min(quantities), max(quantities)
    ticks = round_ticks(max(value for one in drawn for _, value in one.points))

    def x(quantity: float) -> float:
        if first == last:
            return (LEFT + RIGHT) / 2
        return LEFT + math.log(quantity / first) / math.log(last / first) * (RIGHT - LEFT)

    def y(value: float) -> float:
        return HEIGHT - BOTTOM - value / ticks[-1] * (HEIGHT - TOP - BOTTOM)

    parts = [
        f'<svg class="chart quantity-chart" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" '
        f'aria-labelledby="{name}-title {name}-description" xmlns="http://www.w3.org/2000/svg">',
        f'<title id="{name}-title">{escape(title)}</title>',
        f'<desc id="{name}-description">{escape(description)}</desc>',
    ]
    for tick in ticks:
        stroke = INK if tick == 0 else HAIRLINE
        parts.append(
            f'<line x1="{LEFT}" y1="{y(tick):.1f}" x2="{RIGHT}" y2="{y(tick):.1f}" '
            f'stroke="{stroke}"/>'
        )
        parts.append(_text(LEFT - 8, y(tick) + 5, tick_text(tick), "end"))
    for quantity in _quantity_ticks(first, last):
        parts.append(
            f'<line x1="{x(quantity):.1f}" y1="{y(0):.1f}" x2="{x(quantity):.1f}" '
            f'y2="{y(0) + 5:.1f}" stroke="{INK}"/>'
        )
        parts.append(_text(x(quantity), HEIGHT - 14, str(quantity), "middle"))
    for one in drawn:
        parts.append(
            f'<path d="{_steps(one.points, x, y)}" fill="none" {_LOOKS[one.look]}>'
            f"<title>{escape(one.name)}</title></path>"
        )
    for mark in marks:
        parts.append(
            f'<circle cx="{x(mark.quantity):.1f}" cy="{y(mark.value):.1f}" r="5" fill="{INK}">'
            f"<title>{escape(mark.text)}</title></circle>"
        )
    return "".join([*parts, "</svg>"])


def _steps(
    points: Sequence[tuple[int, float]], x: Callable[[float], float], y: Callable[[float], float]
) -> str:
    path = ""
    level: float | None = None
    for quantity, value in points:
        if level is None:
            path = f"M{x(quantity):.1f} {y(value):.1f}"
        elif value != level:
            path += f"H{x(quantity):.1f}V{y(value):.1f}"
        level = value
    return path + f"H{x(points[-1][0]):.1f}"


def _quantity_ticks(first: int, last: int) -> list[int]:
    """Return the ends and the round numbers in between that leave room for their words."""
    round_ones = [
        nice * 10**power
        for power in range(len(str(last)))
        for nice in (1, 2, 5)
        if first < nice * 10**power < last
    ]
    room = math.log(last / first) / 14 if last > first else 0
    kept = [first]
    for quantity in round_ones:
        if math.log(quantity / kept[-1]) >= room and math.log(last / quantity) >= room:
            kept.append(quantity)
    return kept if last == first else [*kept, last]


def _text(x: float, y: float, words: str, anchor: str) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="14" '
        f'fill="{SOFT}">{escape(words)}</text>'
    )
