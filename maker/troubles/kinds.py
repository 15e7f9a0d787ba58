"""Tells a full disk from a damaged, missing, busy or locked database by the error it ends in."""

import errno
import os
from dataclasses import dataclass
from pathlib import Path

from django.db import DatabaseError, InterfaceError, connection


@dataclass(frozen=True, slots=True)
class Trouble:
    """One thing that can go wrong below the program; no sentence names a path or a password."""

    name: str
    status: int
    heading: str
    what: str
    remedy: str
    # seconds until it is worth trying again; 0: somebody must do something first
    retry_s: int = 0


DISK_FULL = Trouble(
    name="disk full",
    status=507,
    heading="The disk is full, nothing was saved",
    what="There is no room left on the disk that holds the workshop's data. Pages still open.",
    remedy="Delete or move files you do not need from that disk, then send it again.",
)
READ_ONLY = Trouble(
    name="read-only",
    status=503,
    heading="The data folder can't be written, nothing was saved",
    what="The folder with the workshop's data, or the disk it is on, only lets itself be read.",
    remedy="Allow the program to write to the data folder, then send it again.",
)
DAMAGED = Trouble(
    name="damaged",
    status=503,
    heading="The database is damaged",
    what="A part of the workshop's data can't be read. Nothing was changed.",
    remedy="Stop the program and restore a backup. Keep the damaged file until you have.",
)
AWAY = Trouble(
    name="away",
    status=503,
    heading="The database does not answer",
    what="The program can't reach the workshop's data. Nothing was changed.",
    remedy="Start the database server or put the data folder back. Nothing else is needed.",
    retry_s=10,
)
BUSY = Trouble(
    name="busy",
    status=503,
    heading="The database is busy, nothing was saved",
    what="Something else has been saving for too long, and this had to give way.",
    remedy="Wait a moment, then send it again.",
    retry_s=10,
)
TOOK_TOO_LONG = Trouble(
    name="took too long",
    status=503,
    heading="This took too long and was stopped",
    what="The machine is busy, or it was too much at once. Nothing is half saved.",
    remedy="Look whether your change is there before you send it again, or ask for less at once.",
)
TOO_MUCH_AT_ONCE = Trouble(
    name="too much at once",
    status=503,
    heading="Too much is being worked out right now",
    what="Several large pages or papers are being made at this moment. Nothing was changed.",
    remedy="Wait a moment, then try again.",
    retry_s=5,
)
TOO_FAST = Trouble(
    name="too fast",
    status=429,
    heading="Too much was sent in one minute, this was not saved",
    what="More was sent under your name within one minute than a person can enter.",
    remedy="Wait a minute, then send it again. If it was not you, change your password.",
    retry_s=60,
)
UNPREPARED = Trouble(
    name="unprepared",
    status=503,
    heading="The database does not fit this version",
    what="The database lacks what this version of the program keeps in it. Nothing was changed.",
    remedy="Stop the program, then start it with “python3 manage.py start”.",
)
CLOCK_BACK = Trouble(
    name="clock set back",
    status=503,
    heading="The clock was set back, nothing was saved",
    what="The clock of this machine was set back by more than an hour while the program ran.",
    remedy="Set the clock right. If it is right now, stop the program and start it again.",
)


class DatabaseFileGone(DatabaseError):
    """The database file is not where it was."""


class DatabaseDamaged(DatabaseError):
    """The database file was read, and its pages do not fit together."""


class TookTooLong(Exception):
    """The request is over its time; raised in its thread by another one, wherever that is."""


class ClockSetBack(Exception):
    """Whatever is saved now would get a date that is over already."""


# https://www.sqlite.org/rescode.html: the lower byte of a code is its family
_SQLITE = {
    "SQLITE_FULL": DISK_FULL,
    "SQLITE_READONLY": READ_ONLY,
    "SQLITE_PERM": READ_ONLY,
    "SQLITE_CORRUPT": DAMAGED,
    "SQLITE_NOTADB": DAMAGED,
    "SQLITE_CANTOPEN": AWAY,
    "SQLITE_BUSY": BUSY,
    "SQLITE_LOCKED": BUSY,
    "SQLITE_INTERRUPT": TOOK_TOO_LONG,
}
# a file of the database could not be made longer
_SQLITE_GROWING = ("SQLITE_IOERR_WRITE", "SQLITE_IOERR_SHMSIZE", "SQLITE_IOERR_SHMOPEN")

# PostgreSQL's documentation, appendix A: error codes
_POSTGRES = {
    "53100": DISK_FULL,
    "25006": READ_ONLY,
    "XX001": DAMAGED,
    "XX002": DAMAGED,
    "42P01": UNPREPARED,
    "42703": UNPREPARED,
    "53300": BUSY,
    "55P03": BUSY,
    "57014": TOOK_TOO_LONG,
}
# connection exceptions; shutting down or starting up; who may sign in; no such database
_POSTGRES_AWAY = ("08", "57P", "28", "3D")

_OF_FILES = {
    errno.ENOSPC: DISK_FULL,
    errno.EDQUOT: DISK_FULL,
    errno.EFBIG: DISK_FULL,
    errno.EROFS: READ_ONLY,
}


def trouble_behind(error: BaseException | None) -> Trouble | None:
    """Return what befell the machine, if that is what this error comes from; else it is a bug."""
    seen: set[int] = set()
    while error is not None and id(error) not in seen:
        seen.add(id(error))
        if found := _named(error):
            return found
        error = error.__cause__ or error.__context__
    return None


def _named(error: BaseException) -> Trouble | None:
    if isinstance(error, ClockSetBack):
        return CLOCK_BACK
    if isinstance(error, TookTooLong):
        return TOOK_TOO_LONG
    if isinstance(error, DatabaseFileGone):
        return AWAY
    if isinstance(error, DatabaseDamaged):
        return DAMAGED
    if isinstance(error, DatabaseError | InterfaceError):
        return _of_database(error)
    if isinstance(error, OSError):
        # Python's own words when it can write to no folder for temporary files
        if str(error.args[-1:]).startswith("('No usable temporary directory"):
            return DISK_FULL
        return _OF_FILES.get(error.errno or 0)
    return None


def _of_database(error: DatabaseError | InterfaceError) -> Trouble | None:
    inner = error.__cause__ or error
    name = getattr(inner, "sqlite_errorname", None)
    if name is not None:
        return _of_sqlite(str(name), str(inner))
    if connection.vendor != "postgresql":
        return None
    state = getattr(inner, "sqlstate", None)
    if state is None:
        # psycopg gives no code to what never reached a server, or lost it
        return AWAY if type(inner).__name__ in ("OperationalError", "InterfaceError") else None
    if state.startswith(_POSTGRES_AWAY):
        return AWAY
    return _POSTGRES.get(state)


def _of_sqlite(name: str, words: str) -> Trouble | None:
    family = "_".join(name.split("_")[:2])
    if name == "SQLITE_READONLY_DBMOVED":
        return AWAY
    if family == "SQLITE_CANTOPEN" and _is_locked():
        return READ_ONLY
    if name == "SQLITE_ERROR" and words.startswith(("no such table", "no such column")):
        return UNPREPARED
    if name in _SQLITE_GROWING:
        return DISK_FULL
    if family == "SQLITE_IOERR":
        # told by the disk itself: SQLite asks for bytes of a file and does not get them
        return DAMAGED if database_file_exists() else AWAY
    return _SQLITE.get(family)


def _is_locked() -> bool:
    path = database_path()
    return path is not None and path.exists() and not os.access(path.parent, os.W_OK)


def database_path() -> Path | None:
    """Return where SQLite keeps everything; None on a database server."""
    name = str(connection.settings_dict["NAME"])
    if connection.vendor != "sqlite" or name.startswith((":memory:", "file:")):
        return None
    return Path(name)


def database_file_exists() -> bool:
    """Say whether SQLite's file is where it belongs."""
    path = database_path()
    return path is None or path.exists()
