"""One archive holds a whole copy: a zip with a manifest, refused when one byte is not as written.

Plain Python: it knows neither Django nor which database the members come from.
"""

import contextlib
import glob
import hashlib
import json
import os
import re
import struct
import tempfile
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import IO, Any

from maker.calc.refusal import Refusal

FORMAT = "Pleat & Penny backup"
VERSION = 1
MANIFEST = "manifest.json"
DATABASE = "database"
LARGEST_MANIFEST = 1024 * 1024
MOST_MEMBERS = 100_000
# The comment of a zip is its very end (APPNOTE 4.3.16), so it can hold the sum of all before it.
SEAL = re.compile(rb"sha256:[0-9a-f]{64}\Z")
SEAL_LENGTH = len("sha256:") + 64
BLOCK = 1024 * 1024
# what zipfile raises on bytes that are no zip, besides its own BadZipFile
UNREADABLE = (
    zipfile.BadZipFile,
    zipfile.LargeZipFile,
    zlib.error,
    struct.error,
    EOFError,
    RuntimeError,
    ValueError,
)


class BackupNotWritten(Refusal):
    """The copy could not be written or did not read back as written; nothing was left behind."""


class BackupDamaged(Refusal):
    """The file is not a backup, was cut short, or is not as it was written."""


class BackupNewer(Refusal):
    """The backup was made by a newer version of the program."""


@dataclass(frozen=True, slots=True)
class Member:
    """One file of the archive; sizes in bytes, the sum in hexadecimal digits."""

    name: str
    size: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Facts:
    """What a copy says about itself: who made it, when, why, and of what kind of database.

    `migrations` are the changes of the database that were made, each as `app.name`.
    """

    program: str
    made_at: datetime
    reason: str
    database: str
    migrations: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Manifest:
    """The facts of an archive and what lies in it."""

    facts: Facts
    members: tuple[Member, ...]


def write_archive(target: Path, facts: Facts, members: Mapping[str, Path]) -> Manifest:
    """Write the files into one archive, readable by its owner alone, and read it back.

    It has another name until all of it is on the disk and was read back; only then does it take the
    place of an older file of the name. Refused: BackupNotWritten.
    """
    try:
        for left in target.parent.glob(f".{glob.escape(target.name)}.*.part"):
            left.unlink(missing_ok=True)  # by one that was killed
        handle, beside = tempfile.mkstemp(
            prefix=f".{target.name}.", suffix=".part", dir=target.parent
        )
        try:
            with os.fdopen(handle, "w+b") as file:
                _write(file, facts, members)
                file.flush()
                os.fsync(file.fileno())
            manifest = read_archive(Path(beside))
            Path(beside).replace(target)
        finally:
            Path(beside).unlink(missing_ok=True)
        keep_name(target.parent)
    except OSError as error:
        raise BackupNotWritten(
            f"The backup could not be written: {error.strerror or error}. Nothing was left behind.",
            where=str(target),
        ) from error
    except BackupDamaged as error:
        raise BackupNotWritten(
            "The backup does not read back as it was written. Check the disk, or name another.",
            where=str(target),
        ) from error
    return manifest


def keep_name(folder: Path) -> None:
    """Have the system write down which names the folder holds, so that a power cut takes none."""
    # some file systems of sticks and networks cannot
    with contextlib.suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def _write(file: IO[bytes], facts: Facts, members: Mapping[str, Path]) -> None:
    listed = [
        Member(name, path.stat().st_size, sha256_of(path)) for name, path in sorted(members.items())
    ]
    content = {
        "format": FORMAT,
        "version": VERSION,
        **asdict(facts),
        "made_at": facts.made_at.isoformat(),
        "members": [asdict(member) for member in listed],
    }
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(MANIFEST, json.dumps(content, ensure_ascii=False, indent=1))
        for name, path in sorted(members.items()):
            archive.write(path, name)
        archive.comment = b"0" * SEAL_LENGTH
    end = file.seek(0, os.SEEK_END) - SEAL_LENGTH
    seal = _seal(file, end)
    file.seek(end)
    file.write(seal)


def sha256_of(path: Path) -> str:
    """Return the SHA-256 of a file in hexadecimal digits."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _seal(file: IO[bytes], end: int) -> bytes:
    """Return what is at the end of an archive whose other bytes end there."""
    digest, left = hashlib.sha256(), end
    file.seek(0)
    while left and (block := file.read(min(BLOCK, left))):
        digest.update(block)
        left -= len(block)
    return b"sha256:" + digest.hexdigest().encode()


def read_archive(path: Path) -> Manifest:
    """Return the manifest of an archive every byte of which is as it was written.

    Refused: BackupDamaged, and BackupNewer for a later version of the format.
    """
    with _opened(path) as archive:
        manifest = _manifest(archive)
        for member in manifest.members:
            _copy(archive, member, None)
    return manifest


def extract(path: Path, name: str, target: Path) -> None:
    """Write one member of an archive into a new file, checked once more on its way."""
    with _opened(path) as archive:
        (member,) = (one for one in _manifest(archive).members if one.name == name)
        target.touch(mode=0o600, exist_ok=False)
        with target.open("wb") as file:
            _copy(archive, member, file)
            file.flush()
            os.fsync(file.fileno())


def extract_each(path: Path, prefix: str, folder: Path) -> Iterator[Path]:
    """Write the members of a prefix into a folder, one after the other, each checked; yield it.

    The file is gone when the next is asked for, so that a folder never holds them all.
    """
    with _opened(path) as archive:
        for member in _manifest(archive).members:
            if not member.name.startswith(prefix):
                continue
            target = folder / member.name.removeprefix(prefix).replace("/", "_")
            with target.open("wb") as file:
                _copy(archive, member, file)
            yield target
            target.unlink()


@contextlib.contextmanager
def _opened(path: Path) -> Iterator[zipfile.ZipFile]:
    try:
        file = path.open("rb")
    except OSError as error:
        raise BackupDamaged(
            f"The file cannot be read: {error.strerror or error}.", where=path.name
        ) from error
    with file:
        end = file.seek(0, os.SEEK_END) - SEAL_LENGTH
        file.seek(max(end, 0))
        seal = file.read()
        if end < 0 or not SEAL.match(seal) or seal != _seal(file, end):
            raise _damaged(path)
        try:
            with zipfile.ZipFile(file) as archive:
                yield archive
        except UNREADABLE as error:
            raise _damaged(path) from error


def _damaged(path: Path) -> BackupDamaged:
    return BackupDamaged(
        "This is not a whole backup: it is damaged, cut short or another kind of file. "
        "Nothing was changed. Use another backup.",
        where=path.name,
    )


def _manifest(archive: zipfile.ZipFile) -> Manifest:
    names = archive.namelist()
    if len(names) > MOST_MEMBERS or len(names) != len(set(names)) or MANIFEST not in names:
        raise ValueError("no archive of ours")
    with archive.open(MANIFEST) as file:
        content = json.loads(file.read(LARGEST_MANIFEST + 1))
    if not isinstance(content, dict) or content.get("format") != FORMAT:
        raise ValueError("no manifest of ours")
    version = content.get("version")
    if isinstance(version, int) and version > VERSION:
        raise BackupNewer(
            f"This backup was made by a newer version ({str(content.get('program'))[:20]}). "
            "Update the program first. Nothing was changed.",
            where=MANIFEST,
        )
    manifest = _as_manifest(content)
    if {MANIFEST, *(member.name for member in manifest.members)} != set(names):
        raise ValueError("the manifest names other members")
    return manifest


def _as_manifest(content: dict[str, Any]) -> Manifest:
    try:
        members = tuple(
            Member(str(row["name"]), int(row["size"]), str(row["sha256"]))
            for row in content["members"]
        )
        facts = Facts(
            program=str(content["program"]),
            made_at=datetime.fromisoformat(content["made_at"]),
            reason=str(content["reason"]),
            database=str(content["database"]),
            migrations=tuple(str(name) for name in content["migrations"]),
        )
        if facts.made_at.tzinfo is None:
            raise ValueError("a moment of no place")
    except (KeyError, TypeError) as error:
        raise ValueError("the manifest is not whole") from error
    return Manifest(facts, members)


def _copy(archive: zipfile.ZipFile, member: Member, target: IO[bytes] | None) -> None:
    """Read a member to its end, never more than it says, and hold it against its sum."""
    digest, left = hashlib.sha256(), member.size
    with archive.open(member.name) as source:
        while block := source.read(BLOCK):
            left -= len(block)
            if left < 0:
                break
            digest.update(block)
            if target is not None:
                target.write(block)
    if left or digest.hexdigest() != member.sha256:
        raise ValueError("a member is not as it was written")
