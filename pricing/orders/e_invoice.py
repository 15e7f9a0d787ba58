"""An issued invoice as an e-invoice: made as EN 16931 in CII, inside a PDF made as PDF/A-3b.

The XML is written by pycheval; nothing here says that it conforms, because no checker for the whole
file is to be had. Amounts are those of the paper, to the cent. Where prices include tax, the net
total is shared over lines and delivery by largest remainder, so that they add up to it.
"""

import datetime
import io
from collections.abc import Mapping
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django.template.loader import render_to_string

from maker.calc.bank_numbers import creditor_reference
from maker.calc.money import (
    minor_digits,
    minor_unit,
    share_out,
    to_minor,
    with_working_precision,
)
from maker.calc.refusal import Refusal
from maker.documents.pdf import render_pdf
from maker.workshop.models import country_codes
from pricing.orders.models import Invoice
from pricing.orders.printing import PAYMENT_CSS, invoice_view, with_lines
from pricing.quotes.printing import document_css

if TYPE_CHECKING:
    from pycheval import EN16931Invoice, Tax, TradeParty

ZERO = Decimal(0)
MOST_DIGITS = 2  # of amounts (BR-DEC-01 to BR-DEC-28)
NET_PLACES = Decimal("0.000001")
GREECE = "EL"  # in tax numbers; its code of a country is GR


class NoEInvoice(Refusal):
    """Something an e-invoice must say is missing, or the invoice can't be said in one."""


def e_invoice_file(invoice: Invoice, *, country: str, buyer_reference: str = "") -> bytes:
    """Return the paper with the e-invoice in it. `country` is the buyer's.

    Refusals: NoEInvoice, PdfLibraryMissing.
    """
    from pycheval import embed_invoice_in_pdf

    written = e_invoice(invoice, country=country, buyer_reference=buyer_reference)
    view = invoice_view(invoice.document, is_credit=invoice.kind == Invoice.Kind.CREDIT)
    page = render_pdf(
        html=render_to_string("print/invoice.html", view),
        css=document_css(view) + PAYMENT_CSS,
        variant="pdf/a-3b",
    )
    # it opens what it is given, a file or what is read like one
    return embed_invoice_in_pdf(io.BytesIO(page), written)  # type: ignore[arg-type]


def e_invoice_xml(invoice: Invoice, *, country: str, buyer_reference: str = "") -> str:
    """Return the XML alone. Refusals: NoEInvoice."""
    from pycheval import generate_xml

    return generate_xml(e_invoice(invoice, country=country, buyer_reference=buyer_reference))


@with_working_precision
def e_invoice(invoice: Invoice, *, country: str, buyer_reference: str = "") -> "EN16931Invoice":
    """Return the values of an e-invoice. Refusals: NoEInvoice."""
    from pycheval import (
        BankAccount,
        DocumentAllowance,
        DocumentCharge,
        EN16931Invoice,
        EN16931LineItem,
        IncludedNote,
        Money,
        PaymentMeans,
        PaymentTerms,
        PostalAddress,
        TradeParty,
    )
    from pycheval.quantities import QuantityCode
    from pycheval.type_codes import DocumentTypeCode, PaymentMeansCode, TaxCategoryCode

    document, is_credit = with_lines(invoice.document), invoice.kind == Invoice.Kind.CREDIT
    account = _account(document)
    rate, net, tax = _tax_of(document, is_credit=is_credit)
    currency = document["currency"]

    def money(amount: Decimal) -> Money:
        return Money(amount, currency)

    category = TaxCategoryCode.EXEMPT
    if document["tax_registered"]:
        category = TaxCategoryCode.STANDARD_RATE if rate else TaxCategoryCode.ZERO_RATE
    percent = rate * 100
    *amounts, discount, delivery = _net_amounts(document, net)
    shares = amounts[: len(document["lines"])]
    charged = [
        *zip((each["reason"] for each in _charges(document)), amounts[len(shares) :], strict=True),
        ("Delivery", delivery),
    ]
    charged = [(reason, amount) for reason, amount in charged if amount]
    whole = sum((amount for _, amount in charged), ZERO)
    customer, issued_on = document["customer"], datetime.date.fromisoformat(document["issued_on"])
    due_on, delivered_on = _day(document.get("due_on")), _day(document.get("delivered_on"))
    means = (
        PaymentMeansCode.SEPA_CREDIT_TRANSFER if currency == "EUR" else PaymentMeansCode.TRANSFER
    )
    has_account = bool(account["iban"]) and not is_credit
    return EN16931Invoice(
        document["number"],
        DocumentTypeCode.CREDIT_NOTE if is_credit else DocumentTypeCode.INVOICE,
        issued_on,
        _seller(document, account),
        TradeParty(
            _line(customer["name"]),
            PostalAddress(country, **_address(customer.get("address"))),
        ),
        currency,
        line_total_amount=money(sum(shares, ZERO)),
        charge_total_amount=money(whole) if charged else None,
        allowance_total_amount=money(-discount) if discount else None,
        tax_basis_total_amount=money(net),
        tax_total_amounts=[money(tax)],
        grand_total_amount=money(net + tax),
        prepaid_amount=money(
            Decimal(document["deposit"]) + Decimal(document.get("paid_before") or 0)
        ),
        due_payable_amount=money(Decimal(document["to_pay"])),
        buyer_reference=buyer_reference or None,
        tax=[
            _tax_entry()(
                money(tax),
                money(net),
                percent,
                category,
                exemption_reason=_why_no_tax(document),
            )
        ],
        charges=[
            DocumentCharge(
                money(amount), reason=_line(reason), tax_category=category, tax_rate=percent
            )
            for reason, amount in charged
        ],
        allowances=[
            DocumentAllowance(
                money(-discount), reason="Discount", tax_category=category, tax_rate=percent
            )
        ]
        if discount
        else [],
        delivery_date=delivered_on,
        notes=[IncludedNote(_line(document["reason"]))] if document.get("reason") else [],
        preceding_invoices=[(document["invoice"], None)] if is_credit else [],
        payment_reference=(creditor_reference(document["number"]) or None) if has_account else None,
        payment_means=[
            PaymentMeans(
                means,
                BankAccount(account["iban"], account["account_name"], None),
                account["bic"] or None,
            )
        ]
        if has_account
        else [],
        payment_terms=PaymentTerms(due_date=due_on)
        if due_on
        else PaymentTerms(description="Payable on receipt"),
        line_items=[
            EN16931LineItem(
                str(place),
                _line(line["design"]),
                money(_net_price(share, Decimal(line["quantity"]))),
                (Decimal(line["quantity"]), QuantityCode.PIECE),
                money(share),
                percent,
                category,
                description=_line(line["description"]) or None,
                seller_assigned_id=_line(line["code"]) or None,
            )
            for place, (line, share) in enumerate(zip(document["lines"], shares, strict=True), 1)
        ],
    )


def _account(document: Mapping[str, Any]) -> Mapping[str, str]:
    account: Mapping[str, str] = document.get("account") or {}
    missing = [
        words
        for name, words in (("country", "country"), ("tax_number", "tax number"))
        if not account.get(name)
    ]
    if missing:
        raise NoEInvoice(
            f"This invoice was issued without your {' and '.join(missing)}. Enter it under "
            "Settings, Bank and invoices, before you issue the next one."
        )
    return account


def _tax_of(document: Mapping[str, Any], *, is_credit: bool) -> tuple[Decimal, Decimal, Decimal]:
    """Return rate, net and tax, which must be right to the cent: official rules accept more.

    A credit note may take what is left of its invoice's tax, a cent off its own.
    """
    net, tax = Decimal(document["net"]), Decimal(document["tax"])
    rates, currency = document["rates"], document["currency"]
    if minor_digits(currency) > MOST_DIGITS:
        raise NoEInvoice(
            f"Amounts of an e-invoice have two decimals, and those in {currency} more."
        )
    if len(rates) > 1:
        raise NoEInvoice("An e-invoice with several tax rates can’t be made yet.")
    rate = Decimal(rates[0]["rate"]) if rates and document["tax_registered"] else ZERO
    if net + tax != Decimal(document["total"]):
        raise NoEInvoice("Net and tax do not add up to the total.")
    digits = minor_digits(currency)
    takes_rest = is_credit and not document["tax_per_line"]
    # a cent is what rounding a price with tax may move the tax by; BR-CO-17 accepts it
    allowed = minor_unit(digits) if document["prices_include_tax"] or takes_rest else ZERO
    if abs(tax - to_minor(net * rate, digits)) > allowed:
        raise NoEInvoice(
            "Its tax was rounded line by line. An e-invoice rounds once for the whole invoice."
        )
    return rate, net, tax


def _tax_entry() -> type["Tax"]:
    """Return an entry that holds the tax of the paper: `_tax_of` looked at it.

    The library's own works the tax out from the net total and refuses any other to the cent, also
    one that was right before it rounded twice.
    """
    from pycheval import Tax

    class PaperTax(Tax):
        def __post_init__(self) -> None:
            pass

    return PaperTax


def _net_amounts(document: Mapping[str, Any], net: Decimal) -> list[Decimal]:
    """Return what of the net total falls on each line, charge, the discount and the delivery.

    The discount is below zero. What is charged is shared out with the discount beside it, so that
    it all adds up to the net total.
    """
    digits = minor_digits(document["currency"])
    priced = [Decimal(line["amount"]) for line in document["lines"]]
    priced += [Decimal(each["amount"]) for each in _charges(document)]
    discount = Decimal(document.get("discount") or 0)
    delivery = Decimal(document["delivery"])
    total = sum(priced, delivery) - discount
    taken = to_minor(net * discount / total, digits) if total else ZERO
    *shares, carried = share_out(net + taken, [*priced, delivery], digits)
    return [*shares, -taken, carried]


def _charges(document: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    return list(document.get("extras") or ())


def _net_price(share: Decimal, quantity: Decimal) -> Decimal:
    """Return the price of one without tax, as finely as is needed to give the line again."""
    price = share / quantity
    rounded = price.quantize(NET_PLACES)
    return rounded.normalize() + ZERO if rounded else ZERO


def _why_no_tax(document: Mapping[str, Any]) -> str | None:
    if document["tax_registered"]:
        return None
    return f"Not registered for {document['tax_name'] or 'tax'}"


def _seller(document: Mapping[str, Any], account: Mapping[str, str]) -> "TradeParty":
    from pycheval import PostalAddress, TradeContact, TradeParty

    maker, number = document["maker"], account["tax_number"]
    # a VAT number begins with its country (BR-CO-09); another is a number of the tax office
    is_vat = number[:2] in country_codes() | {GREECE}
    contact = TradeContact(
        _line(maker.get("maker_name") or maker["name"]),
        phone=_line(maker.get("phone")) or None,
        email=_line(maker.get("email")) or None,
    )
    company = _line(account.get("company_number"))
    return TradeParty(
        _line(maker["name"]),
        PostalAddress(account["country"], **_address(maker.get("address"))),
        tax_number=None if is_vat else number,
        vat_id=number if is_vat else None,
        # by one of three numbers a buyer's program must know who it is (BR-CO-26)
        ids=[] if is_vat or company else [number],
        legal_id=(company, None) if company else None,
        contact=contact,
    )


def _address(text: str | None) -> dict[str, str]:
    """Return an address as three lines at most: it is kept as it is written on an envelope."""
    lines = [_line(line) for line in (text or "").split("\n") if line.strip()]
    lines = [*lines[:2], ", ".join(lines[2:])] if len(lines) > 3 else lines
    return dict(zip(("line_one", "line_two", "line_three"), lines, strict=False))


def _line(text: str | None) -> str:
    """Return a text without what XML can't hold."""
    return " ".join("".join(c if c.isprintable() else " " for c in text or "").split())


def _day(text: str | None) -> datetime.date | None:
    return datetime.date.fromisoformat(text) if text else None
