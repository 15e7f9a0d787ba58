"""The library of forms in a browser: open to everyone, answers while she types, folds by hand."""

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from maker.workshop.models import Workshop
from tests.factories import make_material
from tests.pages.looks import LAPTOP, PHONE, assert_easy_to_hit, assert_no_sideways_scroll

BAG = "/w/marlow/shapes/two_piece_bag/"


@pytest.mark.parametrize(
    "place", ["", "two_piece_bag/", "pillow_box/", "tag/", "two_piece_bag/?W=2&D=3"]
)
def test_pages_are_open_to_everyone_on_any_width(
    place: str, signed_in_page: Page, workshop: Workshop, axe: Callable[[Page], None]
) -> None:
    make_material(workshop)
    page = signed_in_page
    page.goto(f"/w/marlow/shapes/{place}")
    page.wait_for_load_state("networkidle")
    axe(page)
    assert_no_sideways_scroll(page)
    page.set_viewport_size(PHONE)
    assert_easy_to_hit(page)
    axe(page)
    page.set_viewport_size(LAPTOP)


def test_the_drawing_answers_while_she_types(signed_in_page: Page, workshop: Workshop) -> None:
    make_material(workshop)
    page = signed_in_page
    page.goto(BAG)
    expect(page.get_by_role("heading", name="bag half, cut 2: 12 × 12 in")).to_be_visible()
    sheets = page.locator("#sheets")
    sheets.locator(":scope > summary").click()
    expect(page.get_by_text("No size changes would save a sheet")).to_be_visible()
    page.get_by_label("Height").fill("7")
    expect(page.get_by_role("heading", name="bag half, cut 2: 12 × 11 in")).to_be_visible()
    # what she opened stays open when the answer comes anew, and nothing else opens
    expect(sheets).to_have_attribute("open", "")
    expect(page.locator("#all-sizes")).not_to_have_attribute("open", "")
    expect(page).to_have_url(re.compile("H=7"))
    still_asked = sheets.get_by_text("Sizes that grow for free or save a sheet")
    expect(still_asked).to_have_count(0)
    # what cannot be folded leaves the drawing and offers the nearest size that can
    page.get_by_label("Depth", exact=True).fill("8")
    expect(page.get_by_text("the side flaps will meet the wall. Nearest")).to_be_visible()
    expect(page.get_by_role("heading", name="bag half, cut 2: 12 × 11 in")).to_be_visible()
    expect(still_asked).to_have_count(0)
    page.get_by_role("link", name="Use 7 1/2 in").click()
    expect(page.get_by_role("heading", name="bag half, cut 2: 15 1/2 × 14 1/2 in")).to_be_visible()
    sheets.locator(":scope > summary").click()
    expect(page.get_by_text("Largest of this shape that fits")).to_be_visible()


def test_the_slider_folds_and_stays_where_it_is(signed_in_page: Page, workshop: Workshop) -> None:
    page = signed_in_page
    page.goto(BAG)
    seen = page.locator("[data-percent]:not([display])")
    expect(seen).to_have_attribute("data-percent", "100")
    slider = page.get_by_label("Fold", exact=True)
    slider.fill("0")
    expect(seen).to_have_attribute("data-percent", "0")
    slider.press("ArrowRight")
    expect(page.locator("output")).to_have_text("1%")
    slider.fill("50")
    expect(seen).to_have_count(1)
    expect(seen).to_have_attribute("data-percent", "50")
    page.get_by_label("Height").fill("7")
    expect(page.get_by_role("heading", name="bag half, cut 2: 12 × 11 in")).to_be_visible()
    expect(seen).to_have_attribute("data-percent", "50")
    expect(page.get_by_label("Fold", exact=True)).to_have_value("50")
