"""Orders with their payments and invoices go out and in with the workshop file."""

import datetime
import json
from decimal import Decimal

import pytest

from maker.calc.strict_json import WrongJson
from pricing.orders.crediting import charges_left, issue_credit_note, left_to_credit
from pricing.orders.invoicing import issue_invoice
from pricing.orders.models import Invoice, Order
from pricing.orders.payments import record_payment
from pricing.orders.services import (
    DeliveryInput,
    accept,
    owed_on,
    save_deliveries,
)
from pricing.workshop_file.services import export_workshop, import_workshop
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


def pay(order, amount, **more):
    options = {"received_on": today(), "today": today(), "way": "card"}
    return record_payment(order=order, amount=Decimal(amount), **options | more)


def test_orders_go_out_and_in_with_the_workshop_file(workshop, order):
    first, _ = in_two(order, 12, 8)
    pay(order, 5)
    invoice = issue_invoice(delivery=first, on=today(), today=today())
    issue_credit_note(
        invoice=invoice,
        counts={invoice.document["lines"][0]["line"]: 1},
        reason="creased",
        on=today(),
        today=today(),
    )
    before = export_workshop(workshop)
    assert before["orders"]
    copy = import_workshop(json.loads(json.dumps(before)), name="Second Mill")
    after = export_workshop(copy)
    assert after["orders"] == before["orders"]
    (there,) = Order.objects.of(copy)
    assert owed_on(there) == owed_on(again(order))
    credited = there.invoices.get(kind=Invoice.Kind.CREDIT)
    assert left_to_credit(credited.credits) == {credited.document["lines"][0]["line"]: 11}


@pytest.mark.parametrize(
    ("change", "where"),
    [
        (lambda orders: orders.append(orders[0]), "orders[1].quote"),
        (lambda orders: orders[0].update(quote="quote 9"), "orders[0].quote"),
        (lambda orders: orders[0].update(number="O-2026-0099"), "orders[0].number"),
        (
            lambda orders: orders[0]["deliveries"][0]["lines"][0].update(line=2),
            "orders[0].deliveries[0].lines[0].line",
        ),
        (
            lambda orders: orders[0]["needs"][0].update(material="moonlight"),
            "orders[0].needs[0].material",
        ),
    ],
)
def test_orders_that_do_not_agree_are_refused_with_their_place(workshop, order, change, where):
    document = json.loads(json.dumps(export_workshop(workshop)))
    change(document["orders"])
    with pytest.raises(WrongJson) as refused:
        import_workshop(document, name="Second Mill")
    assert refused.value.where == where


@pytest.mark.parametrize("key", ["to_pay", "deposit", "deposit_of_order", "paid_before"])
def test_an_invoice_whose_amounts_are_not_numbers_does_not_come_in(workshop, order, key):
    (delivery,) = order.deliveries.all()
    issue_invoice(delivery=delivery, on=today(), today=today(), due_on=today())
    document = json.loads(json.dumps(export_workshop(workshop)))
    (invoice,) = document["orders"][0]["invoices"]
    invoice["document"][key] = "much"
    with pytest.raises(WrongJson) as refused:
        import_workshop(document, name="Second Mill")
    assert refused.value.where == f"orders[0].invoices[0].document.{key}"


def test_credited_charges_go_out_and_in(workshop, order):
    order.quote.frozen["public"]["delivery"] = "7.00"
    extra = {"reason": "names set-up", "is_discount": False, "share": None, "amount": "12.00"}
    order.quote.frozen["public"]["extras"] = [extra]
    order.quote.save()
    (delivery,) = order.deliveries.all()
    invoice = issue_invoice(delivery=delivery, on=today(), today=today())
    issue_credit_note(
        invoice=invoice,
        counts={},
        charges={"extra_0": Decimal(5), "delivery": Decimal(2)},
        reason="late",
        on=today(),
        today=today(),
    )
    document = json.loads(json.dumps(export_workshop(workshop)))
    copy = import_workshop(document, name="Second Mill")
    (there,) = Invoice.objects.of(copy).filter(kind=Invoice.Kind.INVOICE)
    assert [each.left for each in charges_left(there)] == [7, 5]
    _, note = document["orders"][0]["invoices"]
    for value in (1, -1, "first"):
        note["document"]["extras"][0]["place"] = value
        with pytest.raises(WrongJson) as refused:
            import_workshop(document, name="Third Mill")
        assert refused.value.where == "orders[0].invoices[1].document.extras[0].place"
