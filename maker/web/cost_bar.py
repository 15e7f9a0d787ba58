"""Where the parts of a cost bar begin and end, and how each is told apart."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

PATTERNS = 8  # templates/components/_patterns.html draws this many
STEPS = 10_000  # places along the bar: hundredths of a percent


@dataclass(frozen=True, slots=True)
class BarPart:
    """One amount of the bar and how it is written."""

    label: str
    amount: Decimal
    value_text: str


@dataclass(frozen=True, slots=True)
class Segment:
    """One part in its place; `x` and `width` are percent of the bar, as SVG wants them."""

    label: str
    value_text: str
    share_text: str
    x: str
    width: str
    pattern: int


@dataclass(frozen=True, slots=True)
class CostBar:
    """All parts from left to right, and the amount they make together."""

    segments: tuple[Segment, ...]
    total_text: str


def cost_bar(parts: Sequence[BarPart], *, total_text: str) -> CostBar:
    """Place the parts side by side over the whole width; parts of nothing are left out.

    A part has the pattern of its place among all parts given, so that two bars of the same parts
    look alike even where one has nothing of a part.

    A part that is negative cannot be drawn as a length and is refused with ValueError.
    """
    if any(part.amount < 0 for part in parts):
        raise ValueError("A bar cannot show a negative part.")
    total = sum((part.amount for part in parts), Decimal())
    segments = []
    start = reached = Decimal()
    for number, part in enumerate(parts):
        if not part.amount:
            continue
        reached += part.amount
        # Both ends are rounded from the running sum, so neighbours always touch.
        end = (reached / total * STEPS).to_integral_value()
        segments.append(
            Segment(
                label=part.label,
                value_text=part.value_text,
                share_text=f"{(part.amount / total * 100).quantize(Decimal(1))}%",
                x=f"{start / 100:.2f}",
                width=f"{(end - start) / 100:.2f}",
                pattern=number % PATTERNS + 1,
            )
        )
        start = end
    return CostBar(segments=tuple(segments), total_text=total_text)
