"""Makes a workshop many times as large as the demo, for measurements."""

import time
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase
from catalogue.stock.models import StockEntry
from maker.accounts.models import User
from pricing.workshop_file.seeding import seed_large

MOST = 500


class Command(BaseCommand):
    """Add one large example workshop; remove_demo takes it away again."""

    help = "Make a sample workshop N times as large as the demo, to measure with."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the size, the name and the owner."""
        parser.add_argument(
            "--times", type=int, default=50, help="how many times as large as the demo"
        )
        parser.add_argument("--name", default="Large workshop")
        parser.add_argument("--owner", metavar="EMAIL", help="email of its owner")

    def handle(self, *args: Any, **options: Any) -> None:
        """Make it and say how large it is."""
        if not 1 <= options["times"] <= MOST:
            raise CommandError(f"--times must be from 1 to {MOST}.")
        owner = None
        if options["owner"]:
            owner = User.objects.filter(email=options["owner"].strip().lower()).first()
            if owner is None:
                raise CommandError(f"Nobody signs in with {options['owner']!r}.")
        started = time.perf_counter()
        workshop = seed_large(
            times=options["times"], today=timezone.localdate(), name=options["name"], owner=owner
        )
        if options["verbosity"]:
            self.stdout.write(
                f"{workshop.name} ({workshop.slug}): {Material.objects.of(workshop).count()} "
                f"materials, {workshop.designs.count()} designs, "
                f"{Purchase.objects.of(workshop).count()} receipts, "
                f"{StockEntry.objects.of(workshop).count()} stock entries, "
                f"in {time.perf_counter() - started:.1f} s"
            )
