"""Brings the database of an older version up to this one, and refuses that of a newer one."""

import subprocess
import sys
from collections.abc import Callable

from django.conf import settings
from django.utils import timezone

from maker import VERSION
from maker.backup.models import Installation
from maker.backup.schema import applied_changes, changes_wait, make_waiting_changes, unknown_changes
from maker.backup.services import back_up_before_update, spread
from maker.calc.refusal import Refusal
from maker.updates.changes import FIRST, newer_than, rank


class DatabaseNewer(Refusal):
    """The data were last used by a newer version, which this one would harm."""


class UpdateFailed(Refusal):
    """The data could not be brought up to this version and are as they were."""


def refuse_newer_database() -> None:
    """Refuse data that a newer version has changed. Refused: DatabaseNewer."""
    unknown = unknown_changes(applied_changes())
    if unknown:
        raise DatabaseNewer(
            "These data were last used by a newer version of Pleat & Penny: this one, "
            f"{VERSION}, does not know {unknown[0]}. Nothing was touched. Update the program "
            "(`git pull`), or restore a backup made before the update: "
            "`python3 manage.py restore FILE --replace`."
        )


def bring_up_to_date(*, is_new: bool, say: Callable[[str], object]) -> None:
    """Make the changes this version needs, after a copy; then say what is new.

    Refused: DatabaseNewer, UpdateFailed, and those of a copy.
    """
    if is_new:
        make_waiting_changes()
    else:
        refuse_newer_database()
        if changes_wait():
            _update(say)
    _note_version(is_new=is_new, say=say)


def _update(say: Callable[[str], object]) -> None:
    made = back_up_before_update()
    say(f"Backed up your data in {made.path}")
    # in a process of its own: whatever stops it, even the system, this one can tell how to go on
    command = [sys.executable, str(settings.BASE_DIR / "manage.py"), "prepare", "--only-changes"]
    done = subprocess.run(command, stdin=subprocess.DEVNULL, check=False)  # noqa: S603
    if done.returncode:
        raise UpdateFailed(
            "The update could not be made. Your data are as they were, and a backup of them is "
            f"{made.path}. Go on with the version you had (`git checkout ORIG_HEAD` after `git "
            "pull`, then start it), and pass on the lines above to whoever can put it right."
        )
    made_at = made.manifest.facts.made_at
    Installation.objects.note(copied_at=made_at, copy_problem="")
    spread(made.path, made_at)


def _note_version(*, is_new: bool, say: Callable[[str], object]) -> None:
    one = Installation.objects.kept_one()
    if one.version == VERSION:
        return
    before = one.version or FIRST
    if is_new:
        Installation.objects.note(version=VERSION)
        return
    Installation.objects.note(version=VERSION, updated_at=timezone.now())
    if rank(before) < rank(VERSION):
        say(f"Updated from {before} to {VERSION}. What is new:")
        for version in newer_than(before):
            for change in version.changes:
                say(f"- {change}")
