"""Makes the first person and her workshop, or another owner with another workshop."""

import datetime
import getpass
import sys
from argparse import ArgumentParser
from decimal import Decimal, InvalidOperation
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.core.validators import validate_email
from django.db import transaction

from maker.accounts.models import User
from maker.calc.currencies import LOCALES, currencies_in_use
from maker.workshop.models import Workshop
from maker.workshop.services import open_workshop


class Command(BaseCommand):
    """Create a person who signs in with a password, and a workshop she owns."""

    help = "Create a person and a workshop she owns; asks for the password, or reads it."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add who, where and how."""
        parser.add_argument("email", metavar="EMAIL", help="the address she signs in with")
        parser.add_argument("--workshop", metavar="NAME", required=True, help="her workshop's name")
        parser.add_argument("--name", default="", help="how she is called")
        parser.add_argument("--currency", default="EUR", help="ISO 4217 code, EUR if not given")
        parser.add_argument("--unit", default="mm", choices=Workshop.Unit.values)
        parser.add_argument(
            "--wage", default="12", help="what an hour is paid with, 12 if not given"
        )
        parser.add_argument(
            "--locale", default="en_GB", choices=LOCALES, help="how numbers are written"
        )
        parser.add_argument(
            "--password-stdin", action="store_true", help="read the password from standard input"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Check everything, then create person and workshop together or nothing."""
        email = options["email"].strip().lower()
        try:
            validate_email(email)
        except ValidationError as error:
            raise CommandError(f"{options['email']!r} is not an email address.") from error
        if User.objects.filter(email=email).exists():
            raise CommandError(
                f"{email} has an account already. She can sign in and open another workshop; "
                f"a lost password is replaced with: manage.py changepassword {email}"
            )
        name = " ".join(options["workshop"].split())
        if not 0 < len(name) <= 120:
            raise CommandError("The workshop's name has 1 to 120 letters.")
        currency, wage = _currency(options["currency"]), _wage(options["wage"])
        person = User(email=email, name=options["name"][:120])
        password = _password(person, from_stdin=options["password_stdin"])
        with transaction.atomic():
            owner = User.objects.create_user(
                email, password, name=person.name, looks_after_installation=_is_first_of_her_own()
            )
            workshop = open_workshop(
                owner=owner,
                name=name,
                currency=currency,
                unit=options["unit"],
                wage_per_hour=wage,
                locale=options["locale"],
            )
        self.stdout.write(f"{email} owns “{workshop}”. Its address is /w/{workshop.slug}/")


def _is_first_of_her_own() -> bool:
    """Whether at most the example's invented maker looks after the installation so far."""
    keepers = User.objects.filter(looks_after_installation=True)
    return not keepers.exclude(memberships__workshop__is_demo=True).exists()


def _currency(code: str) -> str:
    today = datetime.datetime.now(tz=datetime.UTC).date()
    if code.upper() not in dict(currencies_in_use(today)):
        raise CommandError(f"No currency in use has the code {code!r}. Enter one like EUR or GBP.")
    return code.upper()


def _wage(text: str) -> Decimal:
    try:
        wage = Decimal(text)
    except InvalidOperation as error:
        raise CommandError(f"{text!r} is not an amount. Enter one like 12 or 12.50.") from error
    if not wage.is_finite() or not 0 <= wage <= 100_000_000:
        raise CommandError("A wage is 0 or more.")
    return wage


def _password(person: User, *, from_stdin: bool) -> str:
    """Return a password that was read or typed twice and is hard to guess."""
    if from_stdin:
        password = sys.stdin.readline().rstrip("\r\n")
    else:
        password = getpass.getpass("Password: ")
        if getpass.getpass("Password again: ") != password:
            raise CommandError("The two passwords differ. Nothing was created.")
    try:
        validate_password(password, person)
    except ValidationError as error:
        raise CommandError(" ".join(error.messages) + " Nothing was created.") from error
    return password
