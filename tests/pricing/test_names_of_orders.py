"""Where the page of an order speaks of names: only where something of it bears names."""

import pytest
from django.urls import reverse

from pricing.orders.approvals import BadNames, approve, save_names
from pricing.orders.inputs import lines_now
from pricing.orders.models import Order
from pricing.orders.services import accept
from tests.factories import make_recipe, today
from tests.pricing.quotes import make_line, make_quote, sent_quote


def ordered(owner, version, **fields):
    made = make_quote(version.design.workshop)
    make_line(made, version, quantity=5, **fields)
    accept(quote=sent_quote(made, owner), who="Ada", on=today(), today=today())
    return Order.objects.with_people().get(quote=made)


def approvals_on(client, order):
    page = client.get(reverse("pricing:order", args=[order.workshop.slug, order.pk]))
    return page.content.decode().split('id="approvals"')[1].split("</section>")[0]


def test_an_order_without_names_asks_for_none(client, workshop, owner):
    said = approvals_on(client, ordered(owner, make_recipe(workshop)))
    assert "<h2>Proof</h2>" in said
    assert "name" not in said.lower()


def test_names_that_were_quoted_can_be_entered(client, workshop, owner):
    order = ordered(owner, make_recipe(workshop), names="Ada\nBo")
    (line,) = lines_now(order)
    save_names(order=order, names={line.pk: ""})
    said = approvals_on(client, order)
    assert "<h2>Proof and names</h2>" in said
    assert "Enter names" in said


def test_items_with_a_step_for_each_name_bear_names(client, workshop, owner):
    version = make_recipe(workshop)
    version.steps.create(name="write the name", minutes=1, basis="name")
    assert "Enter names" in approvals_on(client, ordered(owner, version))


def test_names_of_an_order_that_bears_none_are_not_approved(workshop, owner):
    order = ordered(owner, make_recipe(workshop))
    with pytest.raises(BadNames, match="has a name on it"):
        approve(order=order, kind="names", who="Ada", how="phone", on=today(), today=today())
    assert not order.approvals.exists()


def test_names_that_were_deleted_are_told(client, workshop, owner):
    order = ordered(owner, make_recipe(workshop))
    Order.objects.update(names_deleted_on=today())
    said = approvals_on(client, order)
    assert "deleted on" in said
    assert "Enter names" not in said
