"""The axis of every chart: round numbers, labels that keep apart, from zero or visibly broken."""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from html import escape

from maker.documents.svg import GROUND, HAIRLINE, INK, line, text

# a figure is about so wide, measured by the size of its letters; common practice, no source
LETTER = 0.55
# values within this share of the largest are seen only on a scale that does not begin at zero
_CLOSE_TOGETHER = 0.4


@dataclass(frozen=True, slots=True)
class Axis:
    """A stretch of values and where it lies: `low` at `start`, `high` at `end` of the drawing.

    An upright axis ends at the smaller number, because a drawing counts from above. `is_log` is
    for quantities, of which a dozen more matters less at 200.
    """

    low: float
    high: float
    start: float
    end: float
    ticks: tuple[float, ...]
    is_log: bool = False

    @property
    def is_broken(self) -> bool:
        """Whether zero was left out, which the drawing must show."""
        return self.low > 0 and not self.is_log

    def at(self, value: float) -> float:
        """Return where a value lies; in the middle when there is only one value."""
        if self.high == self.low:
            return (self.start + self.end) / 2
        if self.is_log:
            share = math.log(value / self.low) / math.log(self.high / self.low)
        else:
            share = (value - self.low) / (self.high - self.low)
        return self.start + share * (self.end - self.start)


def axis_of(
    values: Iterable[float], start: float, end: float, *, wanted: int = 4, may_break: bool = False
) -> Axis:
    """Return an axis with round numbers that shows every value, and zero.

    With `may_break` zero is left out when all values lie close together far above it: small
    changes of a large figure would not be seen otherwise.
    """
    known = list(values)
    least, most = min(known), max(known)
    reach = most - least
    if may_break and least > 0 and reach <= most * _CLOSE_TOGETHER:
        least -= reach or most * 0.1
    else:
        least, most = min(least, 0.0), max(most, 0.0)
    ticks = round_ticks(least, most, wanted) if most > least else (least, least + 1.0)
    return Axis(ticks[0], ticks[-1], start, end, ticks)


def axis_of_quantities(first: int, last: int, start: float, end: float) -> Axis:
    """Return a logarithmic axis from the first to the last quantity, with round ones between."""
    between = [nice * 10**power for power in range(len(str(last))) for nice in (1, 2, 5)]
    ticks = sorted({first, last, *(tick for tick in between if first < tick < last)})
    return Axis(first, last, start, end, tuple(ticks), is_log=True)


def round_ticks(least: float, most: float, wanted: int = 4) -> tuple[float, ...]:
    """Return round numbers around all between: steps of 1, 2 or 5 times a power of ten."""
    rough = (most - least) / wanted
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(nice * power for nice in (1, 2, 5, 10) if nice * power >= rough * (1 - 1e-9))
    first, last = math.floor(least / step + 1e-9), math.ceil(most / step - 1e-9)
    return tuple(step * number for number in range(first, last + 1))


def labels_apart(
    labels: Sequence[tuple[float, str]], letter: float, edges: tuple[float, float]
) -> list[tuple[float, str]]:
    """Return the middle of each label that keeps apart from the others.

    Labels stay between the edges. The first and the last are always there; of those between,
    what leaves room for its neighbours. `letter` is the width of a letter in units of the places.
    """

    def half(label: tuple[float, str]) -> float:
        return len(label[1]) * letter / 2

    def meet(one: tuple[float, str], other: tuple[float, str]) -> bool:
        return other[0] - one[0] < half(one) + half(other) + letter

    low, high = edges
    inside = [
        (min(max(place, low + half((place, words))), high - half((place, words))), words)
        for place, words in labels
    ]
    if len(inside) < 3:
        return inside
    kept = inside[:1]
    for label in inside[1:-1]:
        if not meet(kept[-1], label) and not meet(label, inside[-1]):
            kept.append(label)
    return [*kept, inside[-1]]


def upright(
    axis: Axis,
    left: float,
    right: float,
    tick_text: Callable[[float], str],
    *,
    unit: str = "",
    size: int = 14,
) -> list[str]:
    """Draw a hairline for each round number from left to right, its words to the left of it."""
    drawn = []
    gap = 1.5 if unit else 8
    for tick in axis.ticks:
        y = axis.at(tick)
        stroke = INK if tick == 0 else HAIRLINE
        drawn.append(
            line((f"{left:.2f}{unit}", y), (f"{right:.2f}{unit}", y), f'stroke="{stroke}"')
        )
        place = f"{left - gap:.2f}{unit}"
        drawn.append(text(place, y + 5, tick_text(tick), anchor="end", size=size))
    return drawn


def lying(
    axis: Axis, y: float, tick_text: Callable[[float], str], *, width: float, size: int = 14
) -> list[str]:
    """Draw the line at y with its ticks, and words below those that have room for them.

    The words stay within the width of the drawing. A broken axis has its mark at the beginning.
    """
    drawn = [line((f"{axis.start:.1f}", y), (f"{axis.end:.1f}", y), f'stroke="{INK}"')]
    for tick in axis.ticks:
        at = f"{axis.at(tick):.1f}"
        drawn.append(line((at, y), (at, y + 5), f'stroke="{INK}"'))
    labels = [(axis.at(tick), tick_text(tick)) for tick in axis.ticks]
    for middle, words in labels_apart(labels, size * LETTER, (0, width)):
        drawn.append(text(f"{middle:.1f}", y + 7 + size, words, size=size))
    if axis.is_broken:
        drawn.append(break_mark(axis.start + 10, y - 5, y + 5, f"from {tick_text(axis.low)}"))
    return drawn


def break_mark(x: float, top: float, bottom: float, words: str) -> str:
    """Draw two slanted strokes: what they cross does not begin at zero, which `words` say."""
    stroke = f"{bottom:.1f}l6 {top - bottom:.1f}"
    return (
        f"<g><title>{escape(words)}</title>"
        f'<path d="M{x - 1.5:.1f} {stroke}" stroke="{GROUND}" stroke-width="4"/>'
        f'<path d="M{x - 4:.1f} {stroke}M{x + 1:.1f} {stroke}" stroke="{INK}" stroke-width="1.2"/>'
        "</g>"
    )
