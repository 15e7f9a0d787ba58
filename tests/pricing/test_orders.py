"""Orders from the yes to the end: planned, delivered in parts, cancelled, their pages."""

import datetime
from decimal import Decimal

import pytest
from django.urls import reverse

from maker.web.editing import ChangedMeanwhile
from pricing.costs.inputs import date_terms
from pricing.orders.invoicing import (
    issue_invoice,
)
from pricing.orders.models import Order
from pricing.orders.payments import record_payment, undo_payment
from pricing.orders.services import (
    BadDelivery,
    DeliveryInput,
    NotAnOrder,
    NotPossibleNow,
    OrderBegun,
    accept,
    cancel_order,
    deliver,
    move_to,
    owed_on,
    plan_order,
    reinstate_order,
    save_deliveries,
    save_order,
    undo_answer,
    undo_delivery,
)
from pricing.quotes.models import Quote
from tests.factories import make_recipe, today
from tests.pricing.quotes import make_line, make_quote, sent_quote

DAY = datetime.timedelta(days=1)


def again(row):
    return type(row).objects.get(pk=row.pk)


@pytest.fixture
def quote(workshop, owner):
    made = make_quote(workshop, title="Favour boxes")
    make_line(made, make_recipe(workshop), quantity=20)
    return sent_quote(made, owner)


@pytest.fixture
def order(quote):
    return accept(quote=quote, who="Ada Fenn", on=today(), today=today())


def in_two(order, first, last):
    """The order's only line in two deliveries."""
    (line,) = order.quote.lines.kept()
    (row,) = order.deliveries.all()
    save_deliveries(
        order=order,
        deliveries=[
            DeliveryInput(row, today() + 9 * DAY, "1 Mill Lane", "", {line.pk: first}),
            DeliveryInput(None, today() + 30 * DAY, "", "Ring the side bell", {line.pk: last}),
        ],
        edit_number=again(order).edit_number,
    )
    return list(order.deliveries.order_by("position"))


def test_accepting_a_quote_plans_its_order(order, quote):
    assert again(quote).state == Quote.State.ACCEPTED
    assert order.state == Order.State.PLANNED
    assert order.number == f"O-{today().year}-0001"
    (delivery,) = order.deliveries.all()
    assert [(row.line.quantity, row.quantity) for row in delivery.lines.all()] == [(20, 20)]
    assert order.needs.exists()
    assert all(need.amount > 0 and need.left == need.amount for need in order.needs.all())


def test_a_second_yes_makes_no_second_order(order, quote):
    assert plan_order(quote=quote, today=today()) == order
    assert Order.objects.count() == 1


def test_a_quote_that_waits_is_no_order(quote):
    with pytest.raises(NotAnOrder):
        plan_order(quote=quote, today=today())


def test_an_answer_is_undone_while_nothing_was_done(order, quote):
    undo_answer(quote=quote)
    assert again(quote).state == Quote.State.SENT
    assert not Order.objects.exists()


@pytest.mark.parametrize("what", ["stage", "payment", "invoice", "delivery"])
def test_an_answer_is_not_undone_once_something_was_done(order, quote, what):
    (delivery,) = order.deliveries.all()
    if what == "stage":
        move_to(order=order, state=Order.State.MAKING)
    elif what == "payment":
        pay(order, 5)
    elif what == "invoice":
        issue_invoice(delivery=delivery, on=today(), today=today())
    else:
        deliver(delivery=delivery, on=today(), today=today())
    with pytest.raises(OrderBegun):
        undo_answer(quote=quote)
    assert again(quote).state == Quote.State.ACCEPTED


def pay(order, amount, **more):
    options = {"received_on": today(), "today": today(), "way": "card"}
    return record_payment(order=order, amount=Decimal(amount), **options | more)


def test_deliveries_add_up_to_what_was_ordered(order):
    first, last = in_two(order, 12, 8)
    assert [row.quantity for each in (first, last) for row in each.lines.all()] == [12, 8]
    assert again(order).due_on == today() + 30 * DAY
    (line,) = order.quote.lines.kept()
    for counts in ([12, 9], [12, 7], [20, 0]):
        with pytest.raises(BadDelivery):
            in_two_again(order, first, last, line, counts)


def in_two_again(order, first, last, line, counts):
    return save_deliveries(
        order=order,
        deliveries=[
            DeliveryInput(row, None, "", "", {line.pk: count})
            for row, count in zip((first, last), counts, strict=True)
        ],
        edit_number=again(order).edit_number,
    )


def test_what_has_left_or_is_invoiced_stays_in_its_delivery(order):
    first, last = in_two(order, 12, 8)
    (line,) = order.quote.lines.kept()
    deliver(delivery=first, on=today(), today=today())
    with pytest.raises(BadDelivery, match="has left"):
        in_two_again(order, first, last, line, [10, 10])
    undo_delivery(delivery=first)
    issue_invoice(delivery=again(first), on=today(), today=today())
    with pytest.raises(BadDelivery, match="invoice"):
        in_two_again(order, first, last, line, [10, 10])
    in_two_again(order, first, last, line, [12, 8])


def test_the_second_of_two_people_who_change_deliveries_is_told(order):
    in_two(order, 12, 8)
    (line,) = order.quote.lines.kept()
    rows = list(order.deliveries.order_by("position"))
    with pytest.raises(ChangedMeanwhile):
        save_deliveries(
            order=order,
            deliveries=[
                DeliveryInput(row, None, "", "", {line.pk: count})
                for row, count in zip(rows, (5, 15), strict=True)
            ],
            edit_number=0,
        )


def test_delivered_and_paid_is_settled_and_back(order):
    (delivery,) = order.deliveries.all()
    assert deliver(delivery=delivery, on=today(), today=today()).state == Order.State.DELIVERED
    payment = pay(order, owed_on(again(order)))
    assert again(order).state == Order.State.SETTLED
    assert owed_on(again(order)) == 0
    undo_payment(payment=payment)
    assert again(order).state == Order.State.DELIVERED
    undo_delivery(delivery=again(delivery))
    assert again(order).state == Order.State.READY


def test_nothing_leaves_tomorrow_or_twice(order):
    (delivery,) = order.deliveries.all()
    with pytest.raises(NotPossibleNow):
        deliver(delivery=delivery, on=today() + DAY, today=today())
    deliver(delivery=delivery, on=today(), today=today())
    with pytest.raises(NotPossibleNow):
        deliver(delivery=again(delivery), on=today(), today=today())


def test_a_cancelled_order_owes_what_her_terms_say_and_can_come_back(order):
    cancel_order(order=order, on=today(), today=today(), reason="wedding put off", owed=Decimal(12))
    assert owed_on(again(order)) == 12
    (delivery,) = order.deliveries.all()
    for what in (
        lambda: deliver(delivery=delivery, on=today(), today=today()),
        lambda: issue_invoice(delivery=delivery, on=today(), today=today()),
        lambda: move_to(order=order, state=Order.State.MAKING),
    ):
        with pytest.raises(NotPossibleNow):
            what()
    assert not Order.objects.to_make().exists()
    assert reinstate_order(order=again(order)).state == Order.State.PLANNED


def test_no_more_is_owed_for_a_cancelled_order_than_for_the_whole(order):
    with pytest.raises(NotPossibleNow):
        cancel_order(order=order, on=today(), today=today(), reason="", owed=order.quote.total + 1)


def test_from_the_yes_to_paid_on_its_pages(client, owner, workshop, quote):
    client.force_login(owner)

    def address(name, *keys):
        return reverse(f"pricing:{name}", args=[workshop.slug, *keys])

    day = today().isoformat()
    answer = client.post(
        address("quote_accept", quote.pk),
        {"decided_by": "Ada Fenn", "decided_on": day},
        follow=True,
    )
    order = Order.objects.get()
    assert f"its order, {order}" in answer.content.decode()
    client.post(address("order_stage", order.pk), {"state": "making"})
    client.post(address("order_stage", order.pk), {"state": "ready"})
    (line,) = order.quote.lines.kept()
    (delivery,) = order.deliveries.all()
    typed = {
        "count": "2",
        "edit_number": again(order).edit_number,
        "d0-row": delivery.pk,
        "d0-due_on": day,
        f"d0-line_{line.pk}": "15",
        "d1-row": "",
        f"d1-line_{line.pk}": "4",
    }
    wrong = client.post(address("order_deliveries", order.pk), typed)
    assert wrong.status_code == 422
    assert "19 of" in wrong.content.decode()
    typed[f"d1-line_{line.pk}"] = "5"
    assert client.post(address("order_deliveries", order.pk), typed).status_code == 302
    for each in order.deliveries.order_by("position"):
        client.post(address("invoice_new", order.pk, each.pk), {"issued_on": day, "due_on": day})
        client.post(address("delivery_left", order.pk, each.pk), {"on": day})
    first = order.invoices.order_by("pk").first()
    pdf = client.get(address("invoice_pdf", order.pk, first.pk))
    assert pdf["Content-Type"] == "application/pdf"
    (row,) = first.document["lines"]
    client.post(
        address("invoice_credit", order.pk, first.pk),
        {"reason": "creased", "issued_on": day, f"line_{row['line']}": "1"},
    )
    owed = owed_on(again(order))
    assert owed == order.quote.total - Decimal(row["price_each"])
    client.post(
        address("payment_new", order.pk),
        {"amount": str(owed), "received_on": day, "way": "transfer", "note": ""},
    )
    assert again(order).state == Order.State.SETTLED
    page = client.get(address("order", order.pk)).content.decode()
    assert "settled" in page
    assert order.number in client.get(address("order_list") + "?state=all").content.decode()
    assert order.number not in client.get(address("order_list")).content.decode()


def test_a_page_of_an_order_asks_a_constant_number_of_questions(
    client, owner, workshop, order, django_assert_max_num_queries
):
    client.force_login(owner)
    address = reverse("pricing:order", args=[workshop.slug, order.pk])
    in_two(order, 12, 8)
    client.get(address)
    with django_assert_max_num_queries(24):
        client.get(address)


def test_an_order_keeps_its_hours_until_it_is_ready_or_cancelled(workshop, order):
    def promised():
        return [(each.name, each.due_on) for each in date_terms(workshop, today()).promises]

    save_order(order=order, due_on=today() + 20 * DAY, notes="", edit_number=0)
    assert promised() == [(order.quote.number, today() + 20 * DAY)]
    move_to(order=order, state=Order.State.MAKING)
    assert len(promised()) == 1
    move_to(order=order, state=Order.State.READY)
    assert promised() == []
    move_to(order=order, state=Order.State.MAKING)
    cancel_order(order=order, on=today(), today=today(), reason="", owed=Decimal(0))
    assert promised() == []


def test_a_delivered_order_is_quoted_once_more(client, workshop, order):
    address = reverse("pricing:order", args=[workshop.slug, order.pk])
    assert "Quote the same again" not in client.get(address).content.decode()
    Order.objects.filter(pk=order.pk).update(state="delivered")
    page = client.get(address).content.decode()
    assert "Quote the same again" in page
    again = reverse("pricing:quote_same_again", args=[workshop.slug, order.quote_id])
    assert again in page
