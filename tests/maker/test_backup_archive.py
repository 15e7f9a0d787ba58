"""An archive is read back as it was written, and refused when one byte of it is not."""

import hashlib
import json
import os
import zipfile
from datetime import UTC, datetime

import pytest

from maker.backup.archive import (
    SEAL_LENGTH,
    BackupDamaged,
    BackupNewer,
    BackupNotWritten,
    Facts,
    extract,
    read_archive,
    sha256_of,
    write_archive,
)

FACTS = Facts("0.2.0", datetime(2026, 11, 29, 11, 15, tzinfo=UTC), "daily", "sqlite", ("maker.1",))


@pytest.fixture
def database(tmp_path):
    path = tmp_path / "database"
    path.write_bytes(bytes(range(256)) * 20)
    return path


@pytest.fixture
def archive(tmp_path, database):
    path = tmp_path / "copy.zip"
    write_archive(path, FACTS, {"database": database})
    return path


def test_it_comes_back_as_it_was_written(archive, database, tmp_path):
    manifest = read_archive(archive)
    assert manifest.facts == FACTS
    assert [(one.name, one.size) for one in manifest.members] == [("database", 5120)]
    extract(archive, "database", tmp_path / "out")
    assert (tmp_path / "out").read_bytes() == database.read_bytes()
    for path in (archive, tmp_path / "out"):
        assert path.stat().st_mode & 0o777 == 0o600


def test_any_program_for_zip_files_opens_it(archive):
    with zipfile.ZipFile(archive) as opened:
        assert opened.testzip() is None
        assert set(opened.namelist()) == {"manifest.json", "database"}


def test_nothing_but_the_archive_is_left_in_the_folder(archive, database, tmp_path):
    (tmp_path / ".copy.zip.x1.part").write_bytes(b"left by one that was killed")
    write_archive(archive, FACTS, {"database": database})
    assert {path.name for path in tmp_path.iterdir()} == {"copy.zip", "database"}


def is_refused(path):
    try:
        read_archive(path)
    except BackupDamaged:
        return True
    return False


def test_one_byte_changed_anywhere_is_refused(archive):
    whole = archive.read_bytes()
    with archive.open("r+b", buffering=0) as file:
        for at, byte in enumerate(whole):
            file.seek(at)
            file.write(bytes([byte ^ 1]))
            assert is_refused(archive), at
            file.seek(at)
            file.write(bytes([byte]))
    read_archive(archive)


def test_cut_short_anywhere_or_grown_is_refused(archive):
    whole = archive.read_bytes()
    archive.write_bytes(whole + b"\0")
    assert is_refused(archive)
    for length in reversed(range(len(whole))):
        os.truncate(archive, length)
        assert is_refused(archive), length


def sealed(path, members, manifest=None):
    """Write an archive with a right seal and whatever inside, as somebody with bad intent would."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        if manifest is not None:
            archive.writestr("manifest.json", json.dumps(manifest))
        for name, content in members:
            archive.writestr(name, content)
        archive.comment = b"0" * SEAL_LENGTH
    body = path.read_bytes()[:-SEAL_LENGTH]
    path.write_bytes(body + b"sha256:" + hashlib.sha256(body).hexdigest().encode())
    return path


def manifest_of(archive, **changes):
    with zipfile.ZipFile(archive) as opened:
        return json.loads(opened.read("manifest.json")) | changes


@pytest.mark.parametrize(
    "changes",
    [
        {"format": "something else"},
        {"members": []},
        {"members": [{"name": "../../etc/passwd", "size": 1, "sha256": "0"}]},
        {"members": "database"},
        {"members": [7]},
        {"made_at": "yesterday"},
        {"made_at": "2026-11-29T11:15:00"},
        {"made_at": None},
        {"migrations": 5},
    ],
)
def test_a_manifest_that_is_not_ours_is_refused(archive, database, tmp_path, changes):
    path = sealed(
        tmp_path / "bad.zip",
        [("database", database.read_bytes())],
        manifest_of(archive, **changes),
    )
    with pytest.raises(BackupDamaged):
        read_archive(path)


def test_a_newer_format_is_told_from_a_damaged_one(archive, database, tmp_path):
    manifest = manifest_of(archive, version=2, program="9.0.0", members="of another kind")
    path = sealed(tmp_path / "new.zip", [("database", database.read_bytes())], manifest)
    with pytest.raises(BackupNewer, match=r"newer version \(9\.0\.0\)\. Update the program first"):
        read_archive(path)


def test_a_member_larger_than_it_says_is_not_read_on(archive, tmp_path):
    bomb = sealed(tmp_path / "bomb.zip", [("database", bytes(50_000_000))], manifest_of(archive))
    with pytest.raises(BackupDamaged):
        extract(bomb, "database", tmp_path / "out")
    assert (tmp_path / "out").stat().st_size <= 5120


@pytest.mark.parametrize("content", [b"", b"PK", b"no zip at all" * 50])
def test_other_files_are_refused(tmp_path, content):
    path = tmp_path / "letter.zip"
    path.write_bytes(content)
    with pytest.raises(BackupDamaged, match="not a whole backup"):
        read_archive(path)


def test_what_cannot_be_read_or_written_is_told(tmp_path, database):
    with pytest.raises(BackupDamaged, match="No such file"):
        read_archive(tmp_path / "nothing.zip")
    with pytest.raises(BackupDamaged, match="Is a directory"):
        read_archive(tmp_path)
    with pytest.raises(BackupNotWritten, match="No such file"):
        write_archive(tmp_path / "no" / "folder.zip", FACTS, {"database": database})


def test_one_that_fails_leaves_the_older_archive(archive, database):
    before = sha256_of(archive)
    with pytest.raises(BackupNotWritten, match="No such file"):
        write_archive(archive, FACTS, {"database": database.with_name("gone")})
    assert sha256_of(archive) == before
    assert not list(archive.parent.glob(".*"))
