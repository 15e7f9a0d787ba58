"""A figure and where it came from: the tree that page, PDF, JSON and tests all read."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class Line:
    """One line of an explanation.

    `key` is a stable name for tests and scripts (empty for lines nobody asks for by name),
    `how` the sum in words, `unit` what `value` counts ("money", "min", "sheet", "share",
    "day", a recipe unit). `source` says which row it rests on, as ("purchase_line", 12) or
    ("step", 5); pages turn it into a link.
    """

    label: str
    value: Decimal | int | str
    unit: str = ""
    how: str = ""
    key: str = ""
    lines: tuple["Line", ...] = ()
    source: tuple[str, int] | None = None

    def walk(self) -> Iterator["Line"]:
        """Yield this line and every line below it, top down."""
        yield self
        for line in self.lines:
            yield from line.walk()

    def find(self, key: str) -> "Line":
        """Return the first line with this key. Errors: KeyError."""
        for line in self.walk():
            if line.key == key:
                return line
        raise KeyError(key)

    def as_dict(self) -> dict[str, object]:
        """Return the tree for JSON: label, how, value, unit, lines; numbers as exact strings."""
        return {
            "label": self.label,
            "how": self.how,
            "value": self.value if isinstance(self.value, int) else str(self.value),
            "unit": self.unit,
            "lines": [line.as_dict() for line in self.lines],
        }
