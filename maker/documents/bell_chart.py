"""A bell curve: how likely a figure is, with the part that is good enough hatched."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from maker.documents.axis import LETTER, Axis, lying, round_ticks
from maker.documents.svg import ACCENT, INK, line, opened, text

WIDTH, HEIGHT = 720, 256
LEFT, RIGHT, TOP, GROUND_LINE = 16, 704, 34, 178
_SPREADS = 3.2  # how far the curve is drawn on both sides
# a limit farther out is drawn at the edge with an arrow: the curve and its words need the room
_FARTHEST = 5.0
_STEPS = 96


@dataclass(frozen=True, slots=True)
class Limit:
    """A value marked by an pipe |, with its words above (or below) the curve."""

    value: float
    text: str
    is_main: bool = False


def bell_chart(
    mean: float,
    spread: float,
    *,
    good_up_to: float,
    limits: Sequence[Limit],
    title: str,
    description: str,
    tick_text: Callable[[float], str],
    name: str = "bell",
) -> str:
    """Draw the normal curve of a figure; what is not above `good_up_to` is hatched.

    Without a spread there is nothing to draw and the answer is empty.
    """
    if spread <= 0:
        return ""
    least, most = mean - _FARTHEST * spread, mean + _FARTHEST * spread
    marked = [min(max(limit.value, least), most) for limit in limits]
    low = min(mean - _SPREADS * spread, *marked)
    high = max(mean + _SPREADS * spread, *marked)

    inside = [tick for tick in round_ticks(low, high, 8) if low <= tick <= high]
    axis = Axis(low, high, LEFT, RIGHT, tuple(inside))
    x = axis.at

    def y(value: float) -> float:
        return GROUND_LINE - math.exp(-(((value - mean) / spread) ** 2) / 2) * (GROUND_LINE - TOP)

    def curve(start: float, end: float) -> str:
        values = [start + (end - start) * step / _STEPS for step in range(_STEPS + 1)]
        return "L".join(f"{x(value):.1f} {y(value):.1f}" for value in values)

    good = min(max(good_up_to, low), high)
    parts = [
        opened(
            name,
            title,
            description,
            look="chart quantity-chart",
            size=f'viewBox="0 0 {WIDTH} {HEIGHT}"',
        ),
        f'<defs><pattern id="{name}-good" width="8" height="8" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><path d="M0 0V8" stroke="{ACCENT}" stroke-width="3"/>'
        "</pattern></defs>",
        f'<path d="M{x(low):.1f} {GROUND_LINE}L{curve(low, good)}L{x(good):.1f} {GROUND_LINE}Z" '
        f'fill="url(#{name}-good)"/>',
        f'<path d="M{curve(low, high)}" fill="none" stroke="{INK}" stroke-width="2.5"/>',
        *lying(axis, GROUND_LINE, tick_text, width=WIDTH),
    ]
    for limit, value in zip(limits, marked, strict=True):
        parts += _limit(limit, value, x(value), tick_text)
    return "".join([*parts, "</svg>"])


def _limit(
    limit: Limit, shown_at: float, place: float, tick_text: Callable[[float], str]
) -> list[str]:
    """Draw the line of a limit with its words: the main one above, the others below the axis."""
    words = limit.text
    if shown_at != limit.value:
        words = f"{words} →" if limit.value > shown_at else f"← {words}"
    if limit.is_main:
        top, level, look = TOP - 8, TOP - 14, f'stroke="{ACCENT}" stroke-width="3"'
    else:
        top, level = TOP + 40, GROUND_LINE + 48
        look = f'stroke="{INK}" stroke-width="1.5" stroke-dasharray="6 4"'
    half = len(words) * 14 * LETTER / 2
    anchor = "start" if place - half < 0 else "end" if place + half > WIDTH else "middle"
    at = f"{place:.1f}"
    drawn = [
        line((at, top), (at, GROUND_LINE + 5), look),
        text(at, level, words, anchor=anchor, colour=INK),
    ]
    if not limit.is_main:
        drawn.append(text(at, level + 18, tick_text(limit.value), anchor=anchor))
    return drawn
