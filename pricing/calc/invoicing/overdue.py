"""What of each invoice of an order is still open, when payments are made to the order."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from operator import add

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class Billed:
    """An invoice: what is to pay by it, what was credited of it, and what it took off as paid.

    `ahead` is what of it was no deposit, but paid beyond it before the invoice was issued.
    """

    to_pay: Decimal
    credited: Decimal = ZERO
    taken_off: Decimal = ZERO
    ahead: Decimal = ZERO

    @property
    def owed(self) -> Decimal:
        """Return what it still asks for. What is credited is nobody's debt."""
        return max(self.to_pay - self.credited, ZERO)

    @property
    def credited_beyond(self) -> Decimal:
        """Return what was credited beyond what it asked for."""
        return max(self.credited - self.to_pay, ZERO)

    @property
    def counted(self) -> Decimal:
        """Return what it still counts as paid: of what it took off, what was not credited."""
        return max(self.taken_off - self.credited_beyond, ZERO)

    @property
    def ahead_counted(self) -> Decimal:
        """Return what of that was paid beyond the deposit."""
        return min(self.ahead, self.counted)


def open_amounts(
    invoices: Sequence[Billed], paid: Decimal, deposit: Decimal = ZERO
) -> tuple[Decimal, ...]:
    """Return what is open of each invoice, in the order they are due.

    `deposit` was taken off invoices or is kept for the next ones, so only what was paid beyond it
    pays them, the earliest first (common practice, no source). What was credited beyond what an
    invoice asked for pays the others, or was paid back. What invoices took off and is gone is open
    again.
    """
    left = max(_beyond(invoices, paid, deposit), ZERO)
    found = []
    for each, again in zip(invoices, gone_again(invoices, paid, deposit), strict=True):
        covered = min(each.owed, left)
        left -= covered
        found.append(each.owed - covered + again)
    return tuple(found)


def gone_again(
    invoices: Sequence[Billed], paid: Decimal, deposit: Decimal = ZERO
) -> tuple[Decimal, ...]:
    """Return what each invoice took off as paid and is gone: undone since, or paid back.

    What was paid beyond the deposit is missed first, of the last invoice before the others; then
    the deposit: what is kept for the next invoices, then what the last one took off. What was
    credited is nobody's debt.
    """
    kept_for_next = deposit - sum((each.taken_off for each in invoices), ZERO)
    gone_ahead = _share_back(
        [each.ahead_counted for each in invoices], _missing(invoices, paid, deposit)
    )
    left = max(deposit_missing(invoices, paid, deposit) - kept_for_next, ZERO)
    of_deposit = _share_back([each.counted - each.ahead_counted for each in invoices], left)
    return tuple(map(add, gone_ahead, of_deposit))


def _share_back(most: Sequence[Decimal], gone: Decimal) -> list[Decimal]:
    """Share what is gone over invoices, the last one first, each up to its most."""
    found = []
    for each in reversed(most):
        found.append(min(gone, each))
        gone -= found[-1]
    return found[::-1]


def at_most(opened: Sequence[Decimal], owed: Decimal) -> tuple[Decimal, ...]:
    """Return what is open of each invoice where no more than `owed` is: the earliest first.

    A cancelled order may owe less than its invoices say.
    """
    found, left = [], max(owed, ZERO)
    for each in opened:
        found.append(min(each, left))
        left -= found[-1]
    return tuple(found)


def paid_ahead(invoices: Sequence[Billed], paid: Decimal, deposit: Decimal = ZERO) -> Decimal:
    """Return what was paid beyond the deposit and pays none of these invoices.

    The next invoice takes it off, so that nobody is asked for money that was paid.
    """
    asked = sum((each.owed for each in invoices), ZERO)
    return max(_beyond(invoices, paid, deposit) - asked, ZERO)


def deposit_missing(invoices: Sequence[Billed], paid: Decimal, deposit: Decimal) -> Decimal:
    """Return how much of the deposit is not there any more: paid back, or recorded by mistake.

    What was paid beyond it, and taken off all the same, is missed before.
    """
    ahead = sum((each.ahead_counted for each in invoices), ZERO)
    return max(_missing(invoices, paid, deposit) - ahead, ZERO)


def _missing(invoices: Sequence[Billed], paid: Decimal, deposit: Decimal) -> Decimal:
    return max(-_beyond(invoices, paid, deposit), ZERO)


def _beyond(invoices: Sequence[Billed], paid: Decimal, deposit: Decimal) -> Decimal:
    return paid - deposit + sum((each.credited_beyond for each in invoices), ZERO)
