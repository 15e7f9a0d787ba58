"""From one figure to another: what was added and taken away, one row under the other.

Told apart without colour: the two figures are solid, what is added is hatched and has a plus, what
is taken away is dotted and has a minus.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape

from maker.documents.axis import LETTER, axis_of, break_mark, lying
from maker.documents.svg import HAIRLINE, INK, SOFT, line, opened, text

# in units of the viewBox; narrow enough to be read on a phone without scrolling
WIDTH, ROW, TOP, FOOT = 420, 46, 2, 30
LEFT, RIGHT = 2, 418
_BAR = 21  # from the top of a row to its bar
_LETTERS = 40  # of a label that fit beside its figure


@dataclass(frozen=True, slots=True)
class HistoryStep:
    """One change with its words; `text` has its sign."""

    label: str
    change: float
    text: str


def history_chart(
    old: tuple[str, float, str],
    steps: Sequence[HistoryStep],
    new: tuple[str, float, str],
    *,
    title: str,
    description: str,
    tick_text: Callable[[float], str],
    name: str = "history",
) -> str:
    """Draw the old figure, every step from where the one before ended, and the new figure.

    `old` and `new` are a label, a value and its text. Small changes of a large figure would not be
    seen from zero on, so the scale then begins higher, which two strokes across the bars say.
    """
    reached = _reached(old[1], steps)
    axis = axis_of([*reached, new[1]], LEFT, RIGHT, may_break=True)
    low, x = axis.low, axis.at

    rows = len(steps) + 2
    height = TOP + rows * ROW + FOOT
    parts = [
        opened(
            name,
            title,
            description,
            look="chart history-chart",
            size=f'viewBox="0 0 {WIDTH} {height}"',
        ),
        f'<defs><pattern id="{name}-more" width="7" height="7" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><path d="M0 0V7" stroke="{INK}" stroke-width="4"/>'
        f'</pattern><pattern id="{name}-less" width="6" height="6" patternUnits="userSpaceOnUse">'
        f'<circle cx="3" cy="3" r="1.1" fill="{INK}"/></pattern></defs>',
    ]
    for tick in axis.ticks:
        at = f"{x(tick):.1f}"
        parts.append(line((at, TOP), (at, height - FOOT), f'stroke="{HAIRLINE}"'))
    parts += lying(axis, height - FOOT, tick_text, width=WIDTH)
    parts += _row(0, old[0], (low, old[1]), old[2], x, f'fill="{INK}"')
    for place, step in enumerate(steps, 1):
        before, after = reached[place - 1], reached[place]
        look = "more" if step.change >= 0 else "less"
        parts += _row(
            place, step.label, (before, after), step.text, x, f'fill="url(#{name}-{look})"'
        )
        parts += _joint(place - 1, x(before), step.label, step.text)
    parts += _joint(len(steps), x(reached[-1]), new[0], new[2])
    parts += _row(rows - 1, new[0], (low, new[1]), new[2], x, f'fill="{INK}"')
    if axis.is_broken:
        for place in (0, rows - 1):
            top = TOP + place * ROW + _BAR
            said = f"The bar begins at {tick_text(low)}, not at zero"
            parts.append(break_mark(LEFT + 10, top - 3, top + ROW - _BAR - 1, said))
    return "".join([*parts, "</svg>"])


def scale_start(old: float, steps: Sequence[HistoryStep], new: float) -> float:
    """Return where the scale of such a chart begins: 0, or above it when zero is left out."""
    return axis_of([*_reached(old, steps), new], LEFT, RIGHT, may_break=True).low


def _reached(old: float, steps: Sequence[HistoryStep]) -> list[float]:
    reached = [old]
    for step in steps:
        reached.append(reached[-1] + step.change)
    return reached


def _row(
    place: int,
    label: str,
    between: tuple[float, float],
    figure: str,
    x: Callable[[float], float],
    look: str,
) -> list[str]:
    top = TOP + place * ROW
    start, end = sorted(x(value) for value in between)
    width = max(end - start, 1.5)
    return [
        text(str(LEFT), top + 15, _short(label), anchor="start", colour=INK),
        text(str(RIGHT), top + 15, figure, anchor="end", colour=INK),
        f'<rect x="{start:.1f}" y="{top + _BAR}" width="{width:.1f}" height="{ROW - _BAR - 4}" '
        f'{look} stroke="{INK}" stroke-width="1.2"><title>{escape(label)}: {escape(figure)}</title>'
        "</rect>",
    ]


def _short(label: str) -> str:
    return label if len(label) <= _LETTERS else label[: _LETTERS - 1].rstrip() + "…"


def _joint(place: int, across: float, label: str, figure: str) -> list[str]:
    """Return the line from the end of a bar to the next one, open where the next row has words."""
    end, at = TOP + (place + 1) * ROW - 4, f"{across:.1f}"
    letter = 14 * LETTER
    is_free = LEFT + len(_short(label)) * letter < across < RIGHT - len(figure) * letter
    stretches = ((end, end + _BAR + 4),) if is_free else ((end, end + 7), (end + 21, end + 25))
    look = f'stroke="{SOFT}" stroke-dasharray="2 2"'
    return [line((at, top), (at, bottom), look) for top, bottom in stretches]
