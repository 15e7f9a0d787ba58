"""Orders of before deposit and minutes had columns get what the figures of their quote say."""

from decimal import Decimal
from importlib import import_module

import pytest
from django.apps import apps

from pricing.orders.models import Order
from pricing.orders.services import accept
from tests.factories import make_recipe, today
from tests.pricing.quotes import make_line, make_quote, sent_quote

read_minutes = import_module("pricing.migrations.0037_order_minutes").read_minutes
read_deposits = import_module("pricing.migrations.0036_order_deposit").read_deposits


@pytest.mark.parametrize("share", ["0.25", "0"])
def test_the_deposit_is_read_out_of_what_was_frozen(workshop, owner, share):
    made = make_quote(workshop)
    made.deposit_share = Decimal(share)
    made.save(update_fields=["deposit_share"])
    make_line(made, make_recipe(workshop), quantity=20)
    order = accept(quote=sent_quote(made, owner), who="Ada", on=today(), today=today())
    assert order.deposit == Decimal(order.quote.frozen["public"]["deposit"])
    assert bool(order.deposit) == (share != "0")
    Order.objects.update(deposit=0)
    read_deposits(apps, None)
    assert Order.objects.get().deposit == order.deposit


def test_the_minutes_are_read_out_of_what_was_frozen(workshop, owner):
    made = make_quote(workshop)
    make_line(made, make_recipe(workshop), quantity=7)
    order = accept(quote=sent_quote(made, owner), who="Ada", on=today(), today=today())
    assert order.quoted_minutes == Decimal(order.quote.frozen["own"]["minutes"]) > 0
    Order.objects.update(quoted_minutes=0)
    read_minutes(apps, None)
    assert Order.objects.get().quoted_minutes == order.quoted_minutes
