"""Reads JSON values strictly: each value is asked for by name and type, with its path.

The path of a refusal counts list places from 0: `materials[3].packs[0].price`.
"""

import json
import re
from typing import Any

from maker.calc.refusal import Refusal

LARGEST_FILE = 64 * 1024 * 1024
DEEPEST = 60  # lists and objects inside each other; what a quote was worked out from needs 27


class WorkshopFileRefused(Refusal):
    """The file is no workshop file, or something in it is wrong; nothing was stored."""


class _Pairs(dict[str, Any]):
    """An object of the file; remembers a key that was given twice, which JSON lets pass."""

    twice: str | None = None


def _pairs(items: list[tuple[str, Any]]) -> _Pairs:
    found = _Pairs(items)
    if len(found) < len(items):
        seen: set[str] = set()
        found.twice = next(key for key, _ in items if key in seen or seen.add(key))  # type: ignore[func-returns-value]
    return found


def parse(content: bytes) -> Any:
    """Return the values of a JSON file. Refused: too large, not UTF-8 or JSON, too deep."""
    if len(content) > LARGEST_FILE:
        megabytes = LARGEST_FILE // 1024 // 1024
        raise WorkshopFileRefused(f"The file is larger than {megabytes} MB.", where="file")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise WorkshopFileRefused(
            "The file is not UTF-8 text.", where=f"byte {error.start}"
        ) from error
    try:
        document = json.loads(text, object_pairs_hook=_pairs)
    except json.JSONDecodeError as error:
        raise WorkshopFileRefused(
            f"The file is not JSON: {error.msg}.",
            where=f"line {error.lineno}, column {error.colno}",
        ) from error
    except RecursionError as error:
        raise WorkshopFileRefused("The JSON is nested too deeply.", where="file") from error
    except ValueError as error:
        # Python refuses whole numbers of more than some thousand digits
        raise WorkshopFileRefused("The file holds an endless number.", where="file") from error
    _refuse_doubles(document)
    return document


def _refuse_doubles(document: Any) -> None:
    """Refuse keys given twice and nesting no workshop has, wherever they are."""
    left: list[tuple[Any, str, int]] = [(document, "", 0)]
    while left:
        value, path, depth = left.pop()
        if depth > DEEPEST:
            raise WorkshopFileRefused("The JSON is nested too deeply.", where=path[:200])
        if isinstance(value, _Pairs):
            if value.twice is not None:
                raise WorkshopFileRefused(
                    f"{shown(value.twice)} is given twice.", where=join(path, value.twice)
                )
            left += ((inner, join(path, key), depth + 1) for key, inner in value.items())
        elif isinstance(value, list):
            left += ((inner, f"{path}[{at}]", depth + 1) for at, inner in enumerate(value))


def join(path: str, key: str) -> str:
    """Return the path of a key of an object, cut short where the key is absurd."""
    return f"{path}.{key[:80]}" if path else key[:80]


def shown(value: Any) -> str:
    """Name a value in a message, cut short."""
    if isinstance(value, dict):
        return "an object"
    if isinstance(value, list):
        return "a list"
    if value is None or isinstance(value, bool):
        return {None: "null", True: "true", False: "false"}[value]
    if isinstance(value, (int, float)):
        # a whole number of thousands of digits cannot even be written out
        return "a number" if abs(value) > 10**15 else f"the number {value}"
    text = str(value)
    return f"“{text[:40]}…”" if len(text) > 40 else f"“{text}”"


class Fields:
    """One object of the file, asked key by key; what nobody asked for is refused at the end."""

    def __init__(self, values: Any, path: str) -> None:
        if not isinstance(values, dict):
            raise WorkshopFileRefused(
                f"Expected an object in braces, found {shown(values)}.", where=path or "file"
            )
        self.values = values
        self.path = path
        self._asked: set[str] = set()

    def at(self, key: str) -> str:
        """Return the path of a key."""
        return join(self.path, key)

    def has(self, key: str) -> bool:
        """Say whether the key is there; asked for in any case."""
        self._asked.add(key)
        return key in self.values

    def take(self, key: str) -> Any:
        """Return the value of a key that must be there."""
        if not self.has(key):
            raise WorkshopFileRefused(f"“{key}” is missing.", where=self.at(key))
        return self.values[key]

    def rows(self, key: str) -> list["Fields"]:
        """Return the objects of a list; a list left out is empty."""
        if not self.has(key):
            return []
        rows = self.values[key]
        if not isinstance(rows, list):
            raise WorkshopFileRefused(
                f"“{key}” must be a list, found {shown(rows)}.", where=self.at(key)
            )
        return [Fields(row, f"{self.at(key)}[{place}]") for place, row in enumerate(rows)]

    def text(self, key: str) -> str:
        """Return a text that must be there."""
        return text_value(self.take(key), self.at(key))

    def optional_text(self, key: str) -> str | None:
        """Return a text, or None where the key is left out or null."""
        return self.text(key) if self.has(key) and self.values[key] is not None else None

    def refuse(self, message: str, key: str = "") -> WorkshopFileRefused:
        """Return a refusal about this object or one of its keys, to be raised."""
        return WorkshopFileRefused(message, where=self.at(key) if key else self.path)

    def nothing_else(self) -> None:
        """Refuse keys nobody asked for."""
        for key in self.values:
            if key not in self._asked:
                raise WorkshopFileRefused(f"{shown(key)} is not known here.", where=self.at(key))


def text_value(value: Any, path: str) -> str:
    """Return a text every database can store."""
    if not isinstance(value, str):
        raise WorkshopFileRefused(f"This must be text, found {shown(value)}.", where=path)
    if "\x00" in value or re.search("[\ud800-\udfff]", value):
        raise WorkshopFileRefused("The text holds a character that is no text.", where=path)
    return value
