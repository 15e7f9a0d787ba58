"""Sharing an amount over deliveries that are invoiced one after the other.

An earlier invoice is on paper when the next one is written, so the last one takes the odd cents
(common practice, no source). Amounts that appear together are shared by largest remainder instead:
`maker.calc.money.share_out`.
"""

from collections.abc import Sequence
from decimal import Decimal

from maker.calc.money import to_minor, with_working_precision

ZERO = Decimal(0)


@with_working_precision
def share_in_turn(total: Decimal, weights: Sequence[Decimal], digits: int = 2) -> list[Decimal]:
    """Return the share of each weight, halves up, never more than is left; the last takes the rest.

    `total` is at least zero, in whole minor units. Weights that are all zero share equally.
    """
    whole = sum(weights, ZERO)
    if not whole:
        weights, whole = [Decimal(1)] * len(weights), Decimal(len(weights))
    left, shares = total, []
    for weight in weights[:-1]:
        share = min(to_minor(total * weight / whole, digits), left)
        shares.append(share)
        left -= share
    return [*shares, left] if weights else []
