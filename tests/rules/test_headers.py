"""The headers that keep a page safe, on every answer of every address."""

from typing import Any

from django.test import Client

from tests.rules.addresses import all_addresses

CSP = {
    "default-src 'none'",
    "script-src 'self'",
    "style-src 'self'",
    "img-src 'self'",
    "font-src 'self'",
    "connect-src 'self'",
    "form-action 'self'",
    "base-uri 'none'",
    "frame-ancestors 'none'",
    "manifest-src 'self'",
}
HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
}


# the key of a customer's link is in the address
FOR_CUSTOMERS = HEADERS | {
    "Referrer-Policy": "no-referrer",
    "X-Robots-Tag": "noindex, nofollow, noarchive",
}


def faults(answer: Any, headers: dict[str, str] = HEADERS) -> list[str]:
    """Return what is missing or different on one answer."""
    found = [name for name, value in headers.items() if answer.headers.get(name) != value]
    policy = answer.headers.get("Content-Security-Policy", "")
    if {part.strip() for part in policy.split(";")} != CSP:
        found.append(f"Content-Security-Policy: {policy}")
    if "private" not in answer.headers.get("Cache-Control", ""):
        found.append("lets a shared cache keep it")
    if len(answer.headers.get("X-Request-Id", "")) != 12:
        found.append("X-Request-Id")
    if "Server" in answer.headers or "X-Powered-By" in answer.headers:
        found.append("says what it runs on")
    return found


def test_every_answer_carries_the_headers(
    client: Client, reader_client: Client, stranger_client: Client, anonymous_client: Client
) -> None:
    bad = []
    for browser in (client, reader_client, stranger_client, anonymous_client):
        browser.raise_request_exception = False
        for address in all_addresses():
            for method in ("get", "post"):
                answer = getattr(browser, method)(address.path())
                headers = FOR_CUSTOMERS if address.route.startswith("customer/") else HEADERS
                bad += [f"{method} {address.path()}: {fault}" for fault in faults(answer, headers)]
    assert not bad


def test_pages_that_are_not_there_carry_them_too(client: Client) -> None:
    for path in ("/nothing/", "/w/nothing/", "/w/marlow/nothing/"):
        answer = client.get(path)
        assert answer.status_code == 404
        assert not faults(answer)


def test_scripts_and_styles_may_be_kept_by_anybody(client: Client) -> None:
    for path in ("/static/js/passkey.js", "/static/css/panels.css"):
        answer = client.get(path)
        assert answer.status_code == 200
        assert "public" in answer["Cache-Control"]
        assert "private" not in answer["Cache-Control"]


def test_a_session_is_kept_from_scripts_and_other_sites(client: Client, settings: Any) -> None:
    assert settings.SESSION_COOKIE_HTTPONLY
    assert settings.SESSION_COOKIE_SAMESITE == settings.CSRF_COOKIE_SAMESITE == "Lax"
    client.post("/sign-out/")
    answer = client.post(
        "/sign-in/", {"username": "owner@example.test", "password": "paper-and-twine"}
    )
    session = answer.cookies["sessionid"]
    assert session["httponly"]
    assert session["samesite"] == "Lax"
    assert not session["secure"]


def test_with_https_cookies_are_secure_and_browsers_are_told_to_stay(
    anonymous_client: Client, owner: Any, settings: Any
) -> None:
    settings.SESSION_COOKIE_SECURE = settings.CSRF_COOKIE_SECURE = True
    settings.SECURE_HSTS_SECONDS = 31_536_000
    data = {"username": "owner@example.test", "password": "paper-and-twine"}
    answer = anonymous_client.post("/sign-in/", data, secure=True)
    assert answer.cookies["sessionid"]["secure"]
    assert "max-age=31536000" in answer["Strict-Transport-Security"]
