"""Removes every example workshop whole, and the demo person if she owns nothing else."""

from typing import Any

from django.core.management.base import BaseCommand

from pricing.workshop_file.demo import remove_every_example


class Command(BaseCommand):
    """Remove the examples; real workshops are never touched."""

    help = "Remove the sample workshops and, if that leaves the demo account empty, the account."

    def handle(self, *args: Any, **options: Any) -> None:
        """Remove them and say which."""
        names = remove_every_example()
        if options["verbosity"]:
            removed = f"Removed: {', '.join(names)}" if names else "There are no sample workshops."
            self.stdout.write(removed)
