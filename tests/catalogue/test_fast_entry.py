"""Fast entry: the total first, the same receipt noticed, last prices, an import undone whole."""

import datetime
import uuid
from decimal import Decimal as D
from typing import Any

import pytest
from django.test import Client

from catalogue.materials.models import Material
from catalogue.purchases.from_file import ImportedReceipt, import_receipts
from catalogue.purchases.models import Purchase
from catalogue.purchases.offers import Offers
from catalogue.purchases.services import (
    ReceiptExpenseInput,
    ReceiptInput,
    ReceiptLineInput,
    record_purchase,
    restore_draft,
    reverse_purchase,
)
from catalogue.purchases.undoing import NothingToUndo, undo_import
from catalogue.stock.models import StockEntry
from catalogue.suppliers.models import Supplier
from maker.workshop.models import Workshop
from tests import factories
from tests.catalogue.page_forms import fields_of
from tests.catalogue.pages import text_of
from tests.catalogue.receipts import make_receipt

NEW = "/w/marlow/receipts/new/"


@pytest.fixture
def typed(client: Client, supplier: Supplier, card: Material) -> dict[str, str]:
    return fields_of(client.get(NEW)) | {
        "supplier": str(supplier.pk), "bought_on": "2026-05-04", "reference": "A-17",
        "lines-0-what": "Bramble card", "lines-0-bought": "2", "lines-0-amount": "10",
        "postage": "3", "discount": "1", "tax": "2",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("change", "said"),
    [({"total": "14"}, ""), ({"total": "16.10"}, "€2.10 missing"), ({"total": "12"}, "too much"),
     ({"total": "12", "lines-0-damaged_credited": "4"}, ""),
     ({"total": "14", "currency": "GBP", "rate": "1.3"}, "")],
)  # fmt: skip
def test_the_rest_is_checked_against_a_total(
    client: Client, typed: dict[str, str], change: dict[str, str], said: str
) -> None:
    response = client.post(NEW, typed | change)
    assert response.status_code == (422 if said else 302)
    assert Purchase.objects.count() == (0 if said else 1)
    if said:
        assert said in str(response.context["form"].errors["total"])


@pytest.mark.parametrize(
    ("change", "is_noticed"),
    [({}, True), ({"reference": ""}, True), ({"reference": "a-17", "postage": "4"}, True),
     ({"reference": "B", "postage": "4"}, False),
     ({"reference": "", "bought_on": "2026-05-05"}, False)],
)  # fmt: skip
def test_the_same_receipt_is_noticed_and_may_be_another(
    client: Client, typed: dict[str, str], change: dict[str, str], is_noticed: bool
) -> None:
    client.post(NEW, typed)
    again = typed | {"form_key": str(uuid.uuid4())} | change
    response = client.post(NEW, again)
    assert response.status_code == (422 if is_noticed else 302)
    if is_noticed:
        assert "You have a receipt like this (A-17) of " in text_of(response)
        assert "This is another receipt" in text_of(response)
        assert client.post(NEW, again | {"another": "on"}).status_code == 302
    assert Purchase.objects.count() == 2


def test_an_undone_receipt_is_no_other(client: Client, typed: dict[str, str]) -> None:
    client.post(NEW, typed | {"then": "record"})
    reverse_purchase(purchase=Purchase.objects.get())
    response = client.post(NEW, typed | {"form_key": str(uuid.uuid4())})
    assert response.status_code == 302


def test_a_draft_saved_again_is_not_its_own_double(client: Client, typed: dict[str, str]) -> None:
    client.post(NEW, typed)
    edit = f"/w/marlow/receipts/{Purchase.objects.get().pk}/edit/"
    assert client.post(edit, typed | {"edit_number": "0", "notes": "x"}).status_code == 302


@pytest.mark.django_db
def test_each_supplier_is_remembered_with_last_price_and_pack(
    workshop: Workshop, supplier: Supplier, card: Material, count_queries: Any
) -> None:
    other = factories.make_supplier(workshop)
    day = datetime.date
    make_receipt(workshop, (card, "10", "5"), supplier=supplier, bought_on=day(2026, 1, 3))
    make_receipt(workshop, (card, "10", "6"), supplier=supplier, bought_on=day(2026, 2, 3))
    make_receipt(workshop, (card, "10", "8"), supplier=other, bought_on=day(2026, 1, 9))
    offers = Offers(workshop)
    with count_queries() as queries:
        lasts = {name: last for name, _, _, last, _ in offers.options()}
    assert len(queries) == 1
    (words,) = [last for last in lasts.values() if last]
    assert set(words.split()) == {f"{supplier.pk}:0.600000:1", f"{other.pk}:0.800000:1"}


def imported(workshop: Workshop, supplier: Supplier, card: Material) -> uuid.UUID:
    key = uuid.uuid4()
    receipts = [
        ImportedReceipt(
            ReceiptInput(
                supplier=supplier,
                bought_on=datetime.date(2026, 3, 1) + datetime.timedelta(days=number),
                lines=[ReceiptLineInput(card, D(10), D(5), damaged_kept=D(1))],
                expenses=[ReceiptExpenseInput("Van", D(4), "travel")],
            ),
            record=number < 3,
        )
        for number in range(4)
    ]
    import_receipts(workshop=workshop, receipts=receipts, key=key, today=datetime.date(2026, 6, 30))
    return key


@pytest.mark.django_db
def test_a_whole_import_is_undone_at_once(
    client: Client, workshop: Workshop, supplier: Supplier, card: Material
) -> None:
    make_receipt(workshop, (card, "10", "5"), supplier=supplier)
    before = Material.objects.get(pk=card.pk)
    key = imported(workshop, supplier, card)
    reverse_purchase(purchase=Purchase.objects.filter(import_key=key).first())
    assert "Last import: 3 receipts" in text_of(client.get("/w/marlow/receipts/"))
    page = text_of(client.post(f"/w/marlow/receipts/import/{key}/undo/", follow=True))
    assert "Import undone: 3 receipts." in page
    assert "Last import" not in page
    after = Material.objects.get(pk=card.pk)
    assert (after.on_hand, after.stock_value) == (before.on_hand, before.stock_value)
    assert not workshop.expenses.counted().exists()
    assert StockEntry.objects.standing().count() == 1
    with pytest.raises(NothingToUndo):
        undo_import(workshop=workshop, key=key)
    # the draft comes back with all its lines
    draft = restore_draft(purchase=Purchase.objects.get(import_key=key, recorded_at=None))
    record_purchase(purchase=draft, today=datetime.date(2026, 6, 30))
    assert workshop.expenses.counted().get().cost == D(4)


@pytest.mark.django_db
def test_an_import_of_another_workshop_stays(
    client: Client, workshop: Workshop, supplier: Supplier, card: Material
) -> None:
    other = factories.make_workshop()
    key = imported(other, factories.make_supplier(other), factories.make_material(other))
    client.post(f"/w/marlow/receipts/import/{key}/undo/")
    assert Purchase.objects.of(other).recorded().count() == 3
