"""A change of an order with a fee of its own: told, accepted, invoiced once, undone with it."""

import json
import re
from decimal import Decimal

import pytest
from django.urls import reverse

from pricing.calc.invoicing.invoices import order_totals
from pricing.customer_pages.services import make_link
from pricing.orders.change_answers import offer_change
from pricing.orders.change_effects import BadChange
from pricing.orders.change_fees import fees_in, fees_of
from pricing.orders.change_undoing import TooLateToUndo, counter_change, undo_accepted
from pricing.orders.changes import ChangeInput, save_change, start_change
from pricing.orders.inputs import goods_of, lines_now, sale_terms
from pricing.orders.invoicing import issue_invoice
from pricing.orders.models import OrderChange
from pricing.orders.printing import invoice_view
from pricing.orders.services import DeliveryInput, accept, save_deliveries
from pricing.workshop_file.services import export_workshop, import_workshop
from tests.factories import make_recipe, today
from tests.pricing.quotes import make_line, make_quote, sent_quote
from tests.pricing.test_customer_pages_by_link import DAY, _outside, customer, told
from tests.pricing.test_order_changes import again, fresh, said_yes

__all__ = ["_outside", "customer"]

EXPRESS = {"fee": Decimal(15), "fee_reason": "Express printing"}


@pytest.fixture
def order(workshop, owner):
    workshop.tax_registered, workshop.tax_rate = True, Decimal("0.2")
    workshop.prices_include_tax = False
    workshop.save()
    made = make_quote(workshop, title="Favour boxes")
    make_line(made, make_recipe(workshop), quantity=20)
    made.extras.create(kind="charge", reason="names set-up", amount=Decimal("12.00"))
    return accept(quote=sent_quote(made, owner), who="Ada", on=today(), today=today())


def offered(order, count=20, **fee):
    change = start_change(order=order)
    (line, *_) = lines_now(order)
    typed = ChangeInput(counts={line.pk: count}, **(fee or EXPRESS))
    save_change(change=change, typed=typed, today=today(), edit_number=change.edit_number)
    return offer_change(change=fresh(change), today=today())


def in_two(order):
    (line,), (row,) = lines_now(order), order.deliveries.all()
    save_deliveries(
        order=order,
        deliveries=[
            DeliveryInput(row, None, "", "", {line.pk: 15}),
            DeliveryInput(None, None, "", "", {line.pk: 5}),
        ],
        edit_number=again(order).edit_number,
    )
    return list(order.deliveries.order_by("position"))


def invoiced(delivery):
    return issue_invoice(delivery=delivery, on=today(), today=today())


def fees_on(invoice):
    return [each["reason"] for each in invoice.document["extras"]]


def test_a_fee_alone_is_a_change_of_the_price_taxed_as_the_items_are(order):
    before = again(order).total
    change = offered(order)
    # 15.00 and 20 % tax, by hand
    assert change.total_change == Decimal("18.00")
    assert again(order).total == before
    said_yes(change)
    held = again(order)
    assert held.total == before + Decimal("18.00")
    goods = goods_of(lines_now(held), held.quote.frozen, fees_in(fees_of(held)))
    assert order_totals([goods], sale_terms(held.quote.frozen)).gross == held.total


def test_it_is_on_the_next_invoice_whole_and_on_no_other(order):
    first, last = in_two(order)
    before = invoiced(first)
    said_yes(offered(order))
    after = invoiced(last)
    assert fees_on(before) == ["names set-up"]
    assert fees_on(after) == ["Express printing"]
    paper = invoice_view(after.document, is_credit=False)
    assert {"label": "Express printing", "amount": "€15.00"} in paper["totals"]
    assert before.total + after.total == again(order).total


def test_it_comes_beside_the_charges_of_the_quote_on_a_first_invoice(order):
    first, last = in_two(order)
    said_yes(offered(order))
    issued = [invoiced(first), invoiced(last)]
    assert [fees_on(each) for each in issued] == [["names set-up", "Express printing"], []]
    assert sum(each.total for each in issued) == again(order).total


def test_a_fee_without_an_invoice_to_come_is_refused(order):
    first, last = in_two(order)
    invoiced(first)
    change = offered(order)
    invoiced(last)
    with pytest.raises(BadChange, match="whole order is invoiced"):
        said_yes(change)
    assert again(change).state == OrderChange.State.OFFERED
    OrderChange.objects.update(state="withdrawn")
    with pytest.raises(BadChange, match="whole order is invoiced"):
        offered(order)


def test_a_later_change_does_not_strand_it(order):
    first, _ = in_two(order)
    invoiced(first)
    said_yes(offered(order))
    # all that is left to invoice is taken off; the fee would be on nothing
    change = start_change(order=order)
    (line,) = lines_now(order)
    typed = ChangeInput(counts={line.pk: 15})
    save_change(change=change, typed=typed, today=today(), edit_number=change.edit_number)
    change = offer_change(change=fresh(change), today=today())
    with pytest.raises(BadChange, match="whole order is invoiced"):
        said_yes(change)


def test_it_is_undone_with_its_change(order):
    before = again(order).total
    change = offered(order, 26, **EXPRESS)
    said_yes(change)
    undo_accepted(change=fresh(change))
    assert again(order).total == before
    assert fees_on(invoiced(order.deliveries.get())) == ["names set-up"]


@pytest.mark.parametrize("count", [20, 26])
def test_a_counter_change_takes_it_back_and_its_own_undoes_that(order, count):
    before = again(order).total
    change = offered(order, count, **EXPRESS)
    said_yes(change)
    total = again(order).total
    counter = offer_change(
        change=fresh(counter_change(change=fresh(change), today=today())), today=today()
    )
    assert counter.document["fees"] == [{"reason": "Express printing", "amount": "-15.00"}]
    said_yes(counter)
    assert again(order).total == before
    assert fees_of(order) == []
    back = offer_change(
        change=fresh(counter_change(change=fresh(counter), today=today())), today=today()
    )
    said_yes(back)
    assert again(order).total == total
    assert invoiced(order.deliveries.get()).total == total


def test_one_that_is_invoiced_stays(order):
    first, last = in_two(order)
    change = offered(order)
    said_yes(change)
    draft = counter_change(change=fresh(change), today=today())
    counter = offer_change(change=fresh(draft), today=today())
    number = invoiced(first).number
    with pytest.raises(BadChange, match=f"on invoice {number}"):
        said_yes(counter)
    OrderChange.objects.filter(pk=counter.pk).update(state="withdrawn")
    with pytest.raises(TooLateToUndo, match=f"on invoice {number}"):
        counter_change(change=fresh(change), today=today())
    assert fees_on(invoiced(last)) == []


def test_amount_and_reason_belong_together(client, order):
    change = start_change(order=order)
    page = reverse("pricing:order_change", args=[order.workshop.slug, order.pk, change.pk])
    (line,) = lines_now(order)
    typed = {"edit_number": 0, f"count_{line.pk}": "20", "fee": "15.00"}
    answer = client.post(page, typed)
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "Enter what the fee is for." in text
    assert 'value="15.00"' in text
    answer = client.post(page, {"edit_number": 0, f"count_{line.pk}": "20", "fee_reason": "Hurry"})
    assert answer.status_code == 422
    assert "Enter the fee" in answer.content.decode()
    assert client.post(page, typed | {"fee": "-5", "fee_reason": "x"}).status_code == 422
    client.post(page, typed | {"fee_reason": "Express printing", "offer": "1"})
    assert again(change).total_change == Decimal("18.00")


def test_it_is_told_where_the_change_is_read_and_accepted(client, customer, order, workshop, owner):
    change = offered(order)
    _, key = make_link(quote=order.quote, ends_on=today() + 9 * DAY, by=owner, today=today())
    page = f"{reverse('pricing:customer_quote')}?key={key}"
    assert re.search(r"Express printing.*15\.00", told(customer.get(page)), re.DOTALL)
    own = client.get(
        reverse("pricing:order_change", args=[workshop.slug, order.pk, change.pk])
    ).content.decode()
    assert "Express printing" in own
    customer.post(page, {"answer": f"yes-{change.pk}", "name": "Ada Fenn"})
    assert again(change).state == OrderChange.State.ACCEPTED
    text = told(customer.get(page))
    assert re.search(r"Your order now.*Express printing.*15\.00", text, re.DOTALL)
    page = client.get(reverse("pricing:order", args=[workshop.slug, order.pk])).content.decode()
    assert re.search(r"Express printing.*Fee of change 1.*15\.00", page, re.DOTALL)


def test_it_goes_out_and_in_with_the_workshop_file(order, workshop):
    change = offered(order)
    said_yes(change)
    counter = counter_change(change=fresh(change), today=today())
    offer_change(change=fresh(counter), today=today())
    out = json.loads(json.dumps(export_workshop(workshop)))
    back = import_workshop(out, name="Second Mill")
    theirs = OrderChange.objects.of(back).order_by("number")
    assert [(each.fee, each.fee_reason, each.waives_fee_of) for each in theirs] == [
        (Decimal(15), "Express printing", None),
        (None, "", 1),
    ]
    assert [each.document["fees"] for each in theirs] == [
        [{"reason": "Express printing", "amount": "15.00"}],
        [{"reason": "Express printing", "amount": "-15.00"}],
    ]
