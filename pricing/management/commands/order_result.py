"""Prints the figures of an order given as JSON: counts, dates, what binds, ways out."""

from argparse import ArgumentParser
from typing import Any

from maker.management.json_command import JsonCommand, content_of
from pricing.calc.order_result.figures import figures_of
from pricing.orders.order_files import read_order


class Command(JsonCommand):
    """Work out the order of a file or of standard input."""

    paths = frozenset({"order"})
    help = "Print an order delivered in parts: counts, dates, bottlenecks and ways out."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the order."""
        parser.add_argument("order", metavar="FILE.json", help="the order; - reads standard input")

    def answer(self, **options: Any) -> dict[str, Any]:
        """Read it and work it out."""
        return {"figures": figures_of(read_order(content_of(options["order"])))}
