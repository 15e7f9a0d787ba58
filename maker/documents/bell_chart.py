"""A bell curve: how likely a figure is, with the part that is good enough hatched."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape

from maker.documents.charts import ACCENT, INK, SOFT

WIDTH, HEIGHT = 720, 230
LEFT, RIGHT, TOP, GROUND = 16, 704, 34, 178
_SPREADS = 3.2  # how far the curve is drawn on both sides
# a limit farther out stands at the edge with an arrow: the curve and its words need the room
_FARTHEST = 5.0
_STEPS = 96


@dataclass(frozen=True, slots=True)
class Limit:
    """A value marked by an upright line, with its words above (or below) the curve."""

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

    def x(value: float) -> float:
        return LEFT + (value - low) / (high - low) * (RIGHT - LEFT)

    def y(value: float) -> float:
        return GROUND - math.exp(-(((value - mean) / spread) ** 2) / 2) * (GROUND - TOP)

    def curve(start: float, end: float) -> str:
        values = [start + (end - start) * step / _STEPS for step in range(_STEPS + 1)]
        return "L".join(f"{x(value):.1f} {y(value):.1f}" for value in values)

    good = min(max(good_up_to, low), high)
    parts = [
        f'<svg class="chart quantity-chart" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" '
        f'aria-labelledby="{name}-title {name}-description" xmlns="http://www.w3.org/2000/svg">',
        f'<title id="{name}-title">{escape(title)}</title>',
        f'<desc id="{name}-description">{escape(description)}</desc>',
        f'<defs><pattern id="{name}-good" width="8" height="8" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><path d="M0 0V8" stroke="{ACCENT}" stroke-width="3"/>'
        "</pattern></defs>",
        f'<path d="M{x(low):.1f} {GROUND}L{curve(low, good)}L{x(good):.1f} {GROUND}Z" '
        f'fill="url(#{name}-good)"/>',
        f'<path d="M{curve(low, high)}" fill="none" stroke="{INK}" stroke-width="2.5"/>',
        f'<line x1="{LEFT}" y1="{GROUND}" x2="{RIGHT}" y2="{GROUND}" stroke="{INK}"/>',
    ]
    for limit, value in zip(limits, marked, strict=True):
        dashes = "" if limit.is_main else ' stroke-dasharray="6 4"'
        place = x(value)
        text = limit.text
        if value != limit.value:
            text = f"{text} →" if limit.value > value else f"← {text}"
        top = TOP - 8 if limit.is_main else TOP + 40
        parts.append(
            f'<line x1="{place:.1f}" y1="{top}" x2="{place:.1f}" y2="{GROUND + 6}" '
            f'stroke="{ACCENT if limit.is_main else INK}" '
            f'stroke-width="{3 if limit.is_main else 1.5}"{dashes}/>'
        )
        anchor = "start" if place < 120 else "end" if place > WIDTH - 120 else "middle"
        level = TOP - 14 if limit.is_main else GROUND + 24
        parts.append(
            f'<text x="{place:.1f}" y="{level}" text-anchor="{anchor}" font-size="14" '
            f'fill="{INK}">{escape(text)}</text>'
        )
        if not limit.is_main:
            parts.append(
                f'<text x="{place:.1f}" y="{level + 18}" text-anchor="{anchor}" font-size="14" '
                f'fill="{SOFT}">{escape(tick_text(limit.value))}</text>'
            )
    return "".join([*parts, "</svg>"])
