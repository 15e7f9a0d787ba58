"""The table at a fair when the power of the phone goes: a browser killed and opened again."""

import json
import socket
import subprocess
import time
import urllib.request
import uuid
from pathlib import Path

from playwright.sync_api import Playwright, expect

from maker.accounts.models import User
from pricing.fairs.models import FairSale
from tests.fair_tables import Table
from tests.pages.conftest import CHROMIUM, FLAGS, PATIENCE_MS
from tests.pages.table_phones import KEPT, all_sent, cookie_of, waiting
from tests.pages.weak_network import WeakNetwork
from tests.patience import PATIENCE_S


class KillableBrowser:
    """A Chromium with a profile on the disk that can be killed like a phone without power."""

    def __init__(self, playwright: Playwright, profile: Path) -> None:
        with socket.socket() as found:
            found.bind(("127.0.0.1", 0))
            port = found.getsockname()[1]
        self._process = subprocess.Popen(
            [
                CHROMIUM,
                *FLAGS,
                "--headless=new",
                f"--user-data-dir={profile}",
                f"--remote-debugging-port={port}",
                "about:blank",
            ],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        end = time.monotonic() + PATIENCE_S
        while True:
            try:
                with urllib.request.urlopen(f"http://127.0.0.1:{port}/json/version") as answer:
                    json.load(answer)
                break
            except OSError:
                assert time.monotonic() < end
                time.sleep(0.1)
        self.browser = playwright.chromium.connect_over_cdp(f"http://127.0.0.1:{port}")
        self.context = self.browser.contexts[0]
        self.context.set_default_timeout(PATIENCE_MS)

    def kill(self) -> None:
        self._process.kill()
        self._process.wait()


def test_a_killed_browser_loses_nothing_that_was_confirmed(
    playwright: Playwright, tmp_path: Path, table: Table, owner: User, network: WeakNetwork
) -> None:
    """Power gone right after the page said "stored", three times; then back with a network."""
    address = network.address + table.address()
    phone = KillableBrowser(playwright, tmp_path)
    cookie = cookie_of(owner, network.address) | {"expires": time.time() + 86400}
    phone.context.add_cookies([cookie])  # type: ignore[list-item]
    page = phone.context.new_page()
    page.goto(address)
    page.wait_for_selector(KEPT)
    network.cut()
    for round_ in range(1, 4):
        page.get_by_role("button", name="Paper lantern").first.click()
        page.get_by_role("button", name="Cash").first.click()
        expect(page.locator("[data-toast]")).to_contain_text("stored.")
        phone.kill()
        phone = KillableBrowser(playwright, tmp_path)
        page = phone.context.new_page()
        page.goto(address)
        waiting(page, round_)
    assert not FairSale.objects.exists()
    network.mend()
    phone.context.add_cookies([cookie])  # type: ignore[list-item]
    page.goto(address)
    all_sent(page)
    phone.kill()
    assert FairSale.objects.count() == 3
    assert len({uuid.UUID(str(row.uuid)) for row in FairSale.objects.all()}) == 3
