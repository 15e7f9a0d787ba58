"""A figure and where it came from: the tree that page, PDF, JSON and tests all read."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from maker.calc.sums import How, Write, plain_text, told

__all__ = ["Line", "plain_text", "shown", "sum_line"]

_SHOWN_PLACES = Decimal("0.000001")


@dataclass(frozen=True, slots=True)
class Line:
    """One line of an explanation.

    `key` is a stable name for tests and scripts (empty for lines nobody asks for by name),
    `how` the sum it came about by, `unit` what `value` counts ("money", "min", "sheet", "share",
    "day", a recipe unit). `source` says which row it rests on, as ("purchase_line", 12) or
    ("step", 5); pages turn it into a link. `is_sum`: the value is the sum of its lines.
    """

    label: str
    value: Decimal | int | str
    unit: str = ""
    how: How | str = ""
    key: str = ""
    lines: tuple["Line", ...] = ()
    source: tuple[str, int] | None = None
    is_sum: bool = False

    @property
    def number(self) -> Decimal:
        """Return the value as a number. Errors: TypeError for a line that says a text."""
        if isinstance(self.value, str):
            raise TypeError(f"“{self.label}” holds the text “{self.value}”, no number")
        return Decimal(self.value)

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

    def as_dict(self, write: Write | None = None) -> dict[str, object]:
        """Return the tree for JSON: key, label, how, value, unit, lines; numbers as exact strings
        without exponent and needless zeros, counts as integers.

        A line without a key has that of the line above it and its place: “p.fee.1”. With `write`
        each line also has `said`, its how for people.
        """
        return self._as_dict(self.key, write)

    def _as_dict(self, key: str, write: Write | None) -> dict[str, object]:
        plain: dict[str, object] = {
            "key": key,
            "label": self.label,
            "how": str(self.how),
            "value": plain_text(self.value) if isinstance(self.value, Decimal) else self.value,
            "unit": self.unit,
            "lines": [
                line._as_dict(line.key or f"{key}.{place}", write)
                for place, line in enumerate(self.lines, 1)
            ],
        }
        return plain if write is None else plain | {"said": told(self.how, write)}


def shown(value: Decimal | int) -> str:
    """Write a number in words that are no sum: at most six decimals, halves up."""
    if isinstance(value, int):
        return str(value)
    # by its text: taking a number of 34 digits apart costs ten times as much
    if len(format(value, "f").partition(".")[2]) > 6:
        value = value.quantize(_SHOWN_PLACES, rounding=ROUND_HALF_UP)
    return plain_text(value)


def sum_line(
    label: str,
    lines: Sequence[Line],
    *,
    unit: str,
    key: str = "",
    how: How | str = "",
    source: tuple[str, int] | None = None,
) -> Line:
    """Return the line that adds up other lines."""
    total: Decimal | int
    if lines and all(isinstance(line.value, int) for line in lines):
        total = sum(int(line.number) for line in lines)  # a count stays a count
    else:
        total = sum((line.number for line in lines), Decimal(0))
    return Line(label, total, unit, how, key, tuple(lines), source, is_sum=True)
