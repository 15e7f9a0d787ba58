"""Prints the figures of a fair given as JSON: what to take, its days, whether to go again."""

from argparse import ArgumentParser
from typing import Any

from maker.management.json_command import JsonCommand, content_of
from pricing.calc.fair_result.figures import figures_of
from pricing.fairs.fair_files import read_fair


class Command(JsonCommand):
    """Work out the fair of a file or of standard input."""

    paths = frozenset({"fair"})
    help = "Print the figures of a fair: what to take, its days, the season, whether to go again."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the fair."""
        parser.add_argument("fair", metavar="FILE.json", help="the fair; - reads standard input")

    def answer(self, **options: Any) -> dict[str, Any]:
        """Read it and work it out."""
        return {"figures": figures_of(read_fair(content_of(options["fair"])))}
