"""Charts drawn on the server: numbers in, SVG text out, the same for a page and a PDF.

Every chart stands beside a table with the same figures; its title and description say in words
what it shows.
"""

import datetime
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape
from itertools import pairwise

INK = "#1f2747"
SOFT = "#4c5370"
HAIRLINE = "#d8cdb6"
ACCENT = "#0b6b5d"

# across in percent, so that it is as wide as its place while its words keep their size
HEIGHT = 260
LEFT, RIGHT = 16.0, 97.0
TOP, BOTTOM = 20, 44


@dataclass(frozen=True, slots=True)
class Point:
    """One value of a day, and how it is written."""

    on: datetime.date
    value: float
    value_text: str


def line_chart(
    points: Sequence[Point],
    *,
    title: str,
    description: str,
    tick_text: Callable[[float], str],
    name: str = "chart",
) -> str:
    """Draw values over days as a line with a dot each, the scale starting at zero.

    Starting at zero shows a rise of a tenth as a tenth. `name` keeps ids apart when a page has
    two charts. Without points the answer is empty.
    """
    if not points:
        return ""
    ticks = _ticks(max(point.value for point in points))
    first, last = points[0].on, points[-1].on
    days = max((last - first).days, 1)

    def x(on: datetime.date) -> float:
        if first == last:
            return (LEFT + RIGHT) / 2
        return LEFT + (on - first).days / days * (RIGHT - LEFT)

    def y(value: float) -> float:
        return HEIGHT - BOTTOM - value / ticks[-1] * (HEIGHT - TOP - BOTTOM)

    places = [(x(point.on), y(point.value), point) for point in points]
    parts = [
        f'<svg class="chart" width="100%" height="{HEIGHT}" role="img" '
        f'aria-labelledby="{name}-title {name}-description" xmlns="http://www.w3.org/2000/svg">',
        f'<title id="{name}-title">{escape(title)}</title>',
        f'<desc id="{name}-description">{escape(description)}</desc>',
    ]
    for tick in ticks:
        stroke = INK if tick == 0 else HAIRLINE
        parts.append(_line((LEFT, y(tick)), (RIGHT, y(tick)), f'stroke="{stroke}"'))
        parts.append(_text(LEFT - 1.5, y(tick) + 5, tick_text(tick), anchor="end"))
    for one, other in pairwise(places):
        stroke = f'stroke="{ACCENT}" stroke-width="3" stroke-linecap="round"'
        parts.append(_line(one[:2], other[:2], stroke))
    for across, up, point in places:
        parts.append(
            f'<circle cx="{across:.2f}%" cy="{up:.1f}" r="5" fill="{INK}">'
            f"<title>{escape(_day(point.on))}: {escape(point.value_text)}</title></circle>"
        )
    if first == last:
        parts.append(_text(x(first), HEIGHT - 14, _day(first), anchor="middle"))
    else:
        parts.append(_text(LEFT, HEIGHT - 14, _day(first), anchor="start"))
        parts.append(_text(RIGHT, HEIGHT - 14, _day(last), anchor="end"))
    return "".join([*parts, "</svg>"])


def _line(start: tuple[float, float], end: tuple[float, float], stroke: str) -> str:
    (x1, y1), (x2, y2) = start, end
    return f'<line x1="{x1:.2f}%" y1="{y1:.1f}" x2="{x2:.2f}%" y2="{y2:.1f}" {stroke}/>'


def _text(x: float, y: float, words: str, *, anchor: str) -> str:
    return (
        f'<text x="{x:.2f}%" y="{y:.1f}" text-anchor="{anchor}" font-size="15" '
        f'fill="{SOFT}">{escape(words)}</text>'
    )


def _day(on: datetime.date) -> str:
    return f"{on.day} {on:%b %Y}"


def _ticks(most: float, wanted: int = 4) -> list[float]:
    """Return round numbers from 0 to at least `most`: steps of 1, 2 or 5 times a power of ten."""
    if most <= 0:
        return [0.0, 1.0]
    rough = most / wanted
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(nice * power for nice in (1, 2, 5, 10) if nice * power >= rough * (1 - 1e-9))
    count = math.ceil(most / step - 1e-9)
    return [step * number for number in range(count + 1)]
