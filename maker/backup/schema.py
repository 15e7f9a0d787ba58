"""Which changes of the database this program knows, and making those that wait in one go."""

import os
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Any
from urllib.parse import quote

from django.conf import settings
from django.core.management import call_command
from django.core.management.commands.migrate import Command as MigrateCommand
from django.db import connection, transaction
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

from maker.calc.refusal import Refusal


class OlderNotBroughtUp(Refusal):
    """The copy is of an older version and could not be brought up to this one."""


def applied_changes() -> tuple[str, ...]:
    """Return the changes that were made in the database, each as `app.name`."""
    applied = MigrationRecorder(connection).applied_migrations()
    return tuple(sorted(f"{app}.{name}" for app, name in applied))


def unknown_changes(applied: Iterable[str]) -> list[str]:
    """Return those of the changes that only a newer program can have made."""
    loader = MigrationLoader(None)
    known = set(loader.disk_migrations)
    for migration in loader.disk_migrations.values():
        known |= {(app, name) for app, name in migration.replaces}
    names = {f"{app}.{name}" for app, name in known}
    return sorted(
        change
        for change in applied
        if change not in names and change.partition(".")[0] in loader.migrated_apps
    )


def lacks_changes(applied: Iterable[str]) -> bool:
    """Say whether this program knows changes that are not among these."""
    loader = MigrationLoader(None)
    names = {f"{app}.{name}" for app, name in loader.graph.nodes}
    return bool(names - set(applied))


def changes_wait() -> bool:
    """Say whether this program needs changes that the database does not have."""
    executor = MigrationExecutor(connection)
    return bool(executor.migration_plan(executor.loader.graph.leaf_nodes()))


class _Migrate(MigrateCommand):
    """Django's command; looks after each change whether every row still points to one."""

    def migration_progress_callback(
        self, action: str, migration: Any = None, fake: bool = False
    ) -> None:
        # PostgreSQL alters no table with checks that wait for the end of the transaction
        if action == "apply_success" and connection.vendor == "postgresql":
            connection.check_constraints()


def make_waiting_changes() -> None:
    """Make all of them in one transaction: the database has all afterwards, or none."""
    # SQLite changes tables only while this is off, and does not turn it off inside a transaction;
    # the checks are made at the end of each change
    with connection.constraint_checks_disabled(), transaction.atomic():
        call_command(_Migrate(), interactive=False, verbosity=0)


def bring_up(path: Path) -> None:
    """Bring the SQLite database of an older copy up to this program."""
    done = subprocess.run(  # noqa: S603 - a command of ours
        [sys.executable, str(settings.BASE_DIR / "manage.py"), "migrate", "--no-input", "-v0"],
        env={
            **os.environ,
            "DATABASE_URL": f"sqlite:///{quote(str(path))}",
            "DATA_DIR": str(settings.DATA_DIR),
            "SECRET_KEY": settings.SECRET_KEY,
        },
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        last = (done.stderr.strip().splitlines() or ["no reason given"])[-1]
        raise OlderNotBroughtUp(
            "This backup is of an older version, and bringing it up to this one failed. Nothing "
            f"was changed. Restore it with the version it was made by. ({last[:200]})"
        )
