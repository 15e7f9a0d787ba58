"""Cancelling an order: what its terms say is owed, by stage."""

import datetime
from decimal import Decimal

import pytest
from django.urls import reverse

from catalogue.materials.models import Material
from maker.workshop.models import Workshop
from pricing.orders.cancelling import owed_by_stage, stage_reached
from pricing.orders.changes import start_change
from pricing.orders.models import Order
from pricing.orders.services import (
    DeliveryInput,
    accept,
    cancel_order,
    deliver,
    move_to,
    owed_on,
    save_deliveries,
)
from pricing.quotes.documents import quote_document
from pricing.quotes.models import Quote
from pricing.quotes.printing import cancelling_text, customer_view
from tests.factories import make_recipe, today
from tests.pricing.quotes import make_line, make_quote, sent_quote

DAY = datetime.timedelta(days=1)


@pytest.fixture
def order(workshop, owner):
    made = make_quote(workshop, title="Favour boxes")
    make_line(made, make_recipe(workshop), quantity=20)
    quote = sent_quote(made, owner)
    accept(quote=quote, who="Ada Fenn", on=today(), today=today())
    return Order.objects.with_people().get()


def owed(order):
    return {each.stage.value: each.owed for each in owed_by_stage(order)}


def test_the_terms_are_those_of_the_quote_and_not_of_today(order):
    Workshop.objects.update(cancel_share_cut=1)
    fresh = Order.objects.with_people().get()
    total = fresh.total
    assert owed(fresh) == {
        "before": 0,
        "bought": round(total * Decimal("0.3"), 2),
        "cut": round(total * Decimal("0.75"), 2),
    }


def test_what_has_left_is_paid_whole(order):
    (line,) = order.quote.lines.kept()
    (row,) = order.deliveries.all()
    save_deliveries(
        order=order,
        deliveries=[
            DeliveryInput(row, None, "", "", {line.pk: 15}),
            DeliveryInput(None, None, "", "", {line.pk: 5}),
        ],
        edit_number=order.edit_number,
    )
    deliver(delivery=row, on=today(), today=today())
    each = Decimal(line.frozen["price_each"])
    assert owed(Order.objects.with_people().get())["before"] == 15 * each


def test_how_far_it_is_follows_from_what_happened(order, workshop):
    assert stage_reached(order) == "before"
    material = Material.objects.get(pk=order.needs.first().material_id)
    supplier = workshop.suppliers.create(name="Mill")
    receipt = workshop.purchases.create(supplier=supplier, bought_on=today(), state="recorded")
    receipt.lines.create(material=material, quantity=1, amount=1)
    assert stage_reached(order) == "bought"
    assert stage_reached(move_to(order=order, state=Order.State.MAKING)) == "cut"


def test_the_terms_are_on_the_quote(order):
    document = quote_document(Quote.objects.with_people().get(), today())
    text = customer_view(document)["cancelling"]
    assert "nothing before materials are bought" in text
    assert "30% of the price after that" in text
    assert "75% of the price once cutting has begun" in text
    assert cancelling_text(None, "en_GB") == ""


def test_cancelling_on_its_page_takes_the_terms_or_another_amount(client, owner, workshop, order):
    client.force_login(owner)
    start_change(order=order)
    page = reverse("pricing:order_cancel", args=[workshop.slug, order.pk])
    assert "After materials were bought" in client.get(page).content.decode()
    sent = {"on": today().isoformat(), "stage": "bought", "reason": "", "owed": ""}
    assert client.post(page, sent | {"stage": "later"}).status_code == 422
    client.post(page, sent)
    held = Order.objects.with_people().get()
    assert held.state == Order.State.CANCELLED
    assert held.cancel_stage == "bought"
    assert owed_on(held) == held.cancel_owed == round(held.total * Decimal("0.3"), 2)
    assert held.changes.get().state == "withdrawn"
    shown = client.get(reverse("pricing:order", args=[workshop.slug, order.pk])).content.decode()
    assert "after materials were bought" in shown
    assert f"Owed in all: €{held.cancel_owed:.2f}." in shown
    assert "not delivered" in shown
    assert "to deliver" not in shown


def test_an_amount_of_her_own_goes_before_the_terms(client, owner, workshop, order):
    client.force_login(owner)
    page = reverse("pricing:order_cancel", args=[workshop.slug, order.pk])
    client.post(page, {"on": today().isoformat(), "stage": "cut", "reason": "", "owed": "12"})
    assert Order.objects.get().cancel_owed == 12


def test_later_stages_owe_at_least_as_much(client, owner, workshop):
    client.force_login(owner)
    page = reverse("maker:workshop_quotes", args=[workshop.slug])
    shown = client.get(page).context["form"]
    sent = {name: shown[name].value() for name in shown.fields} | {"cancel_share_cut": "10"}
    answer = client.post(page, {key: value for key, value in sent.items() if value is not None})
    assert answer.status_code == 422
    assert "share of the stage before" in answer.content.decode()


def test_no_stage_is_needed_where_nothing_is_said(order):
    cancel_order(order=order, on=today(), today=today(), reason="", owed=Decimal(0))
    assert Order.objects.get().cancel_stage == ""
