"""Receipts for tests: one line of words each."""

import datetime
from decimal import Decimal
from typing import Any

from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase
from catalogue.purchases.services import (
    ReceiptInput,
    ReceiptLineInput,
    draft_purchase,
    record_purchase,
)
from maker.workshop.models import Workshop
from tests import factories

TODAY = datetime.date(2026, 6, 30)


def make_draft(
    workshop: Workshop,
    *lines: tuple[Material, str, str],
    bought_on: datetime.date = datetime.date(2026, 1, 3),
    **fields: Any,
) -> Purchase:
    """A draft with lines of (material, quantity, amount)."""
    supplier = fields.pop("supplier", None) or factories.make_supplier(workshop)
    return draft_purchase(
        workshop=workshop,
        receipt=ReceiptInput(
            supplier=supplier,
            bought_on=bought_on,
            lines=[
                ReceiptLineInput(
                    material=material, quantity=Decimal(quantity), amount=Decimal(amount)
                )
                for material, quantity, amount in lines
            ],
            **fields,
        ),
    )


def make_receipt(workshop: Workshop, *lines: tuple[Material, str, str], **fields: Any) -> Purchase:
    """A recorded receipt with lines of (material, quantity, amount)."""
    return record_purchase(purchase=make_draft(workshop, *lines, **fields), today=TODAY)


def buy_lot(
    workshop: Workshop,
    material: Material,
    quantity: str,
    lot: str,
    bought_on: datetime.date = datetime.date(2026, 1, 3),
    amount: str = "5.00",
) -> Purchase:
    """A recorded receipt of one material, bought in one lot."""
    draft = draft_purchase(
        workshop=workshop,
        receipt=ReceiptInput(
            supplier=factories.make_supplier(workshop),
            bought_on=bought_on,
            lines=[
                ReceiptLineInput(
                    material=material, quantity=Decimal(quantity), amount=Decimal(amount), lot=lot
                )
            ],
        ),
    )
    return record_purchase(purchase=draft, today=TODAY)
