"""What is owed for an order that is cancelled, by the stage it had reached."""

from decimal import Decimal

from maker.calc.money import to_minor, with_working_precision
from maker.calc.refusal import Refusal

ZERO = Decimal(0)


class BadStage(Refusal):
    """Amounts or a share that cannot be."""


@with_working_precision
def owed_when_cancelled(
    total: Decimal, delivered: Decimal, share: Decimal, digits: int = 2
) -> Decimal:
    """Return what is owed: all that was delivered, and the stated share of the rest, halves up.

    `total` is that of the whole order and `delivered` what of it has left, both with tax.
    Errors: BadStage. That a share of the price grows with the stage is common practice, no source.
    """
    if not 0 <= share <= 1:
        raise BadStage("Enter a share from 0 to 100%.", where="share")
    if not 0 <= delivered <= total:
        raise BadStage("More was delivered than the order comes to.", where="delivered")
    return to_minor(delivered + (total - delivered) * share, digits)


def owed_after_credit(owed: Decimal, invoiced: Decimal, credit: Decimal) -> Decimal:
    """Return what a cancelled order owes once a credit note is issued on one of its invoices.

    `invoiced` is what its invoices came to before, less what was credited. Something owed beyond
    them stays owed; a credit note that only writes down what is not owed any more changes nothing.
    """
    beyond = max(owed - invoiced, ZERO)
    return max(min(owed, invoiced - credit + beyond), ZERO)
