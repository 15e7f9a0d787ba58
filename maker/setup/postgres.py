"""A private PostgreSQL server for one test run: own folder, own socket, gone afterwards."""

# ruff: noqa: S603 - every command is a list built here, and none goes through a shell

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import quote

from maker.setup.machine import postgres_program
from maker.setup.place import MachineNotReady

OPTIONS = (
    # Reached through a socket in a folder of its own: no port that could be taken.
    "listen_addresses=''",
    # Works where /dev/shm is missing or tiny (chroot, container).
    "dynamic_shared_memory_type=mmap",
)
# Everything is thrown away afterwards, so nothing needs to survive a power cut.
FORGETFUL = ("fsync=off", "synchronous_commit=off", "full_page_writes=off", "autovacuum=off")
# unix(7): a socket's path has room for 108 bytes, the last of them a zero.
LONGEST_SOCKET_PATH = 107


class PostgresNotStarted(MachineNotReady):
    """The private server did not come up; the message ends with its own last words."""


@contextmanager
def private_postgres(*, forgetful: bool = True, more: tuple[str, ...] = ()) -> Iterator[str]:
    """Run a new server while the block runs; give the DATABASE_URL to reach it.

    One that is not forgetful keeps what it confirmed, as a server in use does, also when it dies.
    `more` are settings of the server.
    """
    initdb, pg_ctl = postgres_program("initdb"), postgres_program("pg_ctl")
    if initdb is None or pg_ctl is None:
        raise PostgresNotStarted(
            "The PostgreSQL server programs are missing: run `sudo apt-get install -y postgresql`."
        )
    folder = _short_folder()
    data, log = folder / "data", folder / "log"
    as_whom = _unprivileged(folder)
    options = (
        *OPTIONS,
        *(FORGETFUL if forgetful else ()),
        f"unix_socket_directories={folder}",
        *more,
    )
    flags = " ".join(f"-c {option}" for option in options)
    try:
        _run(
            [
                initdb,
                f"--pgdata={data}",
                "--username=pleat",
                "--auth=trust",
                "--no-sync",
                "--encoding=UTF8",
                "--locale=C.UTF-8",
            ],
            folder,
            as_whom,
        )
        start = [pg_ctl, "start", "--wait", "--timeout=60", "-D", str(data), "-l", str(log)]
        try:
            _run([*start, "-o", flags], folder, as_whom, log)
            yield f"postgres://pleat@{quote(str(folder), safe='')}/postgres"
        finally:
            stop = [pg_ctl, "stop", "--wait", "--mode=immediate", "-D", str(data)]
            subprocess.run(stop, cwd=folder, capture_output=True, check=False, **as_whom)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _short_folder() -> Path:
    """Make a folder whose path leaves room for a socket name in it."""
    folder = Path(tempfile.mkdtemp(prefix="pleat-postgres-"))
    if len(str(folder / ".s.PGSQL.5432")) <= LONGEST_SOCKET_PATH:
        return folder
    folder.rmdir()
    return Path(tempfile.mkdtemp(prefix="pleat-postgres-", dir="/tmp"))


def _unprivileged(folder: Path) -> dict[str, Any]:
    """PostgreSQL refuses to run as root, so root lends the folder to a lesser user."""
    if os.geteuid() != 0:
        return {}
    for name in ("postgres", "nobody"):
        try:
            user = pwd.getpwnam(name)
        except KeyError:
            continue
        os.chown(folder, user.pw_uid, user.pw_gid)
        return {"user": user.pw_uid, "group": user.pw_gid, "extra_groups": []}
    raise PostgresNotStarted(
        "PostgreSQL does not run as root and there is no user postgres: run `adduser postgres`."
    )


def _run(
    command: list[str], folder: Path, as_whom: dict[str, Any], log: Path | None = None
) -> None:
    # pg_ctl leaves the server running with its output; a pipe would never see the end.
    with tempfile.TemporaryFile("w+") as output:
        answer = subprocess.run(
            command, cwd=folder, stdout=output, stderr=output, check=False, **as_whom
        )
        if answer.returncode == 0:
            return
        output.seek(0)
        words = output.read() + (log.read_text() if log and log.exists() else "")
    lines = [line for line in words.splitlines() if line.strip()]
    raise PostgresNotStarted(
        f"The private PostgreSQL server did not start: {' / '.join(lines[-2:])}"
    )
