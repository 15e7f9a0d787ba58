"""A bridge from one figure to another: what was added and taken away, one row under the other.

Told apart without colour: the two figures are solid, what is added is hatched and has a plus, what
is taken away is dotted and has a minus.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape

from maker.documents.charts import HAIRLINE, INK, SOFT

# in units of the viewBox; narrow enough to be read on a phone without scrolling
WIDTH, ROW, TOP, FOOT = 420, 46, 2, 26
LEFT, RIGHT = 2, 418
_BAR = 21  # from the top of a row to its bar
_LETTERS = 40  # of a label that fit beside its figure


@dataclass(frozen=True, slots=True)
class BridgeStep:
    """One change with its words; `text` has its sign."""

    label: str
    change: float
    text: str


def bridge_chart(
    old: tuple[str, float, str],
    steps: Sequence[BridgeStep],
    new: tuple[str, float, str],
    *,
    title: str,
    description: str,
    tick_text: Callable[[float], str],
    name: str = "bridge",
) -> str:
    """Draw the old figure, every step from where the one before ended, and the new figure.

    `old` and `new` are a label, a value and its text. Small changes of a large figure would not be
    seen from zero on, so the scale then begins higher, with its beginning written below.
    """
    reached = [old[1]]
    for step in steps:
        reached.append(reached[-1] + step.change)
    low, high = _scale(min(*reached, new[1]), max(*reached, new[1]))

    def x(value: float) -> float:
        return LEFT + (value - low) / (high - low) * (RIGHT - LEFT)

    rows = len(steps) + 2
    height = TOP + rows * ROW + FOOT
    parts = [
        f'<svg class="chart bridge-chart" viewBox="0 0 {WIDTH} {height}" role="img" '
        f'aria-labelledby="{name}-title {name}-description" xmlns="http://www.w3.org/2000/svg">',
        f'<title id="{name}-title">{escape(title)}</title>',
        f'<desc id="{name}-description">{escape(description)}</desc>',
        f'<defs><pattern id="{name}-more" width="7" height="7" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><path d="M0 0V7" stroke="{INK}" stroke-width="4"/>'
        f'</pattern><pattern id="{name}-less" width="6" height="6" patternUnits="userSpaceOnUse">'
        f'<circle cx="3" cy="3" r="1.1" fill="{INK}"/></pattern></defs>',
        f'<line x1="{LEFT}" y1="{TOP}" x2="{LEFT}" y2="{height - FOOT}" stroke="{HAIRLINE}"/>',
        _text(LEFT, height - 8, tick_text(low), "start"),
        _text(RIGHT, height - 8, tick_text(high), "end"),
    ]
    parts += _row(0, old[0], (low, old[1]), old[2], x, f'fill="{INK}"')
    for place, step in enumerate(steps, 1):
        before, after = reached[place - 1], reached[place]
        look = "more" if step.change >= 0 else "less"
        parts += _row(
            place, step.label, (before, after), step.text, x, f'fill="url(#{name}-{look})"'
        )
        parts.append(_joint(place - 1, x(before)))
    parts.append(_joint(len(steps), x(reached[-1])))
    parts += _row(rows - 1, new[0], (low, new[1]), new[2], x, f'fill="{INK}"')
    return "".join([*parts, "</svg>"])


def _scale(low: float, high: float) -> tuple[float, float]:
    """Return where the scale begins and ends; at zero unless all lies far above it."""
    reach = high - low
    if low <= 0 or reach > high * 0.4:
        return min(low, 0.0), high if high > min(low, 0.0) else min(low, 0.0) + 1.0
    room = reach or high * 0.1
    step = 10.0 ** math.floor(math.log10(room))
    return max(math.floor((low - room) / step) * step, 0.0), high


def _row(
    place: int,
    label: str,
    between: tuple[float, float],
    text: str,
    x: Callable[[float], float],
    look: str,
) -> list[str]:
    top = TOP + place * ROW
    start, end = sorted(x(value) for value in between)
    width = max(end - start, 1.5)
    short = label if len(label) <= _LETTERS else label[: _LETTERS - 1].rstrip() + "…"
    return [
        _text(LEFT, top + 15, short, "start", INK),
        _text(RIGHT, top + 15, text, "end", INK),
        f'<rect x="{start:.1f}" y="{top + _BAR}" width="{width:.1f}" height="{ROW - _BAR - 4}" '
        f'{look} stroke="{INK}" stroke-width="1.2"><title>{escape(label)}: {escape(text)}</title>'
        "</rect>",
    ]


def _joint(place: int, across: float) -> str:
    """Return the line from the end of a bar to the beginning of the next."""
    end = TOP + (place + 1) * ROW - 4
    return (
        f'<line x1="{across:.1f}" y1="{end}" x2="{across:.1f}" y2="{end + _BAR + 4}" '
        f'stroke="{SOFT}" stroke-dasharray="2 2"/>'
    )


def _text(x: float, y: float, words: str, anchor: str, colour: str = SOFT) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="14" '
        f'fill="{colour}">{escape(words)}</text>'
    )
