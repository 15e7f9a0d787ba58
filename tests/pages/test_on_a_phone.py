"""Long lists and the receipt form on a phone: short, and each row can still be reached."""

import datetime
from decimal import Decimal

import pytest
from playwright.sync_api import Page, expect

from catalogue.purchases.models import Purchase
from maker.workshop.models import Workshop
from tests import factories
from tests.catalogue.receipts import make_receipt
from tests.pages.looks import (
    LAPTOP,
    PHONE,
    assert_accessible,
    assert_easy_to_hit,
    assert_no_sideways_scroll,
)

ROWS = 25
# how high a list of 25 rows and a receipt of one line may be
LIST, FORM = 4000, 1800


def height(page: Page) -> int:
    return int(page.evaluate("document.documentElement.scrollHeight"))


@pytest.fixture
def many(workshop: Workshop) -> None:
    day = datetime.date(2026, 1, 3)
    for number in range(ROWS):
        supplier = factories.make_supplier(workshop, name=f"Hask Board Merchants {number}")
        material = factories.make_material(
            workshop, name=f"Harbour stripe card {number}", supplier=supplier, reorder_level=100
        )
        make_receipt(
            workshop, (material, "10", "5.00"), supplier=supplier, bought_on=day, reference="HB-1"
        )


@pytest.mark.parametrize("place", ["materials/", "receipts/", "stock/count/"])
def test_a_list_of_25_rows_is_short_on_a_phone(
    signed_in_page: Page, many: None, place: str
) -> None:
    page = signed_in_page
    page.set_viewport_size(PHONE)
    page.goto(f"/w/marlow/{place}")
    assert height(page) < LIST
    assert_no_sideways_scroll(page)
    assert_easy_to_hit(page)
    assert_accessible(page)


@pytest.mark.parametrize(("place", "opens"), [("materials/", "card"), ("receipts/", "Hask")])
def test_a_tap_anywhere_on_a_row_opens_it(
    signed_in_page: Page, many: None, place: str, opens: str
) -> None:
    page = signed_in_page
    page.set_viewport_size(PHONE)
    page.goto(f"/w/marlow/{place}")
    row = page.locator("table.stack > tbody > tr").nth(3)
    box = row.bounding_box()
    assert box
    assert box["height"] >= 44
    row.click(position={"x": box["width"] - 8, "y": box["height"] - 6})
    expect(page.get_by_role("heading", level=1)).to_contain_text(opens)


def test_a_receipt_of_one_line_is_short_and_its_lines_open_where_tapped(
    signed_in_page: Page, many: None
) -> None:
    page = signed_in_page
    page.set_viewport_size(PHONE)
    page.goto("/w/marlow/receipts/new/")
    assert height(page) < FORM
    assert_no_sideways_scroll(page)
    assert_easy_to_hit(page)
    assert_accessible(page)
    page.get_by_label("Supplier", exact=True).select_option(label="Hask Board Merchants 1")
    item, count = page.get_by_label("Item", exact=True), page.get_by_label("How many", exact=True)
    paid = page.get_by_label("Paid", exact=True)
    item.nth(0).fill("Harbour stripe card 1")
    count.nth(0).fill("3")
    paid.nth(0).fill("6.60")
    page.get_by_role("button", name="Add a line").click()
    # the first is a line now, the new one is open
    line = page.get_by_role("button", name="Harbour stripe card 1, 3 ×, 6.60 EUR")
    expect(line).to_have_attribute("aria-expanded", "false")
    expect(item.nth(0)).to_be_hidden()
    # the spare row of the page, so that no number is left out
    expect(item.nth(1)).to_be_focused()
    expect(page.get_by_role("button", name="Line 2", exact=True)).to_be_visible()
    item.nth(1).fill("Harbour stripe card 2")
    count.nth(1).fill("1")
    paid.nth(1).fill("2")
    line.click()
    expect(item.nth(0)).to_be_focused()
    expect(item.nth(1)).to_be_hidden()
    page.get_by_text("Postage, discount, tax").click()
    page.get_by_label("Postage").fill("2,50")
    expect(page.get_by_text("Total 11.10 EUR")).to_be_visible()
    page.get_by_role("button", name="Add to stock").click()
    expect(page.get_by_text("Added to stock. Costs are up to date.")).to_be_visible()
    stored = Purchase.objects.with_totals().order_by("-pk")[0]
    assert (stored.lines.count(), stored.postage) == (2, Decimal("2.5"))


def test_a_line_that_is_wrong_comes_back_open(signed_in_page: Page, many: None) -> None:
    page = signed_in_page
    page.set_viewport_size(PHONE)
    page.goto("/w/marlow/receipts/new/")
    page.get_by_label("Item", exact=True).nth(0).fill("Harbour stripe card 1")
    page.get_by_label("How many", exact=True).nth(0).fill("many")
    page.get_by_role("button", name="Add to stock").click()
    expect(page.get_by_label("How many", exact=True).nth(0)).to_be_visible()
    expect(page.get_by_label("How many", exact=True).nth(0)).to_have_value("many")


def test_on_a_laptop_all_lines_of_a_receipt_are_in_sight(signed_in_page: Page, many: None) -> None:
    page = signed_in_page
    page.set_viewport_size(LAPTOP)
    page.goto("/w/marlow/receipts/new/")
    expect(page.get_by_label("Item", exact=True).nth(1)).to_be_visible()
    expect(page.get_by_label("Postage")).to_be_visible()
    expect(page.locator(".row-line").first).to_be_hidden()


def test_pasted_lines_of_a_receipt_are_all_in_sight(signed_in_page: Page, many: None) -> None:
    page = signed_in_page
    page.set_viewport_size(PHONE)
    page.goto("/w/marlow/receipts/new/")
    page.get_by_label("Item", exact=True).nth(0).focus()
    page.evaluate(
        """(text) => {
          const clipboardData = new DataTransfer();
          clipboardData.setData("text/plain", text);
          document.activeElement.dispatchEvent(
            new ClipboardEvent("paste", {clipboardData, bubbles: true, cancelable: true}));
        }""",
        "Harbour stripe card 1\t3\nHarbour stripe card 2\t1",
    )
    # what fell into the spare row of the page too
    expect(page.get_by_role("button", name="Harbour stripe card 2, 1 ×")).to_be_visible()
