"""What befalls the machine is told apart from a bug, and named by page, log and health."""

import errno
import logging
import os
import sqlite3
import subprocess
import sys
from contextlib import closing
from datetime import timedelta
from pathlib import Path
from typing import Any

import psycopg
import pytest
from django.conf import settings
from django.contrib.sessions.exceptions import SessionInterrupted
from django.contrib.sessions.middleware import SessionMiddleware
from django.core.management import call_command
from django.db import DatabaseError, InterfaceError, OperationalError, connection
from django.http import HttpRequest, HttpResponse
from django.test import Client
from django.urls import path
from django.utils import timezone
from django_tasks import task

from maker import urls
from maker.backup.models import Installation
from maker.health import services
from maker.health.views import remembered
from maker.slow_work.services import say_alive
from maker.troubles import guard, kinds
from maker.troubles.kinds import trouble_behind
from maker.troubles.logs import TroublesInOneLine
from maker.troubles.sessions import PatientSessionMiddleware
from maker.workshop.models import Workshop

handler500 = urls.handler500


class Raised:
    """What the view below raises."""

    error: BaseException = RuntimeError()


def breaks(request: HttpRequest) -> HttpResponse:
    raise Raised.error


urlpatterns = [*urls.urlpatterns, path("breaks/", breaks)]


@pytest.fixture(autouse=True)
def _looks_each_time() -> None:
    remembered.forget()


def of_sqlite(name: str, words: str = "words of SQLite") -> OperationalError:
    inner = sqlite3.OperationalError(words)
    inner.sqlite_errorname = name
    error = OperationalError(words)
    error.__cause__ = inner
    return error


def of_postgres(state: str | None, kind: type[DatabaseError] = OperationalError) -> DatabaseError:
    inner = psycopg.OperationalError("words of the server")
    inner.sqlstate = state
    error = kind("words of the server")
    error.__cause__ = inner
    return error


@pytest.mark.parametrize(
    ("error", "trouble"),
    [
        # https://www.sqlite.org/rescode.html
        (of_sqlite("SQLITE_FULL"), kinds.DISK_FULL),
        (of_sqlite("SQLITE_IOERR_WRITE"), kinds.DISK_FULL),
        (of_sqlite("SQLITE_IOERR_SHMSIZE"), kinds.DISK_FULL),
        (of_sqlite("SQLITE_READONLY"), kinds.READ_ONLY),
        (of_sqlite("SQLITE_READONLY_DBMOVED"), kinds.AWAY),
        (of_sqlite("SQLITE_CORRUPT_INDEX"), kinds.DAMAGED),
        (of_sqlite("SQLITE_NOTADB"), kinds.DAMAGED),
        (of_sqlite("SQLITE_BUSY_SNAPSHOT"), kinds.BUSY),
        (of_sqlite("SQLITE_ERROR", "no such table: maker_user"), kinds.UNPREPARED),
        (of_sqlite("SQLITE_ERROR", "near “SELEKT”: syntax error"), None),
        (of_sqlite("SQLITE_CONSTRAINT_UNIQUE"), None),
        (OSError(errno.ENOSPC, "No space left on device"), kinds.DISK_FULL),
        (OSError(errno.EDQUOT, "Disk quota exceeded"), kinds.DISK_FULL),
        (OSError(errno.EROFS, "Read-only file system"), kinds.READ_ONLY),
        (FileNotFoundError(errno.ENOENT, "No usable temporary directory found"), kinds.DISK_FULL),
        (FileNotFoundError(errno.ENOENT, "No such file or directory"), None),
        (RuntimeError("a bug"), None),
        (None, None),
    ],
)
def test_each_error_has_its_trouble(
    error: BaseException, trouble: kinds.Trouble | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connection, "vendor", "sqlite")
    assert trouble_behind(error) is trouble


@pytest.mark.parametrize(
    ("error", "trouble"),
    [
        # PostgreSQL's documentation, appendix A
        (of_postgres("53100"), kinds.DISK_FULL),
        (of_postgres("57P01"), kinds.AWAY),
        (of_postgres("57P03"), kinds.AWAY),
        (of_postgres("08006"), kinds.AWAY),
        (of_postgres("28P01"), kinds.AWAY),
        (of_postgres("3D000"), kinds.AWAY),
        (of_postgres(None), kinds.AWAY),
        (of_postgres("XX001"), kinds.DAMAGED),
        (of_postgres("25006"), kinds.READ_ONLY),
        (of_postgres("53300"), kinds.BUSY),
        (of_postgres("42P01"), kinds.UNPREPARED),
        (of_postgres("42601"), None),
        (of_postgres("23505"), None),
        (DatabaseError("Save with update_fields did not affect any rows."), None),
    ],
)
def test_each_state_of_a_server_has_its_trouble(
    error: BaseException, trouble: kinds.Trouble | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connection, "vendor", "postgresql")
    assert trouble_behind(error) is trouble


def test_a_connection_that_was_lost_is_away(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connection, "vendor", "postgresql")
    error = InterfaceError("connection already closed")
    error.__cause__ = psycopg.InterfaceError("the connection is closed")
    assert trouble_behind(error) is kinds.AWAY


def test_a_trouble_is_found_below_other_errors() -> None:
    outer = RuntimeError("while writing a picture")
    outer.__context__ = OSError(errno.ENOSPC, "No space left on device")
    assert trouble_behind(outer) is kinds.DISK_FULL


def test_a_database_that_goes_away_while_the_session_is_stored_is_no_bad_request(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """As a server restarted under load did: the page said 400, "deleted before it completed"."""

    def store(*_: object) -> None:
        try:
            raise InterfaceError("connection already closed") from psycopg.InterfaceError("closed")
        except InterfaceError:
            raise SessionInterrupted("The request's session was deleted.")  # noqa: B904 - as Django

    monkeypatch.setattr(connection, "vendor", "postgresql")
    monkeypatch.setattr(SessionMiddleware, "process_response", store)
    with pytest.raises(OperationalError) as raised:
        PatientSessionMiddleware(lambda _: HttpResponse()).process_response(
            HttpRequest(), HttpResponse()
        )
    assert trouble_behind(raised.value) is kinds.AWAY


TROUBLES = [each for each in vars(kinds).values() if isinstance(each, kinds.Trouble)]


@pytest.mark.urls(__name__)
@pytest.mark.parametrize("trouble", TROUBLES, ids=lambda trouble: trouble.name)
def test_each_trouble_has_a_page_that_needs_no_database(
    trouble: kinds.Trouble, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Raised, "error", RuntimeError("pass-word in /a/path"))
    monkeypatch.setattr("maker.troubles.views.trouble_behind", lambda error: trouble)
    browser = Client(raise_request_exception=False)
    for ask in (browser.get, browser.post):
        answer = ask("/breaks/")
        page = answer.content.decode()
        assert answer.status_code == trouble.status
        assert trouble.status >= 503 or trouble is kinds.TOO_FAST
        assert page.count("<h1>") == 1
        assert "pass-word" not in page
        assert "/a/path" not in page
        assert answer["X-Request-Id"]
        assert "default-src 'none'" in answer["Content-Security-Policy"]
        assert ("went back" in page or "you go back" in page) is (ask == browser.post)
        assert ('http-equiv="refresh"' in page) is (ask == browser.get and bool(trouble.retry_s))
        assert answer.headers.get("Retry-After", "0") == str(trouble.retry_s)


def test_a_trouble_is_one_line_of_the_log_and_a_bug_keeps_its_traceback() -> None:
    def record_of(error: BaseException) -> logging.LogRecord:
        return logging.LogRecord(
            "django.request", 40, "", 1, "%s: %s", ("Broken", "/w/"), (type(error), error, None)
        )

    short = record_of(OSError(errno.ENOSPC, "No space left\non device"))
    assert TroublesInOneLine().filter(short)
    assert short.exc_info is None
    assert short.getMessage() == "Broken: /w/: disk full ([Errno 28] No space left on device)"
    bug = record_of(RuntimeError("a bug"))
    assert TroublesInOneLine().filter(bug)
    assert bug.exc_info is not None


def test_no_byte_code_is_written_on_a_disk_that_is_nearly_full(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    monkeypatch.setattr(guard, "_WRITES_NONE", False)
    guard.write_no_half_byte_code()
    before = sys.dont_write_bytecode
    monkeypatch.setattr(guard, "ENOUGH_FOR_BYTE_CODE", 10**18)
    guard.write_no_half_byte_code()
    assert (before, sys.dont_write_bytecode) == (False, True)


def test_a_clock_set_back_is_noticed_and_forgiven() -> None:
    wall, steady = [1_000_000.0], [0.0]
    clock = guard.SteadyClock(lambda: wall[0], lambda: steady[0])
    wall[0], steady[0] = 1_000_600.0, 600.0
    assert not clock.was_set_back()
    wall[0] -= 3 * 3600
    assert clock.was_set_back()
    assert clock.seconds_back() == 3 * 3600
    wall[0] += 3 * 3600 - 1800  # half an hour of difference does no harm
    assert not clock.was_set_back()
    # set forward, then back to what is right: only a new start can know
    wall[0] += 86_400
    assert not clock.was_set_back()
    wall[0] -= 86_400
    assert clock.was_set_back()


def test_with_a_wrong_clock_pages_open_and_nothing_is_saved(
    client: Client, workshop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    client.raise_request_exception = False
    monkeypatch.setattr(guard.clock, "ahead", guard.clock.ahead + 86_400)
    assert client.get("/account/").status_code == 200
    answer = client.post("/account/", {"change_name": "", "name": "While wrong"})
    assert answer.status_code == 503
    assert "The clock was set back, nothing was saved" in answer.content.decode()
    health = client.get("/health/?format=json")
    assert health.status_code == 503
    assert [each["name"] for each in health.json()["findings"] if not each["is_well"]] == ["clock"]
    monkeypatch.undo()
    assert client.post("/account/", {"change_name": "", "name": "Now"}).status_code == 302


@pytest.mark.django_db
def test_health_in_words_and_as_json(settings: Any) -> None:
    settings.LEAST_FREE_MB = 0
    answer = Client().get("/health/")
    assert (answer.status_code, answer.content) == (200, b"ok\n")
    answer = Client().get("/health/", headers={"Accept": "application/json"})
    assert answer.json()["is_well"] is True
    assert [each["name"] for each in answer.json()["findings"]] == [
        *("disk", "database", "clock", "slow work", "backup"),
    ]
    settings.LEAST_FREE_MB = 10**9
    remembered.forget()
    answer = Client().get("/health/")
    assert answer.status_code == 503
    assert answer.content.decode() == f"The disk is nearly full: free {10**9} MB on it.\n"


@pytest.mark.django_db
def test_health_looks_once_in_a_moment_however_often_it_is_asked(
    settings: Any, count_queries: Any
) -> None:
    settings.LEAST_FREE_MB = 0
    Client().get("/health/")
    with count_queries() as queries:
        assert Client().get("/health/").status_code == 200
    assert len(queries) == 0


@task()
def waits_for_ever() -> None:
    """Never done here."""


@pytest.mark.django_db
def test_health_tells_of_slow_work_that_nobody_does(settings: Any) -> None:
    settings.LEAST_FREE_MB = 0
    waits_for_ever.enqueue()
    assert Client().get("/health/").status_code == 200
    services.DBTaskResult.objects.update(enqueued_at=timezone.now() - timedelta(minutes=2))
    remembered.forget()
    answer = Client().get("/health/")
    assert answer.status_code == 503
    assert "Slow work waits and nothing does it" in answer.content.decode()
    say_alive("a worker")
    remembered.forget()
    assert Client().get("/health/").status_code == 200


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("kept", "said"),
    [
        ({"copied_at": timezone.now() - timedelta(days=8)}, "No backup was made for a week"),
        ({"copied_at": timezone.now(), "copy_problem": "no room"}, "The last backup failed"),
        ({"copied_at": timezone.now()}, "ok"),
    ],
)
def test_health_tells_of_backups_that_are_late_or_failed(
    settings: Any, kept: dict[str, Any], said: str
) -> None:
    settings.LEAST_FREE_MB = 0
    Installation.objects.note(**kept)
    assert said in Client().get("/health/").content.decode()


@pytest.mark.django_db
def test_health_reads_tables_by_their_ends_where_they_are_huge(
    settings: Any, monkeypatch: pytest.MonkeyPatch, workshop: Workshop
) -> None:
    settings.LEAST_FREE_MB = 0
    monkeypatch.setattr(services, "READ_WHOLE_BYTES", 0)
    assert Client().get("/health/").status_code == 200


@pytest.mark.skipif(connection.vendor != "sqlite", reason="a page of SQLite's file")
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("index", ["events_by_age", "events_of_a_workshop", "events_of_a_person"])
def test_health_reads_each_index(index: str, tmp_path: Path) -> None:
    """Each in a copy of its own: `count(*)` alone would read the smallest index of the table."""
    copy = tmp_path / "pleat.sqlite3"
    with connection.cursor() as cursor:
        cursor.execute("VACUUM INTO %s", [str(copy)])
    with closing(sqlite3.connect(copy)) as target:
        found = target.execute("SELECT rootpage FROM sqlite_master WHERE name = ?", [index])
        (page,) = found.fetchone()
        (size,) = target.execute("PRAGMA page_size").fetchone()
    with copy.open("r+b") as file:
        file.seek((page - 1) * size)
        file.write(b"\xa5" * size)
    done = subprocess.run(
        [sys.executable, "manage.py", "health"],
        cwd=settings.BASE_DIR,
        env={"PATH": os.environ["PATH"], "DATA_DIR": str(tmp_path), "LEAST_FREE_MB": "0"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1, done.stderr[-2000:]
    assert "BAD  The database is damaged: stop the program and restore a backup." in done.stdout


@pytest.mark.django_db
def test_health_misses_a_table(settings: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    settings.LEAST_FREE_MB = 0
    monkeypatch.setattr(Workshop._meta, "db_table", "lost")
    answer = Client().get("/health/")
    assert answer.status_code == 503
    assert "The database lacks a table" in answer.content.decode()


@pytest.mark.django_db
def test_the_command_says_the_same(settings: Any, capsys: pytest.CaptureFixture[str]) -> None:
    settings.LEAST_FREE_MB = 0
    call_command("health", thorough=True)
    assert [line[:3] for line in capsys.readouterr().out.splitlines()] == ["ok "] * 5
    settings.LEAST_FREE_MB = 10**9
    with pytest.raises(SystemExit):
        call_command("health")
    assert "BAD  The disk is nearly full" in capsys.readouterr().out


@pytest.mark.django_db
def test_entries_later_than_the_clock_are_said_at_the_start(
    settings: Any, tmp_path: Path, workshop: Workshop, capsys: pytest.CaptureFixture[str]
) -> None:
    settings.DATA_DIR = tmp_path
    call_command("prepare")
    assert "clock" not in capsys.readouterr().err
    Workshop.objects.update(created_at=timezone.now() + timedelta(days=400))
    call_command("prepare")
    (line,) = capsys.readouterr().err.splitlines()
    assert line.startswith("This machine's clock says ")
    assert line.endswith("set the clock right before you save anything.")
