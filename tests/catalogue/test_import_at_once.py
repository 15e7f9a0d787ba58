"""Two clicks on the button of an import, at the same moment."""

import uuid
from decimal import Decimal

import pytest

from catalogue.materials.models import Material
from catalogue.purchases.from_file import ImportedReceipt, import_receipts
from catalogue.purchases.models import Purchase
from catalogue.purchases.services import (
    ReceiptInput,
    ReceiptLineInput,
)
from catalogue.suppliers.models import Supplier
from maker.imports.kinds import AlreadyImported
from maker.workshop.models import Workshop
from tests import factories
from tests.catalogue.receipts import TODAY
from tests.maker.test_at_the_same_moment import at_once

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_double_click_takes_the_receipts_in_once() -> None:
    workshop = factories.make_workshop()
    card = factories.make_material(workshop)
    key = uuid.uuid4()

    def click() -> None:
        line = ReceiptLineInput(
            material=Material.objects.get(pk=card.pk), quantity=Decimal(10), amount=Decimal(5)
        )
        # a supplier not seen before: both clicks would add it
        receipt = ReceiptInput(
            supplier=Supplier(workshop=workshop, name="New mill"), bought_on=TODAY, lines=[line]
        )
        import_receipts(
            workshop=Workshop.objects.get(pk=workshop.pk),
            receipts=[ImportedReceipt(receipt=receipt, record=True)] * 2,
            key=key,
            today=TODAY,
        )

    results = at_once(click, click)
    assert sum(isinstance(result, AlreadyImported) for result in results) == 1
    assert Purchase.objects.filter(workshop=workshop).count() == 2
    assert Supplier.objects.filter(workshop=workshop).count() == 1
    card.refresh_from_db()
    assert card.on_hand == 20
