"""The finished sizes of an item in the recipe editor: each once, for all pieces that share it.

The page writes what is typed there into the entries of those pieces; what follows another piece
follows when the recipe is saved.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from catalogue.recipes.folded_fields import SIZE
from catalogue.recipes.following import follows_in
from catalogue.recipes.piece_form import PieceForm, is_typed
from catalogue.recipes.resizing import SharedSize, shared_sizes


@dataclass(frozen=True, slots=True)
class WholeSize:
    """A size once: its entry in the first piece, the ids of all of them, and whose they are."""

    entry: Any
    ids: str
    pieces: str


def whole_sizes(forms: Sequence[PieceForm], unit: str) -> list[WholeSize]:
    """Return the sizes typed for the folded pieces, those that belong together once.

    `unit` is that of the workshop. A row to be removed asks for nothing.
    """
    rows = [
        {
            "name": str(form["name"].value() or ""),
            "shape": "form" if form.folded and form.blank and not _is_going(form) else "",
            "form": form.folded.name if form.folded else "",
            "form_inputs": form.sizes if form.folded else {},
        }
        for form in forms
    ]
    document = {"pieces": rows}
    found = []
    for size in shared_sizes(document, (), follows_in(document, unit)):
        entries = _entries(forms, size)
        if size.asked.group == "size" and is_typed(entries[0]):
            ids = " ".join(entry.auto_id for entry in entries)
            found.append(WholeSize(entries[0], ids, ", ".join(dict.fromkeys(size.pieces))))
    return found


def _is_going(form: PieceForm) -> bool:
    return str(form["DELETE"].value() or "") in ("on", "true", "True")


def _entries(forms: Sequence[PieceForm], size: SharedSize) -> list[Any]:
    places = zip(size.rows, size.names, strict=True)
    return [forms[row][SIZE + name] for row, name in places]
