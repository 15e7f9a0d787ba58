"""Charts drawn on the server: numbers in, SVG text out, the same for a page and a PDF.

Every chart stands beside a table with the same figures; its title and description say in words
what it shows.
"""

import datetime
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape
from itertools import pairwise

from maker.documents.axis import LETTER, Axis, axis_of, labels_apart, upright
from maker.documents.svg import ACCENT, GROUND, INK, SOFT, line, opened, text

# across in percent, so that it is as wide as its place while its words keep their size
HEIGHT = 260
RIGHT = 97.0
TOP, GROUND_LINE = 20, 216
SIZE = 15
# a letter in percent of the narrowest place, a phone's
_LETTER = 100 * SIZE * LETTER / 320


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
    first, last = points[0].on, points[-1].on
    days = max((last - first).days, 1)
    values = axis_of([point.value for point in points], GROUND_LINE, TOP)
    left = _left(values, tick_text)

    def x(on: datetime.date) -> float:
        if first == last:
            return (left + RIGHT) / 2
        # a dot at the edge keeps clear of the figures beside it
        return left + 2 + (on - first).days / days * (RIGHT - left - 4)

    places = [(x(point.on), values.at(point.value), point) for point in points]
    parts = [_opened(name, title, description)]
    parts += upright(values, left, RIGHT, tick_text, unit="%", size=SIZE)
    for one, other in pairwise(places):
        look = f'stroke="{ACCENT}" stroke-width="3" stroke-linecap="round"'
        parts.append(line((f"{one[0]:.2f}%", one[1]), (f"{other[0]:.2f}%", other[1]), look))
    for across, up, point in places:
        parts.append(
            f'<circle cx="{across:.2f}%" cy="{up:.1f}" r="5" fill="{INK}">'
            f"<title>{escape(_day(point.on))}: {escape(point.value_text)}</title></circle>"
        )
    foot = HEIGHT - 14
    if first == last:
        parts.append(text(f"{x(first):.2f}%", foot, _day(first), size=SIZE))
    else:
        parts.append(text(f"{left:.2f}%", foot, _day(first), anchor="start", size=SIZE))
        parts.append(text(f"{RIGHT:.2f}%", foot, _day(last), anchor="end", size=SIZE))
    return "".join([*parts, "</svg>"])


def _opened(name: str, title: str, description: str, role: str = "img") -> str:
    size = f'width="100%" height="{HEIGHT}"'
    return opened(name, title, description, look="chart", size=size, role=role)


def _left(values: Axis, tick_text: Callable[[float], str]) -> float:
    """Return where the drawing begins, so that the longest figure fits beside it on a phone."""
    return max(len(tick_text(tick)) for tick in values.ticks) * _LETTER + 3


def _day(on: datetime.date) -> str:
    return f"{on.day} {on:%b %Y}"


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar of parts from the ground up, each a value and its words.

    `initial` is under it, and `under` (a year, say) below that where it begins; `name` is
    what it is called in full. `mark` is a line across it, `before` a dashed outline beside it.
    With an `href` a tap on it leads there.
    """

    name: str
    initial: str
    under: str
    parts: Sequence[tuple[float, str]]
    mark: tuple[float, str] | None = None
    before: tuple[float, str] | None = None
    href: str = ""


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
    values = axis_of([*heights, *lines], GROUND_LINE, TOP)
    left = _left(values, tick_text)
    place = (RIGHT - left) / len(bars)

    role = "group" if any(bar.href for bar in bars) else "img"
    parts = [_opened(name, title, description, role), f"<defs>{patterns}</defs>"]
    parts += upright(values, left, RIGHT, tick_text, unit="%", size=SIZE)
    starts = [left + number * place for number in range(len(bars))]
    for start, bar in zip(starts, bars, strict=True):
        drawn = "".join(_bar(bar, start, place, values.at, name))
        if bar.href and drawn:
            drawn = f'<a href="{escape(bar.href)}" aria-label="{escape(bar.name)}">{drawn}</a>'
        parts.append(drawn)
        if bar.under:
            parts.append(text(f"{start:.2f}%", HEIGHT - 8, bar.under, anchor="start", size=SIZE))
    initials = [(start + place / 2, bar.initial) for start, bar in zip(starts, bars, strict=True)]
    for across, words in labels_apart(initials, _LETTER, (0, 100)):
        parts.append(text(f"{across:.2f}%", HEIGHT - 26, words, size=SIZE))
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
        up = y(bar.mark[0])
        ends = (f"{start:.2f}%", up), (f"{start + place:.2f}%", up)
        drawn.append(line(*ends, f'stroke="{GROUND}" stroke-width="6"'))
        drawn.append(line(*ends, f'stroke="{INK}" stroke-width="2.5"'))
    return drawn


def _rect(
    top_left: tuple[float, float], bottom_right: tuple[float, float], look: str, words: str
) -> str:
    (x1, y1), (x2, y2) = top_left, bottom_right
    return (
        f'<rect x="{x1:.2f}%" y="{y1:.1f}" width="{x2 - x1:.2f}%" height="{y2 - y1:.1f}" {look}>'
        f"<title>{escape(words)}</title></rect>"
    )
