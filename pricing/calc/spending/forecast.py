"""What a month will come to: what was spent, and what earlier months spent after the same date.

The likely amount is the median of the earlier months, the range what eight months of ten kept to:
sample quantiles of type 7 in Hyndman and Fan, Sample Quantiles in Statistical Packages, The
American Statistician 50 (1996). What accepted orders still need is spent at least.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from maker.calc.money import with_working_precision

ZERO = Decimal(0)
LEAST_MONTHS = 6
LOW, MIDDLE, HIGH = Decimal("0.1"), Decimal("0.5"), Decimal("0.9")


@dataclass(frozen=True, slots=True)
class Forecast:
    """What a month will likely come to, and what eight of ten months keep to."""

    low: Decimal
    likely: Decimal
    high: Decimal
    months: int


@with_working_precision
def quantile(values: Sequence[Decimal], share: Decimal) -> Decimal:
    """Return the value below which a share of values lies, between two of them in proportion."""
    ordered = sorted(values)
    place = (len(ordered) - 1) * share
    below = int(place)
    if below + 1 == len(ordered):
        return ordered[below]
    return ordered[below] + (place - below) * (ordered[below + 1] - ordered[below])


@with_working_precision
def month_forecast(spent: Decimal, committed: Decimal, rests: Sequence[Decimal]) -> Forecast | None:
    """Return what a month will come to; None with fewer than six earlier months.

    `rests` are what earlier whole months spent after the same date.
    """
    if len(rests) < LEAST_MONTHS:
        return None
    low, likely, high = (
        spent + max(quantile(rests, share), committed) for share in (LOW, MIDDLE, HIGH)
    )
    return Forecast(low, likely, high, len(rests))
