"""Says whether the installation is well; exit code 1 when it is not."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from maker.health.services import look


class Command(BaseCommand):
    """What `/health/` says, for a terminal or a timer; `--thorough` reads the whole file."""

    help = "Look at disk, database, clock and slow work; exit code 1 when something is wrong."
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the one switch."""
        parser.add_argument(
            "--thorough", action="store_true", help="read every page of an SQLite database"
        )

    def handle(self, *args: Any, thorough: bool, **options: Any) -> None:
        """Print a line for each finding."""
        findings = look(thorough=thorough)
        for finding in findings:
            mark = "ok " if finding.is_well else "BAD"
            self.stdout.write(f"{mark}  {finding.sentence}")
        if not all(finding.is_well for finding in findings):
            raise SystemExit(1)
