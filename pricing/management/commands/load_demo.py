"""Loads the example workshops for the demo person; a second time changes nothing."""

import secrets
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction
from django.utils import timezone

from maker.calc.refusal import Refusal
from pricing.workshop_file.demo import (
    DEMO_EMAIL,
    demo_person,
    examples_of,
    load_examples,
    remove_examples,
)


class Command(BaseCommand):
    """Load the examples; real workshops are never touched."""

    help = f"Load the sample workshops for {DEMO_EMAIL}; does nothing if they are already there."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the password and the choice to begin anew."""
        parser.add_argument(
            "--password", help="password to sign in with; made up for a new account"
        )
        parser.add_argument(
            "--again",
            action="store_true",
            help="remove the sample workshops first, with all changes",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Load both or nothing, and say how to sign in."""
        password = options["password"]
        if password == "":
            raise CommandError("Enter a password, or leave out --password to have one made up.")
        try:
            with transaction.atomic():
                person, is_new = demo_person(password=password)
                if is_new and password is None:
                    password = secrets.token_urlsafe(12)
                    person.set_password(password)
                    person.save(update_fields=["password"])
                if options["again"]:
                    remove_examples(owner=person)
                loaded = [] if examples_of(person) else load_examples(
                    owner=person, today=timezone.localdate()
                )  # fmt: skip
        except Refusal as refusal:
            raise CommandError(f"{refusal.message} ({refusal.where})") from refusal
        if options["verbosity"] == 0:
            return
        names = ", ".join(workshop.name for workshop in loaded)
        self.stdout.write(
            f"Loaded: {names}" if loaded else "The sample workshops are already loaded."
        )
        if is_new and not options["password"]:
            self.stdout.write(f"Sign in as {DEMO_EMAIL} with the password {password}")
