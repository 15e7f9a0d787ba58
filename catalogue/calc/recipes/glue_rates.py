"""What a length or an area of glue takes, by the metre, or by the yard where inches are measured.

Kept is the amount of one metre or square metre. 1 yd = 0.9144 m exactly (international yard and
pound agreement, 1959; NIST Special Publication 811, appendix B.8).
"""

from decimal import ROUND_HALF_UP, Decimal

from maker.calc.amounts import M_PER_YARD, PLACES
from maker.calc.units import format_number

# decimals that a number is read with
READ_PLACES = 9


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
    for places in range(READ_PLACES):
        told = round(kept * factor, places)
        if kept_rate(told, measure, lengths) == kept:
            return told
    return round(kept * factor, READ_PLACES)


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
