"""The price of items sold together: never below what they cost her, still a saving to the buyer."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from maker.calc.money import to_minor, up_to_step, with_working_precision
from maker.calc.refusal import Refusal
from pricing.calc.fairs.what_to_take import FairItem, FairRates

ZERO = Decimal(0)
Pieces = Sequence[tuple[FairItem, int]]


class BadBundle(Refusal):
    """A bundle that cannot be priced."""


@dataclass(frozen=True, slots=True)
class Bundle:
    """A bundle's prices with tax in them. `lowest` and `before_step` are unrounded.

    `gain` is what one bundle paid by card leaves, `gain_apart` the same items at their full prices
    in one payment.
    """

    lowest: Decimal
    full: Decimal
    before_step: Decimal
    price: Decimal
    gain: Decimal
    gain_apart: Decimal

    @property
    @with_working_precision
    def saving(self) -> Decimal:
        """Return what the customer saves, as a share of the full prices."""
        return 1 - self.price / self.full if self.full else ZERO


@with_working_precision
def bundle_of(
    pieces: Pieces, rates: FairRates, *, keep: Decimal, step: Decimal, digits: int = 2
) -> Bundle:
    """Return the price: the lowest plus a share `keep` of what the full prices are above it.

    The fixed part of the fee is paid once. Up to the step, and never above the full prices.
    Errors: BadBundle where card fee, commission and tax leave nothing of a price.
    """
    cost = sum((count * (item.cost + item.bag) for item, count in pieces), ZERO)
    left = 1 - rates.commission - rates.fee_share * (1 + rates.tax_rate)
    if left <= 0:
        raise BadBundle("Fees and tax leave nothing of any price.", where="fee")
    lowest = (cost + rates.fee_fixed) / left * (1 + rates.tax_rate)
    full = sum((count * item.price for item, count in pieces), ZERO)
    before_step = lowest + keep * (full - lowest)

    def gain_at(price: Decimal) -> Decimal:
        fee = to_minor(price * rates.fee_share + rates.fee_fixed, digits)
        return price / (1 + rates.tax_rate) * (1 - rates.commission) - fee - cost

    price = up_to_step(before_step, step)
    return Bundle(lowest, full, before_step, price, gain_at(price), gain_at(full))
