"""An order taken at the table is an enquiry afterwards, and its deposit a payment of the order."""

import datetime
import threading
import time
import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from pricing.customers.models import Customer
from pricing.enquiries.models import Enquiry
from pricing.enquiries.services import quote_enquiry
from pricing.fair_sales import services
from pricing.fair_sales.reading import SentBatch
from pricing.fair_sales.services import restore_sale, store_batch, undo_by_uuid
from pricing.fairs.models import FairSale
from pricing.orders.models import Order, OrderPayment
from pricing.orders.services import accept, undo_answer
from pricing.personal_data.services import erase_customer
from pricing.quotes.models import Quote
from pricing.quotes.sending import revise_quote
from pricing.workshop_file.services import export_workshop, import_workshop
from tests.at_once import at_once
from tests.factories import make_recipe, today
from tests.fair_tables import Table
from tests.pricing.quotes import make_line, sent_quote

NEEDED = today() + datetime.timedelta(days=60)


@pytest.fixture
def table(workshop):
    return Table(workshop)


def taken(table, **fields: Any):
    order = {"kind": "order", "customer": "Ottoline", "note": "40 bags, blue",
             "needed": str(NEEDED), "amount": 2000, "way": "card"}  # fmt: skip
    return table.sale(**{"items": {}, **order, **fields})


def send(table, owner, *sales):
    batch = SentBatch("phone", None, sales)
    answers = store_batch(day=table.day, batch=batch, by=owner, now=timezone.now())
    return [each.state for each in answers]


def ordered(enquiry, owner, *, revise=False):
    quote = quote_enquiry(enquiry=enquiry, today=today(), channel=None)
    make_line(quote, make_recipe(quote.workshop, name=f"Bag {quote.pk}"), quantity=40)
    quote = sent_quote(quote, owner)
    if revise:
        quote = sent_quote(revise_quote(quote=quote, today=today()), owner)
    return accept(quote=quote, who="Ottoline", on=today(), today=today())


def test_what_was_ordered_is_found_at_home_and_in_enquiries(client, table, owner):
    assert send(table, owner, taken(table)) == ["stored"]
    (enquiry,) = Enquiry.objects.all()
    assert (enquiry.customer.name, enquiry.title) == ("Ottoline", "40 bags, blue")
    assert (enquiry.source, enquiry.needed_on) == ("fair", NEEDED)
    slug = table.workshop.slug
    assert "Enquiry from Ottoline" in client.get(f"/w/{slug}/").content.decode()
    page = client.get(reverse("pricing:enquiry", args=[slug, enquiry.pk])).content.decode()
    assert "Deposit paid" in page
    assert "20.00 card" in page
    orders = client.get(reverse("pricing:order_list", args=[slug])).content.decode()
    assert "1 order taken at a fair" in orders
    assert "Ottoline: 40 bags, blue" in client.get(table.address("sales/")).content.decode()


def test_arriving_twice_makes_one_enquiry_of_one_customer(table, owner):
    sale, other = taken(table), taken(table, customer="ottoline", note="a box")
    assert send(table, owner, sale, sale) == ["stored", "already"]
    assert send(table, owner, other, sale) == ["stored", "already"]
    assert Enquiry.objects.count() == 2
    assert Customer.objects.get().name == "Ottoline"


def test_an_archived_customer_loses_no_order(table, owner, workshop):
    customer = Customer.objects.create(workshop=workshop, name="Ottoline", retired_on=today())
    assert send(table, owner, taken(table)) == ["stored"]
    assert Enquiry.objects.get().customer == customer


@pytest.mark.parametrize(
    ("note", "name", "title"),
    [
        ("Ottoline: 40 bags", "Ottoline", "40 bags"),
        ("40 bags for Ottoline", "Customer at Hollin Green fair", "40 bags for Ottoline"),
        ("Ottoline:", "Customer at Hollin Green fair", "Ottoline:"),
    ],
)
def test_a_page_kept_from_before_said_it_in_one_line(table, owner, note, name, title):
    assert send(table, owner, taken(table, customer="", needed="", note=note)) == ["stored"]
    enquiry = Enquiry.objects.get()
    assert (enquiry.customer.name, enquiry.title, enquiry.needed_on) == (name, title, None)


@pytest.mark.parametrize(
    "fields", [{"needed": "soon"}, {"needed": 7}, {"customer": "x" * 121}, {"customer": 3}]
)
def test_what_cannot_be_read_is_kept_with_its_money(table, owner, fields):
    assert send(table, owner, taken(table, **fields)) == ["refused"]
    row = FairSale.objects.get()
    assert (row.received, bool(row.problem)) == (20, True)
    assert not Enquiry.objects.exists()


@pytest.mark.parametrize("revise", [False, True])
def test_the_deposit_is_one_payment_of_the_order(table, owner, revise):
    send(table, owner, taken(table))
    order = ordered(Enquiry.objects.get(), owner, revise=revise)
    (payment,) = order.payments.all()
    assert (payment.received, payment.way) == (Decimal(20), "card")
    assert payment.received_on == table.day.held_on
    assert FairSale.objects.get().order == order
    # undone and accepted again there is one payment, not two
    undo_answer(quote=order.quote)
    assert not OrderPayment.objects.exists()
    again = accept(
        quote=Quote.objects.get(pk=order.quote_id), who="Ottoline", on=today(), today=today()
    )
    assert [each.received for each in again.payments.all()] == [20]


def test_without_a_deposit_nothing_is_paid(table, owner):
    send(table, owner, taken(table, amount=0, way="none"))
    assert not ordered(Enquiry.objects.get(), owner).payments.exists()


def test_an_order_undone_at_the_table_is_archived_and_comes_back(table, owner):
    sale = taken(table)
    send(table, owner, sale)
    row = FairSale.objects.get()
    undo_by_uuid(day=table.day, own=row.uuid, by=owner, now=timezone.now())
    assert Enquiry.objects.get().retired_on
    restore_sale(sale=row, by=owner)
    assert Enquiry.objects.get().retired_on is None


def test_undone_before_it_arrived_it_waits_for_nobody(table, owner):
    sale = taken(table)
    undo = {"uuid": str(uuid.uuid4()), "kind": "undo", "of": sale["uuid"], "way": "none"}
    send(table, owner, undo, sale)
    assert Enquiry.objects.get().retired_on
    assert not Enquiry.objects.open().exists()


def test_what_became_an_order_is_not_undone_at_the_table(table, owner):
    sale = taken(table)
    send(table, owner, sale)
    ordered(Enquiry.objects.get(), owner)
    undo = {"uuid": str(uuid.uuid4()), "kind": "undo", "of": sale["uuid"], "way": "none"}
    assert send(table, owner, undo) == ["refused"]
    assert FairSale.objects.get().undone_at is None
    assert Order.objects.get().payments.count() == 1


@pytest.mark.django_db(transaction=True)
def test_undone_as_it_becomes_an_order_its_deposit_is_not_taken(table, owner, monkeypatch):
    """The order waits for the undo that came first, and finds nothing to take."""
    sale = taken(table)
    send(table, owner, sale)
    quote = quote_enquiry(enquiry=Enquiry.objects.get(), today=today(), channel=None)
    make_line(quote, make_recipe(quote.workshop, name="Bag"), quantity=40)
    quote = sent_quote(quote, owner)
    undone = threading.Event()
    give_back = services.give_back_stock

    def slowly(*args: Any, **options: Any) -> None:
        undone.set()
        time.sleep(0.5)
        give_back(*args, **options)

    def answer() -> None:
        undone.wait(10)
        accept(quote=quote, who="Ottoline", on=today(), today=today())

    monkeypatch.setattr(services, "give_back_stock", slowly)
    now = timezone.now()
    at_once(
        lambda: undo_by_uuid(day=table.day, own=uuid.UUID(sale["uuid"]), by=owner, now=now), answer
    )
    assert Order.objects.count() == 1
    row = FairSale.objects.get()
    assert row.undone_at is not None
    assert row.order is None
    assert not OrderPayment.objects.exists()


def test_it_goes_with_the_workshop_and_with_its_customer(table, owner):
    send(table, owner, taken(table))
    copy = import_workshop(export_workshop(table.workshop), name="Moved house", owner=owner)
    assert FairSale.objects.of(copy).get().enquiry == Enquiry.objects.of(copy).get()
    erase_customer(customer=Customer.objects.of(copy).get(), today=today())
    row = FairSale.objects.of(copy).get()
    assert "Ottoline" not in row.note + row.sent_text
    assert row.received == 20


def erased(table, name="Ottoline"):
    erase_customer(customer=Customer.objects.of(table.workshop).get(name=name), today=today())


def test_an_order_that_could_not_be_booked_is_no_enquiry_and_goes_with_its_customer(table, owner):
    Customer.objects.create(workshop=table.workshop, name="Zoë Ottoline")
    sent = [
        taken(table, customer="zoë  ottoline", reason="x" * 200),
        # a page kept from before has who and what in one line
        taken(table, customer="", note="Zoë Ottoline: 40 bags", items={"1": 1}),
    ]
    assert send(table, owner, *sent) == ["refused", "refused"]
    cut = FairSale.objects.get(uuid=sent[0]["uuid"])
    # cut off in the middle it is no JSON any more
    cut.sent_text = cut.sent_text.partition("ottoline")[0] + "ottoline"
    cut.save()
    FairSale.objects.update(enquiry=None)
    erased(table, "Zoë Ottoline")
    for row in FairSale.objects.all():
        assert "ottoline" not in (row.note + row.sent_text).casefold()
        assert row.received == 20


def test_what_was_noted_of_a_refund_or_discount_goes_with_its_customer(table):
    Customer.objects.create(workshop=table.workshop, name="Ottoline")
    sale = FairSale.objects.create(
        day=table.day, happened_at=timezone.now(), kind="sale", discount_reason="Ottoline’s friend"
    )
    refund = FairSale.objects.create(
        day=table.day, happened_at=timezone.now(), kind="refund", note="lid: OTTOLINE, torn"
    )
    erased(table)
    for row in (sale, refund):
        row.refresh_from_db()
        assert "ottoline" not in (row.note + row.discount_reason).casefold()


def test_orders_of_others_stay_as_they_are_noted(table, owner):
    Customer.objects.create(workshop=table.workshop, name="Ottoline")
    others = [
        taken(table, customer="Ottoline Marsh", reason="x" * 200),
        taken(table, customer="", note="Ottoline Marsh: 12 boxes", items={"1": 1}),
        taken(table, customer="Henrietta", note="12 boxes, ottolines"),
    ]
    send(table, owner, *others)
    before = list(FairSale.objects.order_by("pk").values_list("note", "sent_text"))
    erased(table)
    assert list(FairSale.objects.order_by("pk").values_list("note", "sent_text")) == before
