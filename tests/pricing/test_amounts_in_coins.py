"""What is asked or paid has no more decimals than the currency: the rest could never be paid."""

import uuid
from decimal import Decimal

import pytest
from django.urls import reverse

from pricing.calc.finished_stock.worth import NOTHING
from pricing.consignment.models import SettledItem, Shop
from pricing.consignment.services import move_items, save_shop
from pricing.finished_stock.models import FinishedItem
from pricing.finished_stock.services import enter_opening, item_for
from pricing.orders.crediting import issue_credit_note
from pricing.orders.models import OrderPayment
from tests.factories import make_recipe, today
from tests.pricing.fair_rows import make_fair, make_item
from tests.pricing.order_money import invoice, make_order
from tests.pricing.quotes import make_line, make_quote

TOO_FINE = "Your currency has no coin that small."
FINE = [("EUR", "10.005"), ("JPY", "10.5"), ("KWD", "10.0005")]
IN_COINS = [("EUR", "10.05"), ("JPY", "11"), ("KWD", "10.005")]


def in_currency(workshop, currency):
    workshop.currency = currency
    workshop.save()


def paying(workshop, order, amount):
    address = reverse("pricing:payment_new", args=[workshop.slug, order.pk])
    return address, {"amount": amount, "received_on": str(today()), "way": "cash"}


@pytest.mark.parametrize(("currency", "amount"), FINE)
def test_a_payment_finer_than_the_currency_is_refused(client, workshop, owner, currency, amount):
    in_currency(workshop, currency)
    order = make_order(workshop, owner, (4,), price="300")
    page = client.post(*paying(workshop, order, amount))
    assert page.status_code == 422
    assert TOO_FINE in page.content.decode()
    assert f'value="{amount}"' in page.content.decode()
    assert not OrderPayment.objects.exists()


@pytest.mark.parametrize(("currency", "amount"), IN_COINS)
def test_a_payment_in_coins_is_recorded(client, workshop, owner, currency, amount):
    in_currency(workshop, currency)
    order = make_order(workshop, owner, (4,), price="300")
    assert client.post(*paying(workshop, order, amount)).status_code == 302
    assert OrderPayment.objects.get().received == Decimal(amount)


@pytest.fixture
def shop(workshop):
    """A shop with eight of an item."""
    row = save_shop(workshop=workshop, shop=Shop(kept_share=Decimal("0.3")), name="Reed")
    item = item_for(make_recipe(workshop))
    enter_opening(item=item, quantity=8, on=today(), today=today(), worth=NOTHING)
    move_items(
        shop=row, counts={item: 8}, to_shop=True, on=today(), today=today(), by=None,
        form_key=uuid.uuid4(),
    )  # fmt: skip
    return row


def settling(shop, price):
    item = FinishedItem.objects.get()
    address = reverse("pricing:shop_settle", args=[shop.place.workshop.slug, shop.pk])
    return address, {
        "on": str(today()), "form_key": str(uuid.uuid4()),
        f"count_{item.pk}": "3", f"price_{item.pk}": price,
    }  # fmt: skip


def test_a_price_at_a_shop_finer_than_the_currency_is_refused(client, shop):
    page = client.post(*settling(shop, "3.333"))
    assert page.status_code == 422
    assert TOO_FINE in page.content.decode()
    assert not SettledItem.objects.exists()


def test_a_price_at_a_shop_is_read_as_the_workshop_writes_numbers(client, workshop, shop):
    """1.234 is a thousand and more where a comma is the decimal mark."""
    workshop.locale = "de_DE"
    workshop.save()
    assert client.post(*settling(shop, "1.234")).status_code == 302
    assert SettledItem.objects.get().price_each == 1234


def test_a_price_at_a_fair_finer_than_the_currency_is_refused(client, workshop):
    fair = make_fair(workshop)
    item = make_item(fair, make_recipe(workshop))
    address = reverse("pricing:fair_items", args=[workshop.slug, fair.pk])
    typed = {"price": "4.999", "bag_each": "0.0155"}
    page = client.post(address, {f"item-{item.pk}-{name}": text for name, text in typed.items()})
    assert page.status_code == 422
    # a bag is a cost, which may be finer
    assert page.content.decode().count(TOO_FINE) == 1


def test_a_discount_finer_than_the_currency_is_refused(client, workshop):
    quote = make_quote(workshop)
    make_line(quote, make_recipe(workshop))
    quote.refresh_from_db()
    address = reverse("pricing:quote_extras", args=[workshop.slug, quote.pk])
    rows = {
        "extras-TOTAL_FORMS": "1",
        "extras-INITIAL_FORMS": "0",
        "edit_number": quote.edit_number,
    }
    row = {"kind": "discount", "reason": "friend", "amount": "4.575"}
    page = client.post(address, rows | {f"extras-0-{name}": text for name, text in row.items()})
    assert page.status_code == 422
    assert TOO_FINE in page.content.decode()


def test_lines_of_invoices_and_credit_notes_are_in_coins_and_add_up_to_the_goods(workshop, owner):
    """A price each may be finer than the currency, as one for a thousand tags is."""
    order = make_order(workshop, owner, (9,), price="3.3333")
    issued = invoice(order, 0)
    (line,) = issued.document["lines"]
    assert (line["price_each"], line["amount"]) == ("3.3333", "30.00")
    assert issued.document["goods"] == "30.00"
    note = issue_credit_note(
        invoice=issued, counts={line["line"]: 2}, reason="Torn", on=today(), today=today()
    )
    assert note.document["lines"][0]["amount"] == note.document["goods"] == "6.67"
