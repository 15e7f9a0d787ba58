"""A margin as a mark-up, and a price before a share of it was taken off.

Shares are 0 to 1 (a mark-up may be more). A margin of 0.25 is a mark-up of a third: the margin is
on the price, the mark-up on the cost.
"""

from decimal import Decimal

from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal


class NothingToCompareWith(Refusal):
    """A share of nothing is not a number."""


@with_working_precision
def markup_from_margin(margin: Decimal) -> Decimal:
    """Turn a margin below 1 into the mark-up of the same price: m / (1 - m)."""
    if margin >= 1:
        raise NothingToCompareWith("No mark-up gives a margin of 100% or more.", where="margin")
    return margin / (1 - margin)


@with_working_precision
def before_discount(price: Decimal, discount: Decimal) -> Decimal:
    """Return the price before a share below 1 was taken off."""
    if discount >= 1:
        raise NothingToCompareWith("A discount of 100% leaves nothing.", where="discount")
    return price / (1 - discount)
