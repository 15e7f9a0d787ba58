"""A chart over quantities: prices as steps, several lines told apart by how they are drawn."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape

from maker.documents.axis import LETTER, axis_of, axis_of_quantities, lying, upright
from maker.documents.svg import ACCENT, INK, SOFT, opened

# in units of the viewBox; the page scales it as a whole down to a phone, where it scrolls
WIDTH, HEIGHT = 720, 300
RIGHT, TOP, GROUND_LINE = 704, 16, 262

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
    values = axis_of([value for one in drawn for _, value in one.points], GROUND_LINE, TOP)
    left = max(len(tick_text(tick)) for tick in values.ticks) * 14 * LETTER + 12
    across = axis_of_quantities(min(quantities), max(quantities), left, RIGHT)
    x, y = across.at, values.at
    parts = [
        opened(
            name,
            title,
            description,
            look="chart quantity-chart",
            size=f'viewBox="0 0 {WIDTH} {HEIGHT}"',
        ),
        *upright(values, left, RIGHT, tick_text),
        *lying(across, y(0), "{:.0f}".format, width=WIDTH),
    ]
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
