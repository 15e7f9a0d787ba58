"""A database that is damaged, gone, locked or replaced is named, and comes back by itself."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings
from django.db import connection

from maker.setup.machine import postgres_program
from tests.small_disk import on_small_disk

pytestmark = pytest.mark.slow
DAMAGED = "The database is damaged"
AWAY = "The database does not answer"
LOCKED = "The data folder can't be written, nothing was saved"


def test_sixty_overwritten_pages_are_seen_by_health_and_named_by_pages(tmp_path: Path) -> None:
    told = on_small_disk("damaged", tmp_path)
    assert told["of pages"] > 200
    status, (wrong,) = told["health"]
    assert status == 503
    assert wrong.startswith(f"{DAMAGED}: stop the program and restore a backup.")
    assert {status for status, _ in told["answers"]} <= {200, 302, 404, 503}
    assert [503, DAMAGED] in told["answers"]
    code, (line,) = told["start"]
    assert code == 1
    assert "cannot be used" in line
    assert "restore a backup" in line


def test_a_file_that_is_no_database_any_more(tmp_path: Path) -> None:
    told = on_small_disk("damaged_head", tmp_path)
    assert told["page"] == [503, DAMAGED]
    assert told["health"][0] == 503
    assert told["start"][0] == 1


def test_a_disk_that_only_lets_itself_be_read(tmp_path: Path) -> None:
    told = on_small_disk("read_only", tmp_path)
    assert told["page"][0] == 200
    assert told["post"] == [503, LOCKED]
    assert told["name"] == "Before"
    assert told["post after"][0] == 302
    assert told["name after"] == "After"
    assert told["closed"] == [503, LOCKED]
    assert told["start"][0] == 1
    assert told["open again"][0] == 200


def test_a_file_that_is_gone_is_not_made_anew_and_a_replaced_one_is_opened(tmp_path: Path) -> None:
    told = on_small_disk("file_away", tmp_path)
    assert told["page"] == told["anonymous"] == [503, AWAY]
    assert told["health"][0] == 503
    assert not told["made anew"]
    code, (line,) = told["start"]
    assert code == 1
    assert "put it back or restore a backup" in line
    assert told["back"][0] == 200
    assert told["name"] == "Before"
    assert told["name in the copy"] == "Before"
    assert told["post"] == [503, AWAY]
    assert told["post to it"][0] == 302


POSTGRES_COMES_AND_GOES = """
import os, subprocess, sys, django
from pathlib import Path
from maker.setup.machine import postgres_program
from maker.setup.postgres import _unprivileged, private_postgres

with private_postgres() as url:
    os.environ["DATABASE_URL"] = url
    django.setup()
    from django.core.management import call_command
    from django.db import close_old_connections
    from django.test import Client
    from maker.accounts.models import User
    from maker.health.views import remembered

    data = next(Path(url.split("@")[1].split("/")[0].replace("%2F", "/")).glob("data"))
    own = _unprivileged(data.parent)

    def pg_ctl(*words):
        command = [postgres_program("pg_ctl"), *words, "--wait", "-D", str(data)]
        with (data.parent / "said").open("w") as said:
            subprocess.run(command, check=True, stdout=said, stderr=said, cwd=data.parent, **own)

    call_command("migrate", verbosity=0)
    client = Client(raise_request_exception=False, SERVER_NAME="localhost")
    owner = User.objects.create_user("owner@example.test", "paper-and-twine", name="Before")
    client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")

    def look():
        remembered.forget()
        # a server does that before each request, the test client does not
        close_old_connections()
        page = client.get("/account/")
        sent = client.post("/account/", {"change_name": "", "name": "After"})
        print(page.status_code, sent.status_code, client.get("/health/").status_code)
        return page.content.decode()

    os.environ["PGOPTIONS"] = ""
    flags = (data / "postmaster.opts").read_text().split(" ", 1)[1].replace('"', "").strip()
    look()
    pg_ctl("stop", "--mode=fast")
    print("The database does not answer" in look())
    pg_ctl("start", "-o", flags, "-l", str(data.parent / "log"))
    look()
    print(User.objects.get().name)
"""


def test_a_postgresql_that_stops_is_named_and_found_again(tmp_path: Path) -> None:
    if connection.vendor != "sqlite":
        pytest.skip("it brings a server of its own: once is enough")
    if postgres_program("initdb") is None:
        pytest.skip("no PostgreSQL server here")
    done = subprocess.run(
        [sys.executable, "-c", POSTGRES_COMES_AND_GOES],
        cwd=settings.BASE_DIR,
        env={
            "PATH": os.environ["PATH"],
            "DATA_DIR": str(tmp_path),
            "DJANGO_SETTINGS_MODULE": "maker.settings",
            "LOG_LEVEL": "CRITICAL",
            "LEAST_FREE_MB": "0",
        },
        capture_output=True,
        text=True,
        check=False,
    )
    lines = [line for line in done.stdout.splitlines() if not line.startswith("{")]
    assert lines == ["200 302 200", "503 503 503", "True", "200 302 200", "After"], done.stderr
