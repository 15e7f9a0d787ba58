"""Lines of a receipt that are no stock: they share its postage and tax, and never reach stock."""

import csv
import datetime
import io
from decimal import Decimal as D

import pytest
from django.test import Client

from catalogue.expenses.models import Expense
from catalogue.materials.models import Material
from catalogue.purchases.importing import FILE_FIELDS, read_receipts
from catalogue.purchases.models import Purchase
from catalogue.purchases.services import (
    ReceiptExpenseInput,
    ReceiptInput,
    ReceiptLineInput,
    draft_purchase,
    record_purchase,
    reverse_purchase,
)
from catalogue.stock.models import StockEntry
from catalogue.suppliers.models import Supplier
from maker.web.file_rows import FileRow
from maker.workshop.models import Workshop
from pricing.workshop_file.services import export_workshop, import_workshop
from tests.catalogue.page_forms import fields_of
from tests.catalogue.pages import text_of

TODAY = datetime.date(2026, 6, 30)


@pytest.fixture
def receipt(workshop: Workshop, supplier: Supplier, card: Material) -> Purchase:
    """Card for 30.00 and a van for 60.00; postage 3.00 and discount 1.50 shared one to two."""
    return draft_purchase(
        workshop=workshop,
        receipt=ReceiptInput(
            supplier=supplier,
            bought_on=datetime.date(2026, 5, 4),
            lines=[ReceiptLineInput(card, D(60), D(30))],
            expenses=[ReceiptExpenseInput("Van hire", D(60), "travel")],
            postage=D(3),
            discount=D("1.50"),
            tax=D(9),
        ),
    )


@pytest.mark.django_db
def test_postage_discount_and_tax_are_shared_over_both(receipt: Purchase) -> None:
    assert not Expense.objects.counted().exists()
    record_purchase(purchase=receipt, today=TODAY)
    line, expense = receipt.lines.get(), Expense.objects.counted().get()
    # by value, 1 : 2
    assert line.landed == D("30") + 1 - D("0.50") + 3
    assert (expense.net, expense.tax_paid, expense.cost) == (D("61"), D("6"), D("67"))
    assert line.landed + expense.cost == D("30") + 60 + 3 - D("1.50") + 9
    assert StockEntry.objects.get().cost_in == line.landed
    assert expense.purpose == Expense.Purpose.SHARED


@pytest.mark.django_db
def test_an_undone_receipt_takes_its_expenses_along(receipt: Purchase) -> None:
    record_purchase(purchase=receipt, today=TODAY)
    reverse_purchase(purchase=receipt)
    assert not Expense.objects.counted().exists()


@pytest.mark.django_db
def test_the_workshop_file_keeps_them_together(receipt: Purchase, workshop: Workshop) -> None:
    record_purchase(purchase=receipt, today=TODAY)
    document = export_workshop(workshop)
    copy = import_workshop(document, name="Copy")
    again = export_workshop(copy)
    assert again["expenses"] == document["expenses"]
    assert again["receipts"] == document["receipts"]
    assert Expense.objects.of(copy).get().purchase == copy.purchases.get()


def test_they_are_typed_among_the_lines(client: Client, supplier: Supplier, card: Material) -> None:
    new = "/w/marlow/receipts/new/"
    typed = fields_of(client.get(new)) | {
        "supplier": str(supplier.pk),
        "bought_on": "2026-05-04",
        "lines-0-what": "Bramble card",
        "lines-0-bought": "2",
        "lines-0-amount": "10",
        "lines-1-what": "Stall, May market",
        "lines-1-amount": "45",
        "lines-1-expense": "stall",
        "then": "record",
    }
    page = text_of(client.post(new, typed, follow=True))
    kept = Purchase.objects.get()
    assert kept.state == "recorded"
    for words in ("Stall, May market", "Stall fees, not stock", "€55.00"):
        assert words in page
    expense = Expense.objects.get()
    assert "May market" in text_of(client.get("/w/marlow/expenses/"))
    edit = f"/w/marlow/expenses/{expense.pk}/edit/"
    client.post(edit, {"category": "stall", "purpose": "shared", "edit_number": "0", "net": "1"})
    expense.refresh_from_db()
    assert (expense.purpose, expense.cost) == ("shared", D(45))
    assert "€55.00" in text_of(client.get("/w/marlow/receipts/"))


def test_a_receipt_of_expenses_alone_is_recorded(client: Client, supplier: Supplier) -> None:
    new = "/w/marlow/receipts/new/"
    typed = fields_of(client.get(new)) | {
        "supplier": str(supplier.pk), "bought_on": "2026-05-04", "then": "record",
        "lines-0-what": "Layout software", "lines-0-amount": "9.99", "lines-0-expense": "software",
    }  # fmt: skip
    client.post(new, typed)
    assert Expense.objects.counted().get().cost == D("9.99")


@pytest.mark.django_db
def test_a_spreadsheet_brings_them_back(
    client: Client, receipt: Purchase, workshop: Workshop
) -> None:
    record_purchase(purchase=receipt, today=TODAY)
    answer = client.get("/w/marlow/receipts/", {"format": "csv"})
    text = b"".join(answer).decode("utf-8-sig")
    assert "Travel and van hire" in text
    groups = read_receipts(workshop, rows_of(text), ())
    assert [group.note for group in groups] == ["already here"]
    Purchase.objects.all().update(reference="another")
    (group,) = read_receipts(workshop, rows_of(text), ())
    assert group.value.receipt.expenses == [ReceiptExpenseInput("Van hire", D(60), "travel")]
    (group,) = read_receipts(workshop, rows_of(text.replace("Travel and van hire", "Vans")), ())
    assert "Leave this blank for materials" in str(group.errors)


def rows_of(text: str) -> list[FileRow]:
    heading, *rows = csv.reader(io.StringIO(text))
    return [
        FileRow(
            number,
            {FILE_FIELDS[name]: cell for name, cell in zip(heading, row, strict=True)
             if name in FILE_FIELDS},
        )
        for number, row in enumerate(rows, 2)
    ]  # fmt: skip
