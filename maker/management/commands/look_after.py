"""Says who looks after this installation: mail, copies, all that is of no single workshop."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from maker.accounts.models import User
from maker.activity.models import Event
from maker.activity.services import record


class Command(BaseCommand):
    """Let a person look after the installation, or no longer."""

    help = (
        "Let a person look after this installation (or --stop); without an address, list who does."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add who, and whether no longer."""
        parser.add_argument("email", metavar="EMAIL", nargs="?", help="the address of the account")
        parser.add_argument("--stop", action="store_true", help="no longer")

    def handle(self, *args: Any, **options: Any) -> None:
        """Change one person, then say who looks after it."""
        if options["email"]:
            email = options["email"].strip().lower()
            user = User.objects.filter(email=email).first()
            if user is None:
                raise CommandError(f"Nobody has an account with the address {email}.")
            _change(user, looks_after=not options["stop"])
        keepers = User.objects.filter(looks_after_installation=True).order_by("email")
        for keeper in keepers:
            self.stdout.write(keeper.email)
        if not keepers:
            self.stdout.write("Nobody looks after this installation.")


def _change(user: User, *, looks_after: bool) -> None:
    if user.looks_after_installation is looks_after:
        return
    user.looks_after_installation = looks_after
    user.save(update_fields=["looks_after_installation"])
    about = "may look after it" if looks_after else "no longer looks after it"
    record(Event.Kind.INSTALLATION, user=user, about=about)
