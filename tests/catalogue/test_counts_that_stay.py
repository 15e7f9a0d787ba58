"""A count stays what was counted; what comes in before it later changes what it found missing."""

import datetime
import random
import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from catalogue.materials.models import Material
from catalogue.offcuts.models import OffcutEntry
from catalogue.offcuts.services import (
    NotThatMany,
    count_offcuts,
    keep_offcuts,
    reverse_offcut_entry,
    take_offcuts,
)
from catalogue.purchases.models import Purchase
from catalogue.purchases.services import reverse_purchase
from catalogue.stock.counts import counts_moved_by
from catalogue.stock.models import StockEntry
from catalogue.stock.services import (
    balance_on,
    count_stock,
    move_stock,
    reverse_entry,
)
from maker.workshop.models import Workshop
from pricing.calc.spending.spend import reconcile
from pricing.spending.inputs import Narrowed, moved_in, moves_by_month, shelf_of, spending_of
from tests import factories
from tests.catalogue.cutting_asks import make_plan, piece
from tests.catalogue.files import csv_of, send
from tests.catalogue.page_forms import fields_of
from tests.catalogue.pages import text_of
from tests.catalogue.receipts import TODAY, make_receipt

D = Decimal


def day(month: int, number: int) -> datetime.date:
    return datetime.date(2026, month, number)


def count(card: Material, amount: str, on: datetime.date) -> StockEntry:
    return count_stock(material=card, counted=D(amount), moved_on=on, today=TODAY)


def use(card: Material, amount: str, on: datetime.date) -> StockEntry:
    return move_stock(material=card, kind="used", amount=D(amount), moved_on=on, today=TODAY)


def figures(card: Material) -> tuple[Decimal, Decimal]:
    card.refresh_from_db()
    return card.on_hand, card.stock_value


def difference(workshop: Workshop) -> Decimal:
    """Return what the last line of Spend leaves unexplained over all days there are."""
    first, last = day(1, 1), TODAY.replace(day=1)
    everything = Narrowed()
    spending = spending_of(workshop, first, last)
    moves = moves_by_month(moved_in(workshop, first, last, everything))
    shelf = shelf_of(workshop, first, last, everything)
    found = reconcile(
        opening=shelf.opening,
        spent=spending.total(spending.by_month),
        moves=sum(moves.values(), start=type(next(iter(moves.values())))()),
        closing=shelf.closing,
        digits=2,
    )
    return found.unexplained


def test_a_forgotten_receipt_does_not_change_what_was_counted(
    workshop: Workshop, card: Material
) -> None:
    make_receipt(workshop, (card, "70", "35.00"), bought_on=day(1, 5))
    counted = count(card, "67", day(3, 10))
    late = make_receipt(workshop, (card, "50", "30.00"), bought_on=day(2, 3))
    counted.refresh_from_db()
    assert (counted.counted, counted.change_at_count, counted.change) == (67, -3, -53)
    # by hand: 70 for 35.00 and 50 for 30.00 are 0.541667 each; 65.00 - 53 x 0.541667 = 36.291649
    assert figures(card) == (67, D("36.291649"))
    assert difference(workshop) == 0
    # taking the receipt back takes its correction back too
    reverse_purchase(purchase=late)
    counted.refresh_from_db()
    assert counted.change == -3
    assert figures(card) == (67, D("33.50"))
    assert difference(workshop) == 0


def test_the_value_follows_by_first_in_first_out(workshop: Workshop, card: Material) -> None:
    workshop.valuation = Workshop.Valuation.FIFO
    workshop.save()
    make_receipt(workshop, (card, "70", "35.00"), bought_on=day(1, 5))
    count(card, "67", day(3, 10))
    make_receipt(workshop, (card, "50", "30.00"), bought_on=day(2, 3))
    # the 53 missing left from the 70 at 0.50: 17 x 0.50 + 50 x 0.60
    assert figures(card) == (67, D("38.50"))
    assert difference(workshop) == 0


@pytest.mark.parametrize(
    ("on", "left"),
    [(day(2, 1), 67), (day(3, 9), 67), (day(3, 10), 62), (day(3, 11), 62)],
    ids=["weeks before", "the day before", "later the same day", "after"],
)
def test_late_use_moves_the_count_only_before_it(
    workshop: Workshop, card: Material, on: datetime.date, left: int
) -> None:
    make_receipt(workshop, (card, "70", "35.00"), bought_on=day(1, 5))
    count(card, "67", day(3, 10))
    use(card, "5", on)
    assert figures(card)[0] == left


def test_of_two_counts_the_first_meets_what_is_late(workshop: Workshop, card: Material) -> None:
    make_receipt(workshop, (card, "70", "35.00"), bought_on=day(1, 5))
    first = count(card, "67", day(2, 10))
    second = count(card, "60", day(3, 10))
    late = use(card, "7", day(2, 1))
    met = counts_moved_by([late])
    assert [(one.count.pk, one.more, one.same_day) for one in met] == [(first.pk, 7, False)]
    for one in (first, second):
        one.refresh_from_db()
    assert (first.change, second.change) == (4, -7)
    # between them it meets the second
    use(card, "5", day(3, 1))
    second.refresh_from_db()
    assert (second.change, second.balance) == (-2, 60)
    # a count that comes later with an earlier day stays too, and so do those after it
    between = count(card, "64", day(3, 5))
    second.refresh_from_db()
    assert (between.balance, second.balance, second.change) == (64, 60, -4)
    reverse_entry(entry=first)
    between.refresh_from_db()
    assert (between.balance, figures(card)[0]) == (64, 60)
    assert difference(workshop) == 0


def test_several_counts_of_a_day_stand_in_the_order_of_entry(
    workshop: Workshop, card: Material
) -> None:
    make_receipt(workshop, (card, "70", "35.00"), bought_on=day(1, 5))
    morning = count(card, "70", day(3, 10))
    use(card, "10", day(3, 10))
    evening = count(card, "59", day(3, 10))
    make_receipt(workshop, (card, "20", "11.00"), bought_on=day(1, 20))
    for one in (morning, evening):
        one.refresh_from_db()
        assert one.balance == one.counted
    assert (morning.change, evening.change) == (-20, -1)


def test_a_count_taken_back_no_longer_holds(workshop: Workshop, card: Material) -> None:
    make_receipt(workshop, (card, "70", "35.00"), bought_on=day(1, 5))
    stale = count(card, "70", day(3, 10))
    use(card, "4", day(2, 1))
    # the row in hand still says that it agreed
    reverse_entry(entry=stale)
    assert figures(card)[0] == 66
    use(card, "6", day(2, 2))
    assert figures(card)[0] == 60
    assert difference(workshop) == 0


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("valuation", ["average", "fifo"])
def test_after_every_count_there_is_what_was_counted(
    workshop: Workshop, card: Material, seed: int, valuation: str
) -> None:
    """Random movements of random days, in any order of entry, some taken back."""
    rng = random.Random(seed)  # no secret
    workshop.valuation = valuation
    workshop.save()
    entries: list[StockEntry] = []
    receipts = []
    for _ in range(24):
        on = day(1, 1) + datetime.timedelta(days=rng.randrange(80))
        what = rng.random()
        if what < 0.3:
            receipts.append(
                make_receipt(
                    workshop,
                    (card, str(rng.randint(1, 60)), f"{rng.randint(1, 4000) / 100:.2f}"),
                    bought_on=on,
                )
            )
        elif what < 0.6:
            entries.append(use(card, str(rng.randint(1, 40)), on))
        elif what < 0.85:
            entries.append(count(card, str(rng.randint(0, 80)), on))
        elif receipts and what < 0.9:
            reverse_purchase(purchase=receipts.pop(rng.randrange(len(receipts))))
        elif entries:
            reverse_entry(entry=entries.pop(rng.randrange(len(entries))))
        rows = list(card.stock_entries.standing().in_ledger_order())
        balance = D(0)
        for row in rows:
            balance += row.change
            assert row.balance == balance
            if row.counted is not None:
                assert balance == row.counted
        card.refresh_from_db()
        assert card.on_hand == balance == balance_on(card)
    assert difference(workshop) == 0


def test_she_is_told_when_she_saves_and_at_the_material(
    client: Client, workshop: Workshop, card: Material
) -> None:
    make_receipt(workshop, (card, "70", "35.00"), bought_on=day(1, 5))
    count(card, "67", day(3, 10))
    supplier = factories.make_supplier(workshop, name="Fold & Sons")
    response = client.post(
        "/w/marlow/receipts/new/",
        {
            "supplier": supplier.pk,
            "bought_on": "2026-02-03",
            "then": "record",
            "form_key": "c0ffee00-0000-4000-8000-000000000001",
            "lines-TOTAL_FORMS": 1,
            "lines-INITIAL_FORMS": 0,
            "lines-0-what": card.name,
            "lines-0-bought": "50 sheets",
            "lines-0-amount": "30.00",
        },
        follow=True,
    )
    page = text_of(response)
    assert "was counted on 10 March 2026: 67 sheets." in page
    assert "That count stays: 53 sheets missing there now." in page
    page = text_of(client.get(f"/w/marlow/materials/{card.pk}/"))
    assert "counted: 67 sheets, then −3 sheets; entered since before it: +50 sheets" in page
    # taken back, with the count as it was
    last = response.redirect_chain[-1][0].rstrip("/").rsplit("/", 1)[-1]
    page = text_of(client.post(f"/w/marlow/receipts/{last}/take-back/", follow=True))
    assert "That count stays: 3 sheets missing there now." in page
    page = text_of(client.get(f"/w/marlow/materials/{card.pk}/"))
    assert "entered since before it" not in page


def test_what_comes_after_a_count_of_the_same_day_is_said(
    client: Client, workshop: Workshop, card: Material
) -> None:
    make_receipt(workshop, (card, "70", "35.00"), bought_on=day(1, 5))
    count(card, "67", day(3, 10))
    typed = {"kind": "used", "amount": "5", "moved_on": "2026-03-10", "reason": ""}
    page = text_of(client.post(f"/w/marlow/materials/{card.pk}/stock/", typed, follow=True))
    assert "This comes after that count. Count again if it was counted in." in page
    typed = {"kind": "counted", "amount": "62", "moved_on": "2026-03-11", "reason": "week"}
    page = text_of(client.post(f"/w/marlow/materials/{card.pk}/stock/", typed, follow=True))
    assert "62 sheets counted, as many as expected." in page


@pytest.fixture
def box(card: Material) -> Any:
    """Four offcuts of one size, kept in January."""
    return keep_offcuts(
        material=card, width_mm=D(100), height_mm=D(80), count=4, moved_on=day(1, 5), today=TODAY
    ).offcut


def test_a_count_of_offcuts_stays_too(box: Any) -> None:
    counted = count_offcuts(offcut=box, counted=3, moved_on=day(3, 10), today=TODAY)
    late = keep_offcuts(
        material=box.material, width_mm=D(100), height_mm=D(80), count=2,
        moved_on=day(2, 1), today=TODAY,
    )  # fmt: skip
    counted.refresh_from_db()
    box.refresh_from_db()
    assert (box.count, counted.change, counted.change_at_count) == (3, -3, -1)
    reverse_offcut_entry(entry=late)
    counted.refresh_from_db()
    box.refresh_from_db()
    assert (box.count, counted.change) == (3, -1)
    take_offcuts(offcut=box, count=1, kind="used", moved_on=day(3, 11), today=TODAY)
    with pytest.raises(NotThatMany, match="only 2"):
        take_offcuts(offcut=box, count=3, kind="used", moved_on=day(3, 11), today=TODAY)
    box.refresh_from_db()
    assert box.count == 2
    assert OffcutEntry.objects.filter(offcut=box).count() == 5


def test_receipts_out_of_a_file_say_which_count_stays(
    client: Client, workshop: Workshop, card: Material
) -> None:
    make_receipt(workshop, (card, "70", "35.00"), bought_on=day(1, 5))
    count(card, "67", day(3, 10))
    file = csv_of(
        "Receipt,Day,Supplier,Material,Quantity,Paid",
        f"1,2026-02-03,Alder,{card.name},50,30.00",
        f"2,2026-02-04,Alder,{card.name},10,6.00",
    )
    preview = send(client, "/w/marlow/receipts/import/", file)
    sent = fields_of(preview) | {"then": "import"}
    page = text_of(client.post("/w/marlow/receipts/import/", sent, follow=True))
    assert "was counted on 10 March 2026: 67 sheets." in page
    assert "That count stays: 63 sheets missing there now." in page
    assert page.index("Imported 2 receipts") < page.index("That count stays")


def test_receipts_out_of_a_file_after_the_counts_say_nothing(
    client: Client, workshop: Workshop, card: Material
) -> None:
    make_receipt(workshop, (card, "70", "35.00"), bought_on=day(1, 5))
    count(card, "67", day(3, 10))
    file = csv_of(
        "Day,Supplier,Material,Quantity,Paid,State",
        f"2026-03-11,Alder,{card.name},50,30.00,",
        # not finished: nothing is in stock yet
        f"2026-02-03,Alder,{card.name},50,30.00,{Purchase.State.DRAFT.label}",
    )
    preview = send(client, "/w/marlow/receipts/import/", file)
    sent = fields_of(preview) | {"then": "import"}
    page = text_of(client.post("/w/marlow/receipts/import/", sent, follow=True))
    assert "Imported 2 receipts" in page
    assert "That count stays" not in page


def test_sheets_taken_for_a_plan_say_which_count_stays(
    client: Client, workshop: Workshop, card: Material
) -> None:
    make_receipt(workshop, (card, "70", "35.00"), bought_on=day(1, 5))
    count(card, "67", day(3, 10))
    row = Material.objects.with_costs().get(pk=card.pk)
    size = {"width_mm": row.width_mm, "height_mm": row.height_mm}
    plan = make_plan(workshop, piece(row, count=2, **size))
    sent = {"cut_on": "2026-02-20", "form_key": str(uuid.uuid4())}
    where = f"/w/marlow/cutting-plans/{plan.pk}/"
    page = text_of(client.post(f"{where}cut/", sent, follow=True))
    assert "was counted on 10 March 2026: 67 sheets." in page
    assert "That count stays: 1 sheet missing there now." in page
    # taken back, the count finds three missing again
    page = text_of(client.post(f"{where}cut/take-back/", follow=True))
    assert "That count stays: 3 sheets missing there now." in page
    assert figures(card)[0] == 67
