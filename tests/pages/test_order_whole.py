"""An order from the enquiry to settled, in the browser: 120 boxes, two colourways, two drops.

Figures are those of the worked order (tests/data/bulk_order.json): boxes at 4.15, 60 names at
0.70, names set-up 12.00, 3 % of the goods off, delivery 17.50, tax 20 %: 663.96 in all, and the
share of the deposit, 199.188, up to the next 5: 200.00 (the case's 205.00 covers packs that this
recipe does not buy). Names and set-up are charges here, so the first invoice has them.
"""

import datetime
import os
from decimal import Decimal
from pathlib import Path

import pytest
from playwright.sync_api import expect

from maker.workshop.models import Workshop
from pricing.orders.models import Invoice, Order
from pricing.quotes.models import Quote
from tests.factories import make_recipe, today
from tests.pages.looks import LAPTOP, PHONE, assert_no_sideways_scroll
from tests.pricing.quotes import make_line

DAY = datetime.timedelta(days=1)
# where the papers are written to be looked at; nowhere unless it is said
PAPERS = os.environ.get("ORDER_PAPERS", "")


@pytest.fixture
def shop(workshop, settings, tmp_path, base_url):
    settings.DATA_DIR = tmp_path
    settings.OUTSIDE_ADDRESS = base_url
    Workshop.objects.filter(pk=workshop.pk).update(
        tax_registered=True, tax_rate=Decimal("0.2"), prices_include_tax=False
    )
    workshop.refresh_from_db()
    version = make_recipe(workshop)
    version.design.name = "Fernhollow favour box"
    version.design.save()
    for name in ("rose", "sage"):
        version.colourways.create(name=name)
    return version


def to_a_quote(page, version):
    """An enquiry typed in, and its quote with the worked prices."""
    page.goto("/w/marlow/enquiries/new/")
    page.get_by_label("New customer's name").fill("Fernhollow School")
    page.get_by_label("Subject").fill("120 favour boxes")
    page.get_by_label("Quantity", exact=True).first.fill("120")
    page.get_by_role("button", name="Save enquiry").click()
    page.get_by_role("button", name="Create empty quote").click()
    expect(page.get_by_text("Created a draft quote from the enquiry.")).to_be_visible()
    quote = Quote.objects.get()
    rose, sage = version.colourways.order_by("name")
    names = "\n".join(f"Child {number}" for number in range(1, 37))
    for way, quantity, named in ((rose, 72, names), (sage, 48, "")):
        make_line(
            quote, version, quantity=quantity, colourway=way, names=named,
            price_asked=Decimal("4.15"),
        )  # fmt: skip
    quote.refresh_from_db()
    quote.delivery, quote.deposit_share = Decimal("17.50"), Decimal("0.3")
    quote.save()
    for kind, reason, amount in (
        ("discount", "3% of the goods", "16.20"),
        ("charge", "60 names at 0.70", "42.00"),
        ("charge", "Names set-up", "12.00"),
    ):
        quote.extras.create(kind=kind, reason=reason, amount=Decimal(amount))
    page.goto(f"/w/marlow/quotes/{quote.pk}/")
    expect(page.get_by_text("663.96").first).to_be_visible()
    return quote


def paper(page, link, name):
    """A paper is there, and is written out where it is to be looked at."""
    answer = page.request.get(link)
    assert answer.body().startswith(b"%PDF"), link
    if PAPERS:
        Path(PAPERS, f"{name}.pdf").write_bytes(answer.body())


def customer_says_yes(page, quote, new_context):
    """Send the quote, make the link, and accept by it in another browser."""
    page.goto(f"/w/marlow/quotes/{quote.pk}/send/")
    page.get_by_role("button", name="Send quote").click()
    page.get_by_role("link", name="Create link").click()
    page.get_by_role("button", name="Create link").click()
    address = page.get_by_label("Link, until").input_value()
    theirs = new_context().new_page()
    theirs.set_viewport_size(page.viewport_size)
    theirs.goto(address)
    assert_no_sideways_scroll(theirs)
    theirs.get_by_role("button", name="Accept quote for").click()
    expect(theirs.get_by_text("This quote was accepted by")).to_be_visible()
    return theirs


def customer_approves(theirs):
    """Correct a name, approve names and proof."""
    names = theirs.locator("#names textarea").first
    assert "Child 36" in names.input_value()
    names.fill(names.input_value().replace("Child 36", "Charlotte"))
    theirs.get_by_role("button", name="Approve names").click()
    expect(theirs.get_by_text("The names are locked")).to_be_visible()
    theirs.get_by_role("button", name="Approve proof").click()
    expect(theirs.locator("#proof").get_by_text("Approved by")).to_be_visible()
    assert_no_sideways_scroll(theirs)


def look(page, name):
    """A picture of the whole page, where it is to be looked at."""
    if PAPERS:
        page.screenshot(
            path=Path(PAPERS, f"{name}-{page.viewport_size['width']}.png"), full_page=True
        )


def two_drops(page, order):
    """48 rose and 32 sage, then 24 and 16."""
    page.goto(f"/w/marlow/orders/{order.pk}/deliveries/")
    page.get_by_role("button", name="Add delivery").click()
    first = page.get_by_role("group", name="Delivery 1")
    second = page.get_by_role("group", name="Delivery 2")
    for group, counts, due in (
        (first, ("48", "32"), today() + 39 * DAY),
        (second, ("24", "16"), today() + 53 * DAY),
    ):
        for colour, count in zip(("rose", "sage"), counts, strict=True):
            group.get_by_label(f"Fernhollow favour box, {colour}").fill(count)
        group.get_by_label("Date").fill(due.isoformat())
        group.get_by_label("Address").fill("4 Fernhollow Lane")
    page.get_by_role("button", name="Save deliveries").click()
    expect(page.get_by_text("Deliveries saved.")).to_be_visible()


def pay(page, order, amount):
    """Record money received."""
    page.goto(f"/w/marlow/orders/{order.pk}/payments/new/")
    if amount:
        page.get_by_label("Amount").fill(amount)
    page.get_by_role("button", name="Record payment").click()
    expect(page.get_by_text("Recorded €")).to_be_visible()


def make_all(page, here):
    """A batch of each colourway: one recorded at once, one started, timed and finished."""
    paper(page, f"{here}bench-sheet.pdf", "bench-sheet")
    page.goto(f"{here}making/")
    page.get_by_role("link", name="Record batch").first.click()
    page.get_by_text("Spoiled items").click()
    page.get_by_label("Glue").fill("2")
    look(page, "batch")
    assert_no_sideways_scroll(page)
    page.get_by_role("button", name="Save batch").click()
    row = page.get_by_label("Made so far").get_by_role("row").filter(has_text="rose").first
    expect(row).to_contain_text("72")
    page.get_by_role("link", name="Record batch").last.click()
    page.get_by_role("button", name="Start batch, finish later").click()
    page.get_by_text("Start timer").click()
    page.locator("details[open] button").first.click()
    look(page, "timer")
    assert_no_sideways_scroll(page)
    page.get_by_role("link", name="Batch of").click()
    page.get_by_role("link", name="Finish batch").click()
    page.get_by_role("button", name="Finish batch").click()
    expect(page.get_by_text("Added 48 items to finished stock.")).to_be_visible()
    look(page, "making")
    assert_no_sideways_scroll(page)


@pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_the_worked_order_from_the_enquiry_to_settled(signed_in_page, shop, size, new_context):
    page = signed_in_page
    page.set_viewport_size(size)
    quote = to_a_quote(page, shop)
    theirs = customer_says_yes(page, quote, new_context)
    order = Order.objects.get()
    assert order.quote.total == Decimal("663.96")
    look(theirs, "customer")
    customer_approves(theirs)
    two_drops(page, order)
    pay(page, order, "200.00")
    here = f"/w/marlow/orders/{order.pk}/"
    page.goto(here)
    expect(page.locator("#approvals").get_by_text("by their link").first).to_be_visible()
    assert_no_sideways_scroll(page)
    page.get_by_role("button", name="Start making").click()
    paper(page, f"{here}names.pdf", "names")
    make_all(page, here)
    page.goto(here)
    page.get_by_role("button", name="Mark as ready").click()
    for place, delivery in enumerate(order.deliveries.order_by("position"), 1):
        page.goto(here)
        paper(page, f"{here}deliveries/{delivery.pk}/note.pdf", f"note-{place}")
        page.goto(f"{here}deliveries/{delivery.pk}/left/")
        page.get_by_role("button", name="Mark as delivered").click()
        page.goto(f"{here}deliveries/{delivery.pk}/invoice/")
        page.get_by_role("button", name="Create invoice").click()
        expect(page.get_by_text("Issued invoice")).to_be_visible()
        invoice = Invoice.objects.get(delivery=delivery)
        paper(page, f"{here}invoices/{invoice.pk}.pdf", f"invoice-{place}")
        pay(page, order, f"{invoice.to_pay:.2f}")
    paper(page, f"/w/marlow/quotes/{quote.pk}/quote.pdf", "quote")
    invoices = list(Invoice.objects.order_by("pk"))
    assert sum(each.total for each in invoices) == Decimal("663.96")
    assert sum(Decimal(each.document["deposit"]) for each in invoices) == Decimal("200.00")
    assert sum(each.to_pay for each in invoices) == Decimal("463.96")
    page.goto(here)
    expect(page.get_by_role("heading", level=1).get_by_text("settled")).to_be_visible()
    expect(page.get_by_text("Charlotte")).to_have_count(1)
    look(page, "order")
    assert_no_sideways_scroll(page)
    page.get_by_role("link", name="Compare with estimate").click()
    expect(page.get_by_role("heading", name="Why the cost differs")).to_be_visible()
    look(page, "after")
    assert_no_sideways_scroll(page)
