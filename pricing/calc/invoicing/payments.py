"""What was paid on an order, what is still owed, and what taking the money cost."""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from maker.calc.money import with_working_precision
from pricing.calc.price.fees import fee_of

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class Payment:
    """Money received; below zero it was paid back. `by_card` is where a fee is charged."""

    received_on: datetime.date
    amount: Decimal
    by_card: bool


@dataclass(frozen=True, slots=True)
class Account:
    """An order's account in whole minor units; `owed` below zero is owed to the customer."""

    invoiced: Decimal
    credited: Decimal
    paid: Decimal
    fees: Decimal

    @property
    def owed(self) -> Decimal:
        """Return what the customer still owes."""
        return self.invoiced - self.credited - self.paid


@with_working_precision
def account_of(
    invoiced: Sequence[Decimal],
    credited: Sequence[Decimal],
    payments: Sequence[Payment],
    *,
    fee_share: Decimal = ZERO,
    fee_fixed: Decimal = ZERO,
    digits: int = 2,
) -> Account:
    """Return the account: totals with tax of invoices and credit notes, payments, card fees.

    The fee of each card payment is rounded by itself; paying back earns no fee back.
    """
    fees = (
        fee_of(payment.amount, fee_share, fee_fixed, digits)
        for payment in payments
        if payment.by_card and payment.amount > 0
    )
    return Account(
        invoiced=sum(invoiced, ZERO),
        credited=sum(credited, ZERO),
        paid=sum((payment.amount for payment in payments), ZERO),
        fees=sum(fees, ZERO),
    )
