"""Looks at disk, database, slow work and clock; each finding has one sentence for people.

No sentence names a path, a size or a person: the page is open to whoever watches the machine.
"""

import shutil
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from django.apps import apps
from django.conf import settings
from django.db import DatabaseError, InterfaceError, OperationalError, connection
from django.db.models import Model
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from maker.backup.models import Installation
from maker.backup.showing import last_copy
from maker.slow_work.models import Worker
from maker.troubles.guard import clock, drop_connection_to_other_file
from maker.troubles.kinds import DISK_FULL, Trouble, database_path, trouble_behind

# a worker looks twice a second; what waits this long has none
WAITS_TOO_LONG = timedelta(minutes=1)
# SQLite's file is read whole while that takes a moment; of a larger one, the ends of each table.
READ_WHOLE_BYTES = 200_000_000


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing looked at, and what to do where it is not well."""

    name: str
    is_well: bool
    sentence: str


def look(*, thorough: bool = False) -> tuple[Finding, ...]:
    """Return what was found; `thorough` reads every page of an SQLite file as well."""
    database = _database(thorough)
    findings = [_disk(), database, _clock()]
    if database.is_well:
        findings += [_slow_work(), _backup()]
    return tuple(findings)


def _disk() -> Finding:
    try:
        free = shutil.disk_usage(settings.DATA_DIR).free
    except OSError:
        return Finding("disk", False, "The data folder can't be found: put it back.")
    if free < settings.LEAST_FREE_MB * 1_000_000:
        return Finding(
            "disk", False, f"The disk is nearly full: free {settings.LEAST_FREE_MB} MB on it."
        )
    return Finding("disk", True, "There is enough room on the disk.")


def _database(thorough: bool) -> Finding:
    try:
        drop_connection_to_other_file()
        faults = _faults(thorough)
    except (DatabaseError, InterfaceError) as error:
        return _not_well(trouble_behind(error))
    if faults:
        return Finding("database", False, faults[0])
    return Finding("database", True, "The database answers, and every table can be read.")


def _not_well(trouble: Trouble | None) -> Finding:
    if trouble is None or trouble is DISK_FULL:
        return Finding("database", False, "The database can't be read.")
    return Finding("database", False, f"{trouble.heading}: {_lower(trouble.remedy)}")


def _lower(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]


def _faults(thorough: bool) -> list[str]:
    """Return a sentence where a table is missing or a page broken; read each table's ends."""
    models = [model for model in apps.get_models(include_auto_created=True) if model._meta.managed]
    if not {model._meta.db_table for model in models} <= set(
        connection.introspection.table_names()
    ):
        return [
            "The database lacks a table: stop the program, then start it with "
            "“python3 manage.py start”."
        ]
    path = database_path()
    reads_whole = thorough or (path is not None and path.stat().st_size <= READ_WHOLE_BYTES)
    if reads_whole and (faults := faults_in_file()):
        return faults
    for model in models:
        _read_ends(model)
    return []


def _read_ends(model: type[Model]) -> None:
    table, key = _quoted(model._meta.db_table), _quoted(model._meta.pk.column)
    with connection.cursor() as cursor:
        for way in ("ASC", "DESC"):
            cursor.execute(f"SELECT * FROM {table} ORDER BY {key} {way} LIMIT 1")  # noqa: S608 - names of ours
            cursor.fetchall()


def _quoted(name: Any) -> str:
    return str(connection.ops.quote_name(name))


def faults_in_file() -> list[str]:
    """Read every page of an SQLite file; return a sentence if one of them is broken."""
    if connection.vendor != "sqlite":
        return []
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA quick_check(1)")
        said = [str(row[0]) for row in cursor.fetchall()]
    if said == ["ok"]:
        return []
    return ["The database is damaged: stop the program and restore a backup."]


def _clock() -> Finding:
    if clock.was_set_back():
        return Finding("clock", False, "The clock was set back: set it right.")
    return Finding("clock", True, "The clock was not set back.")


def _slow_work() -> Finding:
    since = timezone.now() - WAITS_TOO_LONG
    try:
        waits = DBTaskResult.objects.ready().filter(enqueued_at__lt=since).exists()
        works = Worker.objects.alive().exists()
    except OperationalError as error:
        return _not_well(trouble_behind(error))
    if waits and not works:
        return Finding(
            "slow work", False, "Slow work waits and nothing does it: run “manage.py work”."
        )
    return Finding("slow work", True, "No slow work waits for somebody to do it.")


def _backup() -> Finding:
    copy = last_copy(Installation.objects.the_one(), timezone.now())
    if copy.is_late:
        return Finding(
            "backup", False, "No backup was made for a week: run “manage.py backup” and see why."
        )
    if copy.problems:
        return Finding("backup", False, "The last backup failed: Home says why.")
    return Finding("backup", True, "The last backup is younger than a week.")
