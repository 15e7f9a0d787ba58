"""Brings the data up to date before serving: migrations, and the demo on first start."""

import secrets
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.auth import get_user_model
from django.core.exceptions import ImproperlyConfigured
from django.core.management import call_command
from django.core.management.base import BaseCommand
from django.db import DatabaseError, connection
from django.db.migrations.recorder import MigrationRecorder

from maker.backup.schema import make_waiting_changes
from maker.calc.refusal import Refusal
from maker.setup.place import close_to_others
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

    def handle(self, *args: Any, with_demo: bool, only_changes: bool, **options: Any) -> None:
        """Run the steps, or say in one line why the database cannot be used."""
        if only_changes:
            make_waiting_changes()
            return
        try:
            self.bring_up_to_date()
            if with_demo:
                self.load_demo_once()
                self.stdout.write(sign_in_line())
        except Refusal as refusal:
            self.stderr.write(refusal.message)
            raise SystemExit(1) from refusal
        except (DatabaseError, ImproperlyConfigured) as error:
            self.stderr.write(why_unusable(error))
            raise SystemExit(1) from error

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


def why_unusable(error: Exception) -> str:
    """Say in one line what is wrong with the database and what to do."""
    reason = " ".join(str(error).split())
    if connection.vendor == "sqlite":
        return (
            f"The database file {connection.settings_dict['NAME']} cannot be used ({reason}): "
            "put back a good copy, or name another folder with DATA_DIR."
        )
    place = "{HOST}:{PORT}/{NAME}".format(**connection.settings_dict)
    return (
        f"The {connection.vendor} database {place} cannot be used ({reason}): "
        "start its server, or correct DATABASE_URL."
    )
