"""Rows to values: a receipt as `catalogue.calc.supplies.unit_cost` shares it out."""

from collections.abc import Sequence

from catalogue.calc.supplies.unit_cost import LandedReceipt, ReceiptLine, land_receipt
from catalogue.purchases.models import Purchase, PurchaseLine
from maker.calc.money import minor_digits


def tax_is_recoverable(purchase: Purchase) -> bool:
    """Say whether the tax on a receipt is paid back: as the workshop is, frozen on recording."""
    if purchase.recorded_at is None:
        return purchase.workshop.tax_registered
    return purchase.tax_is_recoverable


def landed_receipt(purchase: Purchase, lines: Sequence[PurchaseLine]) -> LandedReceipt:
    """Share postage, discount and tax over lines whose materials are loaded.

    Errors: `catalogue.calc.supplies.unit_cost.BadReceipt`, with what is wrong.
    """
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
        tax_is_recoverable=tax_is_recoverable(purchase),
        digits=minor_digits(purchase.workshop.currency),
    )
