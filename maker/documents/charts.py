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
class ChartPoint:
    """One value of a day, and how it is written."""

    on: datetime.date
    value: float
    value_text: str


def line_chart(
    points: Sequence[ChartPoint],
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
    ticks = round_ticks(max(point.value for point in points))
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


def round_ticks(most: float, wanted: int = 4) -> list[float]:
    """Return round numbers from 0 to at least `most`: steps of 1, 2 or 5 times a power of ten."""
    if most <= 0:
        return [0.0, 1.0]
    rough = most / wanted
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(nice * power for nice in (1, 2, 5, 10) if nice * power >= rough * (1 - 1e-9))
    count = math.ceil(most / step - 1e-9)
    return [step * number for number in range(count + 1)]


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar of parts from the ground up, each a value and its words.

    `initial` stands under it, and `under` (a year, say) below that where it begins; `name` is
    what it is called in full. `mark` is a line across it, `before` a dashed outline beside it.
    """

    name: str
    initial: str
    under: str
    parts: Sequence[tuple[float, str]]
    mark: tuple[float, str] | None = None
    before: tuple[float, str] | None = None


# shares of a bar's place: the outline of before, then the bar itself
_BEFORE_FROM, _BAR_FROM, _BAR_TO = 0.08, 0.30, 0.92


def bar_chart(
    bars: Sequence[Bar],
    *,
    title: str,
    description: str,
    tick_text: Callable[[float], str],
    patterns: str,
    name: str = "chart",
) -> str:
    """Draw bars side by side, the scale starting at zero.

    The n-th part of a bar is filled with the pattern `name-n` out of `patterns`, the SVG text of
    `components/_patterns.html`, so that parts are told apart without colour. Parts must not be
    below zero. Without bars the answer is empty.
    """
    if not bars:
        return ""
    heights = [sum(value for value, _ in bar.parts) for bar in bars]
    lines = [line[0] for bar in bars for line in (bar.mark, bar.before) if line]
    ticks = round_ticks(max([*heights, *lines]))
    place = (RIGHT - LEFT) / len(bars)

    def y(value: float) -> float:
        return HEIGHT - BOTTOM - value / ticks[-1] * (HEIGHT - TOP - BOTTOM)

    parts = [
        f'<svg class="chart" width="100%" height="{HEIGHT}" role="img" '
        f'aria-labelledby="{name}-title {name}-description" xmlns="http://www.w3.org/2000/svg">',
        f'<title id="{name}-title">{escape(title)}</title>',
        f'<desc id="{name}-description">{escape(description)}</desc>',
        f"<defs>{patterns}</defs>",
    ]
    for tick in ticks:
        stroke = INK if tick == 0 else HAIRLINE
        parts.append(_line((LEFT, y(tick)), (RIGHT, y(tick)), f'stroke="{stroke}"'))
        parts.append(_text(LEFT - 1.5, y(tick) + 5, tick_text(tick), anchor="end"))
    for number, bar in enumerate(bars):
        start = LEFT + number * place
        parts += _bar(bar, start, place, y, name)
        parts.append(_text(start + place / 2, HEIGHT - 26, bar.initial, anchor="middle"))
        if bar.under:
            parts.append(_text(start, HEIGHT - 8, bar.under, anchor="start"))
    return "".join([*parts, "</svg>"])


def _bar(bar: Bar, start: float, place: float, y: Callable[[float], float], name: str) -> list[str]:
    drawn = []
    ground = y(0)
    left, right = start + place * _BAR_FROM, start + place * _BAR_TO
    if bar.before and bar.before[0] > 0:
        drawn.append(
            _rect(
                (start + place * _BEFORE_FROM, y(bar.before[0])),
                (left, ground),
                f'fill="none" stroke="{SOFT}" stroke-width="1.5" stroke-dasharray="4 3"',
                f"{bar.name}: {bar.before[1]}",
            )
        )
    reached = 0.0
    for number, (value, words) in enumerate(bar.parts, 1):
        if value > 0:
            drawn.append(
                _rect(
                    (left, y(reached + value)),
                    (right, y(reached)),
                    f'fill="url(#{name}-{number})" stroke="{INK}" stroke-width="1.5"',
                    f"{bar.name}: {words}",
                )
            )
            reached += value
    if bar.mark:
        ends = (start, y(bar.mark[0])), (start + place, y(bar.mark[0]))
        drawn.append(_line(*ends, 'stroke="#fffdf8" stroke-width="6"'))
        drawn.append(_line(*ends, f'stroke="{INK}" stroke-width="2.5"'))
    return drawn


def _rect(
    top_left: tuple[float, float], bottom_right: tuple[float, float], look: str, words: str
) -> str:
    (x1, y1), (x2, y2) = top_left, bottom_right
    return (
        f'<rect x="{x1:.2f}%" y="{y1:.1f}" width="{x2 - x1:.2f}%" height="{y2 - y1:.1f}" {look}>'
        f"<title>{escape(words)}</title></rect>"
    )
