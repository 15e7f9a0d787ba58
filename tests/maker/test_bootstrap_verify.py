"""`verify`: every check runs, failures are counted, and nothing is left behind."""

import os
import signal
import subprocess
import sys
import tempfile
from pathlib import Path
from urllib.parse import unquote, urlsplit

import psycopg
import pytest

from maker.setup.machine import postgres_program
from maker.setup.place import ROOT
from maker.setup.postgres import private_postgres
from maker.setup.verify import SilentTooLong, Voice, _wait, checks
from tests.maker.setup_scene import clean_env
from tests.patience import PATIENCE_S

with_postgres = pytest.mark.skipif(
    postgres_program("initdb") is None, reason="PostgreSQL's server is not installed here"
)


class InTheMiddle(Exception):
    """Something went wrong while the server ran."""


class Speaking:
    """A check and its voice in one: at each look the time, and when it last said something."""

    def __init__(self, *looks: tuple[float, float]) -> None:
        self.looks, self.now, self.heard_at = iter(looks), 0.0, 0.0

    def wait(self, timeout: float) -> int:
        try:
            self.now, self.heard_at = next(self.looks)
        except StopIteration:
            return 0
        raise subprocess.TimeoutExpired("check", timeout)

    def clock(self) -> float:
        return self.now


def run_checks(*made: str, **settings: str) -> subprocess.Popen[str]:
    """Start the given checks in a process of their own."""
    code = (
        f"import signal, sys; sys.path.insert(0, {str(ROOT)!r})\n"
        # a shell that runs the tests in the background has them ignore Ctrl-C
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "from maker.setup.place import ROOT\nfrom maker.setup.verify import Check, run_checks\n"
        f"sys.exit(run_checks(ROOT, [{', '.join(made)}]))"
    )
    return subprocess.Popen(
        [sys.executable, "-c", code],
        env=clean_env(**settings),
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
    )


def finished(process: subprocess.Popen[str]) -> tuple[int, str]:
    output, _ = process.communicate(timeout=PATIENCE_S)
    return process.returncode, output


def test_a_failed_check_does_not_hide_the_next(tmp_path):
    code, output = finished(
        run_checks(
            "Check('first', ('-c', 'print(\"from the first\"); raise SystemExit(3)'))",
            "Check('second', ('-c', 'print(\"from the second\")'))",
        )
    )
    assert code == 1
    assert "from the first" in output
    assert "from the second" in output
    table = output[output.index("Check ") :]
    assert [line.split()[:2] for line in table.splitlines()[1:3]] == [
        ["first", "FAILED"],
        ["second", "ok"],
    ]
    assert output.splitlines()[-1] == "1 of 2 checks failed: first."


def test_a_check_that_hangs_is_stopped_and_the_next_one_runs():
    code, output = finished(
        run_checks(
            "Check('stuck', ('-c', 'import time; time.sleep(9999)'), silent_seconds=1)",
            "Check('next', ('-c', 'print(\"from the next\")'))",
        )
    )
    assert code == 1
    assert "Stopped: it said nothing for 0:01." in output
    assert "from the next" in output
    assert output.splitlines()[-1] == "1 of 2 checks failed: stuck."


def test_what_a_check_says_is_passed_on_and_counts_as_life(capfdbinary):
    times = iter([0.0, 7.0, 9.0])
    reading, writing = os.pipe()
    voice = Voice(reading, clock=lambda: next(times))
    assert voice.heard_at == 0
    os.write(writing, b"half a")
    voice.start()
    while voice.heard_at == 0:
        voice.join(0.01)
    assert voice.heard_at == 7
    os.write(writing, b" line\n")
    os.close(writing)
    voice.join()
    assert voice.heard_at == 9
    assert capfdbinary.readouterr().out == b"half a line\n"


def test_a_slow_check_that_goes_on_speaking_is_not_stopped():
    slow = Speaking((4, 3), (8, 7), (900, 899))
    assert _wait(slow, slow, silent_seconds=5) == 0
    stuck = Speaking((4, 3), (9, 3), (10, 10))
    with pytest.raises(SilentTooLong):
        _wait(stuck, stuck, silent_seconds=5)


def test_all_fine_is_said_and_returned():
    code, output = finished(run_checks("Check('only', ('-c', ''))"))
    assert code == 0
    assert output.splitlines()[-1].startswith("All 1 checks are fine")


def test_a_run_without_a_single_test_is_a_failure(tmp_path):
    empty = tmp_path / "test_nothing.py"
    empty.write_text('"""Nothing."""\n')
    words = f"('-m', 'pytest', '-p', 'no:django', '-c', '/dev/null', {str(empty)!r})"
    code, output = finished(run_checks(f"Check('tests', {words})"))
    assert "no tests ran" in output
    assert code == 1


def test_checks_never_see_the_user_s_own_data(tmp_path):
    words = "import os; print(os.environ['DATABASE_URL'], os.environ['DATA_DIR'])"
    _, output = finished(
        run_checks(f"Check('seen', ('-c', {words!r}))", DATABASE_URL="sqlite:////precious.db")
    )
    assert "precious" not in output
    assert "pleat-verify-" in output
    folder = Path(output.split("sqlite:///")[1].split()[0]).parent
    assert not folder.exists()


def test_what_one_check_compiles_the_next_need_not():
    words = "import sys; print('keeps', not sys.dont_write_bytecode)"
    _, output = finished(
        run_checks(f"Check('seen', ('-c', {words!r}))", PYTHONDONTWRITEBYTECODE="1")
    )
    assert "keeps True" in output


def test_the_database_of_the_checks_is_closed_to_others():
    words = (
        "import os, sqlite3; name = os.environ['DATABASE_URL'].removeprefix('sqlite:///'); "
        "sqlite3.connect(name).execute('CREATE TABLE one (two)'); "
        "print('mode', oct(os.stat(name).st_mode & 0o777))"
    )
    _, output = finished(run_checks(f"Check('seen', ('-c', {words!r}))"))
    assert "mode 0o600" in output


def test_in_ci_there_are_no_colours():
    words = "import os; print(os.environ['NO_COLOR'], os.environ['PY_COLORS'])"
    _, output = finished(run_checks(f"Check('seen', ('-c', {words!r}))", CI="true"))
    assert "1 0" in output.splitlines()


def test_every_kind_of_check_is_on_the_list():
    words = [" ".join(check.words) for check in checks(ROOT)]
    for needed in (
        "ruff format --check",
        "ruff check",
        "templates/base.html",
        "mypy",
        "makemigrations --check",
        "check --deploy",
        "-m browser",
        "-m database",
    ):
        assert any(needed in text for text in words), needed
    assert sum(check.on_postgres for check in checks(ROOT)) == 1


@with_postgres
def test_the_private_postgresql_answers_and_is_gone_afterwards():
    with private_postgres() as url:
        with psycopg.connect(url) as connection:
            version, encoding = connection.execute(
                "SELECT version(), current_setting('server_encoding')"
            ).fetchone()
            folder = Path(connection.execute("SHOW data_directory").fetchone()[0]).parent
        assert version.startswith("PostgreSQL")
        assert encoding == "UTF8"
        assert folder.exists()
    assert not folder.exists()
    with pytest.raises(psycopg.OperationalError):
        psycopg.connect(url)


@with_postgres
def test_a_long_path_for_temporary_files_is_gone_round(tmp_path, monkeypatch):
    long = tmp_path / ("long" * 20)
    long.mkdir()
    _open_folder(long)
    monkeypatch.setattr(tempfile, "tempdir", str(long))
    with private_postgres() as url:
        psycopg.connect(url).close()
    assert list(long.iterdir()) == []


@with_postgres
def test_the_private_postgresql_is_stopped_after_a_failure_too():
    with pytest.raises(InTheMiddle), private_postgres() as url:
        raise InTheMiddle
    with pytest.raises(psycopg.OperationalError):
        psycopg.connect(url)


@with_postgres
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_stopped_in_the_middle_it_clears_up(tmp_path, number):
    words = "import os, time; print('url', os.environ['DATABASE_URL'], flush=True); time.sleep(999)"
    process = run_checks(
        f"Check('long', ('-c', {words!r}), on_postgres=True)", TMPDIR=str(_open_folder(tmp_path))
    )
    url = next(line.split()[1] for line in process.stdout if line.startswith("url "))
    psycopg.connect(url).close()
    # As a terminal does it: the whole group gets the signal.
    os.killpg(process.pid, number)
    code, output = finished(process)
    assert code != 0
    assert "Stopped: 1 of 1 checks did not finish." in output
    assert [place.name for place in tmp_path.iterdir()] == []
    assert not Path(unquote(urlsplit(url).hostname)).exists()
    with pytest.raises(psycopg.OperationalError):
        psycopg.connect(url)


def _open_folder(folder: Path) -> Path:
    """Let PostgreSQL's own user reach the folder when root runs the tests."""
    for place in (folder, *folder.parents):
        if place != Path("/") and place.stat().st_uid == os.geteuid():
            place.chmod(place.stat().st_mode | 0o711)
    return folder
