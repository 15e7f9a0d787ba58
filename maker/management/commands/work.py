"""Does slow work that waits: long cutting plans and whatever else is too slow for a page."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from maker.calc.refusal import Refusal
from maker.slow_work.worker import work
from maker.updates.services import refuse_newer_database


class Command(BaseCommand):
    """One worker; any number of them may run, on any number of machines with the same database."""

    help = "Do slow work that waits, until stopped. `start` runs one worker by itself."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the one switch."""
        parser.add_argument(
            "--until-idle", action="store_true", help="end as soon as nothing waits"
        )

    def handle(self, *args: Any, until_idle: bool, **options: Any) -> None:
        """Work, unless a newer version has changed the data."""
        try:
            refuse_newer_database()
        except Refusal as refusal:
            self.stderr.write(refusal.message)
            raise SystemExit(1) from refusal
        work(until_idle=until_idle)
