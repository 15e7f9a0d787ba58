"""What a cancelled order owes after a part of it was delivered, invoiced, credited or paid."""

from decimal import Decimal

import pytest
from django.urls import reverse

from pricing.orders.cancelling import owed_by_stage
from pricing.orders.overdue import open_invoices, open_of_order
from pricing.orders.payments import undo_payment
from pricing.orders.services import NotPossibleNow, cancel_order, owed_on, reinstate_order
from tests.factories import today
from tests.pricing.order_money import again, credit, invoice, make_order, part, pay, send


@pytest.fixture
def order(workshop, owner):
    """200.00 less 20.00 with 10.00 delivery, 13 of 20 delivered: 130 - 13 + 6.50 invoiced."""
    made = make_order(workshop, owner, (13, 7), discount="20", delivery="10", deposit="0.2")
    invoice(made, 0)
    send(made, 0)
    return again(made)


def cancel(order, owed):
    cancel_order(order=again(order), on=today(), today=today(), reason="", owed=Decimal(owed))
    return again(order)


def by_stage(order):
    return {each.stage.value: each.owed for each in owed_by_stage(again(order))}


def opened(order):
    rows = list(order.invoices.order_by("pk"))
    return [each.left for each in open_of_order(again(order), rows).values()]


def test_what_has_left_is_owed_as_its_invoice_says(order):
    # 190.00 in all; of the other 66.50 nothing, 30 %, 75 %
    assert by_stage(order) == {
        "before": Decimal("123.50"),
        "bought": Decimal("143.45"),
        "cut": Decimal("173.38"),
    }


def test_what_was_credited_is_owed_at_no_stage(order):
    # 3 at 10.00 less a tenth
    assert credit(order.invoices.get(), 3).total == 27
    assert by_stage(order)["before"] == Decimal("96.50")
    assert by_stage(order)["bought"] == Decimal("116.45")


def test_an_invoice_of_a_cancelled_order_stays_open_until_it_is_paid(order, workshop):
    held = cancel(order, "143.45")
    assert [each.left for each in open_invoices(workshop, until=today())] == [Decimal("123.50")]
    payment = pay(held, "123.50")
    assert open_invoices(workshop, until=today()) == []
    assert owed_on(again(held)) == Decimal("19.95")
    undo_payment(payment=payment)
    assert opened(held) == [Decimal("123.50")]


def test_no_more_is_open_than_was_agreed_on_cancelling(order, workshop):
    held = cancel(order, "100")
    assert opened(held) == [100]
    pay(held, 60)
    assert opened(held) == [40] == [owed_on(again(held))]
    reinstate_order(order=again(held))
    assert opened(held) == [Decimal("63.50")]


def test_a_credit_note_after_cancelling_lowers_what_is_owed(order):
    held = cancel(order, "143.45")
    note = credit(held.invoices.get(), 3)
    assert note.total == 27
    assert owed_on(again(held)) == Decimal("116.45")
    assert opened(held) == [Decimal("96.50")]


def test_a_credit_note_that_writes_down_what_was_let_off_changes_nothing(order):
    held = cancel(order, "96.50")
    credit(held.invoices.get(), 3)
    assert owed_on(again(held)) == Decimal("96.50")
    assert opened(held) == [Decimal("96.50")]


def test_a_deposit_of_a_cancelled_order_is_kept_for_no_next_invoice(workshop, owner):
    order = make_order(workshop, owner, (13, 7), deposit="0.2")
    pay(order, 40)
    # 26 of the 40 come off
    assert invoice(order, 0).to_pay == 104
    send(order, 0)
    held = cancel(order, "130")
    assert opened(held) == [90] == [owed_on(again(held))]


@pytest.fixture
def delivered_order(workshop, owner):
    """200.00 less 20.00 with 10.00 delivery, 13 of 20 delivered and not invoiced."""
    made = make_order(workshop, owner, (13, 7), discount="20", delivery="10", deposit="0.2")
    pay(made, 40)
    send(made, 0)
    return again(made)


def test_what_has_left_is_owed_as_its_invoice_will_say(delivered_order):
    # 130 - 13 + 6.50, as if it was invoiced before
    assert by_stage(delivered_order)["before"] == Decimal("123.50")
    made = invoice(delivered_order, 0)
    assert made.total == Decimal("123.50")


def test_what_was_delivered_of_a_cancelled_order_is_invoiced(delivered_order, workshop):
    held = cancel(delivered_order, "123.50")
    made = invoice(held, 0)
    # no invoice follows, so all that was paid comes off
    assert (made.total, made.to_pay) == (Decimal("123.50"), Decimal("83.50"))
    assert opened(held) == [Decimal("83.50")] == [owed_on(again(held))]
    assert [each.left for each in open_invoices(workshop, until=today())] == [Decimal("83.50")]
    pay(held, "83.50")
    assert opened(held) == [0]
    with pytest.raises(NotPossibleNow, match="Only what was delivered"):
        invoice(held, 1)
    assert again(held).state == "cancelled"


def test_two_deliveries_of_a_cancelled_order_share_what_was_paid(workshop, owner):
    order = make_order(workshop, owner, (5, 5, 10), discount="20", delivery="10", deposit="0.2")
    pay(order, 40)
    send(order, 0)
    send(order, 1)
    owed = by_stage(order)["before"]
    held = cancel(order, owed)
    made = [invoice(held, 1), invoice(held, 0)]
    assert sum(each.total for each in made) == owed
    assert sum(each.to_pay for each in made) == owed - 40
    assert [each.document["deposit"] for each in made] == ["19.00", "19.00"]


def test_charges_are_owed_with_the_first_delivery(workshop, owner):
    made = make_order(workshop, owner, (13, 7))
    made.quote.frozen["public"]["extras"] = [
        {"reason": "set-up", "is_discount": False, "share": None, "amount": "12.00"}
    ]
    made.quote.save()
    send(made, 0)
    assert by_stage(made)["before"] == 142
    held = cancel(made, 142)
    assert invoice(held, 0).total == 142


def test_the_page_offers_an_invoice_of_what_was_delivered(client, delivered_order, workshop):
    held = cancel(delivered_order, "100")
    page = reverse("pricing:order", args=[workshop.slug, held.pk])
    first, last = (
        reverse("pricing:invoice_new", args=[workshop.slug, held.pk, part(held, place).pk])
        for place in (0, 1)
    )
    text = client.get(page).content.decode()
    assert first in text
    assert last not in text
    # less was agreed on than the goods come to
    assert "€100.00 was agreed" in client.get(first).content.decode()
    assert client.get(last).status_code == 302
    assert client.post(first, {"issued_on": today().isoformat()}).status_code == 302
    made = held.invoices.get()
    assert made.total == Decimal("123.50")
    assert opened(held) == [60]


def test_the_page_shows_what_is_open_of_a_cancelled_order(client, owner, order, workshop):
    held = cancel(order, "100")
    client.force_login(owner)
    page = client.get(reverse("pricing:order", args=[workshop.slug, held.pk])).content.decode()
    assert "€100.00 to pay" in page
