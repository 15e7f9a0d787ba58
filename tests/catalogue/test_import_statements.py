"""A file of many receipts is stored with few statements: what else waits, waits for all of them."""

import datetime
import uuid
from collections.abc import Callable
from contextlib import AbstractContextManager
from decimal import Decimal
from typing import Any

import pytest

from catalogue.purchases.from_file import ImportedReceipt, import_receipts, ready_import
from catalogue.purchases.models import Purchase
from catalogue.purchases.services import (
    OutOfUse,
    ReceiptExpenseInput,
    ReceiptInput,
    ReceiptLineInput,
    draft_purchase,
    record_purchase,
)
from catalogue.stock.models import StockEntry
from catalogue.stock.services import move_stock, put_on_shelf
from maker.workshop.models import Workshop
from tests import factories

pytestmark = pytest.mark.django_db

TODAY = datetime.date(2026, 11, 20)


def receipts(workshop: Workshop, count: int) -> list[ReceiptInput]:
    """Receipts of two materials and an expense, some back-dated, some with damaged goods."""
    supplier = factories.make_supplier(workshop)
    card, twine = (factories.make_material(workshop, name=name) for name in ("Card", "Twine"))
    return [
        ReceiptInput(
            supplier=supplier,
            bought_on=TODAY - datetime.timedelta(days=at * 7 % 40),
            reference=f"N{at}",
            lines=(
                ReceiptLineInput(material=card, quantity=Decimal(10 + at), amount=Decimal("7.35")),
                ReceiptLineInput(
                    material=twine,
                    quantity=Decimal(20),
                    amount=Decimal("3.10"),
                    damaged_kept=Decimal(at % 3),
                ),
            ),
            expenses=(ReceiptExpenseInput("Van hire", Decimal("4.50"), "travel"),),
            postage=Decimal("2.95"),
        )
        for at in range(count)
    ]


def figures(workshop: Workshop) -> list[Any]:
    """What each movement is worth, by the receipt it belongs to."""
    rows = StockEntry.objects.of(workshop).order_by("material__name", "moved_on", "pk")
    return list(
        rows.values_list(
            "material__name",
            "purchase_line__purchase__reference",
            "kind",
            "change",
            "cost_in",
            "unit_cost",
            "balance",
            "balance_value",
        )
    )


def test_a_file_comes_to_what_each_receipt_typed_comes_to() -> None:
    typed, filed = (factories.make_workshop(name=name, slug=name) for name in ("typed", "filed"))
    for receipt in receipts(typed, 9):
        draft = draft_purchase(workshop=typed, receipt=receipt)
        record_purchase(purchase=draft, today=TODAY)
    rows = [ImportedReceipt(receipt, record=True) for receipt in receipts(filed, 9)]
    import_receipts(workshop=filed, receipts=rows, key=uuid.uuid4(), today=TODAY)
    assert figures(filed) == figures(typed)
    kept = ("name", "on_hand", "stock_value", "average_cost", "fifo_cost", "latest_cost")
    by_name = [list(one.materials.order_by("name").values(*kept)) for one in (typed, filed)]
    assert by_name[0] == by_name[1]
    costs = [
        list(one.expenses.order_by("reference").values("cost", "net")) for one in (typed, filed)
    ]
    assert costs[0] == costs[1] != []


def test_ten_times_the_receipts_are_hardly_more_statements(
    count_queries: Callable[[], AbstractContextManager[Any]],
) -> None:
    taken = []
    for count in (3, 30):
        workshop = factories.make_workshop()
        rows = [ImportedReceipt(receipt, record=True) for receipt in receipts(workshop, count)]
        with count_queries() as queries:
            import_receipts(workshop=workshop, receipts=rows, key=uuid.uuid4(), today=TODAY)
        assert Purchase.objects.of(workshop).recorded().count() == count
        taken.append(len(queries))
    # SQLite takes some rows at once, not all of them
    assert taken[1] <= taken[0] + 8


def test_what_changes_between_working_out_and_storing_is_counted_in() -> None:
    """As if a cut was made, a receipt came or the valuation changed while a long file was read."""
    first, filed = (factories.make_workshop(name=name, slug=name) for name in ("first", "filed"))

    def change(workshop: Workshop) -> None:
        card = workshop.materials.get(name="Card")
        put_on_shelf(
            material=card, amount=Decimal(7), cost=Decimal(9),
            moved_on=TODAY - datetime.timedelta(days=60), today=TODAY,
        )  # fmt: skip
        move_stock(
            material=card, kind="used", amount=Decimal(3), moved_on=TODAY, today=TODAY
        )  # fmt: skip
        Workshop.objects.filter(pk=workshop.pk).update(tax_registered=True, valuation="fifo")

    rows = [ImportedReceipt(receipt, record=True) for receipt in receipts(first, 5)]
    change(first)
    import_receipts(workshop=first, receipts=rows, key=uuid.uuid4(), today=TODAY)
    rows = [ImportedReceipt(receipt, record=True) for receipt in receipts(filed, 5)]
    store = ready_import(workshop=filed, receipts=rows, key=uuid.uuid4(), today=TODAY)
    change(filed)
    store()
    assert figures(filed) == figures(first) != []


def test_a_material_archived_before_it_is_stored_refuses_the_file_whole() -> None:
    workshop = factories.make_workshop()
    rows = [ImportedReceipt(receipt, record=True) for receipt in receipts(workshop, 3)]
    store = ready_import(workshop=workshop, receipts=rows, key=uuid.uuid4(), today=TODAY)
    workshop.materials.filter(name="Card").update(retired_on=TODAY)
    with pytest.raises(OutOfUse, match="archived"):
        store()
    assert not Purchase.objects.of(workshop).exists()
    assert not StockEntry.objects.of(workshop).exists()


def test_nothing_is_written_before_it_is_stored(
    count_queries: Callable[[], AbstractContextManager[Any]],
) -> None:
    workshop = factories.make_workshop()
    rows = [ImportedReceipt(receipt, record=True) for receipt in receipts(workshop, 4)]
    with count_queries() as queries:
        store = ready_import(workshop=workshop, receipts=rows, key=uuid.uuid4(), today=TODAY)
    asked = [query["sql"] for query in queries]
    assert asked
    assert all(sql.startswith("SELECT") and "FOR " not in sql for sql in asked)
    store()
    assert Purchase.objects.of(workshop).recorded().count() == 4
