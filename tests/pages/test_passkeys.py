"""Passkeys and codes in Chromium, with an authenticator of the browser's own test interface."""

import base64
import re
import time
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from maker.accounts.models import Passkey, User
from maker.accounts.one_time_codes import code_at, counter_of
from tests.pages.looks import (
    LAPTOP,
    PHONE,
    assert_accessible,
    assert_easy_to_hit,
    assert_no_sideways_scroll,
)

RIGHT = "paper-and-twine"


@pytest.fixture
def authenticator(strict_page: Page) -> Callable[[bool], Any]:
    """Give the browser a phone that keeps passkeys and knows its person, or not."""
    devtools = strict_page.context.new_cdp_session(strict_page)
    devtools.send("WebAuthn.enable")
    options = {
        "protocol": "ctap2",
        "transport": "internal",
        "hasResidentKey": True,
        "hasUserVerification": True,
        "isUserVerified": True,
        "automaticPresenceSimulation": True,
    }
    phone = devtools.send("WebAuthn.addVirtualAuthenticator", {"options": options})

    def knows(is_her: bool) -> Any:
        said = {"authenticatorId": phone["authenticatorId"]}
        devtools.send("WebAuthn.setUserVerified", {**said, "isUserVerified": is_her})
        return devtools.send("WebAuthn.getCredentials", said)["credentials"]

    return knows


def look(page: Page) -> None:
    for size in (PHONE, LAPTOP):
        page.set_viewport_size(size)
        assert_accessible(page)
        assert_easy_to_hit(page)
    assert_no_sideways_scroll(page)


def password(page: Page, address: str = "owner@example.test") -> None:
    page.goto("/sign-in/")
    page.get_by_label("Email").fill(address)
    page.get_by_label("Password", exact=True).fill(RIGHT)
    page.get_by_role("button", name="Sign in", exact=True).click()


def test_a_passkey_from_adding_to_signing_in_both_ways(
    strict_page: Page, owner: User, authenticator: Callable[[bool], Any]
) -> None:
    page = strict_page
    password(page)
    page.goto("/account/second-step/")
    look(page)
    page.get_by_role("link", name="Add passkey").click()
    look(page)
    page.get_by_label("Name").fill("My phone")
    page.get_by_role("button", name="Add passkey").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Recovery codes")
    assert len(authenticator(True)) == 1
    look(page)
    page.get_by_role("link", name="I have saved them").click()
    expect(page.locator("main strong")).to_have_text("My phone")
    look(page)
    page.get_by_role("button", name="Sign out").click()

    # alone, from the sign-in page
    page.get_by_role("button", name="Sign in with passkey").click()
    expect(page).to_have_url("/w/marlow/")
    page.get_by_role("button", name="Sign out").click()

    # after the password
    password(page)
    expect(page.get_by_role("heading", level=1)).to_have_text("Second step")
    look(page)
    page.get_by_role("button", name="Use passkey").click()
    expect(page).to_have_url("/w/marlow/")
    # the phone counts up: added, used, used
    assert Passkey.objects.get().sign_count == authenticator(True)[0]["signCount"] > 1


def test_a_phone_that_does_not_know_her_lets_nobody_in(
    strict_page: Page, owner: User, authenticator: Callable[[bool], Any]
) -> None:
    page = strict_page
    password(page)
    page.goto("/account/second-step/passkeys/")
    page.get_by_role("button", name="Add passkey").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Recovery codes")
    page.get_by_role("button", name="Sign out").click()
    authenticator(False)
    page.get_by_role("button", name="Sign in with passkey").click()
    expect(page.get_by_text("No passkey was used.")).to_be_visible()
    expect(page).to_have_url("/sign-in/")
    # and it may be tried again on the same page
    authenticator(True)
    page.get_by_role("button", name="Sign in with passkey").click()
    expect(page).to_have_url("/w/marlow/")


def test_codes_are_set_up_and_asked_for(strict_page: Page, owner: User) -> None:
    page = strict_page
    password(page)
    page.goto("/account/second-step/codes/")
    look(page)
    words = page.locator("main code").inner_text()
    secret = base64.b32decode(words.replace(" ", ""))
    page.get_by_role("textbox", name="Code").fill(code_at(secret, counter_of(time.time())))
    page.get_by_role("button", name="Turn on codes").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Recovery codes")
    page.get_by_role("button", name="Sign out").click()
    password(page)
    look(page)
    page.get_by_role("textbox", name="Code").fill("000000")
    page.get_by_role("button", name="Continue").click()
    expect(page.locator("[data-error-summary]")).to_contain_text("the code the app shows")
    page.get_by_role("textbox", name="Code").fill(code_at(secret, counter_of(time.time()) + 1))
    page.keyboard.press("Enter")
    expect(page).to_have_url(re.compile("/w/marlow/$"))
