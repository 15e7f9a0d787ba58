"""What a length or an area of glue takes, by the metre, or by the yard where inches are measured.

Kept is the amount of one metre or square metre. 1 yd = 0.9144 m exactly (international yard and
pound agreement, 1959; NIST Special Publication 811, appendix B.8).
"""

from decimal import ROUND_HALF_UP, Decimal

from maker.calc.amounts import M_PER_YARD, PLACES, fewest_decimals
from maker.calc.units import format_number


def rate_per(measure: str, lengths: str) -> str:
    """Return what the rate of a measure is for: `metre`, `square yard`; empty for no glue."""
    power = _power(measure)
    length = "yard" if lengths == "in" else "metre"
    return {0: "", 1: length, 2: f"square {length}"}[power]


def kept_rate(typed: Decimal, measure: str, lengths: str) -> Decimal:
    """Return a rate as it is kept, by the metre or square metre, six decimals half up."""
    return (typed / _metres(measure, lengths)).quantize(PLACES, ROUND_HALF_UP).normalize() + 0


def told_rate(kept: Decimal, measure: str, lengths: str) -> Decimal:
    """Return a kept rate with as few decimals as `kept_rate` needs to give it back."""
    factor = _metres(measure, lengths)
    if factor == 1:
        return kept
    return fewest_decimals(kept * factor, lambda told: kept_rate(told, measure, lengths) == kept)


def rate_words(kept: Decimal, measure: str, lengths: str, locale: str = "en_GB") -> str:
    """Write a rate without its unit of glue, to four decimals: `2.8346`."""
    return format_number(told_rate(kept, measure, lengths), locale, 4)


def _power(measure: str) -> int:
    if measure.endswith("bead"):
        return 1
    return 2 if measure.endswith("area") else 0


def _metres(measure: str, lengths: str) -> Decimal:
    """Return how much of a metre or square metre one unit of a rate is for."""
    return M_PER_YARD ** _power(measure) if lengths == "in" else Decimal(1)
