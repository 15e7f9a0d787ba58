"""Discounts and charges on a whole quote: an amount, or a share of its goods.

Both are document level allowances and charges (EN 16931, BG-20 and BG-21), taxed as the goods are.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from maker.calc.money import to_minor, with_working_precision
from maker.calc.refusal import Refusal

ZERO = Decimal(0)


class DiscountTooLarge(Refusal):
    """More is taken off than there is."""


@dataclass(frozen=True, slots=True)
class Extra:
    """A discount or a charge as agreed: `amount` as prices are shown, or a `share` of the goods."""

    reason: str
    is_discount: bool
    amount: Decimal | None = None
    share: Decimal | None = None


@dataclass(frozen=True, slots=True)
class ExtraAmount:
    """What an extra comes to in whole minor units; below zero for a discount."""

    extra: Extra
    amount: Decimal


@with_working_precision
def amounts_of(extras: Sequence[Extra], goods: Decimal, digits: int = 2) -> tuple[ExtraAmount, ...]:
    """Return what each comes to, halves up; shares are of the goods before any of them.

    Errors: DiscountTooLarge when less than nothing would be left of the goods.
    """
    found = []
    for extra in extras:
        amount = to_minor(
            goods * extra.share if extra.share is not None else extra.amount or ZERO, digits
        )
        found.append(ExtraAmount(extra, -amount if extra.is_discount else amount))
    taken = -sum((each.amount for each in found if each.amount < 0), ZERO)
    if taken > goods:
        raise DiscountTooLarge("The discount is more than the goods.", where="discount")
    return tuple(found)
