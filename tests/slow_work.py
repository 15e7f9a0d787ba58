"""Does slow work in the tests: here, or in a process of its own on the tests' database."""

import os
import subprocess
import sys
from pathlib import Path

from django.conf import settings
from django.db import connection

from maker.slow_work.worker import SlowWorker


def do_what_waits() -> None:
    """Do all that waits, in this process."""
    SlowWorker(until_idle=True).run()


def start_worker(data_folder: Path, *words: str) -> "subprocess.Popen[bytes]":
    """Start a worker as `start` does, on this database."""
    return subprocess.Popen(
        [sys.executable, "manage.py", "work", *words],
        cwd=settings.BASE_DIR,
        env=os.environ | {"DATABASE_URL": url_of_this_database(), "DATA_DIR": str(data_folder)},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
    )


def url_of_this_database() -> str:
    """Where the tests' own database is, for another process."""
    values = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{values['NAME']}"
    host = str(values["HOST"]).replace("/", "%2F")
    login = f"{values['USER']}:{values['PASSWORD']}" if values["PASSWORD"] else values["USER"]
    port = f":{values['PORT']}" if values["PORT"] else ""
    return f"postgres://{login}@{host}{port}/{values['NAME']}"
