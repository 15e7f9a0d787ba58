"""Seals secrets of the database with today's secret key, so that an old one can be thrown away."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from maker.accounts.second_steps import seal_code_apps_again
from maker.activity.models import Event
from maker.activity.services import record
from maker.mail.services import seal_mail_password_again
from maker.sealing import SealBroken


class Command(BaseCommand):
    """Open what is sealed with the keys of before and seal it with today's."""

    help = (
        "After a change of SECRET_KEY: seal secrets again; OLD_SECRET_KEYS names the keys before."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        """Seal all of it or nothing."""
        try:
            with transaction.atomic():
                apps, mail = seal_code_apps_again(), seal_mail_password_again()
        except SealBroken as refusal:
            raise CommandError(
                "Nothing was changed: something was sealed with a key that is not known here. "
                "Name the keys before in OLD_SECRET_KEYS, with commas."
            ) from refusal
        record(Event.Kind.INSTALLATION, about="secrets sealed with a new key, by a command")
        self.stdout.write(
            f"Sealed again: one-time codes of {apps} people, "
            f"{'the' if mail else 'no'} password of a mail server."
        )
