"""The first visit of a phone, before it trusts the certificate: a few plain pages without HTTPS.

A WSGI application of its own, without the database: it hands out what is not secret (the
authority's certificate and how to trust it) and sends everything else to the HTTPS address.
"""

import os
from collections.abc import Callable, Iterable
from functools import cache
from pathlib import Path
from typing import Any

from django.template import Context, Engine

from maker.phone.certificates import authority_file, fingerprint

ROOT = Path(__file__).resolve().parents[2]
CERTIFICATE = "/pleat-and-penny.crt"
CERTIFICATE_TYPE = "application/x-x509-ca-cert"
TYPES = {".css": "text/css", ".svg": "image/svg+xml", ".woff2": "font/woff2"}
HEADERS = [
    (
        "Content-Security-Policy",
        "default-src 'none'; style-src 'self'; img-src 'self'; font-src 'self'; "
        "base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
    ),
    ("X-Content-Type-Options", "nosniff"),
    ("Referrer-Policy", "no-referrer"),
    ("Cache-Control", "no-store"),
]

StartResponse = Callable[[str, list[tuple[str, str]]], Any]


def application(environ: dict[str, Any], start_response: StartResponse) -> Iterable[bytes]:
    """Answer one request."""
    method, path = environ["REQUEST_METHOD"], environ.get("PATH_INFO", "/")
    if method not in ("GET", "HEAD"):
        return _answer(start_response, "405 Method Not Allowed", [("Allow", "GET, HEAD")], b"")
    if path == "/":
        kind = [("Content-Type", "text/html; charset=utf-8")]
        return _answer(start_response, "200 OK", kind, _page())
    if path == CERTIFICATE:
        kind = [
            ("Content-Type", CERTIFICATE_TYPE),
            ("Content-Disposition", f'attachment; filename="{CERTIFICATE[1:]}"'),
        ]
        return _answer(start_response, "200 OK", kind, _authority().read_bytes())
    if path in _files():
        file = _files()[path]
        kind = [("Content-Type", TYPES[file.suffix])]
        return _answer(start_response, "200 OK", kind, file.read_bytes())
    # as the browser wrote it: what the server has decoded could break the header
    wanted = str(environ.get("RAW_URI", "/"))
    there = _address() + (wanted if wanted.startswith("/") else "/")
    return _answer(start_response, "302 Found", [("Location", there)], b"")


def _answer(
    start_response: StartResponse, status: str, headers: list[tuple[str, str]], body: bytes
) -> list[bytes]:
    start_response(status, [*headers, ("Content-Length", str(len(body))), *HEADERS])
    return [body]


def _page() -> bytes:
    context = {
        "address": _address(),
        "certificate": CERTIFICATE,
        "fingerprint": fingerprint(_authority()),
    }
    page = _engine().get_template("maker/phone/first_visit.html").render(Context(context))
    return page.encode()


@cache
def _engine() -> Engine:
    return Engine(dirs=[str(ROOT / "templates")])


@cache
def _files() -> dict[str, Path]:
    found = {}
    for folder in ("css", "fonts", "img"):
        for file in (ROOT / "static" / folder).iterdir():
            if file.suffix in TYPES:
                found[f"/static/{folder}/{file.name}"] = file
    return found


def _address() -> str:
    return os.environ["PLEAT_ADDRESS"]


def _authority() -> Path:
    return authority_file(Path(os.environ.get("DATA_DIR") or ROOT / "var"))
