"""Where an invoice is paid: the account in the settings, on the paper and in its payment code."""

import io

import pdfplumber
import pypdfium2
import pytest
import zxingcpp
from django.urls import reverse

from maker.calc.bank_numbers import creditor_reference
from maker.calc.strict_json import WrongJson
from pricing.orders.crediting import issue_credit_note
from pricing.orders.invoicing import issue_invoice
from pricing.orders.printing import invoice_file
from pricing.orders.services import accept
from pricing.workshop_file.services import export_workshop, import_workshop
from tests.factories import make_recipe, today
from tests.pricing.quotes import make_line, make_quote, sent_quote

IBAN = "BE72000000001616"  # of the sample in Wikipedia, EPC QR code
ACCOUNT = {"account_name": "Ada Fenn", "iban": IBAN, "bic": "BPOTBEB1", "country": "BE"}


def settings_form(workshop, **typed):
    return {"edit_number": workshop.edit_number, **ACCOUNT, **typed}


@pytest.fixture
def order(workshop, owner):
    made = make_quote(workshop, title="Favour boxes")
    make_line(made, make_recipe(workshop), quantity=20)
    quote = sent_quote(made, owner)
    return accept(quote=quote, who="Ada Fenn", on=today(), today=today())


def set_account(order, **fields):
    shop = order.workshop
    for name, value in {**ACCOUNT, **fields}.items():
        setattr(shop, name, value)
    shop.save()


def issued(order):
    (delivery,) = order.deliveries.select_related("order__quote__customer__workshop")
    return issue_invoice(delivery=delivery, on=today(), today=today(), due_on=today())


def codes_on(pdf):
    (page,) = pypdfium2.PdfDocument(pdf)
    return [code.text for code in zxingcpp.read_barcodes(page.render(scale=4).to_pil())]


def words_on(pdf):
    with pdfplumber.open(io.BytesIO(pdf)) as opened:
        return " ".join(page.extract_text() for page in opened.pages)


def test_the_account_is_kept_as_banks_write_it(client, workshop):
    address = reverse("maker:workshop_invoices", args=[workshop.slug])
    typed = settings_form(workshop, iban="be72 0000 0000 1616", bic="bpotbeb1", country="be")
    assert client.post(address, typed).status_code == 302
    workshop.refresh_from_db()
    assert (workshop.iban, workshop.bic, workshop.country) == (IBAN, "BPOTBEB1", "BE")


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"iban": "BE72000000001617"}, "check digits do not fit"),
        ({"iban": "my account"}, "Enter an IBAN"),
        ({"bic": "BPOT"}, "Enter a BIC"),
        ({"country": "Q9"}, "two letters"),
        ({"account_name": ""}, "Enter the name the account is in."),
    ],
)
def test_a_wrong_account_is_refused_and_stays_typed(client, workshop, wrong, words):
    address = reverse("maker:workshop_invoices", args=[workshop.slug])
    answer = client.post(address, settings_form(workshop, **wrong))
    assert answer.status_code == 422
    text = answer.content.decode()
    assert words in text
    assert all(f'value="{value}"' in text for value in wrong.values() if value)
    workshop.refresh_from_db()
    assert workshop.iban == ""


def test_a_wrong_iban_does_not_come_in_with_a_file(workshop, owner):
    written = export_workshop(workshop)
    written["workshop"]["iban"] = "BE72000000001617"
    with pytest.raises(WrongJson, match="check digits"):
        import_workshop(written, owner=owner, name="Copy")


def test_the_code_on_the_paper_pays_what_the_paper_says(order):
    set_account(order)
    invoice = issued(order)
    pdf = invoice_file(invoice)
    (code,) = codes_on(pdf)
    lines = code.split("\n")
    assert lines[:7] == ["BCD", "001", "1", "SCT", "BPOTBEB1", "Ada Fenn", IBAN]
    assert float(lines[7].removeprefix("EUR")) == float(invoice.to_pay)
    assert lines[9] == creditor_reference(invoice.number)
    words = words_on(pdf)
    assert "BE72 0000 0000 1616" in words
    assert "Scan to pay" in words


@pytest.mark.parametrize("fields", [{"iban": ""}, {"currency": "GBP"}])
def test_without_an_account_in_euros_there_is_no_code(order, fields):
    set_account(order)
    invoice = issued(order)
    document = invoice.document
    if "iban" in fields:
        document["account"]["iban"] = ""
    else:
        document["currency"] = fields["currency"]
    pdf = invoice_file(invoice)
    assert codes_on(pdf) == []
    assert ("IBAN" in words_on(pdf)) == ("currency" in fields)


def test_an_invoice_of_before_there_were_accounts_still_prints(order):
    invoice = issued(order)
    del invoice.document["account"]
    assert codes_on(invoice_file(invoice)) == []


def test_an_issued_invoice_keeps_the_account_it_was_issued_with(order):
    set_account(order)
    invoice = issued(order)
    set_account(order, iban="", account_name="")
    assert IBAN in str(type(invoice).objects.get(pk=invoice.pk).document)


def test_a_credit_note_asks_for_no_payment(order):
    set_account(order)
    invoice = issued(order)
    (line,) = invoice.document["lines"]
    note = issue_credit_note(
        invoice=invoice, counts={line["line"]: 1}, reason="One torn", on=today(), today=today()
    )
    assert codes_on(invoice_file(note)) == []
    assert "IBAN" not in words_on(invoice_file(note))
