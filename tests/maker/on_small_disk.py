"""A program of its own, not a test: works on a disk of its own that fills up, locks, loses files.

It is started by test_full_disk.py and test_broken_database.py inside a mount namespace, on a small
file system in memory, and prints what it met as one object of JSON.
"""

import json
import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from html import unescape
from pathlib import Path
from typing import Any

PAGE = 4096
OVERWRITTEN_PAGES = 60
DISK = Path(sys.argv[2])
DATA = DISK / "data"


def fill() -> None:
    """Write until there is no room left at all."""
    with (DISK / "fill").open("wb", buffering=0) as file:
        size = 1 << 20
        while size:
            try:
                file.write(b"x" * size)
            except OSError:
                size //= 2


def remount(*options: str) -> None:
    subprocess.run(["mount", "-o", f"remount,{','.join(options)}", str(DISK)], check=True)


class Workshop:
    """The demo workshop, its owner's browser, and what both were answered."""

    def __init__(self) -> None:
        from django.core.management import call_command
        from django.db import connection
        from django.test import Client

        from maker.accounts.models import User

        call_command("prepare", with_demo=True, stdout=sys.stderr)
        # as the worker does beside the server: somebody always has the database open
        self.other = connection.copy()
        with self.other.cursor() as cursor:
            cursor.execute("SELECT count(*) FROM maker_user")
        self.client = Client(raise_request_exception=False, SERVER_NAME="localhost")
        owner = User.objects.get(email="penny@example.test")
        self.client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")

    def get(self, path: str) -> tuple[int, str]:
        answer = self.client.get(path)
        page = b"".join(answer.streaming_content) if answer.streaming else answer.content
        return answer.status_code, heading(page)

    def rename(self, name: str) -> tuple[int, str]:
        answer = self.client.post("/account/", {"change_name": "", "name": name})
        return answer.status_code, heading(answer.content)

    def name(self) -> str:
        from maker.accounts.models import User

        return User.objects.get(email="penny@example.test").name

    def health(self) -> tuple[int, list[str]]:
        from maker.health.views import remembered

        remembered.forget()
        answer = self.client.get("/health/?format=json")
        wrong = [each["sentence"] for each in answer.json()["findings"] if not each["is_well"]]
        return answer.status_code, wrong

    def reopen(self) -> None:
        from django.db import connection

        connection.close()


def heading(page: bytes) -> str:
    return unescape(page.partition(b"<h1>")[2].partition(b"</h1>")[0].decode())


def full_disk(workshop: Workshop) -> dict[str, Any]:
    from django.db import connection

    from tests.crawl import crawl

    told: dict[str, Any] = {"health before": workshop.health()}
    before = {path: answer.status_code for path, answer in crawl(workshop.client)}
    told["pages"] = len(before)
    # its message waits to be shown: opening the next page changes the session
    told["first post"] = workshop.rename("Before")
    with connection.cursor() as cursor:
        # else what is written next finds room in the log that SQLite has already
        cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    fill()
    workshop.reopen()
    message = workshop.client.get("/account/")
    told["page with a message"] = (
        message.status_code,
        "Your name is saved." in message.content.decode(),
    )
    told["different"] = [
        (path, status, now, title)
        for path, status in before.items()
        for now, title in [workshop.get(path)]
        if now != status
    ]
    told["post"] = workshop.rename("While full")
    told["sign in"] = sign_in()
    told["name"] = workshop.name()
    told["health"] = workshop.health()
    (DISK / "fill").unlink()
    told["post after"] = workshop.rename("After")
    told["name after"] = workshop.name()
    told["health after"] = workshop.health()
    return told


def sign_in() -> tuple[int, str]:
    from django.conf import settings
    from django.test import Client

    visitor = Client(raise_request_exception=False, SERVER_NAME="localhost")
    password = (settings.DATA_DIR / "demo_password").read_text().strip()
    answer = visitor.post("/sign-in/", {"username": "penny@example.test", "password": password})
    return answer.status_code, heading(answer.content)


LEAVES_ITS_FILES = """
import os, sqlite3, sys
database = sqlite3.connect(sys.argv[1])
database.execute("UPDATE maker_user SET name = 'Before'")
database.commit()
os._exit(0)
"""


def read_only(workshop: Workshop) -> dict[str, Any]:
    # a disk can be locked while no file on it is open to be written; what a killed program leaves
    workshop.other.close()
    workshop.reopen()
    path = str(DATA / "pleat.sqlite3")
    subprocess.run([sys.executable, "-c", LEAVES_ITS_FILES, path], check=True)
    remount("ro")
    told: dict[str, Any] = {
        "page": workshop.get("/account/"),
        "post": workshop.rename("While locked"),
        "name": workshop.name(),
    }
    workshop.reopen()
    remount("rw")
    told |= {"post after": workshop.rename("After"), "name after": workshop.name()}
    # without those files SQLite cannot even read
    workshop.reopen()
    remount("ro")
    told |= {"closed": workshop.get("/account/"), "start": start_again()}
    remount("rw")
    return told | {"open again": workshop.get("/account/")}


def file_away(workshop: Workshop) -> dict[str, Any]:
    workshop.rename("Before")
    away = DISK / "away"
    away.mkdir()
    names = [path.name for path in DATA.glob("pleat.sqlite3*")]
    for name in names:
        (DATA / name).rename(away / name)
    told: dict[str, Any] = {
        "page": workshop.get("/account/"),
        "anonymous": workshop.get("/sign-in/"),
        "post": workshop.rename("While away"),
        "health": workshop.health(),
        "made anew": (DATA / "pleat.sqlite3").exists(),
        "start": start_again(),
    }
    for name in names:
        (away / name).rename(DATA / name)
    told |= {"back": workshop.get("/account/"), "name": workshop.name()}
    # another copy put in its place while the program runs, as a restore does
    workshop.other.close()
    workshop.reopen()
    shutil.copy(DATA / "pleat.sqlite3", DISK / "copy")
    workshop.rename("Only in the old file")
    for name in ("pleat.sqlite3-wal", "pleat.sqlite3-shm"):
        (DATA / name).unlink(missing_ok=True)
    os.replace(DISK / "copy", DATA / "pleat.sqlite3")
    workshop.get("/account/")
    return told | {"name in the copy": workshop.name(), "post to it": workshop.rename("New")}


def start_again() -> tuple[int, list[str]]:
    done = subprocess.run(
        [sys.executable, "manage.py", "prepare"], capture_output=True, text=True, check=False
    )
    return done.returncode, done.stderr.strip().splitlines()[-3:]


def damaged(workshop: Workshop) -> dict[str, Any]:
    from tests.crawl import crawl

    paths = [path for path, answer in crawl(workshop.client)]
    workshop.other.close()
    workshop.reopen()
    path = DATA / "pleat.sqlite3"
    pages = path.stat().st_size // PAGE
    chance = random.Random(60)
    with path.open("r+b") as file:
        # the first page is the list of tables: without it nothing opens, which is the easy case
        for page in chance.sample(range(1, pages), OVERWRITTEN_PAGES):
            file.seek(page * PAGE)
            file.write(chance.randbytes(PAGE))
    return {
        "of pages": pages,
        "health": workshop.health(),
        "answers": sorted({workshop.get(path) for path in paths if "." not in path}),
        "start": start_again(),
    }


def damaged_head(workshop: Workshop) -> dict[str, Any]:
    workshop.other.close()
    workshop.reopen()
    with (DATA / "pleat.sqlite3").open("r+b") as file:
        file.write(b"not a database " * 300)
    return {
        "page": workshop.get("/account/"),
        "health": workshop.health(),
        "start": start_again(),
    }


SCENES: dict[str, Callable[[Workshop], dict[str, Any]]] = {
    scene.__name__: scene for scene in (full_disk, read_only, file_away, damaged, damaged_head)
}


def main() -> None:
    import django
    from django.conf import settings

    django.setup()
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    told = SCENES[sys.argv[1]](Workshop())
    sys.stdout.write(json.dumps(told))


if __name__ == "__main__":
    (DISK / "tmp").mkdir()
    DATA.mkdir(mode=0o700)
    tempfile.tempdir = None
    os.environ |= {
        "DATA_DIR": str(DATA),
        "TMPDIR": str(DISK / "tmp"),
        "LOG_LEVEL": "CRITICAL",
        "DJANGO_SETTINGS_MODULE": "maker.settings",
        "LEAST_FREE_MB": "10",
    }
    os.environ.pop("DATABASE_URL", None)
    main()
