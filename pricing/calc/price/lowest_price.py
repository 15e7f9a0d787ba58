"""The lowest price: from it on, what buyers really pay covers the cost and every fee."""

from decimal import Decimal

from maker.calc.money import HAIR, minor_unit, to_minor, up_to_step, with_working_precision
from pricing.calc.costing.rates import WorkshopRates
from pricing.calc.price.sales import sales_at
from pricing.calc.price.terms import Terms

ZERO = Decimal(0)


@with_working_precision
def rounding_slack(terms: Terms, rates: WorkshopRates) -> Decimal:
    """Return how far rounding to whole coins may move the net price that all sales need.

    For each sale: the fee of each payment, and amounts, taxes, listing fees and commission.
    """
    rounded = terms.sales * (terms.payments + 5)
    return minor_unit(rates.currency_digits) * rounded / 2 / terms.kept_at_floor


@with_working_precision
def left_at(
    price_each: Decimal, cost: Decimal, quantity: int, terms: Terms, rates: WorkshopRates
) -> Decimal:
    """Return what a price of one, as shown, leaves of a job after cost and every fee."""
    sales = sales_at(price_each, quantity, terms, rates)
    return sum((sale.times * (sale.net - sale.fees) for sale in sales), ZERO) - cost


@with_working_precision
def lowest_price(cost: Decimal, quantity: int, terms: Terms, rates: WorkshopRates) -> Decimal:
    """Return the lowest price of one, as shown, in whole coins.

    From it on every price brings at least the cost and the fees as they are taken: tax, commission
    and each payment's fee in whole coins, one sale after another. A coin less does not. Rounding
    may favour a price below it by luck; that is not a price to go down to.
    """
    coin = minor_unit(rates.currency_digits)
    each = terms.shown_factor / quantity
    exact = max(cost + terms.settled_fixed_fees, ZERO) / terms.kept_at_floor
    price = up_to_step((exact + rounding_slack(terms, rates)) * each, coin)
    price = to_minor(price, rates.currency_digits)
    while price > 0 and left_at(price - coin, cost, quantity, terms, rates) >= -HAIR:
        price -= coin
    return price
