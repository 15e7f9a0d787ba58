"""Prints the figures of a year of supplies given as JSON: landed, used, in stock, to order."""

from argparse import ArgumentParser
from typing import Any

from maker.management.json_command import JsonCommand, content_of
from pricing.calc.supplies_result.figures import figures_of
from pricing.supplies.supplies_files import read_year


class Command(JsonCommand):
    """Work out the year of a file or of standard input."""

    paths = frozenset({"year"})
    help = "Print the figures of a year of supplies: landed costs, stock, months, reorder, index."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the year."""
        parser.add_argument("year", metavar="FILE.json", help="the year; - reads standard input")

    def answer(self, **options: Any) -> dict[str, Any]:
        """Read it and work it out."""
        return {"figures": figures_of(read_year(content_of(options["year"])))}
