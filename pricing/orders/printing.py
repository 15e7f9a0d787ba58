"""Makes the PDF of an invoice or credit note from what was kept when it was issued."""

import base64
import datetime
import io
from collections.abc import Mapping
from contextlib import suppress
from decimal import Decimal
from typing import Any

from babel.dates import format_date
from django.template.loader import render_to_string

from maker.calc.bank_numbers import creditor_reference, in_fours
from maker.calc.money import format_money
from maker.calc.units import format_number
from maker.documents.pdf import render_pdf
from maker.documents.print_style import paper_of
from pricing.calc.invoicing.payment_code import NoPaymentCode, payment_text
from pricing.orders.models import Invoice
from pricing.quotes.documents import extras_said
from pricing.quotes.printing import document_css

Values = dict[str, Any]

PAYMENT_CSS = """
.pay-to { display: flex; justify-content: space-between; margin-top: 4mm; break-inside: avoid }
.pay-to dl { width: 62% }
.pay-to dl div { display: flex; padding: 0.5mm 0 }
.pay-to dt { width: 32mm }
.pay-to dd { white-space: nowrap }
.pay-code { width: 36mm; text-align: center; font-size: 8.5pt }
.pay-code img { width: 32mm; height: 32mm }
"""


def invoice_file(invoice: Invoice) -> bytes:
    """Return the paper for the customer. Refusal: PdfLibraryMissing."""
    view = invoice_view(invoice.document, is_credit=invoice.kind == Invoice.Kind.CREDIT)
    html = render_to_string("print/invoice.html", view)
    return render_pdf(html=html, css=document_css(view) + PAYMENT_CSS)


def invoice_view(document: Mapping[str, Any], *, is_credit: bool) -> Values:
    """Return every value of the paper, ready to be shown."""
    document = with_lines(document)
    locale = document["locale"]

    def money(amount: Any) -> str:
        return format_money(Decimal(str(amount)), document["currency"], locale)

    lines = [
        {
            "design": line["design"],
            "code": line["code"],
            "details": [f"Colour: {line['colourway']}"] if line["colourway"] else [],
            "description": text_lines(line["description"]),
            "quantity": format_number(Decimal(line["quantity"]), locale),
            "price_each": money(line["price_each"]),
            "amount": money(line["amount"]),
        }
        for line in document["lines"]
    ]
    kind = "Credit note" if is_credit else "Invoice"
    return {
        "language": locale.replace("_", "-") if locale.startswith("en") else "en",
        "paper": paper_of(locale),
        "name": f"{kind} {document['number']}",
        "mark": "",
        "is_credit": is_credit,
        "maker": {**document["maker"], "address": text_lines(document["maker"].get("address"))},
        "customer": {
            **document["customer"],
            "address": text_lines(document["customer"].get("address")),
        },
        "facts": _facts(document, locale),
        "title": document["title"],
        "reason": document.get("reason") or "",
        "lines": lines,
        "totals": _totals(document, money, locale),
        "due_on": _day(document["due_on"], locale),
        "to_pay": money(document["to_pay"]) if Decimal(document["to_pay"]) else "",
        "tax_note": _tax_note(document),
        "payment": {} if is_credit else payment_of(document),
        "widths": {
            "quantity": 19,
            "each": _width((line["price_each"] for line in lines), 24),
            "amount": _width([money(document["total"]) + "  "], 27),
        },
    }


def with_lines(document: Mapping[str, Any]) -> Mapping[str, Any]:
    """Return a document whose charges are its lines where it has no goods.

    A credit note may be on charges alone, and has at least one line (EN 16931, BR-16).
    """
    if document["lines"]:
        return document
    charges = [(each["reason"], each["amount"]) for each in document["extras"]]
    if Decimal(document["delivery"]):
        charges.append(("Delivery", document["delivery"]))
    lines = [
        {
            **dict.fromkeys(("code", "colourway", "description"), ""),
            "design": reason[:1].upper() + reason[1:],
            "quantity": 1,
            "price_each": amount,
            "amount": amount,
        }
        for reason, amount in charges
    ]
    return {**document, "lines": lines, "extras": [], "delivery": "0"}


def payment_of(document: Mapping[str, Any]) -> Values:
    """Return where and by what an invoice is paid; empty without an account or anything to pay.

    Invoices issued before there were accounts have none. The picture is for payments in euros.
    """
    account = document.get("account") or {}
    to_pay = Decimal(document["to_pay"])
    if not account.get("iban") or to_pay <= 0:
        return {}
    reference = creditor_reference(document["number"])
    rows = [
        ("Account holder", account["account_name"]),
        ("IBAN", in_fours(account["iban"])),
        ("BIC", account["bic"]),
        ("Reference", in_fours(reference) if reference else document["number"]),
    ]
    code = ""
    if document["currency"] == "EUR":
        with suppress(NoPaymentCode):
            code = _picture_of(
                payment_text(
                    name=account["account_name"],
                    iban=account["iban"],
                    bic=account["bic"],
                    amount=to_pay,
                    reference=reference,
                    text="" if reference else document["number"],
                )
            )
    return {"rows": [(label, value) for label, value in rows if value], "code": code}


def _picture_of(text: str) -> str:
    """Return a QR code as a data address: level M, as EPC069-12 asks."""
    import segno

    picture = io.BytesIO()
    code = segno.make_qr(text, error="m", boost_error=False, encoding="utf-8")
    code.save(picture, kind="svg", border=4, xmldecl=False)
    return "data:image/svg+xml;base64," + base64.b64encode(picture.getvalue()).decode()


def _facts(document: Mapping[str, Any], locale: str) -> list[tuple[str, str]]:
    facts = (
        ("Number", document["number"]),
        ("For invoice", document.get("invoice") or ""),
        ("Date", _day(document["issued_on"], locale)),
        ("Delivered", _day(document.get("delivered_on"), locale)),
        ("Order", document["order"]),
        ("Quote", document["quote"]),
        ("Tax number", (document.get("account") or {}).get("tax_number", "")),
        ("Company number", (document.get("account") or {}).get("company_number", "")),
    )
    return [(label, value) for label, value in facts if value]


def _totals(document: Mapping[str, Any], money: Any, locale: str) -> list[Values]:
    """Return the rows below the last line: the delivery charge, tax by rate, total, what to pay."""
    rows: list[Values] = []
    if Decimal(document.get("discount") or 0):
        rows.append({"label": "Discount", "amount": money(-Decimal(document["discount"]))})
    rows += [
        {"label": label, "amount": money(amount)} for label, amount in extras_said(document, locale)
    ]
    if Decimal(document["delivery"]):
        rows.append({"label": "Delivery", "amount": money(document["delivery"])})
    taxes = []
    if document["tax_registered"]:
        word = document["tax_name"] or "Tax"
        taxes = [
            {
                "label": f"{word} {_percent(rate['rate'], locale)} on {money(rate['base'])}",
                "amount": money(rate["tax"]),
            }
            for rate in document["rates"]
        ]
    total = {"label": "Total", "amount": money(document["total"]), "is_total": True}
    if document["prices_include_tax"]:
        included = [{**row, "label": f"Included: {row['label']}", "is_soft": True} for row in taxes]
        rows += [total, *included]
    else:
        if taxes:
            rows.append({"label": "Net", "amount": money(document["net"])})
        rows += [*taxes, total]
    paid = (
        ("Deposit already paid", Decimal(document["deposit"])),
        # older invoices do not say it
        ("Already paid", Decimal(document.get("paid_before") or 0)),
    )
    if any(amount for _, amount in paid):
        rows += [{"label": label, "amount": money(-amount)} for label, amount in paid if amount]
        rows.append({"label": "To pay", "amount": money(document["to_pay"]), "is_total": True})
    return rows


def _tax_note(document: Mapping[str, Any]) -> str:
    word = document["tax_name"] or "tax"
    if not document["tax_registered"]:
        return f"No {word} is charged: not registered for {word}."
    return "Prices include " + word + "." if document["prices_include_tax"] else ""


def _percent(share: Any, locale: str) -> str:
    return format_number(round(Decimal(str(share)) * 100, 2), locale) + "%"


def _day(day: str | None, locale: str) -> str:
    return day_text(datetime.date.fromisoformat(day) if day else None, locale)


def day_text(day: datetime.date | None, locale: str) -> str:
    """Write a date in the words of papers, which are English."""
    english = locale if locale.startswith("en") else "en_GB"
    return format_date(day, "long", locale=english) if day else ""


def text_lines(text: str | None) -> list[str]:
    """Return the lines of a text, empty ones left out."""
    return [line.strip() for line in (text or "").split("\n") if line.strip()]


def _width(texts: Any, least: int) -> int:
    # a digit of 10 pt is about 1.8 mm wide; 4 mm are beside it
    return max(least, 4 + max((len(text) for text in texts), default=0) * 19 // 10)
