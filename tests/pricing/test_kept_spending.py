"""Kept sums of months that are over: after every write the report is as if added up anew."""

import datetime
import random
import uuid
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from catalogue.materials.models import Material
from catalogue.purchases.from_file import ImportedReceipt, import_receipts
from catalogue.purchases.models import Purchase
from catalogue.purchases.services import (
    ReceiptInput,
    ReceiptLineInput,
    reverse_purchase,
)
from catalogue.stock.models import StockEntry
from catalogue.stock.services import (
    count_shelf,
    count_stock,
    move_stock,
    reverse_count,
    reverse_entry,
)
from maker.workshop.models import Workshop
from maker.workshop.services import save_settings
from pricing.calc.spending.spend import months_from, periods
from pricing.spending import kept, tasks
from pricing.spending.inputs import Narrowed
from pricing.spending.kept import keep_sums, kept_sums
from pricing.spending.models import KeptSpending
from pricing.spending.services import SpendReport, spend_report
from pricing.workshop_file.removing import remove_workshop
from pricing.workshop_file.services import export_workshop, import_workshop
from tests import factories
from tests.catalogue.receipts import TODAY, make_draft, make_receipt
from tests.pricing.test_spend_report import busy_year
from tests.thorough import tries

OLD = datetime.date(2025, 11, 14)
NEW = datetime.date(2026, 6, 10)
FIRST, LAST = datetime.date(2025, 5, 1), datetime.date(2026, 6, 1)
QUESTIONS: tuple[dict[str, Any], ...] = (
    {},
    {"yearly": True},
    {"first": datetime.date(2025, 9, 1), "last": datetime.date(2026, 2, 1)},
    {"first": datetime.date(2026, 5, 1)},
    {"narrowed": Narrowed(category="paper")},
    {"by": "supplier"},
    {"by": "material", "narrowed": Narrowed(category="paper")},
)


def report(
    workshop: Workshop,
    *,
    first: datetime.date = FIRST,
    last: datetime.date = LAST,
    by: str = "category",
    yearly: bool = False,
    narrowed: Narrowed | None = None,
) -> SpendReport:
    spans = periods(first, last, each=12 if yearly else 1)
    return spend_report(workshop=workshop, spans=spans, by=by, narrowed=narrowed or Narrowed())


def holds(workshop: Workshop) -> bool:
    return kept_sums(workshop, FIRST) is not None


def assert_as_if_added_up_anew(workshop: Workshop) -> None:
    workshop = Workshop.objects.get(pk=workshop.pk)
    shown = [report(workshop, **question) for question in QUESTIONS]
    kept = list(KeptSpending.objects.filter(workshop=workshop))
    KeptSpending.objects.filter(workshop=workshop).delete()
    anew = [report(workshop, **question) for question in QUESTIONS]
    KeptSpending.objects.bulk_create(kept)
    assert shown == anew
    assert all(one.reconciliation is None or not one.reconciliation.unexplained for one in anew)


@pytest.fixture
def card(workshop: Workshop) -> Material:
    return factories.make_material(workshop, name="Patterned card", category="paper")


@pytest.fixture
def books(workshop: Workshop, card: Material) -> Workshop:
    """A busy year, a receipt, a use and a count in an old month, and its sums kept."""
    busy_year(workshop, 11)
    make_receipt(workshop, (card, "48", "25.10"), bought_on=OLD)
    move_stock(material=card, kind="used", amount=Decimal(5), moved_on=OLD, today=TODAY)
    count_shelf(
        workshop=workshop, counted={card.pk: Decimal(40)}, counted_on=OLD, today=TODAY,
        reason="", form_key=uuid.UUID(int=7),
    )  # fmt: skip
    assert keep_sums(workshop=workshop, today=TODAY)
    return workshop


def receipt_on(day: datetime.date) -> Callable[[Material], object]:
    return lambda card: make_receipt(card.workshop, (card, "7", "9.99"), bought_on=day)


def use_on(day: datetime.date) -> Callable[[Material], object]:
    return lambda card: move_stock(
        material=card, kind="gift", amount=Decimal("1.5"), moved_on=day, today=TODAY
    )


def count_on(day: datetime.date) -> Callable[[Material], object]:
    return lambda card: count_stock(material=card, counted=Decimal(30), moved_on=day, today=TODAY)


def old_receipt(card: Material) -> Purchase:
    return Purchase.objects.of(card.workshop).recorded().get(bought_on=OLD, lines__material=card)


def undo_use(card: Material) -> object:
    return reverse_entry(entry=StockEntry.objects.standing().get(material=card, kind="used"))


def imported_on(day: datetime.date) -> Callable[[Material], object]:
    def do(card: Material) -> object:
        line = ReceiptLineInput(material=card, quantity=Decimal(3), amount=Decimal("4.44"))
        supplier = factories.make_supplier(card.workshop)
        receipt = ReceiptInput(supplier=supplier, bought_on=day, lines=[line])
        return import_receipts(
            workshop=card.workshop,
            receipts=[ImportedReceipt(receipt=receipt, record=True)],
            key=uuid.uuid4(),
            today=TODAY,
        )

    return do


def other_category(card: Material) -> object:
    return Material.objects.filter(pk=card.pk).update(category="packing")


def swapped_categories(card: Material) -> object:
    glue = Material.objects.of(card.workshop).filter(category="glue").first()
    assert glue
    Material.objects.filter(pk=glue.pk).update(category="paper")
    return Material.objects.filter(pk=card.pk).update(category="glue")


def other_valuation(card: Material) -> object:
    workshop = Workshop.objects.get(pk=card.workshop.pk)
    workshop.valuation = Workshop.Valuation.FIFO
    return save_settings(workshop=workshop, fields=["valuation"], edit_number=workshop.edit_number)


# what is written, and whether the kept sums hold after it
WRITES: dict[str, tuple[Callable[[Material], object], bool]] = {
    "a receipt": (receipt_on(NEW), True),
    "a receipt of an old day": (receipt_on(OLD), False),
    "a use": (use_on(NEW), True),
    "a use of an old day": (use_on(OLD), False),
    "a count": (count_on(NEW), True),
    "a count of an old day": (count_on(OLD), False),
    "a use taken back": (undo_use, False),
    "a count taken back": (
        lambda card: reverse_count(workshop=card.workshop, form_key=uuid.UUID(int=7)),
        False,
    ),
    "a receipt taken back": (lambda card: reverse_purchase(purchase=old_receipt(card)), False),
    "receipts out of a file": (imported_on(NEW), True),
    "old receipts out of a file": (imported_on(OLD), False),
    "a draft": (lambda card: make_draft(card.workshop, (card, "1", "2.00"), bought_on=OLD), True),
    "a new material": (lambda card: factories.make_material(card.workshop), True),
    "another category": (other_category, False),
    "two categories the other way round": (swapped_categories, False),
    "another way to value stock": (other_valuation, False),
}


@pytest.mark.parametrize("name", WRITES)
def test_after_each_kind_of_write(name: str, books: Workshop, card: Material) -> None:
    assert holds(books)
    assert_as_if_added_up_anew(books)
    write, still_holds = WRITES[name]
    write(card)
    assert holds(books) is still_holds
    assert_as_if_added_up_anew(books)
    # kept again, they hold again, and say the same
    assert keep_sums(workshop=books, today=TODAY) is not still_holds
    assert holds(books)
    assert_as_if_added_up_anew(books)


@pytest.mark.parametrize("seed", range(tries(4, 40)))
def test_whatever_is_written_when(workshop: Workshop, card: Material, seed: int) -> None:
    """At random: writes of any day, and the sums kept now and then."""
    rng = random.Random(seed)
    busy_year(workshop, seed)
    make_receipt(workshop, (card, "48", "25.10"), bought_on=OLD)
    months = list(months_from(FIRST, LAST))
    for _ in range(12):
        day = rng.choice(months).replace(day=rng.randint(1, 28))
        make = rng.choice((receipt_on, use_on, imported_on, count_on, None))
        if make is None:
            entries = StockEntry.objects.standing().filter(
                material__workshop=workshop, purchase_line__isnull=True
            )
            reverse_entry(entry=rng.choice(list(entries.select_related("material__workshop"))))
        else:
            held = sum(
                card.stock_entries.filter(moved_on__lte=day).values_list("change", flat=True)
            )
            if make is count_on and held == 30:
                continue
            make(day)(card)
        if rng.random() < 0.4:
            keep_sums(workshop=workshop, today=rng.choice((TODAY, datetime.date(2026, 2, 3))))
        assert_as_if_added_up_anew(workshop)


def test_a_workshop_out_of_a_file_has_its_own(books: Workshop) -> None:
    other = import_workshop(export_workshop(books), name="Other", owner=None)
    assert not holds(other)
    assert keep_sums(workshop=other, today=TODAY)
    assert report(other) == report(books)
    assert_as_if_added_up_anew(other)


def test_they_go_with_the_workshop(books: Workshop) -> None:
    Workshop.objects.filter(pk=books.pk).update(is_demo=True)
    remove_workshop(workshop=books)
    assert not KeptSpending.objects.exists()


def test_what_was_entered_while_adding_up_is_not_left_out(
    books: Workshop, card: Material, monkeypatch: pytest.MonkeyPatch
) -> None:
    KeptSpending.objects.all().delete()
    added_up = kept.moved_in

    def slowly(*args: Any) -> Any:
        found = added_up(*args)
        receipt_on(OLD)(card)
        return found

    monkeypatch.setattr(kept, "moved_in", slowly)
    assert not keep_sums(workshop=books, today=TODAY)
    assert not KeptSpending.objects.exists()


@pytest.fixture
def _in_june(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("django.utils.timezone.localdate", lambda *_: TODAY)


@pytest.mark.usefixtures("_in_june")
def test_the_task_keeps_them_where_that_saves_time(
    books: Workshop, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    KeptSpending.objects.all().delete()
    tasks.keep_sums_of_all.call()
    assert not KeptSpending.objects.exists()
    monkeypatch.setattr(tasks, "WORTH_KEEPING", 10)
    tasks.keep_sums_of_all.call()
    assert KeptSpending.objects.get().workshop == books
    asked = "/w/marlow/spending/?first=2025-05&last=2026-06"
    page = client.get(asked).content
    # the page reads them: made wrong on purpose, they show
    one = KeptSpending.objects.get()
    one.spent = [[month, category, amount + 10**9] for month, category, amount in one.spent]
    one.save()
    assert client.get(asked).content != page


def test_they_cost_one_more_query_to_ask_whether_they_hold(
    books: Workshop, count_queries: Any
) -> None:
    with count_queries() as with_kept:
        report(books)
    KeptSpending.objects.all().delete()
    with count_queries() as without:
        report(books)
    assert (len(with_kept), len(without)) == (8, 7)
