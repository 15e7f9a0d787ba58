"""The pages about one price and about keeping prices true, in a browser on any width."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from catalogue.recipes.models import DesignVersion
from maker.workshop.models import Workshop
from pricing.calc.costing.rates import Ask
from pricing.prices.services import set_price
from tests.factories import make_channel, make_recipe
from tests.pages.looks import LAPTOP, PHONE, assert_easy_to_hit, assert_no_sideways_scroll


@pytest.fixture
def version(workshop: Workshop) -> DesignVersion:
    """Nine cost 29.30 by hand: one sheet of 0.50 and 90 minutes at 19.20 an hour."""
    make_channel(workshop, name="Fair")
    make_channel(workshop, name="Web shop", position=2)
    version = make_recipe(workshop)
    version.steps.update(minutes_low=8, minutes_high=14)
    return version


def assert_open_to_everyone(page: Page, axe: Callable[[Page], None]) -> None:
    """Look at everything that can be opened, on a laptop and on a phone."""
    page.evaluate("document.querySelectorAll('details.panel').forEach(one => one.open = true)")
    for size in (LAPTOP, PHONE):
        page.set_viewport_size(size)
        axe(page)
        assert_no_table_is_cut_off(page)
    assert_easy_to_hit(page)
    assert_no_sideways_scroll(page)


def assert_no_table_is_cut_off(page: Page) -> None:
    cut_off = page.evaluate(
        """[...document.querySelectorAll(".table-container")]
          .filter(one => one.scrollWidth > one.clientWidth + 1)
          .map(one => one.textContent.trim().slice(0, 80))"""
    )
    assert not cut_off, "\n".join([page.url, *cut_off])


@pytest.mark.parametrize(
    ("place", "words"),
    [
        ("cost/?quantity=9", "Other quantities"),
        ("ladder/?quantity=9&up_to=40&bears_each=6", "10 cost more each than 9"),
        ("sure/?quantity=9&asked_price=4", "Time this first"),
        ("what-if/?quantity=9&minutes=20&tool_price=90&tool_minutes=0.5", "Would the tool pay?"),
        ("channels/?quantity=9", "best pay"),
        ("ladder/?quantity=many&up_to=5000&steps=x", "There is a problem"),
        ("what-if/?quantity=9&minutes=900&target=0", "There is a problem"),
    ],
)
def test_pages_about_a_price_are_open_to_everyone_on_any_width(
    signed_in_page: Page,
    version: DesignVersion,
    axe: Callable[[Page], None],
    place: str,
    words: str,
) -> None:
    page = signed_in_page
    page.goto(f"/w/marlow/designs/{version.design_id}/{place}")
    expect(page.get_by_text(words).first).to_be_attached()
    page.wait_for_load_state("networkidle")
    assert_open_to_everyone(page, axe)


def test_the_price_answers_while_a_slider_moves_and_stays_in_sight_on_a_phone(
    signed_in_page: Page, version: DesignVersion
) -> None:
    page = signed_in_page
    page.set_viewport_size(PHONE)
    page.goto(f"/w/marlow/designs/{version.design_id}/what-if/?quantity=9")
    answer = page.get_by_role("definition").first
    expect(answer).to_have_text("€4.70")
    slider = page.get_by_role("slider", name="Minutes of work")
    slider.focus()
    for _ in range(4):
        page.keyboard.press("ArrowRight")
    # by hand: 0.50 + 108 x 0.32 = 35.06; for one 3.8956; / 0.7 = 5.565, up to 5.60
    expect(answer).to_have_text("€5.60")
    expect(answer).to_be_in_viewport()
    expect(slider).to_be_in_viewport()
    expect(slider).to_be_focused()
    expect(page.locator(".slider-value").nth(1)).to_have_text("+20%")
    assert "minutes=20" in page.url
    # by hand: two sheets for 18, 1.00 + 216 x 0.32 = 70.12; for one 3.8956 as well: 5.60; and the
    # quantity has a slider too, which says the same as its number
    page.get_by_role("slider", name="Made at once").press("End")
    expect(page.get_by_label("Made at once", exact=True)).to_have_value("250")
    page.get_by_label("Made at once", exact=True).fill("18")
    expect(page.get_by_role("slider", name="Made at once")).to_have_value("18")
    expect(page.get_by_role("cell", name="€100.80")).to_be_visible()
    # what is not readable is said beside its field, and the last answer stays
    page.get_by_label("Made at once", exact=True).fill("none")
    expect(page.locator("#live-quantity")).to_contain_text("a number. Enter one")
    expect(answer).to_have_text("€5.60")


def test_what_if_answers_without_javascript(
    new_context: Callable[..., Any],
    sign_in_as: Callable[[Any], None],
    context: Any,
    base_url: str,
    owner: Any,
    version: DesignVersion,
) -> None:
    sign_in_as(owner)
    plain = new_context(base_url=base_url, java_script_enabled=False)
    plain.add_cookies(context.cookies())
    page = plain.new_page()
    page.goto(f"/w/marlow/designs/{version.design_id}/what-if/?quantity=9")
    page.get_by_label("Target price each").fill("4")
    page.get_by_role("button", name="Recalculate").click()
    page.get_by_role("link", name="Show the ways").click()
    # by hand: 4.00 x 9 x 0.7 = 25.20 may be spent; (25.20 - 0.50) / 9 / 0.32 = 8.58 minutes
    expect(page.get_by_role("cell", name="8.58 min")).to_be_visible()


def test_prices_that_are_off_are_changed_and_left_with_the_keyboard(
    signed_in_page: Page,
    workshop: Workshop,
    version: DesignVersion,
    owner: Any,
    axe: Callable[[Page], None],
) -> None:
    for one, price in ((version, "4.70"), (make_recipe(workshop), "4.80")):
        set_price(
            version=one,
            workshop=workshop,
            channel=workshop.channels.get(name="Fair"),
            ask=Ask(9, bought_at_once=1),
            price=Decimal(price),
            colourway=None,
            by=owner,
        )
    workshop.wage_per_hour = Decimal(18)
    workshop.save(update_fields=["wage_per_hour"])
    page = signed_in_page
    page.goto("/w/marlow/review-prices/")
    assert_open_to_everyone(page, axe)
    page.get_by_role("checkbox").first.focus()
    page.keyboard.press("Space")
    page.keyboard.press("Enter")
    expect(page.get_by_role("checkbox")).to_have_count(1)
    page.get_by_role("link", name="Decide").click()
    assert_open_to_everyone(page, axe)
    page.get_by_label("Decision").select_option("leave")
    page.get_by_label("Reason").fill("the last ones of this paper")
    page.keyboard.press("Enter")
    expect(page.get_by_role("checkbox")).to_have_count(0)
    expect(page.get_by_text("left as you decided")).to_be_visible()
    assert_open_to_everyone(page, axe)
    page.get_by_role("button", name="Undo", exact=True).click()
    expect(page.get_by_role("checkbox")).to_have_count(1)
