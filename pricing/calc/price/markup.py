"""Mark-up on cost, margin on price and discount: one turned into another.

Shares are 0 to 1 (a mark-up may be more). A margin of 0.25 is a mark-up of a third: the margin is
on the price, the mark-up on the cost.
"""

from decimal import Decimal

from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal

ONE = Decimal(1)


class NothingToCompareWith(Refusal):
    """A share of nothing is no number."""


@with_working_precision
def price_at_markup(cost: Decimal, markup: Decimal) -> Decimal:
    """Return the price that is the cost and so much of it more."""
    return cost * (1 + markup)


@with_working_precision
def cost_before_markup(price: Decimal, markup: Decimal) -> Decimal:
    """Return the cost that gives this price with this mark-up."""
    return price / (1 + markup)


@with_working_precision
def markup_of(cost: Decimal, price: Decimal) -> Decimal:
    """Return what the price adds to the cost, as a share of the cost."""
    if not cost:
        raise NothingToCompareWith("A mark-up on a cost of nothing is no number.", where="cost")
    return price / cost - 1


@with_working_precision
def margin_of(cost: Decimal, price: Decimal) -> Decimal:
    """Return what is left of the price after the cost, as a share of the price."""
    if not price:
        raise NothingToCompareWith("A margin on a price of nothing is no number.", where="price")
    return 1 - cost / price


@with_working_precision
def markup_from_margin(margin: Decimal) -> Decimal:
    """Turn a margin below 1 into the mark-up of the same price: m / (1 - m)."""
    if margin >= 1:
        raise NothingToCompareWith("No mark-up gives a margin of 100 % or more.", where="margin")
    return margin / (1 - margin)


@with_working_precision
def discounted(price: Decimal, discount: Decimal) -> Decimal:
    """Return the price less a share of it, unrounded."""
    return price * (1 - discount)


@with_working_precision
def before_discount(price: Decimal, discount: Decimal) -> Decimal:
    """Return the price before a share below 1 was taken off."""
    if discount >= 1:
        raise NothingToCompareWith("After a discount of 100 % nothing is left.", where="discount")
    return price / (1 - discount)


@with_working_precision
def discount_between(price: Decimal, reduced: Decimal) -> Decimal:
    """Return which share of the price was taken off."""
    if not price:
        raise NothingToCompareWith("A discount on a price of nothing is no number.", where="price")
    return 1 - reduced / price
