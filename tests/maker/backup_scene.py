"""Installations of their own for the tests of copies: commands, rows, pages."""

import json
import sqlite3
import subprocess
import sys
from collections.abc import Mapping
from contextlib import closing
from pathlib import Path
from typing import Any

from django.db import connection
from django.db.migrations.loader import MigrationLoader

from maker.setup.place import ROOT
from tests.maker.setup_scene import clean_env
from tests.patience import PATIENCE_S

# who was here, and what is written down after a copy was made
OF_THE_MOMENT = {"maker_session", "maker_installation", "maker_event"}


def manage(data: Path, *words: str, **settings: str) -> subprocess.CompletedProcess[str]:
    """Run a command of manage.py on the data in this folder."""
    return subprocess.run(
        [sys.executable, str(ROOT / "manage.py"), *words],
        env=clean_env(DATA_DIR=str(data), **settings),
        capture_output=True,
        text=True,
        check=False,
        timeout=PATIENCE_S,
    )


def answer_of(done: subprocess.CompletedProcess[str]) -> dict[str, Any]:
    """Return what a command printed; that it went well is part of it."""
    assert done.returncode == 0, done.stdout + done.stderr
    return dict(json.loads(done.stdout))


def refusal_of(done: subprocess.CompletedProcess[str]) -> str:
    """Return why a command refused, in one object and with nothing on standard error."""
    assert done.returncode == 1, done.stdout + done.stderr
    assert done.stderr == ""
    return str(json.loads(done.stdout)["error"]["message"])


def before_copies() -> str:
    """Return the last change of the database that knows nothing of copies."""
    changes = MigrationLoader(None).disk_migrations
    (first,) = (name for app, name in changes if app == "maker" and name.endswith("_installation"))
    (before,) = (name for app, name in changes["maker", first].dependencies if app == "maker")
    return str(before)


def rows_of(path: Path) -> dict[str, list[Any]]:
    """Return every row of every table of an SQLite database, in one order."""
    with closing(sqlite3.connect(path)) as database:
        names = database.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
        return {
            name: sorted(database.execute(f'SELECT * FROM "{name}"'), key=repr)  # noqa: S608
            for name in sorted(name for (name,) in names)
            if name not in OF_THE_MOMENT
        }


def rows_here() -> Mapping[str, list[Any]]:
    """Return every row of every table of the tests' own database."""
    with connection.cursor() as cursor:
        found = {}
        for name in sorted(connection.introspection.table_names(cursor)):
            if name not in OF_THE_MOMENT:
                cursor.execute(f"SELECT * FROM {connection.ops.quote_name(name)}")  # noqa: S608
                found[name] = sorted(cursor.fetchall(), key=repr)
    return found
