"""Browser fixtures: Debian's Chromium, a live server, and pages that fail on any console error.

A test asks for `signed_in_page` (the owner's browser) or `strict_page` (nobody's) and opens
addresses without the host: `signed_in_page.goto("/w/marlow/")`. It fails by itself when the
page logs an error, breaks the content security policy, misses a file or asks another host.
"""

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from django.conf import settings as django_settings
from django.test import Client
from playwright.sync_api import BrowserContext, ConsoleMessage, Page, Response, expect

from maker.accounts.models import User
from tests.fair_tables import Table
from tests.pages.looks import LAPTOP, assert_accessible
from tests.pages.weak_network import WeakNetwork
from tests.patience import PATIENCE_S

# Playwright's synchronous interface runs an event loop in the thread that also uses the ORM.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"

CHROMIUM = os.environ.get("CHROMIUM") or shutil.which("chromium") or "/usr/bin/chromium"
FLAGS = [
    "--no-sandbox",  # root has no sandbox of its own
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
# each wait of a test; what is there is seen at once, so a long limit costs nothing
PATIENCE_MS = 250 * PATIENCE_S
expect.set_options(timeout=PATIENCE_MS)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark every test of this folder, so that `-m "not browser"` leaves them out."""
    here = Path(__file__).parent
    for item in items:
        if here in item.path.parents:
            item.add_marker(pytest.mark.browser)


@pytest.fixture(scope="session")
def browser_type_launch_args() -> dict[str, Any]:
    """Start the Chromium of the machine, not one that Playwright would download."""
    return {"executable_path": CHROMIUM, "args": FLAGS}


@pytest.fixture(scope="session")
def browser_context_args() -> dict[str, Any]:
    """A laptop in Britain; a test that means a phone sets the size of its page."""
    return {"viewport": LAPTOP, "locale": "en-GB", "reduced_motion": "reduce"}


@pytest.fixture(scope="session")
def base_url(live_server: Any) -> str:
    """Where the pages are; lets a test write addresses without it."""
    return str(live_server.url)


@pytest.fixture
def context(new_context: Callable[..., BrowserContext], base_url: str) -> BrowserContext:
    """A fresh browser profile that knows where the pages are."""
    return new_context(base_url=base_url)


@pytest.fixture
def strict_page(page: Page, base_url: str) -> Iterator[Page]:
    """A page of nobody that fails the test on whatever the browser complains about."""
    complaints: list[str] = []
    own_host = urlsplit(base_url).netloc

    def note_console(message: ConsoleMessage) -> None:
        # A page that is meant to answer 403 or 404 says the first too; files are looked at below.
        # The second is a question that a newer one replaced (hx-sync), which is meant as well.
        is_meant = any(
            said in message.text for said in ("Failed to load resource", "htmx:sendAbort")
        )
        if message.type in ("error", "warning") and not is_meant:
            complaints.append(f"console {message.type}: {message.text}")

    def note_response(response: Response) -> None:
        is_file = response.request.resource_type not in ("document", "xhr", "fetch")
        if response.status >= 500 or (is_file and response.status >= 400):
            complaints.append(f"{response.status} for {response.url}")

    def note_request(request: Any) -> None:
        address = urlsplit(request.url)
        if address.scheme in ("http", "https") and address.netloc != own_host:
            complaints.append(f"asked another host: {request.url}")

    page.on("console", note_console)
    page.on("pageerror", lambda error: complaints.append(f"script error: {error}"))
    page.on("response", note_response)
    page.on("request", note_request)
    page.set_default_timeout(PATIENCE_MS)
    yield page
    assert not complaints, "\n".join(complaints)


@pytest.fixture
def sign_in_as(context: BrowserContext, base_url: str) -> Callable[[User], None]:
    """Return a function that makes the browser somebody's, without the sign-in page."""

    def sign_in(user: User) -> None:
        client = Client()
        client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
        name = django_settings.SESSION_COOKIE_NAME
        cookie = {"name": name, "value": client.cookies[name].value, "url": base_url}
        context.add_cookies([cookie])  # type: ignore[list-item] # a plain dict will do

    return sign_in


@pytest.fixture
def signed_in_page(strict_page: Page, owner: User, sign_in_as: Callable[[User], None]) -> Page:
    """A page of the owner of the workshop `marlow`."""
    sign_in_as(owner)
    return strict_page


@pytest.fixture
def axe() -> Callable[[Page], None]:
    """Return the check with axe-core: `axe(page)`."""
    return assert_accessible


@pytest.fixture
def network(live_server: Any) -> Iterator[WeakNetwork]:
    """A network between a phone and the server that can be cut."""
    network = WeakNetwork(int(live_server.url.rsplit(":", 1)[1]))
    yield network
    network.cut()


@pytest.fixture
def table(workshop: Any) -> Table:
    """A day at a fair, open for selling."""
    return Table(workshop)
