"""Payments, invoices and credit notes of an order, by services and pages."""

import datetime
import uuid
from decimal import Decimal

import pytest
from django.urls import reverse

from pricing.calc.invoicing.invoices import order_totals
from pricing.orders.crediting import BadCredit, issue_credit_note, left_to_credit
from pricing.orders.inputs import delivered, sale_terms
from pricing.orders.invoicing import AlreadyInvoiced, issue_invoice
from pricing.orders.models import Invoice, Order
from pricing.orders.payments import AlreadyPaid, BadPayment, record_payment
from pricing.orders.printing import invoice_file
from pricing.orders.services import (
    DeliveryInput,
    NotPossibleNow,
    accept,
    deposit_left,
    owed_on,
    save_deliveries,
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


def pay(order, amount, **more):
    options = {"received_on": today(), "today": today(), "way": "card"}
    return record_payment(order=order, amount=Decimal(amount), **options | more)


def test_more_than_is_owed_is_asked_about(order):
    total = order.quote.total
    with pytest.raises(BadPayment) as refused:
        pay(order, total + 1)
    assert refused.value.where == "amount"
    pay(order, total + 1, is_more_meant=True)
    assert owed_on(again(order)) == -1
    with pytest.raises(BadPayment):
        pay(order, -total - 2)
    pay(order, -1)
    assert owed_on(again(order)) == 0


def test_a_second_click_pays_once(order):
    key = uuid.uuid4()
    pay(order, 5, form_key=key)
    with pytest.raises(AlreadyPaid):
        pay(order, 5, form_key=key)
    assert order.payments.count() == 1


def test_an_order_asks_for_its_deposit_first(client, workshop, order):
    Order.objects.update(deposit=Decimal("12.50"))
    page = reverse("pricing:order", args=[workshop.slug, order.pk])
    entry = reverse("pricing:payment_new", args=[workshop.slug, order.pk])

    def words(address):
        return " ".join(client.get(address).content.decode().split())

    assert "deposit €12.50 not paid yet" in words(page)
    assert 'name="amount" value="12.50"' in words(entry)
    pay(order, 10)
    assert "deposit €2.50 not paid yet" in words(page)
    assert 'name="amount" value="2.50"' in words(entry)
    pay(order, "2.50")
    assert "not paid yet" not in words(page)
    owed = order.quote.total - Decimal("12.50")
    assert f'name="amount" value="{owed:.2f}"' in words(entry)


def test_an_invoice_asks_for_money_instead_of_the_deposit(workshop, order):
    order.deposit = Decimal("12.50")
    (delivery,) = order.deliveries.all()
    assert deposit_left(order, Decimal(0)) == Decimal("12.50")
    issue_invoice(delivery=delivery, on=today(), today=today())
    assert deposit_left(order, Decimal(0)) == 0


def test_the_page_of_an_invoice_says_first_what_the_invoice_then_says(client, workshop, order):
    pay(order, 5)
    first, last = in_two(order, 13, 7)
    for part in (first, last):
        entry = reverse("pricing:invoice_new", args=[workshop.slug, order.pk, part.pk])
        page = " ".join(client.get(entry).content.decode().split())
        client.post(entry, {"issued_on": today().isoformat()})
        made = Invoice.objects.get(delivery=part)
        assert f"<dt>Total</dt><dd><strong>€{made.total:.2f}</strong></dd>" in page
        if made.to_pay != made.total:
            assert f"<dt>To pay</dt><dd>€{made.to_pay:.2f}</dd>" in page
        # and there is no second one to be made
        assert client.get(entry).status_code == 302
    assert Invoice.objects.count() == 2


@pytest.mark.parametrize("registered", [False, True])
@pytest.mark.parametrize("include_tax", [False, True])
def test_invoices_of_deliveries_add_up_to_the_quote(workshop, owner, registered, include_tax):
    workshop.tax_registered, workshop.tax_rate = registered, Decimal("0.2")
    workshop.prices_include_tax = include_tax
    workshop.save()
    made = make_quote(workshop)
    Quote.objects.filter(pk=made.pk).update(delivery=Decimal("17.51"))
    make_line(made, make_recipe(workshop), quantity=21)
    order = accept(quote=sent_quote(made, owner), who="Ada", on=today(), today=today())
    pay(order, 5)
    first, last = in_two(order, 13, 8)
    invoices = [issue_invoice(delivery=each, on=today(), today=today()) for each in (first, last)]
    frozen = order.quote.frozen
    quoted = order_totals(
        delivered(order.deliveries.prefetch_related("lines__line"), frozen), sale_terms(frozen)
    )
    assert quoted.gross == order.quote.total
    # tax is rounded once for each invoice
    assert abs(sum(each.total for each in invoices) - order.quote.total) <= Decimal("0.01")
    for key, whole in (("delivery", frozen["public"]["delivery"]), ("paid_before", 5)):
        assert sum(Decimal(each.document[key]) for each in invoices) == Decimal(whole)
    assert [each.number for each in invoices] == [f"I-{today().year}-000{n}" for n in (1, 2)]
    assert owed_on(again(order)) == sum(each.total for each in invoices) - 5
    assert sum(each.to_pay for each in invoices) == owed_on(again(order))


def test_a_delivery_is_invoiced_once(order):
    (delivery,) = order.deliveries.all()
    issue_invoice(delivery=delivery, on=today(), today=today())
    with pytest.raises(AlreadyInvoiced):
        issue_invoice(delivery=again(delivery), on=today(), today=today())
    assert Invoice.objects.count() == 1


def test_an_invoice_is_not_dated_before_the_last_one_or_ahead(order):
    first, last = in_two(order, 12, 8)
    with pytest.raises(NotPossibleNow):
        issue_invoice(delivery=first, on=today() + DAY, today=today())
    issue_invoice(delivery=first, on=today(), today=today())
    with pytest.raises(NotPossibleNow):
        issue_invoice(delivery=last, on=today() - DAY, today=today())
    # a number that was not used is not lost
    assert issue_invoice(delivery=last, on=today(), today=today()).number.endswith("0002")


def test_goods_of_an_invoice_are_credited_at_most_once(order):
    (delivery,) = order.deliveries.all()
    invoice = issue_invoice(delivery=delivery, on=today(), today=today())
    (line,) = invoice.document["lines"]
    key = uuid.uuid4()

    def credit(count, **more):
        return issue_credit_note(
            invoice=invoice,
            counts={line["line"]: count},
            reason="Two were creased",
            on=today(),
            today=today(),
            **more,
        )

    note = credit(2, form_key=key)
    assert note.total == 2 * Decimal(line["price_each"])
    assert note.credits == invoice
    with pytest.raises(AlreadyInvoiced):
        credit(2, form_key=key)
    assert left_to_credit(invoice) == {line["line"]: 18}
    for count in (0, 19, -1):
        with pytest.raises(BadCredit):
            credit(count)
    assert owed_on(again(order)) == invoice.total - note.total


def test_the_papers_are_pdfs(order):
    (delivery,) = order.deliveries.all()
    invoice = issue_invoice(delivery=delivery, on=today(), today=today())
    assert invoice_file(invoice).startswith(b"%PDF")
