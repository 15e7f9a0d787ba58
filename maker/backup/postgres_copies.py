"""A whole copy of a PostgreSQL database by its own programs, and putting one in the place of it."""

# ruff: noqa: S603 - every command is a list built here, and none goes through a shell

import os
import subprocess
from pathlib import Path
from typing import Any

from django.db import connection
from django.db.backends.postgresql.client import DatabaseClient

from maker.backup.archive import BackupDamaged, BackupNotWritten
from maker.calc.refusal import Refusal
from maker.setup.machine import postgres_program

KIND = "postgresql"
PSQL = "psql"


class ProgramMissing(Refusal):
    """PostgreSQL's own programs are not on this machine."""


class NotRestored(Refusal):
    """The copy did not come in: refused by the server, or psql was killed. Old or new, whole."""


def holds_data(database: dict[str, Any], tables: tuple[str, ...]) -> bool:
    """Say whether any of the tables has a row."""
    with connection.cursor() as cursor:
        known = set(connection.introspection.table_names(cursor))
        for table in tables:
            if table in known:
                cursor.execute(f"SELECT 1 FROM {connection.ops.quote_name(table)} LIMIT 1")  # noqa: S608 - names of ours
                if cursor.fetchone():
                    return True
    return False


def write_copy(database: dict[str, Any], target: Path) -> None:
    """Write all of it as it is at one moment; others read and write meanwhile."""
    target.touch(mode=0o600)
    words = ["--format=custom", "--compress=0", "--no-owner", "--no-privileges"]
    tables = [f'--table="{name}"' for name in _tables()]
    problem = _run(database, "pg_dump", *words, *tables, f"--file={target}")
    if problem:
        raise BackupNotWritten(f"The database could not be copied: {problem}.")


def check_copy(path: Path) -> None:
    """Read a copy from end to end; refused when it is not sound."""
    problem = _run(None, "pg_restore", "--file=/dev/null", str(path))
    if problem:
        raise BackupDamaged(f"The database in it is damaged: {problem}.", where=path.name)


def put_in_place(database: dict[str, Any], staged: Path) -> None:
    """Make the database what the copy is, whole or not at all, also when killed.

    One transaction of the server: our tables go, those of the copy come. `pg_restore --clean` would
    leave tables the copy does not know, and newer ones may lean on older ones.
    """
    script = staged.with_suffix(".sql")
    problem = _run(
        None, "pg_restore", "--no-owner", "--no-privileges", f"--file={script}", str(staged)
    )
    if problem:
        raise BackupDamaged(f"The database in it is damaged: {problem}.", where=staged.name)
    quote = connection.ops.quote_name
    first = [f"DROP TABLE IF EXISTS {quote(name)} CASCADE" for name in _tables()]
    quiet = ("SET client_min_messages = warning", "SET lock_timeout = '30s'")
    commands = [f"--command={text}" for text in (*quiet, *first)]
    # a transaction left open here would be waited for without an end
    connection.close()
    options = ["--no-psqlrc", "--quiet", "--single-transaction", "--set=ON_ERROR_STOP=1"]
    problem = _run(database, PSQL, *options, *commands, f"--file={script}")
    script.unlink()
    if problem == f"{PSQL} was killed":
        # it may have been at its last word, and only the server knows
        raise NotRestored(
            f"Restoring was interrupted ({problem}): the data are the old or the restored ones, "
            "whole. Look which, and restore again if they are the old."
        )
    if problem:
        raise NotRestored(f"The server refused the backup ({problem}). Nothing was changed.")


def _tables() -> list[str]:
    with connection.cursor() as cursor:
        found = connection.introspection.get_table_list(cursor)
    return sorted(table.name for table in found if table.type == "t")


def _run(database: dict[str, Any] | None, name: str, *words: str) -> str:
    """Run one of PostgreSQL's programs, on a database if one is given; return its complaint."""
    program = postgres_program(name)
    if program is None:
        raise ProgramMissing(
            f"{name} is missing: run `sudo apt-get install -y postgresql-client`, then try again."
        )
    where: list[str] = []
    env: dict[str, str] = {}
    if database is not None:
        args, extra = DatabaseClient.settings_to_cmd_args_env({**database, "NAME": ""}, [])
        # its last word is the name of a database when none is given: ours follows
        where, env = [*args[1:-1], f"--dbname={database['NAME']}"], extra or {}
    done = subprocess.run(
        [program, *where, *words],
        env={**os.environ, **env},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode == 0:
        return ""
    if done.returncode < 0:
        return f"{name} was killed"
    lines = [line for line in done.stderr.splitlines() if line.strip()]
    worst = [line for line in lines if "error" in line.lower() or "fatal" in line.lower()] or lines
    return worst[0].rstrip(".") if worst else f"{name} ended with {done.returncode}"
