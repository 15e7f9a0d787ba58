"""Makes, checks, keeps and restores whole copies of the installation."""

import logging
import os
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Protocol, cast

from django.conf import settings
from django.db import connection
from django.utils import timezone

from maker import VERSION
from maker.accounts.models import Session
from maker.backup import folder as places
from maker.backup import postgres_copies, sqlite_copies
from maker.backup.archive import (
    DATABASE,
    BackupDamaged,
    BackupNewer,
    Facts,
    Manifest,
    extract,
    extract_each,
    read_archive,
    sha256_of,
    write_archive,
)
from maker.backup.models import Installation
from maker.backup.schema import (
    applied_changes,
    bring_up,
    changes_wait,
    lacks_changes,
    make_waiting_changes,
    unknown_changes,
)
from maker.calc.refusal import Refusal
from maker.files import services as files
from maker.files.models import StoredPdf, StoredPicture

logger = logging.getLogger("maker.backup")

# a row in one of these is somebody's work
WITH_DATA = ("maker_user", "maker_workshop")
LONGEST_PROBLEM = 400
# before the names of pictures and PDFs in an archive, and their endings
PICTURES, PDFS = "pictures/", "pdfs/"


class OtherDatabase(Refusal):
    """A copy of SQLite does not go into PostgreSQL, nor the other way."""


class DataAlreadyThere(Refusal):
    """Restoring takes the place of what is there, so it must be asked for."""


class SecondFolderMissing(Refusal):
    """The second folder is not there: a stick that was pulled out, a network that is away."""


class _Copies(Protocol):
    """What a kind of database brings."""

    KIND: str

    def holds_data(self, database: dict[str, Any], tables: tuple[str, ...]) -> bool: ...
    def write_copy(self, database: dict[str, Any], target: Path) -> None: ...
    def check_copy(self, path: Path) -> object: ...
    def put_in_place(self, database: dict[str, Any], staged: Path) -> None: ...


@dataclass(frozen=True, slots=True)
class Made:
    """A copy that was written and read back."""

    path: Path
    size: int
    manifest: Manifest


@dataclass(frozen=True, slots=True)
class Restored:
    """What a restore did: from what, and where lies what it replaced, if there was anything."""

    manifest: Manifest
    kept: Path | None


def _copies() -> _Copies:
    return cast(_Copies, sqlite_copies if connection.vendor == "sqlite" else postgres_copies)


def back_up(*, reason: str, target: Path | None = None) -> Made:
    """Write a whole copy, read it back, and remember when; others go on working meanwhile.

    Without a target it goes into the folder of copies, where old ones make room, and into the
    second folder. A target that is a folder gets a file with a name of its own. Refused: Busy,
    BackupNotWritten, BackupDamaged when the database itself is damaged, ProgramMissing.
    """
    with places.one_at_a_time() as folder:
        made = _write(folder, target or folder, reason)
    if target is None:
        spread(made.path, made.manifest.facts.made_at)
    Installation.objects.note(copied_at=made.manifest.facts.made_at, copy_problem="")
    return made


def copy_of_the_day() -> None:
    """Make the copy of today unless there is one, and bring it to the second folder if it must be.

    What goes wrong is kept, to be told on pages; nobody is there to read an error.
    """
    try:
        newest = next((copy for copy in places.copies(places.own_folder()) if copy.is_ours), None)
        if newest is None or timezone.localdate(newest.made_at) != timezone.localdate():
            back_up(reason="daily")
        elif Installation.objects.the_one().second_problem:
            spread(newest.path, newest.made_at)
    except Refusal as refusal:
        logger.error("no copy was made: %s", refusal.message)
        Installation.objects.note(copy_problem=refusal.message[:LONGEST_PROBLEM])


def back_up_before_update() -> Made:
    """Write a copy of a database whose tables this program may not know yet."""
    with places.one_at_a_time() as folder:
        return _write(folder, folder, "before-update")


def _write(folder: Path, target: Path, reason: str) -> Made:
    copies = _copies()
    facts = Facts(
        program=VERSION,
        made_at=timezone.now(),
        reason=reason,
        database=copies.KIND,
        migrations=applied_changes(),
    )
    if target.is_dir():
        target = places.free_path(target, facts.made_at, reason)
    with places.staging(folder) as stage:
        staged = stage / DATABASE
        copies.write_copy(connection.settings_dict, staged)
        copies.check_copy(staged)
        manifest = write_archive(target, facts, {DATABASE: staged, **_files(stage)})
    return Made(target, target.stat().st_size, manifest)


def _files(stage: Path) -> dict[str, Path]:
    """Return the stored files by their names in an archive; those of a distant storage staged.

    After the database, so that every file it speaks of is there. One that is missing is
    left out: the copy of all else is worth more.
    """
    found = {}
    # a database of before there were pictures is copied before it is brought up
    tables = connection.introspection.table_names()
    for model, prefix, ending in ((StoredPicture, PICTURES, "jpg"), (StoredPdf, PDFS, "pdf")):
        if model._meta.db_table not in tables:
            continue
        for digest in model._default_manager.values_list("digest", flat=True).distinct():
            path = files.path_or_copy(digest, stage, ending)
            if path is None:
                logger.warning("the stored file %s is missing", digest[:12])
            else:
                found[f"{prefix}{digest}.{ending}"] = path
    return found


def _put_files_back(path: Path, stage: Path) -> None:
    """Put the files of an archive into the storage, each under its digest and no other name."""
    for prefix, ending in ((PICTURES, "jpg"), (PDFS, "pdf")):
        for file in extract_each(path, prefix, stage):
            files.put(sha256_of(file), file.read_bytes(), ending)


def spread(path: Path, made_at: datetime) -> None:
    """Bring a copy to the second folder, if there is one, and let old ones go."""
    second, problem = None, ""
    if settings.BACKUP_SECOND_DIR:
        try:
            second = second_folder()
            places.copy_over(path, second)
        except Refusal as refusal:
            problem = refusal.message
        except OSError as error:
            problem = (
                f"The second folder {settings.BACKUP_SECOND_DIR} could not be written: "
                f"{error.strerror or error}."
            )
    values: dict[str, Any] = {"second_problem": problem[:LONGEST_PROBLEM]}
    if second is not None and not problem:
        values["copied_twice_at"] = made_at
    if problem:
        logger.warning("no second copy: %s", problem)
    Installation.objects.note(**values)
    places.forget_old(path.parent, second)


def second_folder() -> Path:
    """Return this installation's place in the second folder. Refused: SecondFolderMissing.

    The folder itself is never made: where a stick is not plugged in it would be made on the disk
    the stick is to protect from.
    """
    named = Path(settings.BACKUP_SECOND_DIR)
    if not named.is_dir():
        raise SecondFolderMissing(f"The second folder {named} is not there. Plug it in.")
    place = named / f"pleat-and-penny-{Installation.objects.kept_one().key}"
    place.mkdir(mode=0o700, exist_ok=True)
    return place


def look_into(path: Path) -> Manifest:
    """Return what an archive says, when it can be restored here.

    Refused: BackupDamaged, BackupNewer, OtherDatabase.
    """
    manifest = read_archive(path)
    unknown = unknown_changes(manifest.facts.migrations)
    if unknown:
        raise BackupNewer(
            f"This backup was made by a newer version ({manifest.facts.program}): it knows "
            f"{unknown[0]}. Update the program first. Nothing was changed.",
            where=path.name,
        )
    if manifest.facts.database != _copies().KIND:
        raise OtherDatabase(
            f"This backup is of a {manifest.facts.database} database; this installation has "
            f"{_copies().KIND}. Export each workshop there and import it here.",
            where=path.name,
        )
    return manifest


def take_in(blocks: Iterable[bytes]) -> places.Copy:
    """Store an archive that was sent, whole or not at all, among the copies.

    Its name says when it came in, so that it stays for a week at least. Refused: those of
    `look_into`, Busy, BackupNotWritten.
    """
    with places.one_at_a_time() as folder, places.staging(folder) as stage:
        sent = stage / "sent.zip"
        sent.touch(mode=0o600)
        with sent.open("wb") as file:
            for block in blocks:
                file.write(block)
            file.flush()
            os.fsync(file.fileno())
        look_into(sent)
        path = places.free_path(folder, timezone.now(), "uploaded")
        sent.replace(path)
    return next(copy for copy in places.copies(folder) if copy.path == path)


def holds_data() -> bool:
    """Say whether there is anything a restore would replace."""
    return _copies().holds_data(connection.settings_dict, WITH_DATA)


def restore(path: Path, *, replace: bool) -> Restored:
    """Put a copy in the place of what is there, whole or not at all, and sign everybody out.

    What is replaced is copied first. A copy of an older version is brought up to this one before it
    takes the place (on PostgreSQL after it). Refused: those of `look_into`, DataAlreadyThere
    without `replace`, Busy, BackupNotWritten, OlderNotBroughtUp, NotRestored.
    """
    with places.one_at_a_time() as folder, places.staging(folder) as stage:
        manifest = look_into(path)
        is_full = holds_data()
        if is_full and not replace:
            raise DataAlreadyThere(
                "There are data already here. Restoring replaces them, after a backup of them is "
                "made: add --replace.",
                where="replace",
            )
        staged = stage / DATABASE
        extract(path, DATABASE, staged)
        if connection.vendor == "sqlite":
            kept = _restore_sqlite(staged, manifest, folder if is_full else None)
        else:
            kept = _restore_postgres(staged, folder if is_full else None)
        _put_files_back(path, stage)
    made_at = manifest.facts.made_at
    Installation.objects.note(copied_at=made_at, copy_problem="", version=VERSION)
    return Restored(manifest, kept)


def _restore_sqlite(staged: Path, manifest: Manifest, keep_in: Path | None) -> Path | None:
    if sqlite_copies.check_copy(staged) != manifest.facts.migrations:
        raise BackupDamaged("The database in it is not the one it names.", where=staged.name)
    if lacks_changes(manifest.facts.migrations):
        bring_up(staged)
        sqlite_copies.check_copy(staged)
    # whoever was signed in at the time of the copy may have signed out since
    sqlite_copies.empty(staged, Session._meta.db_table)
    connection.close()
    database = connection.settings_dict
    kept = None
    if keep_in is not None and sqlite_copies.is_damaged(database):
        # it can be copied no more, so its files are kept as they are
        kept = places.free_path(keep_in, timezone.now(), "damaged").with_suffix("")
        sqlite_copies.put_aside(database, kept)
    elif keep_in is not None:
        kept = _write(keep_in, keep_in, "before-restore").path
        connection.close()
    sqlite_copies.put_in_place(database, staged)
    return kept


def _restore_postgres(staged: Path, keep_in: Path | None) -> Path | None:
    kept = _write(keep_in, keep_in, "before-restore").path if keep_in is not None else None
    database = connection.settings_dict
    postgres_copies.put_in_place(database, staged)
    is_up = False
    try:
        if changes_wait():
            make_waiting_changes()
        is_up = True
    finally:
        if not is_up and kept is not None:
            before = staged.with_name("before")
            extract(kept, DATABASE, before)
            postgres_copies.put_in_place(database, before)
    Session.objects.all().delete()
    return kept
