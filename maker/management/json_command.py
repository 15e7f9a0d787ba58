"""What commands that speak JSON share: one object on standard output, refusals as one too."""

import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NoReturn

from django.core.management.base import BaseCommand, CommandParser

from maker.calc.refusal import Refusal
from maker.calc.strict_json import LARGEST_FILE, WrongJson


class CannotDraw(Refusal):
    """The file for a drawing cannot be written."""


class WrongArguments(Refusal):
    """What was typed after the command's name cannot be understood."""


class JsonCommand(BaseCommand):
    """Prints what `answer` returns; a refusal as `{"error": {...}}`, with exit code 1."""

    requires_system_checks: list[str] = []
    # arguments that are names of files: those may be any bytes
    paths: frozenset[str] = frozenset()

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
            for name, value in options.items():
                if name not in self.paths:
                    _check_text(name, value)
            answer = self.answer(**options)
        except Refusal as refusal:
            self._print_refusal(refusal)
        self._print(answer, indent=1)

    def _print_refusal(self, refusal: Refusal) -> NoReturn:
        self._print({"error": {"message": refusal.message, "where": refusal.where}})
        sys.exit(1)

    def _print(self, answer: dict[str, Any], indent: int | None = None) -> None:
        text = json.dumps(answer, ensure_ascii=False, indent=indent)
        try:
            text.encode(getattr(self.stdout, "encoding", None) or "utf-8")
        except UnicodeEncodeError:
            # an old terminal, or the name of a file in another encoding: the same, escaped
            text = json.dumps(answer, indent=indent)
        self.stdout.write(text)


def content_of(name: str, most: int = LARGEST_FILE) -> bytes:
    """Return what a file holds, or standard input for "-", as far as it is not too large.

    Errors: WrongJson.
    """
    try:
        if name == "-":
            return sys.stdin.buffer.read(most + 1)
        with Path(name).open("rb") as file:
            return file.read(most + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "that isn't a file name"
        raise WrongJson(f"The file cannot be read: {reason}.", where=name) from error


def _check_text(name: str, value: Any) -> None:
    for word in _words(value):
        if not _is_text(word):
            raise WrongArguments("This is not UTF-8 text.", where=name)


def _words(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, list):
        yield from (word for word in value if isinstance(word, str))


def _is_text(word: str) -> bool:
    """Say whether the word is whole characters: bytes of another encoding arrive as halves."""
    return not any("\ud800" <= letter <= "\udfff" for letter in word)
