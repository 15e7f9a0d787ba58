"""HTTPS on the home network as a phone meets it: the certificate trusted once, then all is safe."""

import http.client
import os
import signal
import socket
import ssl
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Error

from maker.phone.certificates import authority_file
from maker.setup.place import ROOT
from maker.setup.server import free_port_after, names_to_certify
from tests.maker.setup_scene import clean_env
from tests.patience import PATIENCE_S

ANYWHERE = "0.0.0.0"  # noqa: S104 - what is tried
EMAIL, PASSWORD = "bryony@example.test", "twine-and-tissue-7"


@dataclass(frozen=True)
class Home:
    """A server as `start --https` runs it."""

    data: Path
    address: str
    first_visit: str
    printed: str


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Home]:
    """Serve an installation of its own by HTTPS on the network address of this machine."""
    data = tmp_path_factory.mktemp("home")
    env = clean_env(
        DATA_DIR=str(data),
        DATABASE_URL=f"sqlite:///{data / 'db.sqlite3'}",
        SLOW_WORKERS="0",
        PYTHONIOENCODING="utf-8",
    )
    names = [f"--certify={name}" for name in names_to_certify(ANYWHERE)]
    made = (
        f"from maker.accounts.models import User\nUser.objects.create_user({EMAIL!r}, {PASSWORD!r})"
    )
    for words in (["prepare", *names], ["shell", "-v0", "-c", made]):
        subprocess.run([sys.executable, str(ROOT / "manage.py"), *words], env=env, check=True)
    port = free_port_after(ANYWHERE, 21000)
    code = (
        f"import sys; sys.path.insert(0, {str(ROOT)!r})\n"
        "from maker.setup import server\nfrom maker.setup.place import ROOT\n"
        f"sys.exit(server.serve(ROOT, {ANYWHERE!r}, {port}, https=True))"
    )
    running = subprocess.Popen(
        [sys.executable, "-c", code], env=env, stdout=subprocess.PIPE, text=True, encoding="utf-8"
    )
    assert running.stdout
    try:
        opened = running.stdout.readline()
        printed = ""
        while "which says what to do first" not in printed:
            line = running.stdout.readline()
            assert line, printed
            printed += line
        first_visit = printed.split("scan this or open ")[1].split(",")[0]
        yield Home(data, opened.split()[1], first_visit, printed)
        running.send_signal(signal.SIGTERM)
        assert running.wait(PATIENCE_S) == 0
    finally:
        running.kill()
        running.wait()
        running.stdout.close()


@pytest.fixture
def phone(
    launch_browser: Callable[..., Browser], tmp_path: Path
) -> Iterator[Callable[[Path | None], Browser]]:
    """Return a function that starts a browser with a trust store of its own."""
    started: list[Browser] = []

    def start(trusted: Path | None) -> Browser:
        store = tmp_path / ".pki" / "nssdb"
        store.mkdir(parents=True)
        words = ["certutil", "-d", f"sql:{store}"]
        subprocess.run([*words, "-N", "--empty-password"], check=True)
        if trusted:
            subprocess.run([*words, "-A", "-n", "pleat", "-t", "C,,", "-i", trusted], check=True)
        browser = launch_browser(env={**os.environ, "HOME": str(tmp_path)})
        started.append(browser)
        return browser

    yield start
    for browser in started:
        browser.close()


def test_a_phone_that_trusts_the_certificate_signs_in(
    home: Home, phone: Callable[[Path | None], Browser]
) -> None:
    context = phone(authority_file(home.data)).new_context()
    page = context.new_page()
    page.goto(home.first_visit)
    page.get_by_role("link", name="Open Pleat & Penny").click()
    page.locator("[name=username]").fill(EMAIL)
    page.locator("[name=password]").fill(PASSWORD)
    page.keyboard.press("Enter")
    page.wait_for_url(f"{home.address}/workshops/")
    assert page.evaluate("window.isSecureContext") is True
    cookies = context.cookies()
    assert {cookie["name"] for cookie in cookies} >= {"__Host-sessionid", "__Host-csrftoken"}
    assert all(cookie["secure"] for cookie in cookies)
    page.goto(f"{home.address}/account/phone/")
    assert page.get_by_text(home.first_visit).is_visible()


def test_one_that_does_not_is_warned(home: Home, phone: Callable[[Path | None], Browser]) -> None:
    page = phone(None).new_page()
    with pytest.raises(Error, match="ERR_CERT_AUTHORITY_INVALID"):
        page.goto(home.address)


def test_browsers_are_not_told_to_remember_an_address_at_home(home: Home) -> None:
    context = ssl.create_default_context(cafile=str(authority_file(home.data)))
    for name in (home.address.split("//")[1].rpartition(":")[0], "localhost"):
        port = int(home.address.rpartition(":")[2])
        asked = http.client.HTTPSConnection(name, port, context=context, timeout=PATIENCE_S)
        asked.request("GET", "/sign-in/")
        answer = asked.getresponse()
        assert answer.status == 200
        assert answer.getheader("Strict-Transport-Security") is None
        asked.close()


def test_only_new_tls_with_good_ciphers_is_spoken(home: Home) -> None:
    port = int(home.address.rpartition(":")[2])
    context = ssl.create_default_context(cafile=str(authority_file(home.data)))
    with (
        socket.create_connection(("localhost", port), PATIENCE_S) as plain,
        context.wrap_socket(plain, server_hostname="localhost") as spoken,
    ):
        assert spoken.version() in ("TLSv1.2", "TLSv1.3")
        assert "GCM" in spoken.cipher()[0] or "CHACHA20" in spoken.cipher()[0]
    context.set_ciphers("ALL:@SECLEVEL=0")
    context.minimum_version, context.maximum_version = ssl.TLSVersion.TLSv1, ssl.TLSVersion.TLSv1_1
    with (
        socket.create_connection(("localhost", port), PATIENCE_S) as plain,
        pytest.raises(ssl.SSLError, match=r"(?i)protocol|alert"),
    ):
        context.wrap_socket(plain, server_hostname="localhost")


def test_the_terminal_shows_the_address_as_a_square_code(home: Home) -> None:
    rows = [line for line in home.printed.splitlines() if set(line) <= set("█▀▄ ") and line]
    import segno

    half = {"█": (0, 0), "▀": (0, 1), "▄": (1, 0), " ": (1, 1)}  # light, dark; upper, lower
    read = [[half[sign][part] for sign in row] for row in rows for part in (0, 1)]
    matrix = [list(row) for row in segno.make_qr(home.first_visit, error="m").matrix_iter(border=2)]
    assert read[: len(matrix)] == [[int(bool(cell)) for cell in row] for row in matrix]
