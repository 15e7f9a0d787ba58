"""Prints the figures of an order given as JSON: counts, dates, what binds, ways out."""

import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from maker.management.json_command import JsonCommand
from pricing.calc.order_result.figures import figures_of
from pricing.orders.order_files import UnreadableOrder, read_order


class Command(JsonCommand):
    """Work out the order of a file or of standard input."""

    paths = frozenset({"order"})
    help = "Print the figures of an order in deliveries: counts, dates, what binds, ways out."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the order."""
        parser.add_argument("order", metavar="FILE.json", help="the order; - reads standard input")

    def answer(self, **options: Any) -> dict[str, Any]:
        """Read it and work it out."""
        return {"figures": figures_of(read_order(_read_text(options["order"])))}


def _read_text(name: str) -> str:
    try:
        if name == "-":
            return sys.stdin.read()
        return Path(name).read_text(encoding="utf-8")
    except OSError as error:
        raise UnreadableOrder(f"The file cannot be read: {error.strerror}.", where=name) from error
    except ValueError as error:
        raise UnreadableOrder("The file is not UTF-8 text.", where=name) from error
