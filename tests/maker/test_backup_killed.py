"""Killed in the middle, cut off or damaged: there is the old or the new afterwards, whole."""

import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from contextlib import closing, suppress
from pathlib import Path

import pytest
from django.db import connection

from maker.backup import postgres_copies, sqlite_copies
from maker.backup.archive import read_archive
from maker.setup.place import ROOT
from maker.workshop.models import Workshop
from tests import factories
from tests.maker.backup_scene import rows_here
from tests.maker.setup_scene import clean_env
from tests.patience import PATIENCE_S

TIMES = 12
RESTORE = """
import sys
from pathlib import Path
from maker.backup.sqlite_copies import put_in_place
print("begun", flush=True)
while True:
    for name in ("new", "old"):
        put_in_place({"NAME": sys.argv[1] + "/live"}, Path(sys.argv[1]) / name)
"""
BACK_UP = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from maker.backup.archive import Facts, write_archive
folder = Path(sys.argv[1])
print("begun", flush=True)
while True:
    for name in ("new", "old"):
        facts = Facts(name, datetime.now(UTC), "daily", "sqlite", ())
        write_archive(folder / "copy.zip", facts, {"database": folder / name})
"""


def make(path, word, rows=4000):
    """Write a database of some megabytes whose every row says the same."""
    with closing(sqlite3.connect(path)) as database, database:
        database.execute("CREATE TABLE django_migrations (app, name)")
        database.execute("CREATE TABLE rows (number INTEGER PRIMARY KEY, word)")
        database.executemany(
            "INSERT INTO rows (word) VALUES (?)", ((word * 100,) for _ in range(rows))
        )


def words_in(path):
    with closing(sqlite3.connect(path)) as database:
        assert database.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        found = database.execute("SELECT word, count(*) FROM rows GROUP BY word").fetchall()
    return {(word[:3], count) for word, count in found}


@pytest.fixture
def folder(tmp_path):
    make(tmp_path / "old", "old")
    make(tmp_path / "new", "new", 5000)
    return tmp_path


def kill_in_the_middle(program, folder, wait):
    """Run a program that does the same for ever, and kill it after so many seconds."""
    process = subprocess.Popen(
        [sys.executable, "-c", program, str(folder)],
        cwd=ROOT,
        env=clean_env(DJANGO_SETTINGS_MODULE="maker.settings", DATA_DIR=str(folder / "data")),
        stdout=subprocess.PIPE,
    )
    assert process.stdout.readline() == b"begun\n"
    time.sleep(wait)
    process.send_signal(signal.SIGKILL)
    process.wait()
    process.stdout.close()


@pytest.mark.slow
def test_a_restore_killed_leaves_the_old_or_the_new(folder):
    live = folder / "live"
    shutil.copy(folder / "old", live)
    with closing(sqlite3.connect(live)) as database:
        database.execute("PRAGMA journal_mode=WAL")
    chance = random.Random(11)
    seen = []
    for _ in range(TIMES):
        kill_in_the_middle(RESTORE, folder, chance.uniform(0, 0.4))
        found = words_in(live)
        assert found in ({("old", 4000)}, {("new", 5000)})
        seen.append(found)
    assert seen


@pytest.mark.slow
def test_a_backup_killed_leaves_the_older_archive_or_the_new(folder):
    target = folder / "copy.zip"
    chance = random.Random(11)
    left = 0
    for _ in range(TIMES):
        kill_in_the_middle(BACK_UP, folder, chance.uniform(0, 0.4))
        if target.exists():
            assert read_archive(target).facts.program in ("old", "new")
        left = max(left, len(list(folder.glob(".copy.zip.*.part"))))
    # at least one was killed in the middle, and never more than one leaves something
    assert left == 1


def kill_psql(wait, over):
    """Wait for psql to run under this process, then so many seconds more, and kill it.

    Where it ended before, it runs no more: `over` is set then, and nothing is waited for.
    """
    here = Path(f"/proc/{os.getpid()}/task")
    until = time.monotonic() + PATIENCE_S
    while not over.is_set() and time.monotonic() < until:
        children = [
            pid for task in here.iterdir() for pid in (task / "children").read_text().split()
        ]
        for pid in children:
            # what is over by now was another program
            with suppress(FileNotFoundError, ProcessLookupError):
                if Path(f"/proc/{pid}/comm").read_text().strip() == "psql":
                    if not over.wait(wait):
                        os.kill(int(pid), signal.SIGKILL)
                    return
        time.sleep(0.001)


@pytest.mark.slow
@pytest.mark.migrations
@pytest.mark.django_db(transaction=True)
@pytest.mark.skipif(connection.vendor != "postgresql", reason="restores through psql")
def test_a_restore_whose_psql_is_killed_leaves_the_old_or_the_new(tmp_path):
    database, staged = connection.settings_dict, tmp_path / "database"
    factories.make_workshop(name="Before")
    postgres_copies.write_copy(database, staged)
    old = rows_here()
    Workshop.objects.update(name="After")
    new = rows_here()
    chance = random.Random(11)
    outcomes = []
    for _ in range(TIMES):
        over = threading.Event()
        killer = threading.Thread(target=kill_psql, args=(chance.uniform(0, 0.6), over))
        killer.start()
        try:
            postgres_copies.put_in_place(database, staged)
        except postgres_copies.NotRestored as refusal:
            outcomes.append(refusal.message)
        else:
            outcomes.append("done")
        over.set()
        killer.join()
        found = rows_here()
        assert found in (old, new)
        assert found == old or outcomes[-1] != "done"
        Workshop.objects.update(name="After")
        assert rows_here() == new
    stopped = [said for said in outcomes if said != "done"]
    assert stopped
    assert all("psql was killed" in said for said in stopped)


def test_a_restore_that_is_undone_halfway_leaves_the_old(folder):
    """What a power cut leaves: pages of the new in the log, without the word that ends it."""
    live = folder / "live"
    shutil.copy(folder / "old", live)
    with (
        closing(sqlite3.connect(folder / "new")) as source,
        closing(sqlite3.connect(live)) as target,
    ):
        target.execute("PRAGMA journal_mode=WAL")

        def stop(status, remaining, total):
            raise InterruptedError

        with pytest.raises(InterruptedError):
            source.backup(target, pages=100, progress=stop)
    assert words_in(live) == {("old", 4000)}


def damaged(path, first, last):
    with Path(path).open("r+b") as file:
        file.seek(first * 4096)
        file.write(b"\xaa" * 4096 * (last - first))


@pytest.mark.parametrize("pages", [(3, 63), (0, 1), (0, 400)])
def test_a_damaged_database_is_seen_kept_and_replaced(folder, pages):
    live = folder / "live"
    shutil.copy(folder / "old", live)
    damaged(live, *pages)
    content = live.read_bytes()
    database = {"NAME": str(live)}
    assert sqlite_copies.is_damaged(database)
    assert sqlite_copies.holds_data(database, ("rows",))
    sqlite_copies.put_aside(database, folder / "aside")
    assert (folder / "aside" / "live").read_bytes() == content
    sqlite_copies.put_in_place(database, folder / "new")
    assert words_in(live) == {("new", 5000)}


def test_a_sound_one_is_not_called_damaged(folder):
    assert not sqlite_copies.is_damaged({"NAME": str(folder / "old")})
    assert sqlite_copies.holds_data({"NAME": str(folder / "old")}, ("no_table", "rows"))
    assert not sqlite_copies.holds_data({"NAME": str(folder / "old")}, ("no_table",))
    assert not sqlite_copies.holds_data({"NAME": str(folder / "missing")}, ("rows",))


def test_whoever_keeps_writing_is_not_waited_for_without_an_end(folder, monkeypatch):
    monkeypatch.setattr(sqlite_copies, "PATIENCE_S", 0.5)
    live = folder / "live"
    shutil.copy(folder / "old", live)
    with closing(sqlite3.connect(live)) as writer:
        writer.execute("PRAGMA journal_mode=WAL")
        writer.execute("BEGIN IMMEDIATE")
        writer.execute("UPDATE rows SET word = 'x'")
        with pytest.raises(sqlite_copies.NotRestored, match="Somebody kept writing"):
            sqlite_copies.put_in_place({"NAME": str(live)}, folder / "new")
        writer.rollback()
    assert words_in(live) == {("old", 4000)}
