"""The folder of copies: their names, one writer at a time, and which of them go."""

import contextlib
import fcntl
import os
import re
import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from django.conf import settings

from maker.backup.archive import BackupNotWritten, keep_name, sha256_of
from maker.backup.keeping import those_that_stay
from maker.calc.refusal import Refusal

NAME = re.compile(r"pleat-(\d{8}-\d{6})(?:-\d+)?-([a-z]+(?:-[a-z]+)?)\.zip")
STAMP = "%Y%m%d-%H%M%S"
STAGED, PART = ".staged-", ".part"
REASONS = {
    "daily": "Daily",
    "by-hand": "Made by hand",
    "before-update": "Before an update",
    "before-restore": "Before a restore",
    "uploaded": "Uploaded",
}


class Busy(Refusal):
    """A copy is being made or restored at this moment."""


@dataclass(frozen=True, slots=True)
class Copy:
    """One archive of the folder, as its name tells it."""

    path: Path
    made_at: datetime
    reason: str
    size: int

    @property
    def name(self) -> str:
        """Name of the file."""
        return self.path.name

    @property
    def is_ours(self) -> bool:
        """Whether this installation made it."""
        return self.reason != "uploaded"

    @property
    def reason_text(self) -> str:
        """Why it was made, in words."""
        return REASONS.get(self.reason, self.reason)


def own_folder() -> Path:
    """Return the folder of copies in the data folder, closed to others."""
    folder = Path(settings.DATA_DIR) / "backups"
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        folder.chmod(0o700)
    except OSError as error:
        raise BackupNotWritten(
            f"The folder of backups cannot be used: {error.strerror}.", where=str(folder)
        ) from error
    return folder


def copies(folder: Path) -> list[Copy]:
    """Return the copies of a folder, newest first."""
    found = []
    for path in folder.iterdir():
        named = NAME.fullmatch(path.name)
        if named and path.is_file():
            made_at = datetime.strptime(named[1], STAMP).replace(tzinfo=UTC)
            found.append(Copy(path, made_at, named[2], path.stat().st_size))
    return sorted(found, key=lambda copy: (copy.made_at, copy.name), reverse=True)


def copy_named(name: str) -> Copy | None:
    """Return the copy of the own folder with this name."""
    return next((copy for copy in copies(own_folder()) if copy.name == name), None)


def free_path(folder: Path, made_at: datetime, reason: str) -> Path:
    """Return a name nothing in the folder has."""
    stamp = made_at.astimezone(UTC).strftime(STAMP)
    path, number = folder / f"pleat-{stamp}-{reason}.zip", 1
    while path.exists():
        number += 1
        path = folder / f"pleat-{stamp}-{number}-{reason}.zip"
    return path


@contextlib.contextmanager
def one_at_a_time() -> Iterator[Path]:
    """Give the folder to one writer, without what a killed one left. Refused: Busy."""
    folder = own_folder()
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            raise Busy(
                "A backup is being made or restored at this moment. Try again in a minute."
            ) from error
        for path in folder.iterdir():
            if path.name.startswith(STAGED):
                shutil.rmtree(path)
            elif path.name.endswith(PART):
                path.unlink()
        yield folder
    finally:
        os.close(descriptor)


@contextlib.contextmanager
def staging(folder: Path) -> Iterator[Path]:
    """Give a place for files of the moment, on the same disk as the copies."""
    try:
        with tempfile.TemporaryDirectory(prefix=STAGED, dir=folder) as place:
            yield Path(place)
    except OSError as error:
        raise BackupNotWritten(
            f"The backup could not be written: {error.strerror or error}.", where=str(folder)
        ) from error


def forget_old(folder: Path, also_in: Path | None = None) -> list[str]:
    """Remove the copies that need not stay, also in a second folder; return their names."""
    gone = []
    kept = copies(folder)
    stay = those_that_stay(copy.made_at for copy in kept)
    for copy in kept:
        if copy.made_at not in stay:
            gone.append(copy.name)
            copy.path.unlink(missing_ok=True)
            if also_in is not None:
                (also_in / copy.name).unlink(missing_ok=True)
    return gone


def copy_over(path: Path, folder: Path) -> None:
    """Put the same file into another folder, read back before it gets its name."""
    handle, beside = tempfile.mkstemp(prefix=f".{path.name}.", suffix=PART, dir=folder)
    try:
        with os.fdopen(handle, "wb") as target, path.open("rb") as source:
            shutil.copyfileobj(source, target)
            target.flush()
            os.fsync(target.fileno())
        if sha256_of(Path(beside)) != sha256_of(path):
            raise OSError("it does not read back as it was written")
        Path(beside).replace(folder / path.name)
        keep_name(folder)
    finally:
        Path(beside).unlink(missing_ok=True)
