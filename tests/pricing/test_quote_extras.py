"""Discounts, charges, places of delivery and other quantities of a quote, down to its invoices.

The sums are those of the worked bulk order: 120 boxes at 4.15, 60 of them with a name at 0.70,
3 % discount, 17.50 delivery, 12.00 names set-up, 20 % tax; 80 go first, 40 later.
"""

from decimal import Decimal

import pytest
from django.template.loader import render_to_string
from django.urls import reverse

from maker.web.editing import ChangedMeanwhile
from pricing.calc.orders.extras import DiscountTooLarge, Extra, amounts_of
from pricing.customer_pages.drawing import quote_shown
from pricing.orders.crediting import issue_credit_note
from pricing.orders.e_invoice import e_invoice
from pricing.orders.invoicing import issue_invoice
from pricing.orders.printing import invoice_file
from pricing.orders.services import accept
from pricing.quotes.delivering import DropInput, cost_of_drop
from pricing.quotes.documents import quote_document
from pricing.quotes.drawing import is_below_floor, line_rows, lines_below_lowest, total_rows
from pricing.quotes.inputs import work_out
from pricing.quotes.models import Quote
from pricing.quotes.printing import customer_pdf, customer_view
from pricing.quotes.sending import quote_again, revise_quote
from pricing.quotes.services import ExtraInput, NotADraft, save_delivery, save_extras
from pricing.workshop_file.services import export_workshop, import_workshop
from tests.factories import make_recipe, today
from tests.pricing.quotes import make_line, make_quote, sent_quote

DISCOUNT = ExtraInput("discount", "regular customer", share=Decimal("0.03"))
SETUP = ExtraInput("charge", "Setting up the names", amount=Decimal(12))


def fresh(row):
    return Quote.objects.with_people().get(pk=row.pk)


def with_extras(quote, *extras):
    now = fresh(quote)
    return save_extras(quote=now, extras=extras, edit_number=now.edit_number)


def delivered_for(quote, *drops, **fields):
    now = fresh(quote)
    values = {"distance_cost": None, "margin": None} | fields
    return save_delivery(quote=now, drops=drops, edit_number=now.edit_number, **values)


@pytest.fixture
def draft(workshop):
    """The bulk order: prices without tax, 20 %, a line of plain boxes and one with names."""
    workshop.tax_registered, workshop.tax_rate = True, Decimal("0.20")
    workshop.prices_include_tax, workshop.tax_name = False, "VAT"
    workshop.country, workshop.tax_number = "IE", "IE6388047V"
    workshop.save()
    version = make_recipe(workshop)
    quote = make_quote(workshop, title="Favour boxes")
    make_line(quote, version, 60, price_asked=Decimal("4.15"))
    make_line(quote, version, 60, price_asked=Decimal("4.85"))
    delivered_for(quote, DropInput(carrier=Decimal("17.50")))
    with_extras(quote, DISCOUNT, SETUP)
    return fresh(quote)


@pytest.fixture
def order(draft, owner):
    sent = sent_quote(draft, owner)
    return accept(quote=sent, who="Ada", on=today(), today=today())


def test_the_sums_of_the_worked_order(draft):
    price = work_out(draft).price
    assert [each.amount for each in price.extras] == [Decimal("-16.20"), Decimal("12.00")]
    assert price.totals.net == Decimal("553.30")
    assert price.tax == Decimal("110.66")
    assert price.total == Decimal("663.96")
    lines = [line.label for line in _walk(price.explanation)]
    assert "discount: regular customer" in lines


def _walk(line):
    yield line
    for inner in line.lines:
        yield from _walk(inner)


def test_each_is_a_line_of_its_own_on_page_and_paper(draft):
    document = quote_document(draft, today())
    rows = {label: amount for label, amount, _ in total_rows(document)}
    assert "16.20" in rows["Discount of 3%: regular customer"]
    assert rows["Discount of 3%: regular customer"].startswith("−")
    assert "12.00" in rows["Setting up the names"]
    printed = {row["label"]: row["amount"] for row in customer_view(document)["totals"]}
    assert {"Discount of 3%: regular customer", "Setting up the names"} <= set(printed)
    assert customer_pdf(document).startswith(b"%PDF")


def test_two_invoices_and_a_credit_note_add_up_as_worked(order):
    first, last = _in_two(order)
    one = issue_invoice(delivery=first, on=today(), today=today()).document
    two = issue_invoice(delivery=last, on=today(), today=today()).document
    told = ("goods", "discount", "delivery", "net", "tax", "total")
    assert [one[key] for key in told] == ["360.00", "10.80", "11.67", "372.87", "74.57", "447.44"]
    assert [two[key] for key in told] == ["180.00", "5.40", "5.83", "180.43", "36.09", "216.52"]
    assert Decimal(one["total"]) + Decimal(two["total"]) == order.quote.total
    assert [each["reason"] for each in one["extras"]] == ["Setting up the names"]
    assert two["extras"] == []
    plain, named = (line["line"] for line in one["lines"])
    invoice = order.invoices.get(number=one["number"])
    credit = issue_credit_note(
        invoice=invoice, counts={plain: 1, named: 2}, reason="crushed", on=today(), today=today()
    ).document
    assert (credit["net"], credit["tax"], credit["total"]) == ("13.43", "2.69", "16.12")
    assert invoice_file(invoice).startswith(b"%PDF")


def _in_two(order):
    """80 boxes first, 40 of them named; 40 later, 20 named."""
    from pricing.orders.services import DeliveryInput, save_deliveries

    (row,) = order.deliveries.all()
    plain, named = order.quote.lines.kept()
    save_deliveries(
        order=order,
        deliveries=[
            DeliveryInput(row, today(), "", "", {plain.pk: 40, named.pk: 40}),
            DeliveryInput(None, today(), "", "", {plain.pk: 20, named.pk: 20}),
        ],
        edit_number=type(order).objects.get(pk=order.pk).edit_number,
    )
    return list(order.deliveries.order_by("position"))


def test_whichever_delivery_is_invoiced_first_bears_the_charge(order):
    first, last = _in_two(order)
    two = issue_invoice(delivery=last, on=today(), today=today()).document
    one = issue_invoice(delivery=first, on=today(), today=today()).document
    assert [bool(each["extras"]) for each in (two, one)] == [True, False]
    assert Decimal(one["total"]) + Decimal(two["total"]) == order.quote.total


def test_an_e_invoice_has_allowance_and_charges_to_the_cent(order):
    (delivery,) = order.deliveries.all()
    invoice = issue_invoice(delivery=delivery, on=today(), today=today())
    made = e_invoice(invoice, country="IE")
    taken = sum(each.actual_amount.amount for each in made.allowances)
    charged = sum(each.actual_amount.amount for each in made.charges)
    assert (taken, charged) == (Decimal("16.20"), Decimal("29.50"))
    assert made.line_total_amount.amount - taken + charged == made.tax_basis_total_amount.amount
    assert made.allowance_total_amount.amount == taken
    assert made.charge_total_amount.amount == charged


def test_a_discount_below_the_lowest_price_is_told(draft):
    assert not is_below_floor(quote_document(fresh(draft), today()))
    floor = Decimal(quote_document(fresh(draft), today())["own"]["floor"])
    price = work_out(fresh(draft)).price
    room = price.total - floor
    off = (room / Decimal("1.2") + 40).quantize(Decimal("0.01"))
    with_extras(draft, ExtraInput("discount", "friend", amount=off))
    document = quote_document(fresh(draft), today())
    assert work_out(fresh(draft)).price.is_below_floor
    assert is_below_floor(document)
    assert any("less the discount" in said for said in lines_below_lowest(document))


def test_a_discount_of_more_than_the_goods_has_no_price(draft):
    with_extras(draft, ExtraInput("discount", "mistake", amount=Decimal(541)))
    worked = work_out(fresh(draft))
    assert worked.price is None
    assert "more than the goods" in worked.problems[0].message
    with pytest.raises(DiscountTooLarge):
        amounts_of([Extra("x", True, Decimal(11))], Decimal(10))


def test_shares_are_of_the_goods_before_any_of_them():
    extras = [Extra("a", True, share=Decimal("0.10")), Extra("b", False, share=Decimal("0.05"))]
    assert [each.amount for each in amounts_of(extras, Decimal("99.95"))] == [
        Decimal("-10.00"),
        Decimal("5.00"),
    ]


def test_her_time_and_way_are_the_cost_of_a_delivery_with_or_without_margin(draft):
    # 30 min at 20 an hour, 18 km at 0.30, 2 for the ferry
    drop = DropInput("Saltmere", 80, Decimal(2), 30, Decimal(18))
    assert cost_of_drop(drop, Decimal(20), Decimal("0.30"), 2) == Decimal("17.40")
    with_extras(draft)
    at_cost = delivered_for(draft, DropInput(carrier=Decimal(30)), DropInput(carrier=Decimal(10)))
    plain = work_out(fresh(draft)).price
    assert (at_cost.delivery, plain.delivery) == (40, 40)
    delivered_for(draft, DropInput(carrier=Decimal(40)), margin=Decimal("0.20"))
    earning = work_out(fresh(draft)).price
    assert earning.delivery == 50  # a fifth of it is left
    assert earning.net - plain.net == 10
    assert earning.floor == plain.floor


def test_places_with_quantities_become_deliveries(draft, owner):
    delivered_for(draft, DropInput("Saltmere", 80), DropInput("Upper Tamsel", 40))
    order = accept(quote=sent_quote(draft, owner), who="A", on=today(), today=today())
    first, last = order.deliveries.order_by("position")
    counts = [[row.quantity for row in each.lines.order_by("line")] for each in (first, last)]
    assert counts == [[60, 20], [40]]
    assert (first.address, last.address) == ("Saltmere", "Upper Tamsel")


def test_a_draft_says_that_delivery_was_forgotten(client, workshop, draft):
    page = reverse("pricing:quote", args=[workshop.slug, draft.pk])

    def is_said():
        return b"Delivery costs nothing so far" in client.get(page).content

    assert not is_said()
    delivered_for(draft, DropInput("Saltmere", 80, distance=Decimal(12)), DropInput("Tamsel", 40))
    assert is_said()
    # given on purpose
    delivered_for(
        draft, *(DropInput(where, carrier=Decimal(0)) for where in ("Saltmere", "Tamsel"))
    )
    assert not is_said()


def test_places_without_quantities_stay_one_delivery(draft, owner):
    delivered_for(draft, DropInput("Saltmere"), DropInput("Upper Tamsel"))
    order = accept(quote=sent_quote(draft, owner), who="A", on=today(), today=today())
    assert [row.address for row in order.deliveries.all()] == ["Saltmere"]


def test_quantities_beside_each_other(draft, owner):
    row = draft.lines.kept()[0]
    row.other_quantities, row.price_asked = "40, 200, 60", None
    row.save()
    document = quote_document(fresh(draft), today())
    others = document["public"]["lines"][0]["others"]
    assert [each["quantity"] for each in others] == [40, 200]
    said = line_rows(document)[0]["others_text"][0]
    assert said.startswith("For 40: €")
    # the total is that of the whole quote, not of the line
    assert said.endswith(f"each, quote total €{Decimal(others[0]['total']):.2f}")
    row.quantity = 200
    row.save()
    again = quote_document(fresh(draft), today())["public"]
    said = again["lines"][0]
    assert (said["price_each"], said["amount"]) == (others[1]["price_each"], others[1]["amount"])
    assert again["total"] == others[1]["total"]
    shown = customer_view(quote_document(fresh(draft), today()))["lines"][0]["others"]
    assert [each["quantity"] for each in shown] == ["40", "60"]
    sent = sent_quote(draft, owner)
    assert len(sent.frozen["public"]["lines"][0]["others"]) == 2


def test_revision_and_same_again_keep_them(draft, owner):
    sent = sent_quote(draft, owner)
    with pytest.raises(NotADraft):
        with_extras(sent)
    for made in (
        revise_quote(quote=sent, today=today()),
        quote_again(quote=sent, today=today()),
    ):
        assert [row.reason for row in made.extras.order_by("position")] == [
            "regular customer",
            "Setting up the names",
        ]
        assert made.drops.get().carrier == Decimal("17.50")
        assert work_out(fresh(made)).price.total == Decimal("663.96")


def test_two_people_at_once(draft):
    with pytest.raises(ChangedMeanwhile):
        save_extras(quote=draft, extras=[], edit_number=draft.edit_number - 1)


def test_pages(client, reader_client, draft, workshop):
    page = reverse("pricing:quote_extras", args=[workshop.slug, draft.pk])
    shown = client.get(page).content.decode()
    assert "regular customer" in shown
    typed = {
        "edit_number": draft.edit_number,
        "extras-TOTAL_FORMS": "2",
        "extras-INITIAL_FORMS": "0",
        "extras-0-kind": "discount",
        "extras-0-reason": "",
        "extras-0-share": "5",
        "extras-1-kind": "charge",
        "extras-1-reason": "Express",
        "extras-1-share": "5",
        "extras-1-amount": "9",
    }
    answer = client.post(page, typed)
    assert answer.status_code == 422
    assert "Enter the reason" in answer.content.decode()
    assert "not both" in answer.content.decode()
    good = typed | {"extras-0-reason": "first order", "extras-1-share": ""}
    assert client.post(page, good).status_code == 302
    assert [row.amount for row in draft.extras.order_by("position")] == [None, Decimal(9)]
    assert reader_client.get(page).status_code == 403
    page = reverse("pricing:quote_delivery", args=[workshop.slug, draft.pk])
    assert "Where it goes" in client.get(page).content.decode()
    typed = {
        "edit_number": fresh(draft).edit_number,
        "distance_cost": "0.30",
        "delivery_margin": "10",
        "drops-TOTAL_FORMS": "1",
        "drops-INITIAL_FORMS": "0",
        "drops-0-address": "Saltmere",
        "drops-0-minutes": "30",
        "drops-0-distance": "18",
    }
    assert client.post(page, typed).status_code == 302
    assert draft.drops.get().minutes == 30
    assert "Saltmere" in client.get(page).content.decode()
    shown = client.get(reverse("pricing:quote", args=[workshop.slug, draft.pk])).content.decode()
    assert "Edit discount and charges" in shown
    edit = client.get(reverse("pricing:quote_edit", args=[workshop.slug, draft.pk]))
    assert "Delivery cost" not in edit.content.decode()


def test_a_workshop_file_keeps_them(draft, owner):
    sent_quote(draft, owner)
    document = export_workshop(draft.workshop)
    copied = import_workshop(document, name="Copy")
    again = export_workshop(copied)
    assert again["quotes"] == document["quotes"]
    assert [row["reason"] for row in again["quotes"][0]["extras"]] == [
        "regular customer",
        "Setting up the names",
    ]


def test_the_customers_page_has_other_quantities_and_extras(draft, owner):
    row = draft.lines.kept()[0]
    row.other_quantities = "40"
    row.save()
    view = quote_shown(fresh(sent_quote(draft, owner)), today())
    labels = [row["label"] for row in view["totals"]]
    assert "Discount of 3%: regular customer" in labels
    html = render_to_string("pricing/customer_pages/page.html", view | {"closed": "Closed."})
    assert "For 40: " in html
