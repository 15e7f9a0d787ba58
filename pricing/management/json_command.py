"""What commands that speak JSON share: one object on standard output, refusals as one too."""

import json
import sys
from typing import Any, NoReturn

from django.core.management.base import BaseCommand, CommandParser

from maker.calc.refusal import Refusal


class WrongArguments(Refusal):
    """What was typed after the command's name cannot be understood."""


class JsonCommand(BaseCommand):
    """Prints what `answer` returns; a refusal as `{"error": {...}}`, with exit code 1."""

    requires_system_checks: list[str] = []

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> CommandParser:
        """Return the parser; what it cannot understand is answered as JSON too."""
        parser = super().create_parser(prog_name, subcommand, **kwargs)

        def refuse(message: str) -> NoReturn:
            self._print_refusal(WrongArguments(message[:1].upper() + message[1:], where="command"))

        parser.error = refuse  # type: ignore[method-assign]
        return parser

    def answer(self, **options: Any) -> dict[str, Any]:
        """Return what to print."""
        raise NotImplementedError

    def handle(self, *args: Any, **options: Any) -> None:
        """Print the answer, or why there is none."""
        try:
            answer = self.answer(**options)
        except Refusal as refusal:
            self._print_refusal(refusal)
        self.stdout.write(json.dumps(answer, ensure_ascii=False, indent=1))

    def _print_refusal(self, refusal: Refusal) -> NoReturn:
        error = {"message": refusal.message, "where": refusal.where}
        self.stdout.write(json.dumps({"error": error}, ensure_ascii=False))
        sys.exit(1)
