"""Which column of somebody else's file is what: told once, remembered, applied to the next file.

What was told is a row of `workshop.file_columns`; the catalogue owns the model, because a shop's
columns belong to that supplier.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils.html import escape

from maker.documents.grid import Table, UnreadableFile
from maker.web.file_rows import plain

SAMPLES_SHOWN = 3
LEAVE_OUT = IN_A_COLUMN = "-"


@dataclass(frozen=True, slots=True)
class Told:
    """What each column of a file is: field -> place; `source` is who the whole file comes from."""

    places: Mapping[str, int]
    source: Any = None


def own_columns(table: Table, fields: Mapping[str, str]) -> Told:
    """Return the columns that are headed as ours are. Errors: UnreadableFile for two alike."""
    known = {plain(name): wanted for name, wanted in fields.items()}
    seen: set[str] = set()
    for name in table.heading:
        if plain(name) in known and plain(name) in seen:
            raise UnreadableFile(f"Two columns are headed “{name}”. Remove one.")
        seen.add(plain(name))
    return Told(_places(table, known))


def remembered_columns(table: Table, told: Any, fields: Mapping[str, str]) -> Told | None:
    """Return what was told of such a file before: every heading told then is there again."""
    headings = {plain(name) for name in table.heading}
    for row in told:
        columns = {
            plain(theirs): fields[ours] for theirs, ours in row.pairs().items() if ours in fields
        }
        if columns and columns.keys() <= headings:
            return Told(_places(table, columns), row.supplier)
    return None


def _places(table: Table, wanted: Mapping[str, str]) -> dict[str, int]:
    places: dict[str, int] = {}
    for place, name in enumerate(table.heading):
        if field := wanted.get(plain(name)):
            places.setdefault(field, place)
    return places


def guessed_columns(
    table: Table, fields: Mapping[str, str], also_called: Mapping[str, Sequence[str]]
) -> dict[int, str]:
    """Return our likely headings by place, each once: what a shop usually calls them."""
    names = {plain(other): ours for ours, others in also_called.items() for other in others}
    names |= {plain(ours): ours for ours in fields}
    found: dict[int, str] = {}
    for place, heading in enumerate(table.heading):
        ours = names.get(plain(heading).rstrip(".:"))
        if ours and ours not in found.values():
            found[place] = ours
    return found


class ColumnsForm(forms.Form):
    """For each column of a file what it is, with its first cells to see; and whose file it is."""

    use_required_attribute = False

    def __init__(
        self,
        *args: Any,
        table: Table,
        fields: Mapping[str, str],
        needed: Sequence[str],
        sources: Mapping[str, Any],
        source_heading: str,
        **options: Any,
    ) -> None:
        super().__init__(*args, **options)
        self.table, self.own_fields, self.needed = table, fields, needed
        self.sources, self.source_heading = sources, source_heading
        choices = [(LEAVE_OUT, "Ignore"), *((name, name) for name in fields)]
        for place, heading in enumerate(table.heading):
            filled = [row[place][:60] for row in table.rows if row[place].strip()]
            self.fields[f"column-{place}"] = forms.ChoiceField(
                label=heading[:60] or f"Column {place + 1}",
                choices=choices,
                # what is in a file is written as it is
                help_text=escape(" · ".join(filled[:SAMPLES_SHOWN]) or "Empty"),
            )
        if sources:
            self.fields["source"] = forms.ChoiceField(
                label=f"{source_heading} of all rows",
                help_text="If the file has no such column.",
                choices=[
                    (IN_A_COLUMN, "In a column"),
                    *((key, str(row)) for key, row in sources.items()),
                ],
            )

    def _ours(self, place: int) -> str:
        """Return what a column was said to be, empty for nothing."""
        ours = str(self.cleaned_data.get(f"column-{place}", LEAVE_OUT))
        return "" if ours == LEAVE_OUT else ours

    def _source(self) -> Any:
        """Return the row the whole file comes from, or None."""
        return self.sources.get(str(self.cleaned_data.get("source", IN_A_COLUMN)))

    def clean(self) -> dict[str, Any]:
        """Refuse two columns for one thing, and a thing that no column is."""
        cleaned = super().clean() or self.cleaned_data
        said: dict[str, int] = {}
        for place in range(len(self.table.heading)):
            ours = self._ours(place)
            if not ours:
                continue
            if ours in said:
                self.add_error(f"column-{place}", f"Another column is already “{ours}”.")
            said.setdefault(ours, place)
        source = self._source()
        if source and self.source_heading in said:
            self.add_error("source", f"A column is already “{self.source_heading}”. Ignore one.")
        elif source:
            said[self.source_heading] = -1
        for name in self.needed:
            if name not in said:
                field = "source" if name == self.source_heading and self.sources else None
                self.add_error(field, f"Choose the column that is “{name}”.")
        return cleaned

    def told(self) -> Told:
        """Return what was chosen."""
        places = {
            self.own_fields[ours]: place
            for place in range(len(self.table.heading))
            if (ours := self._ours(place))
        }
        return Told(places, self._source())

    def pairs(self) -> dict[str, str]:
        """Return what is worth remembering: their heading -> ours."""
        return {
            self.table.heading[place]: ours
            for place in range(len(self.table.heading))
            if self.table.heading[place] and (ours := self._ours(place))
        }
