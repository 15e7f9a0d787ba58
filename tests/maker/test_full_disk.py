"""With no byte left on the disk every page still opens, and what is sent is refused by its name."""

import os
import resource
import shutil
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.db import connection
from django.test import Client

from catalogue.suppliers.models import Supplier
from maker.documents import scratch
from maker.documents.pdf import render_pdf
from maker.documents.spreadsheet import Column, ColumnKind, write_xlsx
from maker.troubles.cache import PatientFileCache
from maker.troubles.kinds import trouble_behind
from tests.small_disk import on_small_disk

FULL = "The disk is full, nothing was saved"


@pytest.mark.slow
def test_a_disk_without_a_byte_left(tmp_path: Path) -> None:
    """A file system of 40 MB in memory, filled to the last byte; temporary files lie on it too."""
    told = on_small_disk("full_disk", tmp_path)
    assert told["health before"] == [200, []]
    assert told["pages"] > 80
    assert told["first post"][0] == 302
    assert told["page with a message"] == [200, True]
    assert told["different"] == []
    assert told["post"] == [507, FULL]
    assert told["sign in"] == [507, FULL]
    assert told["name"] == "Before"
    status, wrong = told["health"]
    assert status == 503
    assert wrong == ["The disk is nearly full: free 10 MB on it."]
    assert told["post after"][0] == 302
    assert told["name after"] == "After"
    assert told["health after"] == [200, []]


@pytest.mark.skipif(connection.vendor != "sqlite", reason="a limit of SQLite")
@pytest.mark.django_db(transaction=True)
def test_a_database_that_may_not_grow(client: Client) -> None:
    """By `PRAGMA max_page_count`, where nobody may mount a disk."""
    client.raise_request_exception = False
    with connection.cursor() as cursor:
        cursor.execute("VACUUM")  # pages that other tests left free would be written to first
        cursor.execute("PRAGMA max_page_count=1")  # it stays at what there is
        try:
            answers = [
                client.post(
                    "/w/marlow/suppliers/new/", {"name": f"Mill {number}", "notes": "n" * 1900}
                )
                for number in range(40)
            ]
            page = client.get("/w/marlow/suppliers/")
        finally:
            cursor.execute("PRAGMA max_page_count=4294967294")
    assert page.status_code == 200
    assert {answer.status_code for answer in answers} == {302, 507}
    assert FULL in answers[-1].content.decode()
    saved = sum(answer.status_code == 302 for answer in answers)
    assert Supplier.objects.count() == saved


@pytest.mark.slow
def test_a_file_that_may_not_grow_is_a_full_disk(tmp_path: Path, empty_database: Path) -> None:
    """By RLIMIT_FSIZE: another way in which a write meets its end, EFBIG instead of ENOSPC."""
    shutil.copy(empty_database, tmp_path / "pleat.sqlite3")
    script = """
import resource, signal, django
django.setup()
from django.test import Client
from maker.accounts.models import User
owner = User.objects.create_user("owner@example.test", "paper-and-twine", name="Before")
client = Client(raise_request_exception=False, SERVER_NAME="localhost")
client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (4096, resource.RLIM_INFINITY))
answer = client.post("/account/", {"change_name": "", "name": "While full"})
print(answer.status_code, client.get("/account/").status_code, User.objects.get().name)
resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
print(client.post("/account/", {"change_name": "", "name": "After"}).status_code)
"""
    done = subprocess.run(
        [sys.executable, "-c", script],
        cwd=settings.BASE_DIR,
        env={
            "PATH": os.environ["PATH"],
            "DATA_DIR": str(tmp_path),
            "DJANGO_SETTINGS_MODULE": "maker.settings",
            "LOG_LEVEL": "CRITICAL",
            # what it imports late would be cut short by the limit, for every later run
            "PYTHONDONTWRITEBYTECODE": "1",
        },
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stdout.splitlines() == ["507 200 Before", "302"], done.stderr[-2000:]


def test_a_cache_without_room_keeps_nothing() -> None:
    # nobody can make a folder there, root neither
    cache = PatientFileCache("/proc/plans", {})
    cache.set("job", "a plan")
    assert cache.get("job") is None


def test_a_paper_needs_no_room_on_the_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "not there"))
    assert write_xlsx([Column("Name", ColumnKind.TEXT)], [("Card",)], title="T")[:2] == b"PK"
    assert (
        render_pdf(html="<html lang='en'><title>T</title><h1>T</h1></html>", css="")[:4] == b"%PDF"
    )


COLUMNS = [Column(f"Text {number}", ColumnKind.TEXT) for number in range(10)]


def a_long_sheet() -> bytes:
    rows = (tuple(f"Card {row} {number}" for number in range(10)) for row in range(3000))
    return write_xlsx(COLUMNS, rows, title="T")


def test_a_sheet_goes_through_memory_only_where_there_is_room(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, settings: Any
) -> None:
    settings.FILE_UPLOAD_TEMP_DIR = str(tmp_path)
    for free, folder in ((scratch.ROOM_FOR_A_FILE, "/dev/shm"), (64 << 20, str(tmp_path))):  # noqa: S108
        monkeypatch.setattr(scratch, "_free_in", lambda _folder, free=free: free)
        path = Path(scratch.scratch_file())
        path.unlink()
        assert str(path.parent) == folder
        assert a_long_sheet()[:2] == b"PK"
    assert list(tmp_path.iterdir()) == []


def test_a_sheet_that_fills_the_disk_is_told_as_a_full_disk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, settings: Any
) -> None:
    settings.FILE_UPLOAD_TEMP_DIR = str(tmp_path)
    monkeypatch.setattr(scratch, "_free_in", lambda _folder: 0)
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    # no file may grow beyond this: the sheet takes ten times as much before it is packed
    resource.setrlimit(resource.RLIMIT_FSIZE, (200_000, before[1]))
    try:
        with pytest.raises(OSError) as caught:  # noqa: PT011 - which one is asked below
            a_long_sheet()
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    trouble = trouble_behind(caught.value)
    assert trouble is not None
    assert trouble.name == "disk full"
    assert list(tmp_path.iterdir()) == []
    assert a_long_sheet()[:2] == b"PK"
