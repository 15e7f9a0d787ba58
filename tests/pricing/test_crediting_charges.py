"""Credit notes on what an invoice charged beside its goods: set-up, a change's fee, delivery."""

import io
from decimal import Decimal

import pdfplumber
import pytest
from django.urls import reverse

from pricing.orders.change_answers import offer_change
from pricing.orders.changes import ChangeInput, save_change, start_change
from pricing.orders.crediting import BadCredit, charges_left, issue_credit_note, left_to_credit
from pricing.orders.invoicing import issue_invoice
from pricing.orders.models import Invoice
from pricing.orders.printing import invoice_file
from pricing.orders.services import accept, owed_on
from pricing.quotes.delivering import DropInput
from pricing.quotes.models import Quote
from pricing.quotes.services import save_delivery
from pricing.tax_year.inputs import TaxYear, sales_of
from tests.factories import make_recipe, today
from tests.pricing.quotes import make_line, make_quote, sent_quote
from tests.pricing.test_e_invoice import (
    ACCOUNT,
    broken_rules,
    e_invoice_xml,
    schema_faults,
    wrong_cents,
)
from tests.pricing.test_order_changes import again, fresh, said_yes

FIELDS = ("net", "tax", "total")


def invoiced(workshop, owner, *, include_tax=False, quantity=3, price="10.03"):
    """3 at 10.03, set-up 12.00, delivery 7.01 and a change's fee of 15.00, with 20 % tax."""
    for name, value in ACCOUNT.items():
        setattr(workshop, name, value)
    workshop.tax_registered, workshop.tax_rate = True, Decimal("0.2")
    workshop.prices_include_tax = include_tax
    workshop.save()
    made = make_quote(workshop, title="Favour boxes")
    made.extras.create(kind="charge", reason="names set-up", amount=Decimal("12.00"))
    make_line(made, make_recipe(workshop), quantity=quantity, price_asked=Decimal(price))
    held = Quote.objects.with_people().get(pk=made.pk)
    save_delivery(
        quote=held,
        drops=[DropInput(carrier=Decimal("7.01"))],
        distance_cost=None,
        margin=None,
        edit_number=held.edit_number,
    )
    order = accept(quote=sent_quote(made, owner), who="Ada", on=today(), today=today())
    change = start_change(order=order)
    typed = ChangeInput(fee=Decimal(15), fee_reason="Express printing")
    save_change(change=change, typed=typed, today=today(), edit_number=change.edit_number)
    said_yes(offer_change(change=fresh(change), today=today()))
    delivery = order.deliveries.select_related("order__quote__customer__workshop").get()
    return issue_invoice(delivery=delivery, on=today(), today=today())


@pytest.fixture
def invoice(workshop, owner):
    return invoiced(workshop, owner)


def keys(invoice):
    return {each.reason: each.key for each in charges_left(invoice)}


def credit(invoice, count=0, **charges):
    (line,) = invoice.document["lines"]
    held = Invoice.objects.select_related("order__quote__customer__workshop").get(pk=invoice.pk)
    known = {reason.replace(" ", "_").replace("-", "_"): key for reason, key in keys(held).items()}
    return issue_credit_note(
        invoice=held,
        counts={line["line"]: count},
        charges={known[name]: Decimal(amount) for name, amount in charges.items()},
        reason="Came late",
        on=today(),
        today=today(),
    )


def said(note):
    return [note.document[key] for key in FIELDS]


def test_each_charge_of_an_invoice_can_be_credited_with_its_tax(invoice):
    # net 30.09 + 12 + 15 + 7.01 = 64.10, a fifth of it 12.82
    assert said(invoice) == ["64.10", "12.82", "76.92"]
    before = owed_on(again(invoice.order))
    assert said(credit(invoice, Express_printing="15")) == ["15.00", "3.00", "18.00"]
    assert said(credit(invoice, names_set_up="2.50")) == ["2.50", "0.50", "3.00"]
    assert said(credit(invoice, Delivery="7.01")) == ["7.01", "1.40", "8.41"]
    left = [(each.reason, each.left) for each in charges_left(invoice)]
    assert left == [("names set-up", Decimal("9.50")), ("Express printing", 0), ("Delivery", 0)]
    assert owed_on(again(invoice.order)) == before - Decimal("29.41")


def test_prices_with_tax_in_them_are_credited_as_they_are(workshop, owner):
    invoice = invoiced(workshop, owner, include_tax=True)
    # 12.00 with a fifth in it is 10.00 and 2.00
    assert said(credit(invoice, names_set_up="12")) == ["10.00", "2.00", "12.00"]


@pytest.mark.parametrize(
    "charges",
    [{"names_set_up": "12.01"}, {"Delivery": "7.02"}, {"Express_printing": "-1"}, {}],
)
def test_no_more_than_was_invoiced_is_credited(invoice, charges):
    with pytest.raises(BadCredit):
        credit(invoice, **charges)
    assert not invoice.credit_notes.exists()
    credit(invoice, Delivery="7")
    with pytest.raises(BadCredit, match=r"At most €0\.01"):
        credit(invoice, Delivery="0.02")


@pytest.mark.parametrize("include_tax", [False, True])
@pytest.mark.parametrize("quantity", [3, 7])
def test_all_credited_in_parts_is_the_invoice_to_the_cent(workshop, owner, include_tax, quantity):
    invoice = invoiced(workshop, owner, include_tax=include_tax, quantity=quantity)
    notes = [credit(invoice, 1) for _ in range(quantity)]
    notes += [credit(invoice, Express_printing="5.01"), credit(invoice, Express_printing="9.99")]
    notes += [
        credit(invoice, names_set_up="12"),
        credit(invoice, Delivery=invoice.document["delivery"]),
    ]
    for key in FIELDS:
        whole = sum(Decimal(note.document[key]) for note in notes)
        assert whole == Decimal(invoice.document[key])
    assert not any(left_to_credit(invoice).values())
    assert not any(each.left for each in charges_left(invoice))
    for note in notes:
        # official rules accept the cent a part may be off
        assert broken_rules(e_invoice_xml(note, country="BE")) == []


@pytest.mark.parametrize("include_tax", [False, True])
@pytest.mark.parametrize("count", [0, 2])
def test_paper_and_e_invoice_say_what_was_credited(workshop, owner, include_tax, count):
    invoice = invoiced(workshop, owner, include_tax=include_tax)
    note = credit(invoice, count, names_set_up="4", Express_printing="15", Delivery="7.01")
    with pdfplumber.open(io.BytesIO(invoice_file(note))) as opened:
        text = opened.pages[0].extract_text()
    for words in ("et-up", "€4.00", "Express printing", "€15.00", "Delivery", "€7.01"):
        assert words in text
    assert f"€{note.total}" in text
    xml = e_invoice_xml(note, country="BE")
    assert schema_faults(xml) == []
    assert broken_rules(xml) == []
    # tax inside a price may be a cent off tax on top: 4.335 and 4.334
    assert wrong_cents(xml) == (["tax"] if include_tax and not count else [])
    assert f"GrandTotalAmount>{note.total}<" in xml


def test_books_take_the_credit_off(workshop, invoice):
    note = credit(invoice, Express_printing="15")
    year = TaxYear(today().replace(month=1, day=1), today().replace(month=12, day=31))
    row = next(each for each in sales_of(workshop, year) if each.number == note.number)
    assert (row.rate, row.net, row.tax) == (Decimal("0.2"), -15, -3)


def test_charges_are_credited_on_the_page(client, workshop, invoice):
    page = reverse("pricing:invoice_credit", args=[workshop.slug, invoice.order_id, invoice.pk])
    text = client.get(page).content.decode()
    assert "Names set-up" in text
    assert "At most €7.01" in text
    sent = {"reason": "Came late", "issued_on": today().isoformat(), "delivery": "7.02"}
    refused = client.post(page, sent)
    assert refused.status_code == 422
    said_once = refused.content.decode()
    assert "Delivery: At most €7.01 can still be credited." in said_once
    assert "Delivery: Delivery" not in said_once
    assert 'value="7.02"' in said_once
    assert client.post(page, sent | {"delivery": "7,01"}).status_code == 302
    assert said(invoice.credit_notes.get()) == ["7.01", "1.40", "8.41"]
    # what is credited whole is not asked for again
    assert 'name="delivery"' not in client.get(page).content.decode()


def test_a_charge_finer_than_the_currency_is_refused(client, workshop, invoice):
    page = reverse("pricing:invoice_credit", args=[workshop.slug, invoice.order_id, invoice.pk])
    sent = {"reason": "x", "issued_on": today().isoformat(), "delivery": "0.005"}
    assert client.post(page, sent).status_code == 422
