"""The sign-in page in a browser."""

import pytest
from playwright.sync_api import Page, expect

from maker.accounts.models import User
from tests.pages.looks import (
    LAPTOP,
    PHONE,
    assert_accessible,
    assert_easy_to_hit,
    assert_no_sideways_scroll,
)


def fill_in(page: Page, address: str, password: str) -> None:
    page.get_by_label("Email").fill(address)
    page.get_by_label("Password").fill(password)
    page.get_by_role("button", name="Sign in", exact=True).click()


@pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_sign_in_page_is_usable_by_everyone(strict_page: Page, size: dict[str, int]) -> None:
    strict_page.set_viewport_size(size)
    strict_page.goto("/sign-in/")
    expect(strict_page.get_by_role("heading", level=1)).to_have_text("Sign in")
    assert_accessible(strict_page)
    assert_easy_to_hit(strict_page)
    assert_no_sideways_scroll(strict_page)


def test_the_owner_signs_in_with_the_keyboard_and_signs_out(strict_page: Page, owner: User) -> None:
    strict_page.goto("/w/marlow/")
    expect(strict_page.get_by_role("heading", level=1)).to_have_text("Sign in")
    strict_page.get_by_label("Email").fill("Owner@Example.test")
    strict_page.keyboard.press("Tab")
    strict_page.keyboard.type("paper-and-twine")
    strict_page.keyboard.press("Enter")
    expect(strict_page).to_have_url("/w/marlow/")
    strict_page.get_by_role("button", name="Sign out").click()
    expect(strict_page).to_have_url("/sign-in/")
    strict_page.goto("/w/marlow/")
    expect(strict_page.get_by_role("heading", level=1)).to_have_text("Sign in")


def test_a_wrong_password_is_explained_and_the_address_kept(strict_page: Page, owner: User) -> None:
    strict_page.goto("/sign-in/")
    fill_in(strict_page, "owner@example.test", "not-this-one")
    summary = strict_page.locator("[data-error-summary]")
    expect(summary).to_contain_text("match")
    expect(summary).to_be_focused()
    expect(strict_page.get_by_label("Email")).to_have_value("owner@example.test")
    expect(strict_page).to_have_title("Error: Sign in · Pleat & Penny")
    assert_accessible(strict_page)
    assert_no_sideways_scroll(strict_page)
