"""Rows to values: a receipt as `catalogue.calc.supplies.unit_cost` shares it out."""

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from catalogue.calc.supplies.unit_cost import LandedReceipt, ReceiptLine, land_receipt
from catalogue.expenses.models import Expense
from catalogue.purchases.models import Purchase, PurchaseLine
from maker.calc.money import minor_digits

ZERO, ONE = Decimal(0), Decimal(1)


def tax_is_recoverable(purchase: Purchase) -> bool:
    """Say whether the tax on a receipt is paid back: as the workshop is, frozen on recording."""
    if purchase.recorded_at is None:
        return purchase.workshop.tax_registered
    return purchase.tax_is_recoverable


def landed_receipt(
    purchase: Purchase, lines: Sequence[PurchaseLine], expenses: Sequence[Expense] = ()
) -> LandedReceipt:
    """Share postage, discount and tax over lines whose materials are loaded, then over expenses.

    An expense below zero (money back) shares nothing: it only lowers what was paid.
    Errors: `catalogue.calc.supplies.unit_cost.BadReceipt`, with what is wrong.
    """
    back = sum((min(one.amount or ZERO, ZERO) for one in expenses), ZERO)
    shared = land_receipt(
        [
            ReceiptLine(
                name=line.material.name,
                quantity=line.quantity,
                amount=line.amount,
                unit=line.material.unit,
                id=line.pk,
            )
            for line in lines
        ]
        + [
            ReceiptLine(name=one.what, quantity=ONE, amount=max(one.amount or ZERO, ZERO))
            for one in expenses
        ],
        postage=purchase.postage,
        discount=purchase.discount,
        tax=purchase.tax,
        tax_is_recoverable=tax_is_recoverable(purchase),
        digits=minor_digits(purchase.workshop.currency),
    )
    if not back:
        return shared
    amounts = [*(None for _ in lines), *(one.amount or ZERO for one in expenses)]
    landed = tuple(
        replace(line, amount=amount, landed=amount) if amount is not None and amount < 0 else line
        for line, amount in zip(shared.lines, amounts, strict=True)
    )
    return replace(
        shared,
        lines=landed,
        goods=shared.goods + back,
        landed=shared.landed + back,
        paid=shared.paid + back,
    )
