"""The frame of every page and what forms do in the browser: errors, double clicks, leaving."""

import re

import pytest
from playwright.sync_api import Browser, Dialog, Page, expect

from tests.pages.looks import (
    LAPTOP,
    NARROW,
    PHONE,
    assert_accessible,
    assert_easy_to_hit,
    assert_no_sideways_scroll,
)

pytestmark = pytest.mark.urls("tests.pages.sample_pages")


@pytest.mark.parametrize("size", [NARROW, PHONE, LAPTOP], ids=["narrow", "phone", "laptop"])
def test_every_component_is_usable_by_everyone(strict_page: Page, size: dict[str, int]) -> None:
    strict_page.set_viewport_size(size)
    strict_page.goto("/sample/")
    assert_accessible(strict_page)
    assert_easy_to_hit(strict_page)
    assert_no_sideways_scroll(strict_page)


def test_components_print_without_the_frame(strict_page: Page) -> None:
    strict_page.goto("/sample/")
    strict_page.emulate_media(media="print")
    expect(strict_page.get_by_role("banner")).to_be_hidden()
    expect(strict_page.get_by_text("Average of two receipts")).to_be_visible()


def test_the_skip_link_leads_to_the_page(strict_page: Page) -> None:
    strict_page.goto("/sample/")
    strict_page.keyboard.press("Tab")
    expect(strict_page.get_by_role("link", name="Skip to content")).to_be_focused()
    strict_page.keyboard.press("Enter")
    expect(strict_page.locator("main")).to_be_focused()


def test_the_groups_open_and_close_at_the_thumb(signed_in_page: Page) -> None:
    signed_in_page.set_viewport_size(PHONE)
    signed_in_page.goto("/w/marlow/")
    bar = signed_in_page.get_by_role("navigation", name="Workshop")
    expect(bar.get_by_role("link", name="Home")).to_have_attribute("aria-current", "page")
    box, make = bar.bounding_box(), bar.get_by_text("Make", exact=True)
    assert box
    assert box["y"] + box["height"] == PHONE["height"]
    designs = bar.get_by_role("link", name="Designs")
    expect(designs).to_be_hidden()
    make.click()
    expect(designs).to_be_visible()
    assert_accessible(signed_in_page)
    signed_in_page.keyboard.press("Escape")
    expect(designs).to_be_hidden()
    expect(make).to_be_focused()
    make.press("Enter")
    expect(designs).to_be_visible()
    bar.get_by_text("Sell", exact=True).click()
    expect(designs).to_be_hidden()


def test_the_groups_open_without_javascript(
    browser: Browser, signed_in_page: Page, base_url: str
) -> None:
    state = signed_in_page.context.storage_state()
    context = browser.new_context(
        base_url=base_url, java_script_enabled=False, storage_state=state, viewport=PHONE
    )
    page = context.new_page()
    page.goto("/w/marlow/")
    page.get_by_role("navigation", name="Workshop").get_by_text("Make", exact=True).click()
    page.get_by_role("link", name="Cutting plans").click()
    expect(page).to_have_url(re.compile("/cutting-plans/"))
    context.close()


def test_a_group_opens_below_its_word_on_a_laptop(signed_in_page: Page) -> None:
    signed_in_page.goto("/w/marlow/")
    bar = signed_in_page.get_by_role("navigation", name="Workshop")
    expect(bar.get_by_role("link", name="Home")).to_be_visible()
    bar.get_by_text("Prices", exact=True).click()
    tags = bar.get_by_role("link", name="Tags")
    expect(tags).to_be_visible()
    assert_accessible(signed_in_page)
    signed_in_page.get_by_role("main").click(position={"x": 5, "y": 5})
    expect(tags).to_be_hidden()


def test_errors_are_summed_up_and_lead_to_their_fields(strict_page: Page) -> None:
    strict_page.goto("/sample/")
    strict_page.get_by_label("Name").last.fill("Kraft card")
    strict_page.locator("#id_width").fill("seven")
    strict_page.get_by_role("button", name="Save").click()
    summary = strict_page.locator("[data-error-summary]")
    expect(summary).to_be_focused()
    expect(strict_page).to_have_title("Error: Sample · Pleat & Penny")
    assert_accessible(strict_page)
    summary.get_by_role("link", name="Direction").click()
    expect(strict_page.get_by_label("None").last).to_be_focused()
    summary.get_by_role("link", name="Width").click()
    field = strict_page.locator("#id_width")
    expect(field).to_be_focused()
    expect(field).to_have_value("seven")
    expect(field).to_have_attribute(
        "aria-describedby", "id_width_helptext id_width_error id_width_unit"
    )


def fill_in(page: Page) -> None:
    page.locator("#id_name").fill("Kraft card")
    page.locator("#id_width").fill("305")
    page.locator("#id_direction_0").check()


def test_a_message_takes_back_what_was_done(strict_page: Page) -> None:
    strict_page.goto("/sample/")
    fill_in(strict_page)
    strict_page.get_by_role("button", name="Save").click()
    expect(strict_page.get_by_text("Saved the sheet.")).to_be_visible()
    strict_page.get_by_role("button", name="Undo").click()
    expect(strict_page.get_by_text("Taken back by POST.")).to_be_visible()


def test_an_impatient_second_click_sends_nothing(strict_page: Page) -> None:
    strict_page.goto("/sample/?slow")
    fill_in(strict_page)
    sent: list[str] = []
    strict_page.on(
        "request", lambda request: sent.append(request.url) if request.method == "POST" else None
    )
    # the second click comes while the slow answer to the first is still awaited
    strict_page.evaluate(
        """() => {
          const button = document.querySelector("form[data-unsaved] button");
          button.click();
          setTimeout(() => button.click(), 300);
        }"""
    )
    expect(strict_page.get_by_text("Saved the sheet.")).to_be_visible()
    assert len(sent) == 1


def test_a_form_can_be_sent_again_after_the_back_button(strict_page: Page) -> None:
    strict_page.goto("/sample/")
    fill_in(strict_page)
    strict_page.get_by_role("button", name="Save").click()
    expect(strict_page.get_by_text("Saved the sheet.")).to_be_visible()
    strict_page.go_back()
    fill_in(strict_page)
    strict_page.get_by_role("button", name="Save").click()
    expect(strict_page.get_by_text("Saved the sheet.")).to_be_visible()


def test_leaving_a_changed_form_asks_first(strict_page: Page) -> None:
    asked: list[str] = []

    def answer(dialog: Dialog) -> None:
        asked.append(dialog.type)
        dialog.accept()

    strict_page.on("dialog", answer)
    strict_page.goto("/sample/")
    strict_page.goto("/sample/")
    assert asked == []
    strict_page.locator("#id_name").press_sequentially("Kraft")
    strict_page.goto("/sample/")
    assert asked == ["beforeunload"]


def test_saving_a_changed_form_does_not_ask(strict_page: Page) -> None:
    asked: list[str] = []

    def answer(dialog: Dialog) -> None:
        asked.append(dialog.type)
        dialog.accept()

    strict_page.on("dialog", answer)
    strict_page.goto("/sample/")
    fill_in(strict_page)
    strict_page.get_by_role("button", name="Save").click()
    expect(strict_page.get_by_text("Saved the sheet.")).to_be_visible()
    assert asked == []


def test_a_list_says_how_it_is_sorted(strict_page: Page) -> None:
    strict_page.goto("/sample/?page=2")
    expect(strict_page.get_by_role("columnheader", name="Name")).to_have_attribute(
        "aria-sort", "ascending"
    )
    strict_page.get_by_role("columnheader", name="Name").get_by_role("link").click()
    expect(strict_page).to_have_url("/sample/?sort=-name")
    expect(strict_page.get_by_role("columnheader", name="Name")).to_have_attribute(
        "aria-sort", "descending"
    )
    assert strict_page.locator("th[aria-sort]").count() == 1
    strict_page.get_by_role("link", name="Next").click()
    expect(strict_page).to_have_url("/sample/?sort=-name&page=2")
