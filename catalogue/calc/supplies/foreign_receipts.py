"""Receipts in another currency: each amount at her rate, before anything is shared out.

What the bank charged more or less than that is an exchange difference and no cost of the goods.
"""

from decimal import Decimal

from maker.calc.money import to_minor, with_working_precision
from maker.calc.refusal import Refusal


class BadRate(Refusal):
    """An exchange rate that cannot be meant."""


@with_working_precision
def at_home(amount: Decimal, rate: Decimal, digits: int = 2) -> Decimal:
    """Return an amount in her own currency, halves up; `rate` is what one unit of it costs her."""
    if not rate.is_finite() or rate <= 0:
        raise BadRate("The exchange rate must be more than 0.", where="rate")
    return to_minor(amount * rate, digits)


@with_working_precision
def exchange_difference(charged: Decimal, booked: Decimal) -> Decimal:
    """Return what the bank took more than was booked; below zero it took less."""
    return charged - booked
