"""What taking money costs: payments of an order, and the fee of each, rounded by itself."""

from collections.abc import Sequence
from decimal import Decimal

from maker.calc.money import minor_unit, share_out, to_minor, up_to_step, with_working_precision

ZERO = Decimal(0)


@with_working_precision
def deposit_of(total: Decimal, share: Decimal, step: Decimal, digits: int = 2) -> Decimal:
    """Return the deposit: a share of the total, up to the next step, never more than the total."""
    if share <= 0 or total <= 0:
        return ZERO
    deposit = min(up_to_step(total * share, max(step, minor_unit(digits))), total)
    return to_minor(deposit, digits)


@with_working_precision
def payments_for(
    total: Decimal, deposit: Decimal, count: int, digits: int = 2
) -> tuple[Decimal, ...]:
    """Return what is paid when: the deposit first, the rest in equal payments.

    A deposit makes at least two payments of it. Payments of nothing do not happen.
    """
    if not deposit:
        payments = share_out(total, [Decimal(1)] * max(count, 1), digits)
    else:
        rest = share_out(total - deposit, [Decimal(1)] * max(count - 1, 1), digits)
        payments = [deposit, *rest]
    return tuple(payment for payment in payments if payment)


@with_working_precision
def fee_of(payment: Decimal, share: Decimal, fixed: Decimal, digits: int = 2) -> Decimal:
    """Return the fee of one payment (tax included in it), halves up; none on no payment."""
    return to_minor(payment * share + fixed, digits) if payment else ZERO


def fees_of(
    payments: Sequence[Decimal], share: Decimal, fixed: Decimal, digits: int = 2
) -> tuple[Decimal, ...]:
    """Return the fee of every payment."""
    return tuple(fee_of(payment, share, fixed, digits) for payment in payments)
