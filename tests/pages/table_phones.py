"""A phone at the table of a fair: signed in, selling, and what it says of what waits."""

from django.conf import settings
from django.test import Client
from playwright.sync_api import BrowserContext, Page, expect

from maker.accounts.models import User
from tests.fair_tables import Table

KEPT = "html[data-ready=kept]"


def cookie_of(user: User, address: str) -> dict[str, str]:
    client = Client()
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    name = settings.SESSION_COOKIE_NAME
    return {"name": name, "value": client.cookies[name].value, "url": address}


def opened(context: BrowserContext, table: Table) -> Page:
    page = context.new_page()
    page.goto(table.address())
    page.wait_for_selector(KEPT)
    return page


def sell(page: Page, item: str = "Paper lantern", way: str = "Cash") -> None:
    """A sale in two taps."""
    before = page.locator("[data-log] li").count()
    page.get_by_role("button", name=item).first.click()
    page.get_by_role("button", name=way, exact=False).first.click()
    expect(page.locator("[data-log] li")).to_have_count(before + 1)


def all_sent(page: Page) -> None:
    expect(page.locator("[data-state]")).to_contain_text("All sent.")


def waiting(page: Page, count: int) -> None:
    expect(page.locator("[data-state]")).to_contain_text(f"{count} waiting to be sent.")
