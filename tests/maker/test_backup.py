"""Copies of the installation and restoring them: equal, or refused whole."""

import json
import re
import resource
import sqlite3
import threading
import zipfile
from contextlib import closing
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db import connection, transaction
from django.utils import timezone

from maker import VERSION
from maker.accounts.models import Session, User
from maker.backup.archive import DATABASE, BackupNotWritten, extract, read_archive, write_archive
from maker.backup.folder import Busy, copies, one_at_a_time, own_folder
from maker.backup.models import Installation
from maker.backup.services import DataAlreadyThere, back_up, back_up_before_update, restore
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop
from tests import factories
from tests.maker.backup_scene import before_copies, rows_here

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.migrations,
    pytest.mark.slow,
]
only_sqlite = pytest.mark.skipif(
    connection.vendor != "sqlite", reason="looks into a database that is a file"
)


@pytest.fixture(autouse=True)
def data(settings, tmp_path):
    """Give the copies a data folder of their own."""
    settings.DATA_DIR = tmp_path / "data"
    settings.BACKUP_SECOND_DIR = ""
    return settings.DATA_DIR


@pytest.fixture
def shop():
    """A workshop with a person and a little in it."""
    shop = factories.make_workshop(name="Marlow Paperworks")
    factories.make_member(shop, "owner", "owner@example.test")
    factories.make_pack(factories.make_material(shop, name="Crème card ½ “heavy”"))
    return shop


def run(capsys, *words):
    """Run a command; return its answer, and its exit code."""
    code = 0
    try:
        call_command(*words)
    except SystemExit as ended:
        code = ended.code
    return json.loads(capsys.readouterr().out), code


def test_a_restored_copy_equals_the_original_and_what_it_replaced_is_kept(shop, capsys, data):
    before = rows_here()
    answer, _ = run(capsys, "backup")
    path = Path(answer["file"])
    assert path.parent == data / "backups"
    assert (path.parent.stat().st_mode & 0o777, path.stat().st_mode & 0o777) == (0o700, 0o600)
    assert (answer["program"], answer["bytes"]) == (VERSION, path.stat().st_size)
    assert answer["database"] == connection.vendor
    assert [one.name for one in path.parent.iterdir()] == [path.name]

    Workshop.objects.update(name="Changed since")
    factories.make_material(shop, name="Bought since")
    changed = rows_here()
    refused, code = run(capsys, "restore", str(path))
    assert code == 1
    assert "--replace" in refused["error"]["message"]
    assert rows_here() == changed

    answer, _ = run(capsys, "restore", str(path), "--replace")
    assert rows_here() == before
    # a new row gets a number of its own: counters came back too
    factories.make_material(shop, name="Bought afterwards")
    restore(Path(answer["replaced_kept_in"]), replace=True)
    assert rows_here() == changed


def test_with_nothing_there_it_need_not_be_asked_for(shop):
    path = back_up(reason="by-hand").path
    before = rows_here()
    call_command("flush", interactive=False, verbosity=0)
    done = restore(path, replace=False)
    assert done.kept is None
    assert {name: rows for name, rows in rows_here().items() if rows} == {
        name: rows for name, rows in before.items() if rows
    }


def test_when_it_was_copied_last_is_remembered(shop, tmp_path):
    made = back_up(reason="by-hand", target=tmp_path / "copy.zip")
    assert Installation.objects.the_one().copied_at == made.manifest.facts.made_at
    restore(made.path, replace=True)
    assert Installation.objects.the_one().copied_at == made.manifest.facts.made_at


def test_who_was_signed_in_then_is_not_signed_in_by_a_restore(shop):
    now = timezone.now()
    Session.objects.create(session_key="a", session_data="b", expire_date=now, seen_at=now)
    restore(back_up(reason="by-hand").path, replace=True)
    assert not Session.objects.exists()


def test_a_folder_as_target_gets_a_file_with_a_name_of_its_own(shop, tmp_path):
    first, second = (back_up(reason="by-hand", target=tmp_path).path for _ in range(2))
    assert first.parent == second.parent == tmp_path
    assert first != second


def rewritten(path, tmp_path, **changes):
    """Write an archive anew with other facts, whole and sealed."""
    facts = read_archive(path).facts
    extract(path, DATABASE, tmp_path / "database")
    values = {name: getattr(facts, name) for name in facts.__slots__} | changes
    new = tmp_path / "rewritten.zip"
    write_archive(new, type(facts)(**values), {DATABASE: tmp_path / "database"})
    return new


OTHER = {"sqlite": "postgresql", "postgresql": "sqlite"}


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        (
            {"migrations": ("maker.0001_initial", "maker.9999_later"), "program": "9.0.0"},
            r"newer version \(9\.0\.0\): it knows maker\.9999_later\. Update the program first",
        ),
        ({"database": OTHER[connection.vendor]}, "is of a .* database; this installation has"),
        pytest.param(
            {"migrations": ("maker.0001_initial",)}, "is not the one it names", marks=only_sqlite
        ),
    ],
)
def test_a_newer_or_a_foreign_copy_is_refused_whole(shop, tmp_path, changes, said):
    path = rewritten(back_up(reason="by-hand").path, tmp_path, **changes)
    before = rows_here()
    with pytest.raises(Refusal, match=said):
        restore(path, replace=True)
    assert rows_here() == before
    assert all(one.suffix == ".zip" for one in own_folder().iterdir())


def test_a_copy_with_one_byte_changed_or_cut_short_is_refused_whole(shop, tmp_path):
    whole = back_up(reason="by-hand").path.read_bytes()
    before = rows_here()
    at = len(whole) // 2
    bad = tmp_path / "bad.zip"
    for content in (whole[:at], whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :]):
        bad.write_bytes(content)
        with pytest.raises(Refusal, match="not a whole backup"):
            restore(bad, replace=True)
    assert rows_here() == before


def test_a_copy_of_an_older_version_is_brought_up(shop, tmp_path):
    before = rows_here()
    call_command("migrate", "maker", before_copies(), verbosity=0)
    try:
        path = back_up_before_update().path
    finally:
        call_command("migrate", verbosity=0)
    assert read_archive(path).facts.reason == "before-update"
    assert not [name for name in read_archive(path).facts.migrations if "_installation" in name]
    Workshop.objects.all().delete()
    restore(path, replace=True)
    after = rows_here()
    for name in ("maker_workshop", "maker_user", "catalogue_material", "catalogue_pack"):
        assert after[name] == before[name]
    call_command("migrate", check_unapplied=True, verbosity=0)


def test_only_one_copies_at_a_time(shop):
    with one_at_a_time():
        with pytest.raises(Busy, match="Try again in a minute"):
            back_up(reason="by-hand")
        with pytest.raises(Busy):
            restore(Path("any.zip"), replace=True)
    back_up(reason="by-hand")


def test_what_a_killed_one_left_is_cleared_away(shop, data):
    folder = own_folder()
    (folder / ".staged-x").mkdir()
    (folder / ".staged-x" / "database").write_bytes(b"half")
    (folder / ".pleat.zip.y.part").write_bytes(b"half")
    made = back_up(reason="by-hand")
    assert [one.name for one in folder.iterdir()] == [made.path.name]


def test_on_a_full_disk_nothing_is_left_behind_and_the_older_copy_stays(shop, tmp_path):
    """No file may grow beyond a limit: a write then meets what it meets on a full disk."""
    older = back_up(reason="by-hand").path.read_bytes()
    target = tmp_path / "copy.zip"
    target.write_bytes(older)
    _, most = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (60_000, most))
    try:
        with pytest.raises(BackupNotWritten, match="could not be"):
            back_up(reason="by-hand", target=target)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
    assert target.read_bytes() == older
    assert [one.name for one in tmp_path.iterdir() if one.name != "data"] == ["copy.zip"]
    assert len(list(own_folder().iterdir())) == 1


def test_where_it_cannot_be_written_or_read_is_told(shop, tmp_path, capsys):
    answer, code = run(capsys, "backup", str(tmp_path / "no" / "folder" / "x.zip"))
    assert (code, "No such file" in answer["error"]["message"]) == (1, True)
    answer, code = run(capsys, "restore", str(tmp_path / "nothing.zip"))
    assert (code, "No such file" in answer["error"]["message"]) == (1, True)


@only_sqlite
def test_the_newest_rows_are_in_a_copy_though_they_are_not_in_the_database_file(shop):
    path = Path(connection.settings_dict["NAME"])
    with closing(sqlite3.connect(path)) as database:
        database.execute("PRAGMA wal_autocheckpoint=0")
        with database:
            database.execute("UPDATE maker_workshop SET maker_name = 'Saved a moment ago'")
        assert b"Saved a moment ago" not in path.read_bytes()
        made = back_up(reason="by-hand")
    with zipfile.ZipFile(made.path) as opened:
        assert b"Saved a moment ago" in opened.read(DATABASE)


@only_sqlite
def test_a_database_with_something_that_acts_by_itself_is_refused(shop):
    with connection.cursor() as cursor:
        cursor.execute("CREATE TRIGGER t AFTER INSERT ON maker_user BEGIN SELECT 1; END")
    try:
        with pytest.raises(Refusal, match="not one of ours"):
            back_up(reason="by-hand")
    finally:
        with connection.cursor() as cursor:
            cursor.execute("DROP TRIGGER t")


def test_while_others_write_each_copy_is_of_one_moment(shop):
    is_over, written = threading.Event(), []

    def write():
        try:
            while not is_over.is_set():
                name = f"n{len(written) + 1}"
                # two rows that are always equal, in one transaction
                with transaction.atomic():
                    Workshop.objects.update(care_line=name)
                    User.objects.update(name=name)
                written.append(name)
        finally:
            connection.close()

    made = []
    thread = threading.Thread(target=write)
    thread.start()
    try:
        for _ in range(3):
            made.append((len(written), back_up(reason="by-hand").path))
    finally:
        is_over.set()
        thread.join()
    assert len(written) > 3
    for least, path in made:
        restore(path, replace=True)
        line, name = Workshop.objects.get().care_line, User.objects.get().name
        assert line == name
        # nothing is missing that was saved before it began
        assert int(name[1:] or 0) >= least


def test_others_who_have_it_open_go_on_with_what_was_restored(shop):
    path = back_up(reason="by-hand").path
    Workshop.objects.update(name="Changed since")
    seen, asked, answered = [], threading.Event(), threading.Event()

    def read():
        try:
            seen.append(Workshop.objects.get().name)
            answered.set()
            asked.wait()
            seen.append(Workshop.objects.get().name)
            Workshop.objects.update(care_line="Saved by her")
        finally:
            connection.close()

    reader = threading.Thread(target=read)
    reader.start()
    answered.wait()
    restore(path, replace=True)
    asked.set()
    reader.join()
    assert seen == ["Changed since", "Marlow Paperworks"]
    assert Workshop.objects.get().care_line == "Saved by her"


def test_a_refusal_says_what_to_do(shop):
    path = back_up(reason="by-hand").path
    with pytest.raises(DataAlreadyThere) as refused:
        restore(path, replace=False)
    assert re.search("after a backup of them is made", refused.value.message)
    assert [copy.reason for copy in copies(own_folder())] == ["by-hand"]
