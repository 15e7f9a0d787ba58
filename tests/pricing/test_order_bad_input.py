"""Two people at once, too much, too many and wrong dates on an order: a sentence, nothing lost."""

import datetime
from decimal import Decimal

import pytest
from django.urls import reverse

from catalogue.recipes.models import Step
from maker.calc.refusal import Refusal
from pricing.orders.inputs import lines_now
from pricing.orders.invoicing import issue_invoice
from pricing.orders.models import Invoice, Order
from pricing.orders.payments import record_payment
from pricing.orders.services import accept, deliver, owed_on
from pricing.quotes.models import QuoteLine
from tests.at_once import at_once
from tests.factories import make_recipe, today
from tests.pricing.quotes import make_line, make_quote, sent_quote

DAY = datetime.timedelta(days=1)


@pytest.fixture
def order(workshop, owner):
    made = make_quote(workshop, title="Favour boxes")
    version = make_recipe(workshop)
    Step.objects.create(version=version, name="write", minutes=Decimal(1), basis="name", position=9)
    make_line(made, version, quantity=20, price_asked=Decimal(10))
    return accept(quote=sent_quote(made, owner), who="Ada", on=today(), today=today())


def again(order):
    return Order.objects.with_people().get(pk=order.pk)


def at(name, order, *keys):
    return reverse(f"pricing:{name}", args=[order.workshop.slug, order.pk, *keys])


def refused(results):
    return [each for each in results if isinstance(each, Refusal)]


@pytest.mark.django_db(transaction=True)
def test_two_people_recording_the_same_payment_pay_once(order):
    def pay():
        return record_payment(
            order=order, amount=Decimal(200), received_on=today(), today=today(), way="cash"
        )

    (no,) = refused(at_once(pay, pay))
    assert "more than is owed" in no.message
    assert owed_on(again(order)) == 0


@pytest.mark.django_db(transaction=True)
def test_two_people_invoicing_a_delivery_issue_one_number(order):
    delivery = order.deliveries.get()

    def issue():
        return issue_invoice(delivery=delivery, on=today(), today=today())

    (no,) = refused(at_once(issue, issue))
    assert "is on invoice" in no.message
    assert Invoice.objects.get().number.endswith("-0001")


@pytest.mark.django_db(transaction=True)
def test_a_delivery_leaves_once(order):
    delivery = order.deliveries.get()

    def leave():
        return deliver(delivery=delivery, on=today(), today=today())

    (no,) = refused(at_once(leave, leave))
    assert "has left already" in no.message


def test_more_than_was_ordered_is_not_planned_and_stays_typed(client, order):
    (line,), (row,) = lines_now(order), order.deliveries.all()
    before = [each.quantity for each in row.lines.all()]
    typed = {
        "count": "1", "edit_number": str(again(order).edit_number), "d0-row": str(row.pk),
        "d0-address": "1 Mill Lane", f"d0-line_{line.pk}": "21",
    }  # fmt: skip
    answer = client.post(at("order_deliveries", order), typed)
    text = answer.content.decode()
    assert answer.status_code == 422
    assert 'value="21"' in text
    assert "1 Mill Lane" in text
    assert "20" in text
    assert [each.quantity for each in row.lines.all()] == before


def test_a_payment_larger_than_owed_is_asked_about_and_stays_typed(client, order):
    assert "that is right" not in client.get(at("payment_new", order)).content.decode()
    typed = {"amount": "200.01", "received_on": today().isoformat(), "way": "cash"}
    answer = client.post(at("payment_new", order), typed)
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "That is more than is owed. Tick the box below if it is right." in text
    assert 'value="200.01"' in text
    assert "More than is owed, and that is right" in text
    assert not order.payments.exists()
    assert client.post(at("payment_new", order), typed | {"is_more_meant": "on"}).status_code == 302
    assert owed_on(again(order)) == Decimal("-0.01")


def test_ten_thousand_names_are_refused_with_a_sentence_and_stay_typed(client, order):
    (line,) = lines_now(order)
    names = "\n".join(f"Name {number}" for number in range(10_000))
    answer = client.post(at("order_names", order), {f"line_{line.pk}": names})
    text = answer.content.decode()
    assert answer.status_code == 422
    assert "10,000 names are more than 20 ordered" in text
    assert "Name 9999" in text
    assert QuoteLine.objects.get(pk=line.pk).names == ""


@pytest.mark.parametrize(
    ("issued", "due", "words"),
    [(1, 14, "That date is in the future."), (0, -1, "It would be due before it is issued.")],
)
def test_an_invoice_with_a_wrong_date_is_not_issued(client, order, issued, due, words):
    typed = {
        "issued_on": (today() + issued * DAY).isoformat(),
        "due_on": (today() + due * DAY).isoformat(),
    }
    answer = client.post(at("invoice_new", order, order.deliveries.get().pk), typed)
    assert answer.status_code == 422
    text = answer.content.decode()
    assert words in text
    assert all(value in text for value in typed.values())
    assert not Invoice.objects.exists()


def test_nothing_leaves_in_the_future(client, order):
    tomorrow = (today() + DAY).isoformat()
    answer = client.post(at("delivery_left", order, order.deliveries.get().pk), {"on": tomorrow})
    assert answer.status_code == 422
    assert "That date is in the future." in answer.content.decode()
    assert tomorrow in answer.content.decode()
