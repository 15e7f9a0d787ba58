"""Rows to values: a receipt as `catalogue.calc.unit_cost` shares it out."""

from collections.abc import Sequence

from catalogue.calc.unit_cost import LandedReceipt, ReceiptLine, land_receipt
from catalogue.purchases.models import Purchase, PurchaseLine
from maker.calc.money import minor_digits


def landed_receipt(purchase: Purchase, lines: Sequence[PurchaseLine]) -> LandedReceipt:
    """Share postage, discount and tax over lines whose materials are loaded.

    Errors: `catalogue.calc.unit_cost.BadReceipt`, with what is wrong.
    """
    workshop = purchase.workshop
    recoverable = (
        workshop.tax_registered
        if purchase.state == Purchase.State.DRAFT
        else purchase.tax_is_recoverable
    )
    return land_receipt(
        [
            ReceiptLine(
                name=line.material.name,
                quantity=line.quantity,
                amount=line.amount,
                unit=line.material.unit,
                id=line.pk,
            )
            for line in lines
        ],
        postage=purchase.postage,
        discount=purchase.discount,
        tax=purchase.tax,
        tax_is_recoverable=recoverable,
        digits=minor_digits(workshop.currency),
    )
