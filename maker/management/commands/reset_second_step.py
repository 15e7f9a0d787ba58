"""Takes the second step of signing in away from a person who lost phone and paper."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from maker.accounts.devices import sign_out_others
from maker.accounts.models import User
from maker.accounts.second_steps import remove_second_steps
from maker.accounts.tasks import write_letter
from maker.activity.models import Event
from maker.activity.services import record


class Command(BaseCommand):
    """Let the password alone let a person in again."""

    help = "Take codes, passkeys and recovery codes from a person, and sign her out everywhere."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add who."""
        parser.add_argument("email", metavar="EMAIL", help="the address of the account")

    def handle(self, *args: Any, **options: Any) -> None:
        """Remove what there is. Make sure first that the person is who she says."""
        email = options["email"].strip().lower()
        user = User.objects.filter(email=email).first()
        if user is None:
            raise CommandError(f"Nobody has an account with the address {email}.")
        if not remove_second_steps(user):
            raise CommandError(f"{email} signs in with the password alone already.")
        sign_out_others(user, None)
        record(Event.Kind.SECOND_STEP, user=user, about="taken away by a command")
        write_letter(user, "The second step was taken away by a command")
        self.stdout.write(f"{email} signs in with the password alone now, and sets up a new one.")
