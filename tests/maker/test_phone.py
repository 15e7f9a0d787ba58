"""On the phone: the page with address and steps, and the first visit without HTTPS."""

from pathlib import Path
from typing import Any
from wsgiref.util import setup_testing_defaults

import pytest
from django.test import Client

from maker.phone import door
from maker.phone.certificates import authority_file, ensure_certificates, fingerprint

HTTPS, FIRST = "https://192.168.1.20:8000", "http://192.168.1.20:8001"


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder with a certificate, served by HTTPS."""
    ensure_certificates(tmp_path, ["192.168.1.20"])
    monkeypatch.setenv("DATA_DIR", str(tmp_path))
    monkeypatch.setenv("PLEAT_ADDRESS", HTTPS)
    return tmp_path


def ask(
    path: str, method: str = "GET", raw: str | None = None
) -> tuple[str, dict[str, str], bytes]:
    """Ask the door as gunicorn does."""
    environ: dict[str, Any] = {}
    setup_testing_defaults(environ)
    environ |= {"REQUEST_METHOD": method, "PATH_INFO": path, "RAW_URI": raw or path}
    told: list[Any] = []
    body = b"".join(door.application(environ, lambda *words: told.append(words)))
    ((status, headers),) = told
    return status, dict(headers), body


def test_the_door_says_what_to_do_and_hands_out_the_certificate(data: Path) -> None:
    status, headers, body = ask("/")
    assert status == "200 OK"
    assert "default-src 'none'" in headers["Content-Security-Policy"]
    text = body.decode()
    assert fingerprint(authority_file(data)) in text
    assert f'href="{HTTPS}"' in text
    assert 'href="/pleat-and-penny.crt"' in text
    status, headers, body = ask("/pleat-and-penny.crt")
    assert (status, headers["Content-Type"]) == ("200 OK", "application/x-x509-ca-cert")
    assert body == authority_file(data).read_bytes()
    assert b"PRIVATE" not in body
    assert ask("/static/css/tokens.css")[1]["Content-Type"] == "text/css"


@pytest.mark.parametrize(
    ("path", "raw", "there"),
    [
        ("/w/x/quotes/", "/w/x/quotes/?page=2", f"{HTTPS}/w/x/quotes/?page=2"),
        ("/static/css/../../manage.py", None, f"{HTTPS}/static/css/../../manage.py"),
        ("/https/authority.pem", None, f"{HTTPS}/https/authority.pem"),
        ("//other.example/", None, f"{HTTPS}//other.example/"),
        ("/", "http://other.example/", None),
        ("/a\r\nX: y", "/a%0D%0AX:%20y", f"{HTTPS}/a%0D%0AX:%20y"),
        ("/b", "@other.example/", f"{HTTPS}/"),
    ],
)
def test_everything_else_goes_to_https(
    data: Path, path: str, raw: str | None, there: str | None
) -> None:
    status, headers, _ = ask(path, raw=raw)
    assert (status, headers.get("Location")) == ("302 Found" if there else "200 OK", there)


def test_nothing_is_sent_without_https(data: Path) -> None:
    status, headers, body = ask("/sign-in/", "POST")
    assert (status, headers["Allow"], body) == ("405 Method Not Allowed", "GET, HEAD", b"")


def test_a_page_on_this_computer_alone_says_how_to_open_it(client: Client) -> None:
    text = client.get("/account/phone/", HTTP_HOST="localhost").content.decode()
    assert "Only this computer gets here now" in text
    assert "start --https" in text
    assert client.get("/account/phone/certificate/").status_code == 404


def test_the_page_shows_both_addresses_and_the_steps(
    client: Client, data: Path, settings: Any
) -> None:
    settings.DATA_DIR = data
    settings.OWN_ADDRESS, settings.FIRST_VISIT_ADDRESS = HTTPS, FIRST
    settings.NAME_ADDRESS = "https://bench.local:8000"
    text = client.get("/account/phone/").content.decode()
    for words in (HTTPS, FIRST, "bench.local", "iPhone", "Android", "1. Trust the certificate"):
        assert words in text
    assert text.count("<svg") >= 2
    assert fingerprint(authority_file(data)) in text
    answer = client.get("/account/phone/certificate/")
    assert answer["Content-Type"] == "application/x-x509-ca-cert"
    assert b"".join(answer.streaming_content) == authority_file(data).read_bytes()  # type: ignore[attr-defined] # a file's answer streams


def test_without_https_the_page_says_what_is_missing(client: Client, settings: Any) -> None:
    settings.OWN_ADDRESS = "http://192.168.1.20:8000"
    text = client.get("/account/phone/").content.decode()
    assert "Make it private" in text
    assert "1. Trust" not in text
