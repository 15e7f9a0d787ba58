"""Overdue invoices, their reminders, and the paper that goes along with a delivery."""

import datetime
from decimal import Decimal

import pytest
from django.urls import reverse

from maker.mail.services import MailNotSent
from pricing.home.due import due_now
from pricing.orders.delivery_notes import delivery_note, delivery_note_view
from pricing.orders.invoicing import issue_invoice
from pricing.orders.models import Invoice, Order
from pricing.orders.overdue import (
    AlreadyReminded,
    overdue_invoices,
    reminder_of,
    send_reminder,
)
from pricing.orders.payments import record_payment
from pricing.orders.services import DeliveryInput, accept, save_deliveries
from tests.factories import make_recipe, today
from tests.pricing.quotes import make_customer, make_line, make_quote, sent_quote

DAY = datetime.timedelta(days=1)
LATER = 30 * DAY


@pytest.fixture(autouse=True)
def _folder(settings, tmp_path):
    settings.DATA_DIR = tmp_path


@pytest.fixture
def order(workshop, owner):
    buyer = make_customer(workshop, name="Fenn & Sons", email="ada@example.test")
    made = make_quote(workshop, title="Favour boxes", customer=buyer)
    make_line(made, make_recipe(workshop), quantity=20, names="Ada\nBo")
    accept(quote=sent_quote(made, owner), who="Ada", on=today(), today=today())
    held = Order.objects.with_people().get()
    (line,) = held.quote.lines.kept()
    (row,) = held.deliveries.all()
    save_deliveries(
        order=held,
        deliveries=[
            DeliveryInput(row, None, "1 Mill Lane\nTamsel", "Ring the side bell", {line.pk: 12}),
            DeliveryInput(None, None, "", "", {line.pk: 8}),
        ],
        edit_number=held.edit_number,
    )
    return Order.objects.with_people().get()


@pytest.fixture
def invoice(order):
    row = order.deliveries.get(position=0)
    return issue_invoice(delivery=row, on=today(), today=today(), due_on=today() + 14 * DAY)


def pay(order, amount):
    record_payment(
        order=order, amount=Decimal(amount), received_on=today(), today=today(), way="card"
    )


def test_an_invoice_is_overdue_from_the_day_after(workshop, invoice):
    assert overdue_invoices(workshop, invoice.due_on) == []
    (found,) = overdue_invoices(workshop, invoice.due_on + DAY)
    assert (found.invoice, found.left, found.days) == (invoice, invoice.to_pay, 1)


def test_one_that_is_paid_is_not_overdue_though_the_order_goes_on(workshop, order, invoice):
    pay(order, invoice.to_pay - 5)
    (found,) = overdue_invoices(workshop, today() + LATER)
    assert found.left == 5
    pay(order, 5)
    assert overdue_invoices(workshop, today() + LATER) == []
    assert not [each for each in due_now(workshop, today() + LATER) if "Invoice" in each.text]


def test_queries_do_not_grow(workshop, owner, order, invoice, django_assert_num_queries):
    for _ in range(3):
        made = make_quote(workshop)
        make_line(made, make_recipe(workshop), quantity=2)
        other = accept(quote=sent_quote(made, owner), who="x", on=today(), today=today())
        issue_invoice(
            delivery=other.deliveries.get(), on=today(), today=today(), due_on=today() + DAY
        )
    with django_assert_num_queries(4):
        found = overdue_invoices(workshop, today() + LATER)
        assert len({str(each.invoice.order.quote.customer) for each in found}) == 4


def test_a_reminder_is_shown_first_and_sent_once_a_day(
    client, owner, workshop, order, invoice, tmp_path
):
    Invoice.objects.update(issued_on=today() - 20 * DAY, due_on=today() - 5 * DAY)
    client.force_login(owner)
    listed = client.get(reverse("pricing:overdue_list", args=[workshop.slug])).content.decode()
    assert "5 days late" in listed
    page = reverse("pricing:invoice_remind", args=[workshop.slug, order.pk, invoice.pk])
    assert page in listed
    shown = client.get(page)
    letter = shown.context["form"].initial
    assert letter["to"] == "ada@example.test"
    assert invoice.number in letter["text"]
    assert not list(tmp_path.rglob("*.log"))
    assert Invoice.objects.get().reminded_on is None
    client.post(page, letter)
    assert Invoice.objects.get().reminded_on == today()
    assert len(list(tmp_path.rglob("*.log"))) == 1
    again = client.post(page, letter)
    assert again.status_code == 422
    assert "sent today already" in again.content.decode()
    assert len(list(tmp_path.rglob("*.log"))) == 1


def test_a_reminder_that_was_not_sent_is_not_said_to_be(workshop, order, invoice, monkeypatch):
    def refuse(**_):
        raise MailNotSent("The mail server refuses this user and password.")

    monkeypatch.setattr("pricing.orders.overdue.send_letter", refuse)
    (found,) = overdue_invoices(workshop, today() + LATER)
    letter = reminder_of(found, workshop)
    with pytest.raises(MailNotSent):
        send_reminder(invoice=found.invoice, today=today(), **letter)
    assert Invoice.objects.get().reminded_on is None
    Invoice.objects.update(reminded_on=today())
    with pytest.raises(AlreadyReminded):
        send_reminder(invoice=found.invoice, today=today(), **letter)


@pytest.mark.parametrize(("state", "count"), [("late", 1), ("overdue", 1), ("", 1), ("ready", 0)])
def test_the_list_is_narrowed_to_late_and_overdue(
    client, owner, workshop, order, invoice, state, count
):
    Invoice.objects.update(issued_on=today() - 20 * DAY, due_on=today() - 5 * DAY)
    Order.objects.update(due_on=today() - DAY)
    client.force_login(owner)
    page = client.get(reverse("pricing:order_list", args=[workshop.slug]), {"state": state})
    assert page.context["table"].paginator.count == count


def test_the_list_leaves_out_an_order_whose_overdue_invoice_is_paid(
    client, owner, workshop, order, invoice
):
    Invoice.objects.update(issued_on=today() - 20 * DAY, due_on=today() - 5 * DAY)
    pay(order, invoice.to_pay)
    client.force_login(owner)
    page = client.get(reverse("pricing:order_list", args=[workshop.slug]), {"state": "overdue"})
    assert page.context["table"].paginator.count == 0


def test_home_leads_to_the_reminder(workshop, order, invoice):
    (due,) = [each for each in due_now(workshop, today() + LATER) if "Invoice" in each.text]
    assert due.action == "Write reminder"
    assert due.url.endswith("/reminder/")


def test_a_delivery_note_has_the_address_and_no_price(client, owner, workshop, order):
    first, second = order.deliveries.order_by("position")
    view = delivery_note_view(order, first)
    assert view["address"] == ["1 Mill Lane", "Tamsel"]
    assert [line["quantity"] for line in view["lines"]] == [12]
    assert ("Delivery", "1 of 2") in view["facts"]
    price = order.quote.frozen["public"]["lines"][0]["price_each"]
    assert price not in str(view)
    client.force_login(owner)
    page = reverse("pricing:delivery_note", args=[workshop.slug, order.pk, second.pk])
    answer = client.get(page)
    assert answer["Content-Type"] == "application/pdf"
    assert delivery_note(order, first).startswith(b"%PDF")
