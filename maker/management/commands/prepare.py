"""Brings the data up to date before serving: migrations, and the demo on first start."""

import secrets
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.apps import apps
from django.conf import settings
from django.contrib.auth import get_user_model
from django.core.exceptions import ImproperlyConfigured
from django.core.management import call_command
from django.core.management.base import BaseCommand
from django.db import DatabaseError, connection
from django.db.migrations.recorder import MigrationRecorder
from django.db.models import DateTimeField, Max
from django.utils import timezone

from maker.backup.schema import make_waiting_changes
from maker.calc.refusal import Refusal
from maker.health.services import faults_in_file
from maker.setup.place import close_to_others, user_name
from maker.troubles.guard import MOST_SECONDS_BACK
from maker.troubles.kinds import (
    DAMAGED,
    DISK_FULL,
    READ_ONLY,
    DatabaseDamaged,
    DatabaseFileGone,
    Trouble,
    database_path,
    trouble_behind,
)
from maker.updates.services import bring_up_to_date

DEMO_EMAIL = "penny@example.test"
# Without letters and digits that are mistaken for each other on paper.
CLEAR_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
CONNECT_TIMEOUT_S = 10


class Command(BaseCommand):
    """Do what a start needs done to the data; safe to run at any time and to be killed."""

    help = "Bring the database up to date; with --with-demo, fill a brand-new one with the demo."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the switches."""
        parser.add_argument(
            "--with-demo", action="store_true", help="load the demo workshop into a new database"
        )
        parser.add_argument(
            "--only-changes", action="store_true", help="make the waiting changes, without a copy"
        )

        parser.add_argument(
            "--certify",
            action="append",
            default=[],
            metavar="NAME",
            help="make the certificate for HTTPS under this name or address; may be repeated",
        )

    def handle(
        self, *args: Any, with_demo: bool, only_changes: bool, certify: list[str], **options: Any
    ) -> None:
        """Run the steps, or say in one line why the database cannot be used."""
        if only_changes:
            make_waiting_changes()
            return
        try:
            self.make_sure_it_is_sound()
            self.bring_up_to_date()
            if certify:
                from maker.phone.certificates import ensure_certificates

                ensure_certificates(Path(settings.DATA_DIR), certify)
            if with_demo:
                self.load_demo_once()
                self.stdout.write(sign_in_line())
        except Refusal as refusal:
            self.stderr.write(refusal.message)
            raise SystemExit(1) from refusal
        except (DatabaseError, ImproperlyConfigured, OSError) as error:
            if isinstance(error, OSError) and trouble_behind(error) is None:
                raise
            self.stderr.write(why_unusable(error))
            raise SystemExit(1) from error
        if late := dated_after_now():
            self.stderr.write(late)

    def make_sure_it_is_sound(self) -> None:
        """Refuse a file that is gone, which SQLite would make anew, or that is damaged."""
        path = database_path()
        if path is None:
            return
        if not path.exists():
            if database_mark().exists() and database_mark().read_text().strip() == str(path):
                raise DatabaseFileGone("it is not there")
            return
        faults = faults_in_file()
        if faults:
            raise DatabaseDamaged("its pages do not fit together")

    def bring_up_to_date(self) -> None:
        """Make the changes of the database that this version needs."""
        if connection.vendor == "postgresql":
            connection.settings_dict["OPTIONS"].setdefault("connect_timeout", CONNECT_TIMEOUT_S)
        is_new = not MigrationRecorder(connection).has_table()
        if is_new:
            # Kept until the demo is complete: a start killed half-way loads it next time.
            demo_mark().touch()
        bring_up_to_date(is_new=is_new, say=self.stdout.write)
        if connection.vendor == "sqlite":
            close_to_others(Path(connection.settings_dict["NAME"]))
            database_mark().write_text(f"{connection.settings_dict['NAME']}\n")

    def load_demo_once(self) -> None:
        """Load the demo workshop into a database that is new and still without people."""
        if not demo_mark().exists():
            return
        # Whoever made an account between `setup` and the first `start` wants to begin empty.
        if not get_user_model().objects.exists():
            self.stdout.write("Loading the demo workshop")
            call_command("load_demo", password=kept_password(), verbosity=0)
        demo_mark().unlink()


def demo_mark() -> Path:
    """Return the file that says the demo workshop is still to be loaded."""
    return Path(settings.DATA_DIR) / "demo_to_load"


def database_mark() -> Path:
    """Return the file that says where a database was: none there means that it was lost."""
    return Path(settings.DATA_DIR) / "database_was_made"


def password_file() -> Path:
    """Return the file with the demo owner's password."""
    return Path(settings.DATA_DIR) / "demo_password"


def kept_password() -> str:
    """Return the demo owner's password, made on first use and readable by the data's owner."""
    path = password_file()
    if not path.exists():
        groups = ("".join(secrets.choice(CLEAR_LETTERS) for _ in range(4)) for _ in range(4))
        path.touch(mode=0o600)
        path.write_text("-".join(groups) + "\n")
    return path.read_text().strip()


def sign_in_line() -> str:
    """Say how to sign in, with the demo's password only while it is still the right one."""
    users = get_user_model().objects
    demo_owner = users.filter(email=DEMO_EMAIL).first()
    if demo_owner and password_file().exists() and demo_owner.check_password(kept_password()):
        return f"Sign in as {DEMO_EMAIL} with the password {kept_password()}"
    if users.exists():
        return "Sign in with your own address and password"
    return "No one has an account yet: `python3 manage.py create_owner --help` says how to make one"


def dated_after_now() -> str:
    """Return a warning when the newest entry is later than now: then the clock is wrong."""
    newest = max(
        (
            latest
            for model in apps.get_models()
            for field in model._meta.concrete_fields
            if isinstance(field, DateTimeField) and field.auto_now_add
            if (latest := model._default_manager.aggregate(latest=Max(field.name))["latest"])
        ),
        default=None,
    )
    now = timezone.now()
    if newest is None or (newest - now).total_seconds() <= MOST_SECONDS_BACK:
        return ""
    return (
        f"This machine's clock says {now:%-d %b %Y %H:%M}, but an entry was made on "
        f"{newest:%-d %b %Y %H:%M}: set the clock right before you save anything."
    )


def why_unusable(error: Exception) -> str:
    """Say in one line what is wrong with the database and what to do."""
    reason, trouble = " ".join(str(error).split()), trouble_behind(error)
    if connection.vendor == "sqlite":
        name = connection.settings_dict["NAME"]
        return f"The database file {name} cannot be used ({reason}): {_remedy(error, trouble)}"
    place = "{HOST}:{PORT}/{NAME}".format(**connection.settings_dict)
    return (
        f"The {connection.vendor} database {place} cannot be used ({reason}): "
        "start its server, or correct DATABASE_URL."
    )


def _remedy(error: Exception, trouble: Trouble | None) -> str:
    if trouble is DISK_FULL:
        return "the disk is full, so free some room on it and start again."
    if trouble is READ_ONLY:
        return f"allow {user_name()} to write to it and to its folder, then start again."
    if trouble is DAMAGED:
        return "restore a backup (“manage.py restore FILE --replace”), or name another DATA_DIR."
    if isinstance(error, DatabaseFileGone):
        return (
            "put it back or restore a backup. To begin with an empty one, delete "
            f"{database_mark()}."
        )
    return "put back a good copy, or name another folder with DATA_DIR."
