"""A newer program on older data and an older one on newer: copied, changed whole, or refused."""

import shutil
import sqlite3
import tomllib
from contextlib import closing, contextmanager
from datetime import timedelta
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db import DatabaseError, connection
from django.utils import timezone

from maker import VERSION
from maker.accounts.models import User
from maker.backup.archive import read_archive
from maker.backup.models import Installation
from maker.backup.schema import changes_wait, make_waiting_changes
from maker.setup.place import ROOT
from maker.updates.changes import newer_than, rank, versions
from tests import factories
from tests.maker.backup_scene import before_copies, manage, rows_of


def schema_of(path):
    with closing(sqlite3.connect(path)) as database:
        return database.execute("SELECT name, sql FROM sqlite_master ORDER BY name").fetchall()


@contextmanager
def opened(data):
    with closing(sqlite3.connect(data / "pleat.sqlite3")) as database, database:
        yield database


@pytest.fixture(scope="module")
def fresh(tmp_path_factory):
    """A new installation without the demo."""
    data = tmp_path_factory.mktemp("fresh") / "data"
    done = manage(data, "prepare")
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    return data


@pytest.fixture
def older(fresh, tmp_path):
    """The data as the version before left them, with one person."""
    data = tmp_path / "data"
    shutil.copytree(fresh, data)
    assert manage(data, "migrate", "maker", before_copies(), "-v0").returncode == 0
    with opened(data) as database:
        database.execute(
            "INSERT INTO maker_user (email, name, password, is_active, joined_at,"
            " looks_after_installation, stay_signed_in_days)"
            " VALUES ('owner@example.test', 'Penny', '', 1, '2026-11-01', 1, 14)"
        )
    return data


@pytest.mark.slow
def test_an_update_copies_changes_and_says_what_is_new(older, fresh):
    before = rows_of(older / "pleat.sqlite3")
    done = manage(older, "prepare")
    assert (done.returncode, done.stderr) == (0, "")
    first, second, *news = done.stdout.splitlines()
    path = Path(first.removeprefix("Backed up your data in "))
    assert second == f"Updated from 0.1.0 to {VERSION}. What is new:"
    assert news == [f"- {text}" for version in newer_than("0.1.0") for text in version.changes]
    facts = read_archive(path).facts
    assert facts.reason == "before-update"
    assert not [name for name in facts.migrations if "_installation" in name]
    after = rows_of(older / "pleat.sqlite3")
    assert [row[: len(before["maker_user"][0])] for row in after["maker_user"]] == before[
        "maker_user"
    ]
    done = manage(older, "prepare")
    assert (done.returncode, done.stdout) == (0, ""), "told once"
    # the copy leads back, and is brought up on the way
    done = manage(older, "restore", str(path), "--replace")
    assert done.returncode == 0, done.stdout
    assert rows_of(older / "pleat.sqlite3")["maker_user"] == after["maker_user"]


@pytest.mark.slow
def test_an_update_that_fails_leaves_the_data_as_they_were_and_says_how_to_go_on(older):
    path = older / "pleat.sqlite3"
    with opened(older) as database:
        # the second of two changes cannot be made: its table for the moment is there
        database.execute("CREATE TABLE new__maker_user (id)")
    rows, schema = rows_of(path), schema_of(path)
    done = manage(older, "prepare")
    assert done.returncode == 1
    last = done.stderr.strip().splitlines()[-1]
    assert last.startswith("The update could not be made. Your data are as they were")
    assert "git checkout ORIG_HEAD" in last
    assert "new__maker_user" in done.stderr, "what went wrong is there for whoever can mend it"
    assert (rows_of(path), schema_of(path)) == (rows, schema)
    (copy,) = (older / "backups").glob("*-before-update.zip")
    assert str(copy) in last


@pytest.mark.slow
def test_without_room_for_a_copy_the_update_is_not_begun(older):
    path = older / "pleat.sqlite3"
    schema = schema_of(path)
    (older / "backups").write_text("a file where the folder should be")
    done = manage(older, "prepare")
    assert (done.returncode, "cannot be used" in done.stderr) == (1, True)
    assert schema_of(path) == schema


@pytest.mark.slow
def test_an_older_program_refuses_the_data_of_a_newer_one(fresh, tmp_path):
    data = tmp_path / "data"
    shutil.copytree(fresh, data)
    with opened(data) as database:
        database.execute(
            "INSERT INTO django_migrations (app, name, applied) VALUES"
            " ('maker', '0999_later', '2027-01-01'), ('gone', '0001_old', '2020-01-01')"
        )
    rows = rows_of(data / "pleat.sqlite3")
    for words in (("prepare", "--with-demo"), ("work", "--until-idle")):
        done = manage(data, *words)
        assert done.returncode == 1
        (line,) = done.stderr.strip().splitlines()
        assert line.startswith("These data were last used by a newer version of Pleat & Penny")
        assert "maker.0999_later" in line
    assert rows_of(data / "pleat.sqlite3") == rows


@pytest.mark.slow
@pytest.mark.migrations
@pytest.mark.django_db(transaction=True)
def test_several_changes_are_made_together_or_not_at_all(owner):
    """On the tests' own database, so on PostgreSQL too."""
    call_command("migrate", "maker", before_copies(), verbosity=0)
    in_the_way = {
        "sqlite": ("CREATE TABLE new__maker_user (id int)", "DROP TABLE new__maker_user"),
        "postgresql": (
            "ALTER TABLE maker_user ADD COLUMN seen_version varchar(20)",
            "ALTER TABLE maker_user DROP COLUMN seen_version",
        ),
    }
    put, take = in_the_way[connection.vendor]
    with connection.cursor() as cursor:
        cursor.execute(put)
    try:
        with pytest.raises(DatabaseError):
            make_waiting_changes()
        assert "maker_installation" not in connection.introspection.table_names()
        assert changes_wait()
    finally:
        with connection.cursor() as cursor:
            cursor.execute(take)
        make_waiting_changes()
    assert "maker_installation" in connection.introspection.table_names()
    assert not changes_wait()
    assert User.objects.get().seen_version == ""


def test_the_list_of_changes_is_of_this_version_and_in_order():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert project["project"]["version"] == versions()[0].number == VERSION
    numbers = [rank(version.number) for version in versions()]
    assert numbers == sorted(set(numbers), reverse=True)
    dates = [version.on for version in versions()]
    assert dates == sorted(dates, reverse=True)
    assert all(version.changes for version in versions())
    assert rank("0.10.0") > rank("0.9.1")
    assert newer_than(VERSION) == []


NOTE = "Pleat &amp; Penny was updated."


def test_after_an_update_home_leads_to_what_is_new_until_she_closes_it(client, reader_client):
    assert NOTE not in client.get("/w/marlow/").content.decode()
    Installation.objects.note(version=VERSION, updated_at=timezone.now() + timedelta(seconds=1))
    page = client.get("/w/marlow/").content.decode()
    assert NOTE in page
    answer = client.post("/new/close/", {"next": "/w/marlow/"})
    assert answer["Location"] == "/w/marlow/"
    assert NOTE not in client.get("/w/marlow/").content.decode()
    assert NOTE in reader_client.get("/w/marlow/").content.decode(), "she has not closed it"


def test_who_joined_afterwards_is_not_told(workshop, client):
    Installation.objects.note(version=VERSION, updated_at=timezone.now() - timedelta(days=1))
    assert NOTE not in client.get("/w/marlow/").content.decode()


def test_the_page_lists_every_version_and_is_linked_from_every_page(client):
    assert 'href="/new/"' in client.get("/w/marlow/").content.decode()
    page = client.get("/new/").content.decode()
    for version in versions():
        assert version.number in page
    assert client.get("/new/close/").status_code == 405


def test_nobody_is_led_elsewhere_by_closing_it(client):
    answer = client.post("/new/close/", {"next": "//elsewhere.example/"})
    assert answer["Location"] == "/new/"


def test_it_is_for_people_of_the_installation(anonymous_client):
    assert anonymous_client.get("/new/").status_code == 302
    assert anonymous_client.post("/new/close/").status_code == 302


def test_home_asks_no_more_for_it(client, count_queries):
    factories.make_member(factories.make_workshop(), "owner")
    client.get("/w/marlow/")
    with count_queries() as before:
        client.get("/w/marlow/")
    Installation.objects.note(version=VERSION, updated_at=timezone.now(), copied_at=timezone.now())
    with count_queries() as after:
        client.get("/w/marlow/")
    assert len(after) == len(before)
    assert sum("maker_installation" in query["sql"] for query in after) == 1
