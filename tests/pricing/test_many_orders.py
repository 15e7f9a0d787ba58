"""Pages of orders ask the database as often for one order as for many."""

import datetime
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from catalogue.materials.models import Material
from pricing.home.due import due_now
from pricing.orders.invoicing import issue_invoice
from pricing.orders.materials import reserved_for_orders
from pricing.orders.models import Order, OrderNeed
from pricing.orders.payments import record_payment, undo_payment
from pricing.orders.services import accept
from tests.factories import make_material, make_recipe, today
from tests.many_orders import copy_order
from tests.pricing.quotes import make_line, make_quote, sent_quote

DAY = datetime.timedelta(days=1)


@pytest.fixture
def order(workshop, owner):
    made = make_quote(workshop, title="Favour boxes")
    make_line(made, make_recipe(workshop), quantity=20)
    accept(quote=sent_quote(made, owner), who="Ada Fenn", on=today(), today=today())
    Order.objects.update(due_on=today() + DAY)
    Order.objects.get().deliveries.update(due_on=today() + DAY)
    Order.objects.update(deposit=Decimal("12.50"))
    return Order.objects.with_people().get()


def pages(workshop, order):
    slug = workshop.slug
    return {
        "list": reverse("pricing:order_list", args=[slug]),
        "home": reverse("pricing:home", args=[slug]),
        "calendar": reverse("pricing:calendar", args=[slug]),
        "order": reverse("pricing:order", args=[slug, order.pk]),
        "overdue": reverse("pricing:overdue_list", args=[slug]),
    }


def asked(client, page):
    with CaptureQueriesContext(connection) as counted:
        assert client.get(page).status_code == 200
    return len(counted)


def test_queries_do_not_grow_with_the_orders(client, owner, workshop, order):
    client.force_login(owner)
    copy_order(order, 2, lambda place: today() + (place + 2) * DAY)
    found = pages(workshop, order)
    for page in found.values():
        client.get(page)
    few = {name: asked(client, page) for name, page in found.items()}
    copy_order(
        Order.objects.with_people().order_by("-pk").first(), 40, lambda place: today() + 3 * DAY
    )
    assert Order.objects.count() == 43
    many = {name: asked(client, page) for name, page in found.items()}
    assert many == few


def deposits(workshop):
    return [line for line in due_now(workshop, today()) if line.text.startswith("Deposit")]


def test_a_deposit_is_to_be_paid_until_it_is_or_an_invoice_asks(client, owner, workshop, order):
    client.force_login(owner)
    copied = copy_order(order, 3, lambda place: today() + DAY)
    cancelled, invoiced, free = copied
    assert len(deposits(workshop)) == 4
    Order.objects.filter(pk=cancelled.pk).update(state="cancelled")
    issue_invoice(delivery=invoiced.deliveries.get(), on=today(), today=today())
    Order.objects.filter(pk=free.pk).update(deposit=0)
    (line,) = deposits(workshop)
    assert line.text == f"Deposit for order {order} from {order.quote.customer}"
    assert line.detail.startswith("€12.50 not paid, accepted ")
    assert (line.is_late, line.action) == (False, "Record payment")
    assert 'name="amount" value="12.50"' in client.get(line.url).content.decode()

    def pay(amount):
        return record_payment(
            order=order,
            amount=Decimal(amount),
            received_on=today(),
            today=today(),
            way="transfer",
        )

    pay("10")
    (line,) = deposits(workshop)
    assert line.detail.startswith("€2.50 not paid")
    rest = pay("2.50")
    assert not deposits(workshop)
    undo_payment(payment=rest)
    assert len(deposits(workshop)) == 1


def test_no_more_of_a_deposit_is_asked_than_the_order_comes_to(workshop, order):
    Order.objects.update(changes_total=Decimal(5) - order.quote.total)
    (line,) = deposits(workshop)
    assert line.detail.startswith("€5.00 not paid")


def test_stock_that_is_just_enough_for_two_orders_is_not_low(workshop, order):
    card = make_material(workshop, name="Moss card", on_hand=Decimal("0.3"))
    (other,) = copy_order(order, 1, lambda place: today() + DAY)
    Order.objects.update(state="planned")
    for each, amount in ((order, "0.1"), (other, "0.2")):
        OrderNeed.objects.create(order=each, material=card, amount=Decimal(amount))
    assert reserved_for_orders(Order.objects.of(workshop))[card.pk] == Decimal("0.3")
    assert not [due for due in due_now(workshop, today()) if "Moss card" in due.text + due.detail]
    Material.objects.filter(pk=card.pk).update(on_hand=Decimal("0.299999"))
    assert [due for due in due_now(workshop, today()) if "Moss card" in due.text + due.detail]


def test_stock_below_nothing_that_no_order_needs_is_not_low(workshop):
    make_material(workshop, name="Moss card", on_hand=Decimal(-1))
    assert not due_now(workshop, today())
