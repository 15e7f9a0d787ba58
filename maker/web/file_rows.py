"""Rows of a file and what belongs together: what the features read for an import."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.core.exceptions import ValidationError

YES = {"yes", "y", "true", "1", "x", "on"}
NO = {"", "no", "n", "false", "0", "off"}


@dataclass(frozen=True, slots=True)
class FileRow:
    """A row of a file: its number there, and its cells by field."""

    number: int
    cells: Mapping[str, str]


@dataclass(slots=True)
class RowGroup:
    """What one or several rows of a file become: a material, a receipt.

    `errors` are by row number and field; `value` is what the service takes, None when nothing is
    to be done (then `note` says why).
    """

    rows: Sequence[FileRow]
    note: str = ""
    value: Any = None
    errors: dict[tuple[int, str], list[str]] = field(default_factory=dict)

    def add_error(self, row: FileRow, name: str, *words: str) -> None:
        """Put an error beside a cell."""
        self.errors.setdefault((row.number, name), []).extend(words)


def plain(text: str) -> str:
    """Return a text as names are compared: without odd blanks, small letters."""
    return " ".join(text.split()).casefold()


def yes_or_no(text: str) -> str:
    """Return `on` or nothing, as a tick is sent. Errors: ValidationError."""
    said = plain(text)
    if said in YES:
        return "on"
    if said in NO:
        return ""
    raise ValidationError(f"“{text[:40]}” isn't yes or no.")


def group_rows(
    rows: Iterable[FileRow], key_of: Callable[[FileRow], Any]
) -> dict[Any, list[FileRow]]:
    """Return the rows that belong together, in the order of the first of each."""
    found: dict[Any, list[FileRow]] = {}
    for row in rows:
        found.setdefault(key_of(row), []).append(row)
    return found


def first_filled(rows: Sequence[FileRow], name: str) -> FileRow:
    """Return the first of the rows in which a field is filled, else the first."""
    return next((row for row in rows if row.cells.get(name, "").strip()), rows[0])
