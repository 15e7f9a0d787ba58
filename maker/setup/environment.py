"""The project's own environment `.venv`: made, filled from hashed requirements, mended."""

# ruff: noqa: S603 - every command is a list built here, and none goes through a shell

import fcntl
import hashlib
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from maker.setup.machine import VENV_PART, ensure_parts
from maker.setup.place import (
    FolderNotWritable,
    MachineNotReady,
    environment_python,
    say,
    user_name,
)

TO_RUN = ("requirements.txt",)
TO_VERIFY = ("requirements.txt", "requirements-test.txt")
ENOUGH_BYTES = 50_000_000
UNREACHABLE_WORDS = ("Retrying (Retry(", "NewConnectionError", "Temporary failure in name")


class EnvironmentNotMade(MachineNotReady):
    """`.venv` could not be made or filled."""


class IndexUnreachable(EnvironmentNotMade):
    """pip found no way to the package index, so it changed nothing."""


def ensure_folder_is_writable(root: Path) -> None:
    """Refuse before anything is installed when `.venv` could not be put into the folder."""
    try:
        with tempfile.TemporaryFile(dir=root):
            pass
    except OSError as error:
        raise FolderNotWritable(
            f"The folder {root} cannot be written by {user_name()} ({error.strerror}), and the "
            f"project's environment .venv belongs into it: run `sudo chown -R {user_name()} {root}`"
            ", or copy the folder into your home and start it there."
        ) from error


def environment_is_complete(root: Path, requirements: Sequence[str]) -> bool:
    """Say whether every requirements file is installed as it stands now."""
    return environment_python(root).exists() and not any(
        _is_outdated(root, name) for name in requirements
    )


def ensure_environment(root: Path, requirements: Sequence[str]) -> None:
    """Make `.venv` and install the requirements files that are new or have changed."""
    if environment_is_complete(root, requirements):
        return
    with one_at_a_time(root):
        ensure_folder_is_writable(root)
        if not _is_sound(root):
            _make_anew(root)
        for name in requirements:
            if _is_outdated(root, name):
                _install(root, name)


@contextmanager
def one_at_a_time(root: Path) -> Iterator[None]:
    """Let only one process set up this folder; the lock is on the folder, so no file is left."""
    folder = os.open(root, os.O_RDONLY)
    try:
        try:
            fcntl.flock(folder, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            say("Waiting: another start is setting up this folder.")
            fcntl.flock(folder, fcntl.LOCK_EX)
        yield
    finally:
        os.close(folder)


def _stamp(root: Path, name: str) -> Path:
    return root / ".venv" / f".installed-{name}"


def _unfinished(root: Path) -> Path:
    """Return the mark that says someone is in the middle of installing, or was killed there."""
    return root / ".venv" / ".unfinished"


def _fingerprint(root: Path, name: str) -> str:
    digest = hashlib.sha256((root / name).read_bytes()).hexdigest()
    # The resolved path changes when the system's Python is upgraded under the environment.
    return f"{digest} {environment_python(root).resolve()}\n"


def _is_outdated(root: Path, name: str) -> bool:
    stamp = _stamp(root, name)
    return not stamp.exists() or stamp.read_text() != _fingerprint(root, name)


def _is_sound(root: Path) -> bool:
    """Say whether `.venv` can be installed into as it is."""
    if _unfinished(root).exists() or not environment_python(root).exists():
        return False
    probe = [str(environment_python(root)), "-m", "pip", "--version"]
    return subprocess.run(probe, capture_output=True, check=False).returncode == 0


def _make_anew(root: Path) -> None:
    ensure_parts([VENV_PART])
    venv = root / ".venv"
    if venv.is_symlink():
        venv.unlink()
    elif venv.exists():
        shutil.rmtree(venv)
    venv.mkdir()
    _unfinished(root).touch()
    say("Making the environment .venv")
    # Not this process's own Python when it already runs inside an environment: that may be the
    # one just removed.
    base = getattr(sys, "_base_executable", sys.executable) or sys.executable
    _run(root, [base, "-m", "venv", str(venv)], "Python could not make the environment .venv")


def _install(root: Path, name: str) -> None:
    say(f"Installing the Python packages of {name} (a minute or less on most machines)")
    unfinished = _unfinished(root)
    unfinished.touch()
    pip = [
        str(environment_python(root)),
        "-m",
        "pip",
        "install",
        "--quiet",
        "--no-input",
        "--disable-pip-version-check",
        "--require-hashes",
        "--requirement",
        str(root / name),
    ]
    if name in TO_RUN:
        # No package's own code runs while it is installed, and no compiler is needed.
        pip.append("--only-binary=:all:")
    try:
        _run(root, pip, f"pip could not install the packages of {name}")
    except IndexUnreachable:
        unfinished.unlink()
        raise
    # The stamp comes last: killed before this line, the next run starts `.venv` anew.
    _stamp(root, name).write_text(_fingerprint(root, name))
    unfinished.unlink()


def _run(root: Path, command: Sequence[str], what_failed: str) -> None:
    """Run a step of the installation; its own last words are the reason in the refusal."""
    settings = {"PIP_USER": "0", "PIP_REQUIRE_VIRTUALENV": "0", "PYTHONUTF8": "1"}
    env = {key: value for key, value in os.environ.items() if key != "PYTHONHOME"} | settings
    answer = subprocess.run(command, capture_output=True, text=True, check=False, env=env)
    if answer.returncode == 0:
        return
    words = answer.stdout + answer.stderr
    lines = [line.strip() for line in words.splitlines() if line.strip()]
    errors = [line for line in lines if line.startswith("ERROR:") or "Error:" in line] or lines
    reason = errors[-1].removeprefix("ERROR: ") if errors else f"exit code {answer.returncode}"
    what = f"{what_failed}: {reason.rstrip('.')}."
    # venv hides the words of the pip it calls, so the disk is asked as well.
    if "No space left on device" in words or shutil.disk_usage(root).free < ENOUGH_BYTES:
        raise EnvironmentNotMade(
            f"{what} The disk is full: free about 600 MB, then run this again."
        )
    if "CERTIFICATE_VERIFY_FAILED" in words:
        raise IndexUnreachable(
            f"{what} The package index shows a certificate that is not trusted here: set the clock "
            "right, or name your network's own certificate file with PIP_CERT, then run this again."
        )
    if any(word in words for word in UNREACHABLE_WORDS):
        raise IndexUnreachable(
            f"{what} The package index cannot be reached: connect to the network "
            "(or set PIP_INDEX_URL to a mirror), then run this again."
        )
    raise EnvironmentNotMade(f"{what} Fix that, then run this again.")
