"""`verify`: every check of the project, one after the other, with a table at the end."""

# ruff: noqa: S603 - every command is a list built here, and none goes through a shell

import os
import secrets
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack, suppress
from dataclasses import dataclass, field
from pathlib import Path

from maker.setup.machine import chromium
from maker.setup.place import answer, environment_python
from maker.setup.postgres import PostgresNotStarted, private_postgres

GRACE_SECONDS = 20
# A check that hangs must not keep the others from being seen. It is told by its silence, not by
# its time: where a machine is slow or busy, tests take hours and go on speaking.
SILENT_SECONDS = 30 * 60
LOOK_EVERY_SECONDS = 1.0
STUCK_SECONDS = 5 * 60
# without another program: those tests have checks of their own
HERE = "not browser and not office"
# tests/conftest.py marks what touches the database; for the rest one database is like another
ON_POSTGRES = f"database and {HERE}"
# where tests/pages/conftest.py marks every test as one of a browser, and no other is
PAGES = "tests/pages"
# plain Python, far from any database by a contract of its own: need not even be collected
NEITHER = ("--ignore=tests/calc", f"--ignore={PAGES}")
TWO_AT_A_TIME = ("-n", "2")
# one more than cores of a small machine: many of these wait for a server, a database or a lock
THREE_AT_A_TIME = ("-n", "3")
# a file's servers and browsers choose their ports one after the other
BY_FILE = ("--dist", "loadfile")
# What is said about migrations is said by the other tests: these make their tables of the models,
# which `migrations` holds against them, and save half a minute.
WITHOUT_MIGRATIONS = "--nomigrations"


@dataclass(frozen=True)
class Check:
    """One check: a program of the project's environment and what it is called with."""

    name: str
    words: Sequence[str]
    env: Mapping[str, str] = field(default_factory=dict)
    program: str = "python"
    on_postgres: bool = False
    silent_seconds: float = SILENT_SECONDS


class SilentTooLong(Exception):
    """A check said nothing for so long that it hangs."""


@dataclass(frozen=True)
class Outcome:
    """How a check ended."""

    name: str
    passed: bool
    seconds: float


def checks(root: Path) -> list[Check]:
    """Return every check in the order in which a mistake is cheapest to find."""
    templates = sorted(str(path.relative_to(root)) for path in (root / "templates").rglob("*.html"))
    as_deployed = {"HTTPS": "1", "DEBUG": "0", "SECRET_KEY": secrets.token_urlsafe(60)}
    deployment = ("check", "--deploy", "--fail-level", "WARNING")
    # A test that hangs shows where before the check is stopped.
    pytest = ("-m", "pytest", "--tb=short", "-o", f"faulthandler_timeout={STUCK_SECONDS}")
    return [
        Check("format", ("-m", "ruff", "format", "--check", ".")),
        Check("lint", ("-m", "ruff", "check", ".")),
        Check("templates", ("--check", "--target-version", "5.2", *templates), program="djade"),
        Check("types", ("-m", "mypy")),
        Check("migrations", ("manage.py", "makemigrations", "--check", "--dry-run")),
        Check("deployment", ("manage.py", *deployment), as_deployed),
        Check("tests", (*pytest, *THREE_AT_A_TIME, "-m", HERE, f"--ignore={PAGES}")),
        Check(
            "browser tests",
            (*pytest, *TWO_AT_A_TIME, *BY_FILE, WITHOUT_MIGRATIONS, "-m", "browser", PAGES),
        ),
        Check(
            "files in LibreOffice",
            (*pytest, *TWO_AT_A_TIME, WITHOUT_MIGRATIONS, "-m", "office", *NEITHER),
        ),
        Check(
            "tests on PostgreSQL",
            (*pytest, *THREE_AT_A_TIME, "-m", ON_POSTGRES, *NEITHER),
            on_postgres=True,
        ),
    ]


def verify(root: Path, only: Sequence[str] = ()) -> int:
    """Run the checks (all, or those named), print the table, return the exit code."""
    return run_checks(root, [check for check in checks(root) if not only or check.name in only])


def run_checks(root: Path, chosen: Sequence[Check]) -> int:
    """Run every one of the checks, also after a failed one, and return the exit code."""
    signal.signal(signal.SIGTERM, _stop_on_signal)
    signal.signal(signal.SIGHUP, _stop_on_signal)
    outcomes: list[Outcome] = []
    with ExitStack() as at_the_end:
        folder = Path(tempfile.mkdtemp(prefix="pleat-verify-"))
        at_the_end.callback(shutil.rmtree, folder, ignore_errors=True)
        env = _environment(folder)
        try:
            for check in chosen:
                outcomes.append(_run_check(root, check, env))
        finally:
            answer(_table(outcomes, planned=len(chosen)))
    return 0 if all(outcome.passed for outcome in outcomes) else 1


def _environment(folder: Path) -> dict[str, str]:
    """Return an environment in which no check can reach the user's own data."""
    database = folder / "verify.sqlite3"
    # closed to others before SQLite makes it, as `setup` leaves it: the deployment check looks
    database.touch(mode=0o600)
    env = {
        **os.environ,
        "DATA_DIR": str(folder),
        "DATABASE_URL": f"sqlite:///{database}",
        "CHROMIUM": chromium() or "",
    }
    # the checks start Python a few hundred times, and what it compiled once it need not again
    for name in ("ALLOWED_HOSTS", "DEBUG", "SECRET_KEY", "PYTHONHOME", "PYTHONDONTWRITEBYTECODE"):
        env.pop(name, None)
    for name in ("HTTPS", "HSTS_SUBDOMAINS", "HSTS_PRELOAD"):
        env.pop(name, None)
    if env.get("CI"):
        env |= {"NO_COLOR": "1", "PY_COLORS": "0", "TERM": "dumb"}
    elif sys.stdout.isatty() and not env.get("NO_COLOR"):
        # the checks speak into a pipe and would not see the terminal behind it
        env["FORCE_COLOR"] = "1"
    return env


def _run_check(root: Path, check: Check, env: Mapping[str, str]) -> Outcome:
    answer(f"\n== {check.name}")
    started = time.monotonic()
    with ExitStack() as at_the_end:
        own = {**env, **check.env}
        try:
            if check.on_postgres:
                own["DATABASE_URL"] = at_the_end.enter_context(private_postgres())
            passed = _run(root, check, own) == 0
        except PostgresNotStarted as refusal:
            answer(refusal.message)
            passed = False
        except SilentTooLong:
            answer(f"Stopped: it said nothing for {_minutes(check.silent_seconds)}.")
            passed = False
    return Outcome(check.name, passed, time.monotonic() - started)


def _run(root: Path, check: Check, env: Mapping[str, str]) -> int:
    reading, writing = os.pipe()
    process = subprocess.Popen(
        [str(environment_python(root).parent / check.program), *check.words],
        cwd=root,
        env=dict(env),
        stdin=subprocess.DEVNULL,
        stdout=writing,
        stderr=subprocess.STDOUT,  # one stream, or the parts of a log end up in the wrong order
    )
    os.close(writing)
    voice = Voice(reading)
    voice.start()
    try:
        return _wait(process, voice, check.silent_seconds)
    except BaseException:
        # Let the tests close their browsers and databases before the rest is torn down.
        process.terminate()
        try:
            process.wait(GRACE_SECONDS)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
        raise
    finally:
        # not for ever: a program it left behind may still hold the other end
        voice.join(LOOK_EVERY_SECONDS)


class Voice(threading.Thread):
    """Passes on what a check says and keeps when it last said something."""

    def __init__(self, reading: int, clock: Callable[[], float] = time.monotonic) -> None:
        super().__init__(daemon=True)
        self.reading, self.clock, self.heard_at = reading, clock, clock()

    def run(self) -> None:
        """Read until nobody can speak any more, or nobody listens to this process."""
        with open(self.reading, "rb", buffering=0) as words, suppress(BrokenPipeError):
            while some := words.read(65536):
                self.heard_at = self.clock()
                sys.stdout.buffer.write(some)
                sys.stdout.buffer.flush()


def _wait(process: subprocess.Popen[bytes], voice: Voice, silent_seconds: float) -> int:
    while True:
        with suppress(subprocess.TimeoutExpired):
            return process.wait(LOOK_EVERY_SECONDS)
        if voice.clock() - voice.heard_at > silent_seconds:
            raise SilentTooLong


def _stop_on_signal(number: int, frame: object) -> None:
    raise SystemExit(128 + number)


def _table(outcomes: Sequence[Outcome], planned: int) -> str:
    lines = ["", f"{'Check':<22}{'Result':<10}{'Time':>8}"]
    for outcome in outcomes:
        result = "ok" if outcome.passed else "FAILED"
        lines.append(f"{outcome.name:<22}{result:<10}{_minutes(outcome.seconds):>8}")
    total = _minutes(sum(outcome.seconds for outcome in outcomes))
    failed = [outcome.name for outcome in outcomes if not outcome.passed]
    if len(outcomes) < planned:
        lines.append(f"Stopped: {planned - len(outcomes)} of {planned} checks did not finish.")
    elif failed:
        lines.append(f"{len(failed)} of {len(outcomes)} checks failed: {', '.join(failed)}.")
    else:
        lines.append(f"All {len(outcomes)} checks are fine ({total}).")
    return "\n".join(lines)


def _minutes(seconds: float) -> str:
    return f"{int(seconds) // 60}:{int(seconds) % 60:02d}"
