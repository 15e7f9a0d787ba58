"""Says who looks after this installation: mail, copies, all that is of no single workshop."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from maker.accounts.models import User


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
            changed = User.objects.filter(email=email).update(
                looks_after_installation=not options["stop"]
            )
            if not changed:
                raise CommandError(f"Nobody has an account with the address {email}.")
        keepers = User.objects.filter(looks_after_installation=True).order_by("email")
        for keeper in keepers:
            self.stdout.write(keeper.email)
        if not keepers:
            self.stdout.write("Nobody looks after this installation.")
