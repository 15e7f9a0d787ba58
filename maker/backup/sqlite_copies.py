"""A whole copy of an SQLite database, and putting one in the place of what is there.

Never by copying the file: what was saved last is in another file beside it (sqlite.org,
"Write-Ahead Logging"), so a copy of the one lacks the newest rows, or is torn.
"""

import os
import shutil
import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

from maker.backup.archive import BackupDamaged, BackupNotWritten
from maker.calc.refusal import Refusal

KIND = "sqlite"
FILES_BESIDE = ("-wal", "-shm", "-journal")
NO_DATABASE = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)
PATIENCE_S = 30.0


class NotRestored(Refusal):
    """The copy could not be put in the place of what is there; nothing was changed."""


def place_of(database: dict[str, Any]) -> Path:
    """Return where the database lies."""
    return Path(database["NAME"])


def holds_data(database: dict[str, Any], tables: tuple[str, ...]) -> bool:
    """Say whether any of the tables has a row, or whether what is there cannot be read."""
    path = place_of(database)
    if not path.exists() or not path.stat().st_size:
        return False
    try:
        with closing(sqlite3.connect(path, timeout=PATIENCE_S)) as connection:
            known = _names(connection, "table")
            return any(
                connection.execute(f'SELECT 1 FROM "{table}" LIMIT 1').fetchone()  # noqa: S608 - names of ours
                for table in tables
                if table in known
            )
    except sqlite3.DatabaseError:
        return True


def write_copy(database: dict[str, Any], target: Path) -> None:
    """Write all of it as it is at one moment; others read and write meanwhile."""
    try:
        with closing(sqlite3.connect(place_of(database), timeout=PATIENCE_S)) as connection:
            target.touch(mode=0o600)
            # in one step: it sees one moment, and nobody's writing makes it begin again
            connection.execute("VACUUM INTO ?", [str(target)])
    except sqlite3.DatabaseError as error:
        raise BackupNotWritten(
            f"The database could not be copied: {error}.", where=str(place_of(database))
        ) from error


def check_copy(path: Path) -> tuple[str, ...]:
    """Return the migrations of a copy that is sound; refused when it is not, or not ours."""
    try:
        with closing(sqlite3.connect(path)) as connection:
            (verdict,) = connection.execute("PRAGMA integrity_check(1)").fetchone()
            if verdict != "ok":
                raise BackupDamaged(f"The database in it is damaged: {verdict}", where=path.name)
            # Django makes neither, and they would run with the next save
            if _names(connection, "trigger") or _names(connection, "view"):
                raise BackupDamaged("The database in it is not one of ours.", where=path.name)
            rows = connection.execute("SELECT app, name FROM django_migrations ORDER BY app, name")
            return tuple(f"{app}.{name}" for app, name in rows)
    except sqlite3.DatabaseError as error:
        raise BackupDamaged(f"The database in it is damaged: {error}.", where=path.name) from error


def empty(path: Path, table: str) -> None:
    """Take every row out of one table of a copy."""
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute(f'DELETE FROM "{table}"')  # noqa: S608 - a name of ours


def is_damaged(database: dict[str, Any]) -> bool:
    """Say whether the database that is there cannot be read whole."""
    try:
        with closing(sqlite3.connect(place_of(database), timeout=PATIENCE_S)) as connection:
            (verdict,) = connection.execute("PRAGMA integrity_check(1)").fetchone()
    except sqlite3.DatabaseError as error:
        if error.sqlite_errorcode in NO_DATABASE:
            return True
        raise
    return bool(verdict != "ok")


def put_in_place(database: dict[str, Any], staged: Path) -> None:
    """Make the database what the staged one is, whole or not at all, also when killed.

    Copied page by page in one transaction of the database that is there: whoever has it open goes
    on with the new one, and one that was interrupted is undone when it is opened next.
    """
    path = place_of(database)
    try:
        with (
            closing(sqlite3.connect(staged)) as source,
            closing(sqlite3.connect(path, timeout=1)) as target,
        ):
            path.chmod(0o600)
            source.backup(target, pages=-1, progress=_give_up_after(PATIENCE_S), sleep=0.1)
    except sqlite3.DatabaseError as error:
        if error.sqlite_errorcode in NO_DATABASE:
            _put_instead(path, staged)
            return
        raise NotRestored(
            f"The database could not be written ({error}). Nothing was changed.", where=str(path)
        ) from error


def _give_up_after(seconds: float) -> Callable[[int, int, int], None]:
    end = time.monotonic() + seconds

    def look(status: int, remaining: int, total: int) -> None:
        if status in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED) and time.monotonic() > end:
            raise NotRestored(
                "Somebody kept writing into the database, so nothing was restored. "
                "Stop the program and try again."
            )

    return look


def put_aside(database: dict[str, Any], folder: Path) -> None:
    """Keep the files of a database that cannot be read as they are."""
    path = place_of(database)
    folder.mkdir(mode=0o700)
    for file in (path, *(path.with_name(path.name + end) for end in FILES_BESIDE)):
        if file.exists():
            shutil.copy2(file, folder)
            (folder / file.name).chmod(0o600)


def _put_instead(path: Path, staged: Path) -> None:
    """Put the staged one where a file lies that is not a database any more."""
    for end in FILES_BESIDE:
        path.with_name(path.name + end).unlink(missing_ok=True)
    os.replace(staged, path)


def _names(connection: sqlite3.Connection, kind: str) -> set[str]:
    rows = connection.execute("SELECT name FROM sqlite_master WHERE type = ?", [kind])
    return {name for (name,) in rows}
