"""The page of an order: how its items come to the total, and what to do next."""

import re
from decimal import Decimal

import pytest
from django.urls import reverse

from pricing.orders.invoicing import issue_invoice
from pricing.orders.models import Order
from pricing.orders.payments import record_payment
from pricing.orders.services import accept, deliver
from pricing.quotes.models import Quote
from tests.factories import make_recipe, today
from tests.pricing.quotes import make_line, make_quote, sent_quote


def sent(workshop, owner):
    made = make_quote(workshop)
    make_line(made, make_recipe(workshop), quantity=20)
    Quote.objects.filter(pk=made.pk).update(delivery=Decimal("6.50"))
    return sent_quote(made, owner)


@pytest.fixture
def order(workshop, owner):
    quote = sent(workshop, owner)
    return accept(quote=quote, who="Ada Fenn", on=today(), today=today())


@pytest.fixture
def opened(client, workshop, order):
    def open_page():
        return client.get(reverse("pricing:order", args=[workshop.slug, order.pk]))

    return open_page


def primary(response):
    """Return the words of the page's one primary button."""
    html = response.content.decode()
    return re.findall(r'class="(?:button )?primary"[^>]*>([^<]+)<', html)


def test_the_items_come_to_the_total_as_on_the_quote(opened, order):
    rows = opened().context["totals"]
    assert [label for label, *_ in rows] == ["Delivery", "Total"]
    items = sum(Decimal(line["amount"]) for line in order.quote.frozen["public"]["lines"])
    assert rows[0][1] == "€6.50"
    assert order.total == items + Decimal("6.50")
    assert rows[1][1] == f"€{order.total:,.2f}"


def test_after_a_change_the_rest_is_told_in_one_row(opened, order):
    Order.objects.filter(pk=order.pk).update(changes_total=Decimal("2.25"))
    rows = opened().context["totals"]
    # 6.50 for the delivery and the 2.25 that no item of this page has
    assert (
        rows[0] == ("Discounts, charges, delivery, tax", "+€8.75", False) or rows[0][1] == "€8.75"
    )
    assert rows[1][0] == "Total"


def test_each_state_has_one_next_step(opened, order):
    assert primary(opened()) == ["Start making"]
    Order.objects.filter(pk=order.pk).update(state=Order.State.READY)
    assert primary(opened()) == ["Mark as delivered"]
    (delivery,) = order.deliveries.all()
    deliver(delivery=delivery, on=today(), today=today())
    assert primary(opened()) == ["Create invoice"]
    delivery.refresh_from_db()
    made = issue_invoice(delivery=delivery, on=today(), due_on=None, today=today())
    assert primary(opened()) == ["Record payment"]
    record_payment(
        order=order, today=today(), amount=made.to_pay, received_on=today(), way="transfer"
    )
    assert primary(opened()) == []


def test_acceptance_shows_what_is_agreed(client, workshop, owner):
    quote = sent(workshop, owner)
    answer = client.get(reverse("pricing:quote_accept", args=[workshop.slug, quote.pk]))
    text = answer.content.decode()
    assert "Its order is planned with this" in text
    assert f"€{Decimal(quote.frozen['public']['total']):,.2f}" in text


LACKS = ("show your address", "how to reach you", "where to pay")


def test_papers_that_lack_who_sends_them_are_told_before_they_go(client, workshop, order):
    new = reverse("pricing:invoice_new", args=[workshop.slug, order.pk, order.deliveries.get().pk])
    draft = make_quote(workshop)
    make_line(draft, make_recipe(workshop), quantity=3)
    send = reverse("pricing:quote_send", args=[workshop.slug, draft.pk])
    workshop.address = workshop.email = workshop.phone = workshop.website = workshop.iban = ""
    workshop.save()
    invoice, quote = client.get(new).content.decode(), client.get(send).content.decode()
    assert [words in invoice for words in LACKS] == [True, True, True]
    # a quote asks for no money yet
    assert [words in quote for words in LACKS] == [True, True, False]
    workshop.address, workshop.phone = "1 Mill Lane", "0555 0100"
    workshop.iban = "DE75512108001245126199"
    workshop.save()
    for address in (new, send):
        text = client.get(address).content.decode()
        assert not [words for words in LACKS if words in text]
