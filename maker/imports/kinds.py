"""What is told of each kind of import, and what of a file travels from page to page."""

import uuid
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from maker.calc.refusal import Refusal
from maker.web.file_rows import FileRow, RowGroup

DAY_ORDERS: dict[str, tuple[str, ...]] = {
    "": (),
    "day": ("%d/%m/%Y", "%d/%m/%y", "%d-%m-%Y", "%d.%m.%y"),
    "month": ("%m/%d/%Y", "%m/%d/%y", "%m-%d-%Y"),
}

# hands over one item after the other, and may look up in between
Each = Callable[[Sequence[Any]], Iterable[Any]]
Read = Callable[[Any, Sequence[FileRow], tuple[str, ...], Each], list[RowGroup]]
# stores what was worked out, and returns what is to be said, as pairs of level and text
Store = Callable[[], list[tuple[str, str]]]
Prepare = Callable[[Any, Any, Sequence[Any], uuid.UUID, Each], Store]


@dataclass(frozen=True, slots=True)
class Importing:
    """How one kind of row is taken in; `fields` is heading -> field in the order shown.

    `place` is the dotted name by which a worker finds this. `read` gives the groups of the rows,
    `prepare` works out what is stored of those without an error for a workshop and a person, and
    returns what stores it: that alone runs in the transaction. `also_called` are usual names of our
    headings in other files; `formerly` are our own headings of earlier versions, so that a file
    exported then still comes in. Where `sources` gives rows, a whole file may come from one of
    them, which fills the column `source`.
    """

    place: str
    title: str
    one: str
    list_url: str
    fields: Mapping[str, str]
    needed: Sequence[str]
    read: Read
    prepare: Prepare
    advice: str = ""
    has_days: bool = False
    also_called: Mapping[str, Sequence[str]] = field(default_factory=dict)
    formerly: Mapping[str, str] = field(default_factory=dict)
    source: str = ""
    sources: Callable[[Any], Mapping[str, Any]] | None = None

    @property
    def headings(self) -> dict[str, str]:
        """Every heading of ours, of today and of before, with the field it fills."""
        earlier = {before: self.fields[today] for before, today in self.formerly.items()}
        return {**self.fields, **earlier}

    def groups_of(self, workshop: Any, upload: "Upload", each: Each = iter) -> list[RowGroup]:
        """Return what the rows of a file would become."""
        return self.read(workshop, upload.rows, DAY_ORDERS[upload.day_order], each)


class AlreadyImported(Refusal):
    """The same import was confirmed before."""


@dataclass(slots=True)
class Upload:
    """Rows of a file on their way in; `key` is of this file sent this once."""

    key: uuid.UUID
    fields: list[str]
    rows: list[FileRow]
    day_order: str

    def content(self) -> dict[str, Any]:
        """Return it as plain values."""
        return {
            "key": self.key.hex,
            "fields": self.fields,
            "days": self.day_order,
            "rows": [[r.number, *(r.cells[name] for name in self.fields)] for r in self.rows],
        }

    @classmethod
    def of(cls, content: Mapping[str, Any]) -> "Upload":
        """Return what `content` was made of."""
        names = list(content["fields"])
        rows = [
            FileRow(number, dict(zip(names, cells, strict=True)))
            for number, *cells in content["rows"]
        ]
        return cls(uuid.UUID(content["key"]), names, rows, content["days"])

    def with_fields(self, names: Iterable[str], importing: Importing) -> "Upload":
        """Give the rows empty cells for what is missing, so that it can be typed in the preview."""
        wanted = {*self.fields, *names}
        fields = [name for name in importing.fields.values() if name in wanted]
        rows = [
            FileRow(row.number, {name: row.cells.get(name, "") for name in fields})
            for row in self.rows
        ]
        return Upload(self.key, fields, rows, self.day_order)

    def as_typed(self, typed: Mapping[str, str]) -> "Upload":
        """Return it with what was typed in the preview: cells by number and place, order of days.

        Of each row only the cells that were shown as entries can be there.
        """
        rows = []
        for row in self.rows:
            cells = dict(row.cells)
            for place, name in enumerate(self.fields):
                text = typed.get(f"cell-{row.number}-{place}")
                if text is not None:
                    cells[name] = text[:20_000]
            rows.append(FileRow(row.number, cells))
        order = typed.get("day_order", self.day_order)
        return Upload(self.key, self.fields, rows, order if order in DAY_ORDERS else "")
