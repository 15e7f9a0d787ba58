"""What the system asks of every page: dark, still, large; and what is printed stays as it is."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from maker.documents import svg
from maker.workshop.models import Workshop
from tests.factories import make_channel, make_recipe
from tests.pages.looks import assert_no_sideways_scroll

pytestmark = pytest.mark.urls("tests.pages.sample_pages")
STYLES = Path(__file__).parents[2] / "static" / "css"
PATTERNS = Path(__file__).parents[2] / "templates" / "components" / "_patterns.html"

# WCAG 2.2, 1.4.10: 1280 by 1024 enlarged to 200 % and to 400 % is this many CSS pixels.
TWICE, FOUR_TIMES = {"width": 640, "height": 512}, {"width": 320, "height": 256}

BRIGHTNESS = """selector => {
  const one = document.querySelector(selector);
  const parts = name => getComputedStyle(one)[name].match(/[0-9.]+/g).slice(0, 3).map(Number);
  const mean = name => parts(name).reduce((sum, part) => sum + part, 0) / 3;
  return {ground: mean("backgroundColor"), ink: mean("color")};
}"""


def is_dark(page: Page, selector: str) -> bool:
    """Tell whether an element has light letters on a dark ground."""
    found = page.evaluate(BRIGHTNESS, selector)
    assert abs(found["ground"] - found["ink"]) > 100, found
    return bool(found["ground"] < found["ink"])


def test_pages_go_dark_and_drawings_keep_their_white_sheet(strict_page: Page) -> None:
    strict_page.goto("/sample/")
    assert not is_dark(strict_page, "html")
    strict_page.emulate_media(color_scheme="dark")
    assert is_dark(strict_page, "html")
    assert is_dark(strict_page, "input[name=name]")
    small = "document.body.insertAdjacentHTML('beforeend', `<i class='${name}'>1</i>`)"
    for name in ("item-picture", "form-picture", "small-picture", "layout-small"):
        strict_page.evaluate(f"name => {small}", name)
        assert not is_dark(strict_page, f".{name}"), name
    assert not is_dark(strict_page, ".drawing")
    assert is_dark(strict_page, ".header"), "the band is ink by day and by night"


def test_what_is_printed_is_ink_on_white_after_dark(strict_page: Page) -> None:
    strict_page.goto("/sample/")
    read = "[...document.querySelectorAll('html, .figures, th, .drawing .fold')].map(one =>"
    read += (
        "['color', 'backgroundColor', 'stroke'].map(name => getComputedStyle(one)[name]).join())"
    )
    strict_page.emulate_media(media="print", color_scheme="light")
    by_day = strict_page.evaluate(read)
    assert len(by_day) > 8, by_day
    strict_page.emulate_media(media="print", color_scheme="dark")
    assert strict_page.evaluate(read) == by_day
    assert not is_dark(strict_page, "html")


def test_a_bar_of_costs_is_told_from_its_ground_after_dark(strict_page: Page) -> None:
    strict_page.goto("/sample/")
    strict_page.emulate_media(color_scheme="dark")
    outline = strict_page.locator(".cost-bar-part").first
    stroke = outline.evaluate("one => getComputedStyle(one).stroke")
    assert min(int(part) for part in re.findall(r"\d+", stroke)[:3]) > 200, stroke


def test_every_colour_of_a_chart_follows_the_page() -> None:
    rules = (STYLES / "elements.css").read_text(encoding="utf-8")
    colours = {svg.INK, svg.SOFT, svg.HAIRLINE, svg.ACCENT, svg.GROUND}
    uses = {("fill", colour) for colour in colours} | {("stroke", colour) for colour in colours}
    uses |= set(re.findall(r'(fill|stroke)="(#[0-9a-f]{6})"', PATTERNS.read_text(encoding="utf-8")))
    assert len(uses) > len(colours)
    missing = [use for use in uses if f'svg [{use[0]}="{use[1]}"]' not in rules]
    assert not missing


def test_nothing_moves_where_the_system_asks_for_stillness(browser: Browser, base_url: str) -> None:
    seconds = """[...document.querySelectorAll('*')].flatMap(one => ['', '::before'].map(part => {
      const look = getComputedStyle(one, part || null);
      return parseFloat(look.transitionDuration) + parseFloat(look.animationDuration);
    })).reduce((sum, one) => sum + one, 0)"""
    moving = browser.new_context(base_url=base_url, reduced_motion="no-preference")
    page = moving.new_page()
    page.goto("/sample/")
    assert page.evaluate(seconds) > 0, "nothing moves anywhere: the check sees nothing"
    page.emulate_media(reduced_motion="reduce")
    assert page.evaluate(seconds) == 0
    moving.close()


@pytest.mark.parametrize("size", [TWICE, FOUR_TIMES], ids=["200 %", "400 %"])
def test_an_enlarged_page_is_read_without_scrolling_sideways(
    signed_in_page: Page, workshop: Workshop, size: dict[str, int]
) -> None:
    version = make_recipe(workshop)
    make_channel(workshop, name="Fair")
    page = signed_in_page
    page.set_viewport_size(size)
    design = f"/w/marlow/designs/{version.design_id}/"
    places = ("/w/marlow/", f"{design}cost/?quantity=9", f"{design}what-if/?quantity=9", "/sample/")
    for place in places:
        page.goto(place)
        assert_no_sideways_scroll(page, size["width"])


def test_nothing_that_stays_in_sight_covers_a_window_of_few_lines(
    signed_in_page: Page, workshop: Workshop
) -> None:
    version = make_recipe(workshop)
    page = signed_in_page
    page.set_viewport_size(FOUR_TIMES)
    page.goto(f"/w/marlow/designs/{version.design_id}/what-if/?quantity=9")
    stays = """[...document.querySelectorAll('body *')]
      .filter(one => ['fixed', 'sticky'].includes(getComputedStyle(one).position))
      .filter(one => one.checkVisibility()).map(one => one.className)"""
    assert page.evaluate(stays) == []
    bar = page.get_by_role("navigation", name="Workshop")
    bar.get_by_text("Sell", exact=True).click()
    expect(bar.get_by_role("link", name="Customers")).to_be_in_viewport()
    bar.get_by_role("link", name="Customers").click()
    expect(page).to_have_url(re.compile("/customers/$"))
