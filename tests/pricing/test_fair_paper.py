"""A tally sheet entered afterwards, and counting back; mixed with what phones sent."""

import datetime
import io
import uuid
from decimal import Decimal
from typing import Any

import pdfplumber
import pytest
import time_machine
from django.db.models import F, Sum
from django.test import Client

from maker.accounts.models import User
from pricing.fairs.models import Fair, FairDesign, FairSale
from pricing.finished_stock.models import FinishedMove, Place
from pricing.finished_stock.services import item_for, make_batch
from pricing.orders.models import Order
from tests.factories import today
from tests.fair_tables import Table
from tests.pricing.quotes import make_quote
from tests.pricing.test_fair_table import send

pytestmark = pytest.mark.django_db


@pytest.fixture
def table(workshop: Any) -> Table:
    return Table(workshop)


def enter(client: Client, table: Table, **typed: str) -> Any:
    """Send the form of the sheet; L is the lantern, S the star box, B the bundle."""
    names = {"L": f"i{table.lantern.pk}", "S": f"i{table.starbox.pk}", "B": f"b{table.bundle.pk}"}
    body = {names[k[0]] + k[1:] if k[0] in names else k: text for k, text in typed.items()}
    return client.post(table.address("paper/"), {"form_key": str(uuid.uuid4()), **body})


def takings(way: str) -> Decimal:
    rows = FairSale.objects.that_count().filter(way=way)
    return rows.aggregate(sum=Sum(F("received") * F("payments")))["sum"] or Decimal(0)


def test_a_sheet_is_entered_on_one_form(client: Client, table: Table) -> None:
    answer = enter(
        client, table,
        L_cash="4", L_card="7", S_card="3", S_given="1", L_broken="2", L_refund="1", B_cash="2",
        S_out="13:20", order0_note="Ottoline: 40 bags", order0_deposit="20", order0_way="card",
    )  # fmt: skip
    assert answer.status_code == 302
    assert not FairSale.objects.exclude(problem="").exists()
    assert takings("cash") == Decimal("4") * Decimal("6.50") + 2 * Decimal("22.50") - Decimal("6.5")
    assert takings("card") == 7 * Decimal("6.50") + 3 * Decimal("11.00") + 20
    # each stroke is a payment of its own, for the fees of cards
    strokes = FairSale.objects.filter(way="card", kind="sale")
    assert strokes.aggregate(sum=Sum("payments"))["sum"] == 10
    out = FairSale.objects.get(kind="sold_out")
    assert (out.happened_at.hour, out.happened_at.minute) == (13, 20)
    sold = FinishedMove.objects.filter(kind="sold").aggregate(sum=Sum("change"))["sum"]
    assert sold == -(4 + 7 + 3 + 2 * 3)


@pytest.mark.parametrize("now", [(14, 30), (21, 0)], ids=["still open", "in the evening"])
def test_a_time_on_the_sheet_is_that_of_the_clock_at_the_table(
    client: Client, owner: User, workshop: Any, settings: Any, now: tuple[int, int]
) -> None:
    """Berlin is an hour before Greenwich on 5 December."""
    settings.TIME_ZONE = "Europe/Berlin"
    day = datetime.date(2026, 12, 5)
    with time_machine.travel(datetime.datetime(2026, 12, 5, *now, tzinfo=datetime.UTC), tick=False):
        client.force_login(owner, settings.AUTHENTICATION_BACKENDS[0])
        table = Table(workshop, on=day)
        assert enter(client, table, L_cash="1", S_out="13:20").status_code == 302
    out = FairSale.objects.get(kind="sold_out")
    assert out.happened_at == datetime.datetime(2026, 12, 5, 12, 20, tzinfo=datetime.UTC)


def test_a_second_click_enters_nothing_twice(client: Client, table: Table) -> None:
    key = str(uuid.uuid4())
    for _ in range(2):
        assert enter(client, table, form_key=key, L_cash="4", B_card="1").status_code == 302
    assert FairSale.objects.count() == 2


def test_a_discount_lies_on_the_dearest_payments(client: Client, table: Table) -> None:
    enter(client, table, L_cash="3", S_cash="2", discount_cash="12.50", discount_reason="last hour")
    assert takings("cash") == 3 * Decimal("6.50") + 2 * Decimal(11) - Decimal("12.50")
    off = FairSale.objects.exclude(discount=0)
    assert sorted((row.discount, row.payments) for row in off) == [(Decimal("1.5"), 1), (11, 1)]
    assert {row.discount_reason for row in off} == {"last hour"}


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({}, "Enter at least one number"),
        ({"L_cash": "some"}, "some"),
        ({"L_cash": "-1"}, ""),
        ({"L_cash": "2.5"}, "a whole number"),
        ({"L_cash": "1", "S_out": "lunch"}, "Enter a time"),
        ({"L_cash": "1", "discount_cash": "1"}, "Enter a reason"),
        ({"L_cash": "1", "discount_cash": "9", "discount_reason": "x"}, "more than was sold"),
        ({"L_card": "1", "discount_cash": "1", "discount_reason": "x"}, "more than was sold"),
        ({"order1_deposit": "5"}, "Enter who ordered what"),
    ],
)
def test_a_sheet_that_cannot_be_meant_is_refused_and_keeps_what_was_typed(
    client: Client, table: Table, typed: dict[str, str], words: str
) -> None:
    answer = enter(client, table, **typed)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not FairSale.objects.exists()


def test_counting_back_shows_each_difference_and_books_what_she_says(
    client: Client, table: Table
) -> None:
    send(client, table, table.sale(3))
    enter(client, table, L_card="5", S_cash="2")
    lantern, starbox = table.lantern.pk, table.starbox.pk
    counts = {
        "form_key": str(uuid.uuid4()),
        f"taken_{lantern}": "40",
        f"left_{lantern}": "28",
        f"taken_{starbox}": "21",
        f"left_{starbox}": "20",
    }
    page = client.post(table.address("count/"), counts, follow=True)
    text = page.content.decode()
    assert "4 missing" in text
    assert "1 more than there should be" in text
    # nothing was booked by that
    assert FairSale.objects.count() == 3
    key = str(page.context["difference"].initial["form_key"])
    booking = {"form_key": key, f"what_{lantern}": "sale cash"}
    for _ in range(2):
        client.post(table.address("count/book/"), booking)
    row = FairSale.objects.get(source="count")
    assert (row.payments, row.received, row.way) == (4, Decimal("6.50"), "cash")
    page = client.get(table.address("count/"))
    assert page.context["difference"].missing == []


def test_counting_back_alone_is_enough(client: Client, table: Table) -> None:
    FairDesign.objects.filter(pk=table.starbox.pk).update(brought_home=15)
    page = client.get(table.address("count/"))
    key = str(page.context["difference"].initial["form_key"])
    client.post(
        table.address("count/book/"), {"form_key": key, f"what_{table.starbox.pk}": "sale card"}
    )
    assert takings("card") == 6 * Decimal("11.00")


def test_what_is_missing_may_stay_missing(client: Client, table: Table) -> None:
    FairDesign.objects.filter(pk=table.starbox.pk).update(brought_home=15)
    client.post(
        table.address("count/book/"),
        {"form_key": str(uuid.uuid4()), f"what_{table.starbox.pk}": ""},
    )
    assert not FairSale.objects.exists()
    assert "6 missing" in client.get(table.address("count/")).content.decode()


@pytest.mark.parametrize("is_open", [True, False])
def test_the_sheet_has_every_item_with_its_price(
    client: Client, workshop: Any, is_open: bool
) -> None:
    """Also before the day is opened: the sheet is printed the evening before."""
    table = Table(workshop, is_open=is_open)
    answer = client.get(table.address("tally.pdf"))
    assert answer["Content-Type"] == "application/pdf"
    with pdfplumber.open(io.BytesIO(answer.content)) as pdf:
        text = "".join(page.extract_text() for page in pdf.pages)
    for words in (
        "Paper lantern",
        "€6.50",
        "Star box",
        "€11.00",
        "Two lanterns and a box",
        "€22.50",
    ):
        assert words in text


def test_an_undone_sale_is_brought_back_whole(client: Client, table: Table) -> None:
    send(client, table, table.sale(2, 1))
    sale = FairSale.objects.get()
    for rest, change in (("undo", 0), ("restore", -3), ("undo", 0)):
        client.post(table.address(f"sales/{sale.pk}/{rest}/"))
        moves = FinishedMove.objects.standing().filter(kind="sold")
        assert (moves.aggregate(sum=Sum("change"))["sum"] or 0) == change


@pytest.mark.parametrize(
    ("at_fair", "others", "kept"), [(True, 0, 3), (False, 38, 2), (False, 60, 0)]
)
def test_what_orders_reserve_is_not_offered(
    client: Client, table: Table, at_fair: bool, others: int, kept: int
) -> None:
    """Three lanterns were made for an order; forty were taken.

    Two of the three must be on the table if only 38 others and those three were at home.
    """
    workshop = table.workshop
    order = Order.objects.create(quote=make_quote(workshop), number="A-1")
    place = Place.objects.create(workshop=workshop, kind=Place.Kind.FAIR, name=table.fair.name)
    Fair.objects.filter(pk=table.fair.pk).update(stock_place=place)
    for quantity, whose in ((3, order.pk), (others, None)):
        if quantity:
            make_batch(
                item=item_for(table.lantern.version),
                quantity=quantity,
                made_on=today(),
                today=today(),
                materials={},
                minutes=Decimal(30),
                order=whose,
                place=place if at_fair else None,
            )
    told = send(client, table).json()["day"]
    lantern, starbox = str(table.lantern.pk), str(table.starbox.pk)
    assert told["left"] == {lantern: 40 - kept, starbox: 21}
    assert told["reserved"] == ({lantern: kept} if kept else {})
