"""Browsers a person signed in from before, known again by a signed cookie.

The cookie lets nobody in. It only says that wrong passwords from here are counted apart.
"""

from typing import Any

from django.conf import settings
from django.core import signing
from django.http import HttpRequest, HttpResponseBase
from django.utils.crypto import get_random_string, salted_hmac

COOKIE = "__Host-known_browser" if settings.HTTPS else "known_browser"
SALT = "maker.accounts.browsers"
KEPT_SECONDS = 365 * 24 * 60 * 60
MOST_PEOPLE = 10


def known_browser(request: HttpRequest, account: str) -> str:
    """Return the name of this browser if this account was signed in to from it, else nothing."""
    name, people = _read(request)
    return name if _mark(account) in people else ""


def remember_browser(request: HttpRequest, response: HttpResponseBase, account: str) -> None:
    """Know this browser again the next time this account is signed in to."""
    name, people = _read(request)
    mark = _mark(account)
    people = [*(one for one in people if one != mark), mark][-MOST_PEOPLE:]
    response.set_cookie(
        COOKIE,
        signing.dumps([name or get_random_string(22), people], salt=SALT),
        max_age=KEPT_SECONDS,
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
    )


def _read(request: HttpRequest) -> tuple[str, list[str]]:
    try:
        kept: Any = signing.loads(request.COOKIES.get(COOKIE, ""), salt=SALT, max_age=KEPT_SECONDS)
    except signing.BadSignature:
        return "", []
    return kept[0], kept[1]


def _mark(account: str) -> str:
    return salted_hmac(SALT, account, algorithm="sha256").hexdigest()[:20]
