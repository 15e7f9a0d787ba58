"""Discount, delivery charge and deposit of an order whose deliveries change between invoices."""

from decimal import Decimal

from django.urls import reverse

from pricing.orders.inputs import lines_now
from pricing.orders.overdue import open_of_order
from pricing.orders.services import DeliveryInput, owed_on, save_deliveries
from tests.factories import today
from tests.pricing.order_money import again, agree_on, invoice, make_order, part, pay


def opened(order):
    rows = list(order.invoices.order_by("pk"))
    return [each.left for each in open_of_order(order, rows).values()]


def test_what_is_shared_is_never_taken_twice_when_deliveries_grow_after_an_invoice(workshop, owner):
    """20.00 off and 10.00 delivery over 1, 1 and 18; the last is invoiced, then the first grows."""
    order = make_order(workshop, owner, (1, 1, 18), discount="20", delivery="10")
    made = [invoice(order, 2)]
    order = agree_on(order, 120)
    # the change put what is more into the second: it goes with the first
    rows = {row.position: row for row in order.deliveries.prefetch_related("lines")}
    old, new = lines_now(order)
    save_deliveries(
        order=order,
        deliveries=[
            DeliveryInput(rows[0], None, "", "", {old.pk: 1, new.pk: 100}),
            DeliveryInput(rows[1], None, "", "", {old.pk: 1}),
            DeliveryInput(rows[2], None, "", "", {old.pk: 18}),
        ],
        edit_number=order.edit_number,
    )
    made += [invoice(order, 0), invoice(order, 1)]
    for key, whole in (("discount", 20), ("delivery", 10)):
        shares = [Decimal(each.document[key]) for each in made]
        assert min(shares) >= 0
        assert sum(shares) == whole
    assert sum(each.total for each in made) == again(order).total == owed_on(again(order))


def test_a_last_delivery_that_is_not_wanted_leaves_no_deposit_kept_for_it(workshop, owner):
    """30.00 of 200.00 are paid; 19.50 come off the first 130.00, and no second invoice follows."""
    order = make_order(workshop, owner, (13, 7), deposit="0.15")
    pay(order, 30)
    assert invoice(order, 0).to_pay == Decimal("110.50")
    order = agree_on(order, 13)
    assert owed_on(order) == 100
    assert opened(order) == [100]
    pay(order, 100)
    assert opened(again(order)) == [0]


def test_an_order_that_ends_with_its_invoices_comes_to_what_they_say(workshop, owner):
    """200.00 less 20.00 with 10.00 delivery; 13 of 20 are invoiced, the others are left out."""
    order = make_order(workshop, owner, (13, 7), discount="20", delivery="10")
    first = invoice(order, 0)
    # 130 - 13 + 6.50
    assert first.total == Decimal("123.50")
    order = agree_on(order, 13)
    assert order.total == first.total == owed_on(order)
    # two more again take the 7.00 and bear the 3.50 that are left: 150 - 20 + 10
    more = agree_on(order, 15)
    assert more.total == 140
    assert invoice(more, 1).total == Decimal("16.50")
    assert owed_on(again(more)) == more.total


def test_a_discount_larger_than_what_is_left_is_told_on_the_page(client, owner, workshop):
    """20.00 off 200.00; 1 of 20 is invoiced with 1.00 off, then all but one of the others go."""
    order = make_order(workshop, owner, (1, 19), discount="20")
    invoice(order, 0)
    order = agree_on(order, 2)
    # 19.00 are left to take off, and 10.00 to invoice
    client.force_login(owner)
    page = reverse("pricing:invoice_new", args=[workshop.slug, order.pk, part(order, 1).pk])
    answer = client.get(page, follow=True)
    assert "The discount is more than the goods." in answer.content.decode()
    sent = {"issued_on": today().isoformat(), "due_on": ""}
    answer = client.post(page, sent, follow=True)
    assert "The discount is more than the goods." in answer.content.decode()
    assert order.invoices.count() == 1
