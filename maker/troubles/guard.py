"""Looks before each request whether database and clock are still those it has worked with.

SQLite goes on reading and writing a file that was deleted or replaced, where nobody ever finds
it again, and opens an empty one in its place. A machine whose clock is set back gives every
receipt a date that is over.
"""

import os
import shutil
import sys
import time
from collections.abc import Callable

from django.conf import settings
from django.db import connection
from django.http import HttpRequest, HttpResponse

from maker.troubles.kinds import ClockSetBack, DatabaseFileGone, database_path

MOST_SECONDS_BACK = 3600
ENOUGH_FOR_BYTE_CODE = 50_000_000
_WRITES_NONE = sys.dont_write_bytecode
FileIdentity = tuple[int, int]


def database_file() -> FileIdentity | None:
    """Return which file SQLite's database is now; None on a server. Errors: DatabaseFileGone."""
    path = database_path()
    if path is None:
        return None
    try:
        found = os.stat(path)
    except (FileNotFoundError, NotADirectoryError) as error:
        raise DatabaseFileGone("The database file is not where it was.") from error
    return found.st_dev, found.st_ino


def drop_connection_to_other_file() -> None:
    """Make the next query open the file that is there now. Errors: DatabaseFileGone."""
    try:
        now = database_file()
    except DatabaseFileGone:
        connection.close()
        raise
    if connection.connection is not None and getattr(connection, "opened_file", now) != now:
        connection.close()
    connection.opened_file = now  # type: ignore[attr-defined] # a note of ours on the wrapper


def write_no_half_byte_code() -> None:
    """Keep Python from leaving half a file of byte code where a disk is full.

    Before 3.12.8 it does not notice, and the next start ends in “marshal data too short”
    (github.com/python/cpython/issues/126606).
    """
    is_nearly_full = shutil.disk_usage(settings.BASE_DIR).free < ENOUGH_FOR_BYTE_CODE
    sys.dont_write_bytecode = _WRITES_NONE or is_nearly_full


class SteadyClock:
    """Notices that the machine's clock was set back, beside a clock nobody can set."""

    def __init__(
        self,
        wall: Callable[[], float] = time.time,
        steady: Callable[[], float] = lambda: time.clock_gettime(time.CLOCK_BOOTTIME),
    ) -> None:
        self.wall, self.steady = wall, steady
        self.ahead = wall() - steady()

    def seconds_back(self) -> float:
        """Return how far the clock was set back since it was furthest on."""
        ahead = self.wall() - self.steady()
        self.ahead = max(self.ahead, ahead)
        return self.ahead - ahead

    def was_set_back(self) -> bool:
        """Say whether dates written now would be wrong."""
        return self.seconds_back() > MOST_SECONDS_BACK


clock = SteadyClock()


class GuardMiddleware:
    """Refuses what would be lost: any page without its database, any post with a wrong clock."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        write_no_half_byte_code()
        if request.path != "/health/":
            drop_connection_to_other_file()
            if clock.was_set_back() and request.method not in ("GET", "HEAD", "OPTIONS"):
                raise ClockSetBack
        return self.get_response(request)
