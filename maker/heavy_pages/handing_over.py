"""Hands heavy requests over to processes of their own, and takes them over there.

Python runs one thread of a process at a time: beside a PDF every page of that process waits. So
`start` keeps two servers of the same app. Visitors reach the first one only. What is heavy it
passes on through a socket in a folder that only this user may enter, and waits, which costs little.
The second one has a lower priority. Where it is not there, the first does all.
"""

import http.client
import io
import os
import socket
import threading
import time
from collections.abc import Callable, Iterable
from contextlib import closing
from typing import Any, Protocol

from django.conf import settings

from maker.heavy_pages.marks import HeavyAddresses
from maker.troubles.kinds import TOO_MUCH_AT_ONCE, TOOK_TOO_LONG, TookTooLong, Trouble
from maker.troubles.time_limit import (
    ENDED_AS,
    LONGEST_AFTER_S,
    WAITED_FOR_UNTIL,
    watching,
)

Environ = dict[str, Any]
Application = Callable[[Environ, Any], Iterable[bytes]]
# what `maker.setup.server` says to each of the two
PASSED_ON_TO, TAKES_OVER = "PLEAT_HEAVY_AT", "PLEAT_TAKES_OVER"
NOTE = "X-Pleat-Note"
# forms are small; what is larger is read and done where it comes in
MOST_BYTES_SENT = 512 * 1024
# of the threads of one process, so that others are left for light pages
MOST_AT_ONCE = 8
# RFC 9110, section 7.6.1: meant for one connection alone
_OF_ONE_CONNECTION = frozenset(
    ["connection", "keep-alive", "proxy-connection", "te", "transfer-encoding", "upgrade", "expect"]
)


class _StartResponse(Protocol):
    def __call__(self, status: str, headers: list[tuple[str, str]], /) -> Any: ...


class _Link(http.client.HTTPConnection):
    """HTTP through a socket of this machine."""

    def __init__(self, path: str, timeout: float | None) -> None:
        super().__init__("heavy", timeout=timeout)
        self.path = path

    def connect(self) -> None:
        self.sock = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self.sock.settimeout(self.timeout)
        self.sock.connect(self.path)


class HandsOver:
    """The app of the first server."""

    def __init__(self, app: Application, path: str) -> None:
        self.app, self.path = app, path
        self.addresses = HeavyAddresses()
        self.room = threading.BoundedSemaphore(MOST_AT_ONCE)

    def __call__(self, environ: Environ, start_response: _StartResponse) -> Iterable[bytes]:
        """Answer, or have it answered."""
        if not self.addresses.hold(
            environ["REQUEST_METHOD"], environ["PATH_INFO"], environ.get("QUERY_STRING", "")
        ):
            return self.app(environ, start_response)
        size = environ.get("CONTENT_LENGTH") or "0"
        if (
            "HTTP_TRANSFER_ENCODING" in environ
            or not size.isdecimal()
            or int(size) > MOST_BYTES_SENT
        ):
            return self.app(environ, start_response)
        return self._have_answered(environ, start_response, int(size))

    def _have_answered(
        self, environ: Environ, start_response: _StartResponse, size: int
    ) -> Iterable[bytes]:
        if not self.room.acquire(blocking=False):
            return self._say(TOO_MUCH_AT_ONCE, environ, start_response)
        seconds = settings.REQUEST_SECONDS
        until = time.monotonic() + seconds if seconds else float("inf")
        patience = seconds + LONGEST_AFTER_S if seconds else None
        try:
            # beside the other server's own limit: a visitor may not send what he announced
            with watching(environ, until + LONGEST_AFTER_S):
                body = environ["wsgi.input"].read(size) if size else None
                with closing(_Link(self.path, patience)) as link:
                    if is_there := _reached(link):
                        status, headers, content = _answer_of(link, environ, body, until)
        except (TookTooLong, TimeoutError, ConnectionError, http.client.HTTPException):
            return self._say(TOOK_TOO_LONG, environ, start_response)
        finally:
            self.room.release()
        if not is_there:
            return self._do_it_here(environ, start_response, body)
        start_response(status, headers)
        return [content]

    def _do_it_here(
        self, environ: Environ, start_response: _StartResponse, body: bytes | None
    ) -> Iterable[bytes]:
        if body is not None:
            environ["wsgi.input"] = io.BytesIO(body)
        return self.app(environ, start_response)

    def _say(
        self, trouble: Trouble, environ: Environ, start_response: _StartResponse
    ) -> Iterable[bytes]:
        environ[ENDED_AS] = trouble
        return self.app(environ, start_response)


def _reached(link: _Link) -> bool:
    try:
        link.connect()
    except (ConnectionRefusedError, FileNotFoundError):
        return False
    return True


def _answer_of(
    link: _Link, environ: Environ, body: bytes | None, until: float
) -> tuple[str, list[tuple[str, str]], bytes]:
    link.putrequest(
        environ["REQUEST_METHOD"], _address(environ), skip_host=True, skip_accept_encoding=True
    )
    for name, value in environ.items():
        if name.startswith("HTTP_"):
            header = name[5:].replace("_", "-").title()
            if header.lower() not in _OF_ONE_CONNECTION and header != NOTE:
                link.putheader(header, value.encode("latin-1"))
    if content_type := environ.get("CONTENT_TYPE"):
        link.putheader("Content-Type", content_type)
    link.putheader("Content-Length", str(len(body or b"")))
    link.putheader(NOTE, f"{until} {environ['wsgi.url_scheme']} {environ['REMOTE_ADDR']}")
    link.putheader("Connection", "close")
    link.endheaders(body)
    answer = link.getresponse()
    headers = [
        (name, value)
        for name, value in answer.getheaders()
        if name.lower() not in _OF_ONE_CONNECTION | {"date", "server"}
    ]
    return f"{answer.status} {answer.reason}", headers, answer.read()


def _address(environ: Environ) -> str:
    said: str = environ.get("RAW_URI", "")
    return said if said.startswith("/") else "/"


class TakesOver:
    """The app of the second server: everything is as if the visitor had come here."""

    def __init__(self, app: Application) -> None:
        self.app = app

    def __call__(self, environ: Environ, start_response: _StartResponse) -> Iterable[bytes]:
        """Answer what was handed over."""
        until, scheme, address = environ.pop("HTTP_X_PLEAT_NOTE").split(" ", 2)
        environ[WAITED_FOR_UNTIL] = float(until)
        environ["wsgi.url_scheme"], environ["REMOTE_ADDR"] = scheme, address
        return self.app(environ, start_response)


def arranged(app: Application) -> Application:
    """Return the app as this process has to run it."""
    if path := os.environ.get(PASSED_ON_TO):
        return HandsOver(app, path)
    return TakesOver(app) if os.environ.get(TAKES_OVER) else app
