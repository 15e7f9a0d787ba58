"""A limit for how long a request may take: whoever waits gets a page, and nothing is half saved.

gunicorn's own `timeout` looks at a process, and one with threads says that it lives whatever one of
its requests is at. So a thread of this process watches the requests. At the limit it raises
`TookTooLong` in the thread of the request (`PyThreadState_SetAsyncExc`, as the time limits of
task queues do), and ends a question the database is still at. On its way up the exception takes
every open transaction back, and the connection is not used again.

A thread that is deep in a library hears nothing. After some seconds more the process lets its other
requests end, answers what hangs by itself, and goes; gunicorn starts another one. With the
process go its connections, and with them what was not committed.
"""

import ctypes
import logging
import os
import signal
import socket
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from typing import Any, TypeVar

from django.conf import settings
from django.db import Error, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.http import HttpRequest, HttpResponse

from maker.troubles.kinds import TOOK_TOO_LONG, TookTooLong
from maker.troubles.views import trouble_page

logger = logging.getLogger("maker.troubles")
View = TypeVar("View", bound=Callable[..., Any])

# libraries catch exceptions for reasons of their own: said again so often
SAY_AGAIN_S = 1.0
# a thread that has not heard by then hears nothing
DEAF_AFTER_S = 5.0
# what else this process is at may end
OTHERS_END_WITHIN_S = 10.0
FOR_EVER = float("inf")
# so long after its time a request has its answer for sure
LONGEST_AFTER_S = DEAF_AFTER_S + OTHERS_END_WITHIN_S + 2.0
# said in the environ where heavy pages are handed over: until when somebody waits, by the steady
# clock; and that it ended before the app was asked
WAITED_FOR_UNTIL, ENDED_AS = "pleat.waited_for_until", "pleat.ended_as"


def takes_its_time(view: View) -> View:
    """Let a view take as long as it needs: whole files in and out, backups."""
    view.takes_its_time = True  # type: ignore[attr-defined] # read by the middleware
    return view


@dataclass(eq=False, slots=True)
class Watched:
    """A request under way: its thread, until when it may run, and what it was told."""

    thread: int
    until: float
    was_sent: bool
    wrapper: BaseDatabaseWrapper
    link: socket.socket | None
    told_at: float = 0.0
    is_over: bool = False


@dataclass(slots=True)
class Watcher:
    """The thread that looks at all requests of this process."""

    watched: set[Watched] = field(default_factory=set)
    lock: threading.Lock = field(default_factory=threading.Lock)
    looks_at: float = FOR_EVER
    thread: threading.Thread | None = None
    changed: threading.Condition = field(init=False)

    def __post_init__(self) -> None:
        self.changed = threading.Condition(self.lock)

    def add(self, one: Watched) -> None:
        """Watch a request from now on."""
        with self.changed:
            self.watched.add(one)
            if self.thread is None:
                # not before the first request: a thread does not live through gunicorn's fork
                self.thread = threading.Thread(target=self._run, name="time limit", daemon=True)
                self.thread.start()
            if one.until < self.looks_at:
                self.changed.notify()

    def remove(self, one: Watched) -> None:
        """Tell a request nothing any more; what it was told and has not heard is taken back.

        Here the exception may still come. It must not leave the lock taken: so this is the bare
        lock, which Python enters in one step, and not the condition around it.
        """
        with self.lock:
            one.is_over = True
            self.watched.discard(one)
            if one.told_at:
                _raise_in(one.thread, None)

    def lift(self, one: Watched) -> None:
        """Let a request run for ever."""
        with self.lock:
            one.until = FOR_EVER

    def _run(self) -> None:
        with self.changed:
            while True:
                now = time.monotonic()
                deaf = [one for one in self.watched if now >= one.until + DEAF_AFTER_S]
                if deaf:
                    break
                for one in self.watched:
                    if now >= max(one.until, one.told_at + SAY_AGAIN_S):
                        one.told_at = now
                        _tell(one)
                self.looks_at = min(
                    (max(one.until, one.told_at + SAY_AGAIN_S) for one in self.watched),
                    default=FOR_EVER,
                )
                self.changed.wait(
                    None if self.looks_at == FOR_EVER else max(self.looks_at - now, 0.0)
                )
        self._replace_process(deaf)

    def _replace_process(self, deaf: list[Watched]) -> None:
        logger.error("a request did not stop after its time: this process is replaced")
        # gunicorn's word for: take nothing new, end what you are at
        os.kill(os.getpid(), signal.SIGTERM)
        until = time.monotonic() + OTHERS_END_WITHIN_S
        while time.monotonic() < until and any(one not in deaf for one in set(self.watched)):
            time.sleep(0.1)
        for one in deaf:
            if not one.is_over:
                _answer_for(one)
        logging.shutdown()
        os._exit(1)


def _raise_in(thread: int, kind: type[BaseException] | None) -> None:
    ctypes.pythonapi.PyThreadState_SetAsyncExc(
        ctypes.c_ulong(thread), ctypes.py_object(kind) if kind else None
    )


def _tell(one: Watched) -> None:
    _raise_in(one.thread, TookTooLong)
    if one.link is not None:
        # it may wait for a visitor who sends nothing
        with suppress(OSError):
            one.link.shutdown(socket.SHUT_RD)
    raw = one.wrapper.connection
    with suppress(Error, sqlite3.Error):
        if raw is None:
            return
        if one.wrapper.vendor == "sqlite":
            raw.interrupt()
        else:
            raw.cancel()


def _answer_for(one: Watched) -> None:
    """Send the page of the limit for a request that cannot do so itself any more."""
    if one.link is None:
        return
    page = trouble_page(TOOK_TOO_LONG, was_sent=one.was_sent)
    page["Content-Length"], page["Connection"] = str(len(page.content)), "close"
    page["X-Content-Type-Options"] = "nosniff"
    head = f"HTTP/1.1 {page.status_code} {page.reason_phrase}\r\n"
    head += "".join(f"{name}: {value}\r\n" for name, value in page.items())
    with suppress(OSError):
        one.link.settimeout(1.0)
        one.link.sendall(head.encode("latin-1") + b"\r\n" + page.content)
        one.link.shutdown(socket.SHUT_WR)


watcher = Watcher()


@contextmanager
def watching(environ: Mapping[str, Any], until: float) -> Iterator[Watched]:
    """Raise `TookTooLong` in this thread when the time, by the steady clock, is over."""
    one = Watched(
        thread=threading.get_ident(),
        until=until,
        was_sent=environ["REQUEST_METHOD"] == "POST",
        wrapper=connections["default"],
        link=environ.get("gunicorn.socket"),
    )
    watcher.add(one)
    try:
        yield one
    finally:
        try:
            watcher.remove(one)
        except TookTooLong:
            # in the middle of it; it is said once a second, so not again now
            watcher.remove(one)
            raise


def _drop_connections() -> None:
    """Use no connection again whose work was broken off somewhere; what it had open is undone."""
    for wrapper in connections.all(initialized_only=True):
        raw = wrapper.connection
        with suppress(Error, sqlite3.Error):
            if raw is not None:
                raw.close()
        del connections[wrapper.alias]


class TimeLimitMiddleware:
    """Stops a request at the limit of the installation, unless its view takes its time."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        was_sent = request.method == "POST"
        if trouble := request.META.get(ENDED_AS):
            return trouble_page(trouble, was_sent=was_sent)
        if not settings.REQUEST_SECONDS:
            return self.get_response(request)
        until = time.monotonic() + settings.REQUEST_SECONDS
        until = min(until, request.META.get(WAITED_FOR_UNTIL, until))
        one = None
        try:
            with watching(request.META, until) as one:
                request.watched = one  # type: ignore[attr-defined] # for `process_view`
                response = self.get_response(request)
        except TookTooLong:
            # told on the last step: what there was of an answer is gone
            response = trouble_page(TOOK_TOO_LONG, was_sent=was_sent)
        if one is not None and one.told_at:
            _drop_connections()
            if response.status_code >= 500:
                # whatever came of being broken off
                response = trouble_page(TOOK_TOO_LONG, was_sent=was_sent)
        return response

    def process_view(self, request: HttpRequest, view: Any, *unused: Any) -> None:
        """Lift the limit for what takes its time."""
        if getattr(view, "takes_its_time", False) and hasattr(request, "watched"):
            watcher.lift(request.watched)
