"""Rows of a form are added, removed, moved and pasted in place, and the server gets just that."""

import json
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.pages.looks import (
    PHONE,
    assert_accessible,
    assert_easy_to_hit,
    assert_no_sideways_scroll,
)

pytestmark = pytest.mark.urls("tests.pages.sample_pages")

BODY = ["Body", "8.5", "1", False]
LID = ["Lid", "3.5", "1", False]
POCKET = ["Pocket", "2", "2", False]


@pytest.fixture
def page_of_rows(strict_page: Page) -> Page:
    strict_page.goto("/sample/rows/")
    return strict_page


def shown(page: Page) -> list[str]:
    """Names in the rows that can be seen, from the top."""
    return [
        row.get_by_label("Name").input_value()
        for row in page.locator("[data-row]").all()
        if row.is_visible()
    ]


def row(page: Page, name: str) -> Any:
    for one in page.locator("[data-row]").all():
        if one.get_by_label("Name").input_value() == name:
            return one
    raise AssertionError(f"no row {name}")


def saved(page: Page) -> list[list[Any]]:
    """Send the form and return what the server read."""
    page.get_by_role("button", name="Save").click()
    return json.loads(page.locator("pre").inner_text())


def paste(page: Page, text: str) -> None:
    """Paste text into the entry that has the focus."""
    page.evaluate(
        """text => {
          const clipboardData = new DataTransfer();
          clipboardData.setData("text/plain", text);
          document.activeElement.dispatchEvent(
            new ClipboardEvent("paste", {clipboardData, bubbles: true, cancelable: true}));
        }""",
        text,
    )


def test_spare_rows_are_not_sent(page_of_rows: Page) -> None:
    assert shown(page_of_rows) == ["Body", "Lid", "Pocket", "", ""]
    assert saved(page_of_rows) == [BODY, LID, POCKET]


def test_a_new_row_takes_the_focus_and_is_sent_last(page_of_rows: Page) -> None:
    page_of_rows.get_by_role("button", name="Add a piece").click()
    expect(page_of_rows.locator("#id_form-5-name")).to_be_focused()
    page_of_rows.keyboard.type("Handle")
    page_of_rows.keyboard.press("Tab")
    page_of_rows.keyboard.type("1/2")
    page_of_rows.locator("#id_form-5-paper").select_option("White card")
    assert saved(page_of_rows)[-1] == ["Handle", "0.5", "2", False]


def test_no_more_rows_than_the_form_takes(page_of_rows: Page) -> None:
    page_of_rows.get_by_role("button", name="Add a piece").click()
    page_of_rows.get_by_role("button", name="Add a piece").click()
    expect(page_of_rows.locator("[data-rows-say]")).to_have_text("No more than 6 rows fit.")
    assert len(shown(page_of_rows)) == 6


def test_a_removed_row_can_be_brought_back(page_of_rows: Page) -> None:
    row(page_of_rows, "Lid").get_by_role("button", name="Remove").click()
    assert shown(page_of_rows) == ["Body", "Pocket", "", ""]
    expect(page_of_rows.get_by_role("button", name="Undo")).to_be_focused()
    page_of_rows.keyboard.press("Enter")
    assert saved(page_of_rows) == [BODY, LID, POCKET]


def test_a_removed_row_is_gone_after_saving(page_of_rows: Page) -> None:
    row(page_of_rows, "Lid").get_by_role("button", name="Remove").click()
    assert saved(page_of_rows) == [BODY, POCKET]


def test_rows_move_by_buttons(page_of_rows: Page) -> None:
    down = row(page_of_rows, "Body").get_by_role("button", name="Move down")
    down.click()
    expect(row(page_of_rows, "Body").get_by_role("button", name="Move down")).to_be_focused()
    expect(page_of_rows.locator("[data-rows-say]")).to_have_text("Body is now row 2.")
    assert saved(page_of_rows) == [LID, BODY, POCKET]


def test_rows_move_by_keys_and_keep_the_focus(page_of_rows: Page) -> None:
    page_of_rows.locator("#id_form-2-width").focus()
    page_of_rows.keyboard.press("Alt+ArrowUp")
    page_of_rows.keyboard.press("Alt+ArrowUp")
    expect(page_of_rows.locator("#id_form-2-width")).to_be_focused()
    assert saved(page_of_rows) == [POCKET, BODY, LID]


def test_rows_move_by_hand(page_of_rows: Page) -> None:
    grip = row(page_of_rows, "Body").locator("[data-row-drag]").bounding_box()
    target = row(page_of_rows, "Pocket").bounding_box()
    mouse = page_of_rows.mouse
    mouse.move(grip["x"] + 20, grip["y"] + 20)
    mouse.down()
    mouse.move(grip["x"] + 20, target["y"] + target["height"] - 4, steps=12)
    mouse.up()
    assert saved(page_of_rows) == [LID, POCKET, BODY]


def test_cells_from_a_spreadsheet_fill_to_the_right_and_down(page_of_rows: Page) -> None:
    page_of_rows.locator("#id_form-2-name").focus()
    paste(page_of_rows, "Base\t4\tWhite card\tx\r\nFlap\t1 1/2\tkraft card\t\r\nTag\t2\tSilk\r\n")
    expect(page_of_rows.locator("[data-rows-say]")).to_have_text(
        "Filled 3 rows. Not in the list: Silk."
    )
    page_of_rows.locator("#id_form-4-paper").select_option("Kraft card")
    assert saved(page_of_rows) == [
        BODY,
        LID,
        ["Base", "4", "2", True],
        ["Flap", "1.5", "1", False],
        ["Tag", "2", "1", False],
    ]


def test_a_pasted_column_adds_rows_until_no_more_fit(page_of_rows: Page) -> None:
    page_of_rows.locator("#id_form-3-width").focus()
    paste(page_of_rows, "1\n2\n3\n4\n5")
    expect(page_of_rows.locator("[data-rows-say]")).to_have_text(
        "Filled 3 rows. 2 lines did not fit."
    )
    assert page_of_rows.locator("#id_form-5-width").input_value() == "3"


def test_one_word_is_pasted_as_ever(page_of_rows: Page) -> None:
    page_of_rows.locator("#id_form-0-name").focus()
    paste(page_of_rows, "Front")
    expect(page_of_rows.locator("[data-rows-say]")).to_have_text("")


def test_a_wrong_row_comes_back_with_its_error_and_place(page_of_rows: Page) -> None:
    row(page_of_rows, "Lid").get_by_role("button", name="Remove").click()
    page_of_rows.locator("#id_form-2-width").fill("wide")
    page_of_rows.get_by_role("button", name="Save").click()
    summary = page_of_rows.locator("[data-error-summary]")
    expect(summary).to_be_focused()
    assert shown(page_of_rows)[:2] == ["Body", "Pocket"]
    summary.get_by_role("link").click()
    expect(page_of_rows.locator("#id_form-2-width")).to_be_focused()
    expect(page_of_rows.locator("#id_form-2-width")).to_have_value("wide")
    assert_accessible(page_of_rows)
    page_of_rows.locator("#id_form-2-width").fill("2")
    page_of_rows.get_by_role("button", name="Undo").click()
    assert saved(page_of_rows) == [BODY, LID, POCKET]


def test_rows_are_a_table_on_a_laptop(page_of_rows: Page) -> None:
    assert_accessible(page_of_rows)
    assert_easy_to_hit(page_of_rows)
    # the label of a tick is not seen there, yet its whole cell can be hit
    cell = row(page_of_rows, "Body").locator(".tick-cell").bounding_box()
    page_of_rows.mouse.click(cell["x"] + cell["width"] - 5, cell["y"] + cell["height"] - 5)
    expect(page_of_rows.locator("#id_form-0-may_turn")).to_be_checked()


def test_rows_are_blocks_on_a_phone(page_of_rows: Page) -> None:
    page_of_rows.set_viewport_size(PHONE)
    assert_accessible(page_of_rows)
    assert_easy_to_hit(page_of_rows)
    assert_no_sideways_scroll(page_of_rows)
    expect(row(page_of_rows, "Body").locator("label", has_text="Width")).to_be_visible()


def test_without_javascript_numbers_and_ticks_do_the_same(browser: Browser, base_url: str) -> None:
    context = browser.new_context(base_url=base_url, java_script_enabled=False)
    page = context.new_page()
    page.goto("/sample/rows/")
    page.locator("#id_form-0-ORDER").fill("9")
    page.locator("#id_form-1-DELETE").check()
    page.locator("#id_form-3-name").fill("Handle")
    page.locator("#id_form-3-width").fill("1/2")
    page.locator("#id_form-3-paper").select_option("White card")
    page.locator("#id_form-3-ORDER").fill("1")
    page.get_by_role("button", name="Save").click()
    sent = json.loads(page.locator("pre").inner_text())
    context.close()
    assert sent == [["Handle", "0.5", "2", False], POCKET, BODY]
