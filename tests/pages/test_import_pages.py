"""Imports in a browser: the file, what is wrong in it, mended in place, taken in."""

import pytest
from playwright.sync_api import Page, expect

from catalogue.materials.models import Material
from maker.workshop.models import Workshop
from tests import factories
from tests.pages.looks import (
    LAPTOP,
    PHONE,
    assert_accessible,
    assert_easy_to_hit,
    assert_no_sideways_scroll,
)

LONG = "Unbreakable" * 10
FILE = f"""Name,Counted in,Width,Height,Pack holds,Pack price,Notes
Heron card,sheet,7 1/2 in,190 mm,24,"9,90",{LONG}
Moss card,dozen,,12,24 ml,x,{LONG}
"""


@pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_a_file_is_mended_and_taken_in(
    signed_in_page: Page, workshop: Workshop, size: dict[str, int]
) -> None:
    page = signed_in_page
    page.set_viewport_size(size)

    def usable() -> None:
        assert_accessible(page)
        assert_easy_to_hit(page)
        assert_no_sideways_scroll(page, size["width"])

    page.goto(f"/w/{workshop.slug}/materials/import/")
    usable()
    file = {"name": "materials.csv", "mimeType": "text/csv", "buffer": FILE.encode()}
    page.get_by_label("File").set_input_files(file)
    page.get_by_role("button", name="Preview").click()
    expect(page.get_by_role("alert")).to_be_focused()
    usable()
    page.get_by_label("Counted in of row 3").fill("sheet")
    page.get_by_label("Pack price of row 3").fill("3,20")
    page.get_by_role("button", name="Check again").click()
    page.get_by_label("Width of row 3").fill("12")
    page.get_by_label("Pack holds of row 3").fill("24")
    page.get_by_role("button", name="Check again").click()
    # the answer is there: what is looked at is not the page that is being left
    expect(page.get_by_role("button", name="Import 2 materials")).to_be_visible()
    usable()
    page.get_by_role("button", name="Import 2 materials").click()
    expect(page.get_by_text("Imported 2 materials.")).to_be_visible()
    assert Material.objects.count() == 2
    page.goto(f"/w/{workshop.slug}/materials/")
    usable()


ORDER = """Order date;Article;Qty;Unit;Line total;Our code
04.03.2026;Heron card;3;pcs;9,60 €;x1
"""


@pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_a_shops_columns_are_told_once(
    signed_in_page: Page, workshop: Workshop, size: dict[str, int]
) -> None:
    page = signed_in_page
    page.set_viewport_size(size)
    factories.make_material(workshop, name="Heron card", kind=Material.Kind.COUNT)
    shop = factories.make_supplier(workshop, name="Larkspur Paper Mill")

    def usable() -> None:
        assert_accessible(page)
        assert_easy_to_hit(page)
        assert_no_sideways_scroll(page, size["width"])

    def send() -> None:
        page.goto(f"/w/{workshop.slug}/receipts/import/")
        usable()
        file = {"name": "order.csv", "mimeType": "text/csv", "buffer": ORDER.encode()}
        page.get_by_label("File").set_input_files(file)
        page.get_by_role("button", name="Preview").click()

    send()
    expect(page.get_by_label("Supplier of all rows")).to_be_visible()
    usable()
    page.get_by_role("button", name="Preview").click()
    expect(page.get_by_role("alert")).to_be_focused()
    usable()
    page.get_by_label("Supplier of all rows").select_option(label=shop.name)
    page.get_by_role("button", name="Preview").click()
    expect(page.get_by_role("button", name="Import 1 receipt")).to_be_visible()
    usable()
    send()
    expect(page.get_by_role("button", name="Import 1 receipt")).to_be_visible()
