"""The first page of a workshop."""

import datetime
from decimal import Decimal
from typing import Any

from django.test import Client
from django.utils import timezone

from catalogue.purchases.models import Purchase
from maker.workshop.models import Workshop
from pricing.home.due import due_now
from pricing.orders.models import Invoice, Order, OrderDelivery
from pricing.quotes.models import Quote
from tests import factories
from tests.pricing.fair_rows import make_fair
from tests.pricing.quotes import make_quote

HOME = "/w/marlow/"
STEPS = "Three steps to a first price"


def draft(workshop: Workshop, **fields: Any) -> Purchase:
    supplier = factories.make_supplier(workshop, name=f"Supplier {Purchase.objects.count()}")
    return Purchase.objects.create(
        workshop=workshop, supplier=supplier, bought_on=factories.today(), **fields
    )


def test_an_empty_workshop_says_what_to_do_first(client: Client, workshop: Workshop) -> None:
    page = client.get(HOME).content.decode()
    assert STEPS in page
    assert "Done" not in page
    factories.make_material(workshop)
    assert "Done" in client.get(HOME).content.decode()


def test_a_reader_of_an_empty_workshop_is_not_sent_to_write(reader_client: Client) -> None:
    page = reader_client.get(HOME).content.decode()
    assert STEPS not in page
    assert "No designs yet" in page


def test_with_a_design_it_shows_what_is_going_on(client: Client, workshop: Workshop) -> None:
    factories.make_design(workshop, name="Fern favour bag")
    factories.make_design(workshop, name="Archived", retired_on=factories.today())
    draft(workshop)
    draft(workshop, state=Purchase.State.RECORDED)
    low = {"reorder_level": Decimal(24), "on_hand": Decimal("3.5")}
    factories.make_material(workshop, name="Moss card", **low)
    factories.make_material(workshop, name="Plenty", reorder_level=Decimal(2), on_hand=Decimal(9))
    page = client.get(HOME).content.decode()
    assert STEPS not in page
    assert "Fern favour bag" in page
    assert "Archived" not in page
    assert "Supplier 0" in page
    assert "Supplier 1" not in page
    assert "Moss card" in page
    assert "is running low" in page
    assert "Finish receipt" in page
    assert "Plenty" not in page


def test_the_newest_designs_come_first(client: Client, workshop: Workshop) -> None:
    for number in range(8):
        factories.make_design(workshop, name=f"Design no {number}")
    designs = client.get(HOME).context["designs"]
    assert [design.name for design, _ in designs] == [f"Design no {n}" for n in (7, 6, 5, 4)]


def test_what_is_late_comes_first_then_what_is_near_then_the_rest(workshop: Workshop) -> None:
    day, today = datetime.timedelta(days=1), factories.today()
    draft(workshop)
    factories.make_material(workshop, name="Moss card", reorder_level=Decimal(5))
    factories.make_material(workshop, name="Fern card", reorder_level=Decimal(5))
    ends = make_quote(workshop, title="Ends soon")
    Quote.objects.filter(pk=ends.pk).update(
        state="sent", number="Q-1", sent_on=today, valid_until=today + 3 * day
    )
    for number, due_on in (("O-1", today - day), ("O-2", today + day), ("O-3", today + 30 * day)):
        quote = make_quote(workshop)
        Order.objects.create(quote=quote, number=number, due_on=due_on)
    paid = make_quote(workshop)
    settled = Order.objects.create(quote=paid, number="O-4", due_on=today - day, state="settled")
    parts = [
        OrderDelivery.objects.create(order=order, position=0)
        for order in (settled, Order.objects.get(number="O-3"))
    ]
    for number, part in zip(("I-1", "I-2"), parts, strict=True):
        Invoice.objects.create(
            order=part.order,
            delivery=part,
            number=number,
            issued_on=today - 30 * day,
            due_on=today - 16 * day,
            total=Decimal(12),
            to_pay=Decimal(12),
        )
    found = due_now(workshop, today)
    assert [line.text.partition(" for ")[0].partition(" to ")[0] for line in found] == [
        "Invoice I-2",
        "Order O-1",
        "Order O-2",
        "Quote Q-1",
        *[line.text.partition(" to ")[0] for line in found[4:]],
    ]
    rest = {line.text.partition(" to ")[0] for line in found[4:]}
    assert rest >= {"Receipt from Supplier 0", "2 materials are running low", "Quote"}
    assert [line.is_late for line in found[:4]] == [True, True, False, False]


def fair_lines(workshop: Workshop, today: datetime.date) -> list[tuple[str, str, str, bool]]:
    return [
        (line.text, line.detail, line.action, line.is_late)
        for line in due_now(workshop, today)
        if "fair" in line.text
    ]


def test_fairs_are_named_before_on_the_day_and_until_they_are_closed(
    client: Client, workshop: Workshop
) -> None:
    day, today = datetime.timedelta(days=1), factories.today()
    going = make_fair(workshop, days=2, name="Alder green fair")
    make_fair(workshop, name="Maybe fair", state="maybe")
    make_fair(workshop, name="Other fair", state="not_going")

    def at(date: datetime.date, detail: str) -> str:
        return f"on {date.day} {date:%b}, {detail}"

    assert fair_lines(workshop, today - 22 * day) == []
    assert fair_lines(workshop, today - 21 * day) == [
        ("Alder green fair", at(today, "opens at 10:00"), "Choose what to take", False),
        ("Maybe fair", at(today, "still to decide"), "Decide", False),
    ]
    assert fair_lines(workshop, today) == [
        ("Alder green fair", "today until 17:00", "Open sales", False),
        ("Alder green fair", at(today + day, "opens at 10:00"), "Choose what to take", False),
    ]
    first = going.days.order_by("held_on").first()
    page = client.get(HOME).content.decode()
    assert f"/fairs/{going.pk}/days/{first.pk}/sales/" in page
    assert fair_lines(workshop, today + 2 * day) == [
        ("Alder green fair", at(today, "isn’t closed yet"), "Count till", True),
        ("Alder green fair", at(today + day, "isn’t closed yet"), "Count till", True),
    ]
    going.days.update(closed_at=timezone.now())
    assert fair_lines(workshop, today + 2 * day) == []


def test_nothing_of_another_workshop_is_shown(
    client: Client, workshop: Workshop, other_workshop: Workshop
) -> None:
    factories.make_design(workshop)
    factories.make_design(other_workshop, name="Foreign design")
    factories.make_material(
        other_workshop, name="Foreign card", reorder_level=Decimal(5), on_hand=Decimal(0)
    )
    draft(other_workshop)
    page = client.get(HOME).content.decode()
    assert "Foreign" not in page
    assert "Supplier 0" not in page


def test_strangers_and_nobody_stay_outside(
    stranger_client: Client, anonymous_client: Client, workshop: Workshop
) -> None:
    assert stranger_client.get(HOME).status_code == 404
    assert anonymous_client.get(HOME)["Location"] == "/sign-in/?next=/w/marlow/"


def test_more_rows_cost_no_more_queries(
    client: Client, workshop: Workshop, count_queries: Any
) -> None:
    def add() -> None:
        factories.make_design(workshop)
        factories.make_material(workshop, reorder_level=Decimal(5))
        draft(workshop)
        make_fair(workshop)

    add()
    with count_queries() as few:
        client.get(HOME)
    for _ in range(5):
        add()
    with count_queries() as many:
        client.get(HOME)
    assert len(many) == len(few)
