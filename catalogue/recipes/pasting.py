"""Rows copied from a spreadsheet, put behind the rows of a posted recipe form."""

import re
from typing import Any

from django.http import QueryDict
from django.utils.datastructures import MultiValueDict

from catalogue.calc.flat_patterns.outlines import EDGES
from catalogue.calc.recipes.document import MOST_ROWS
from catalogue.recipes.editor import SECTIONS
from catalogue.recipes.folded_fields import SIZE
from catalogue.recipes.piece_form import PieceForm
from catalogue.recipes.row_form import OtherMaterialField, RecipeRowForm

# a word for an edge stands in a cell as it stands on the page
_EDGES = {word: str(at) if at else "" for at, word in enumerate(EDGES)}
SIZES = "sizes"  # the last column of a pasted piece: what its form asks for
_SIZE = re.compile(r"([A-Za-z]\w{0,19})(?:\s*[=:]\s*|\s+)(.+)", re.ASCII)


def _columns(form: Any) -> list[str]:
    """Name the fields in the order of the columns: those shown first, then those tucked away."""
    hidden = {
        name
        for name, field in form.base_fields.items()
        if field.widget.is_hidden or isinstance(field, OtherMaterialField)
    }
    names = list(getattr(form, "field_order", None) or form.base_fields)
    columns = [name for name in names if name not in hidden]
    return [*columns, SIZES] if form is PieceForm else columns


def _value_of(field: Any, text: str) -> str | None:
    """Return what the field is sent for a cell: a choice by its words; None if it has no such."""
    choices = getattr(field, "choices", None)
    if choices is None:
        return text
    for key, words in choices:
        if text.casefold() in (str(key).casefold(), str(words).casefold()):
            return str(key)
    return None


def paste_rows(posted: QueryDict) -> tuple[QueryDict, str]:
    """Return the posted data with the rows of `paste_text` added to `paste_into`, and a note."""
    data = posted.copy()
    text = str(data.pop("paste_text", [""])[-1])
    into = str(data.pop("paste_into", [""])[-1])
    section = next((one for one in SECTIONS if one.key == into), None)
    lines = [line.split("\t") for line in text.splitlines() if line.strip()]
    if section is None or not lines:
        return (
            data,
            "Paste cells from your spreadsheet and choose a section.",
        )
    fields = section.form.base_fields
    columns = _columns(section.form)
    if _is_heading(lines[0], fields, columns):
        lines = lines[1:]
    start = data.get(f"{into}-TOTAL_FORMS", "0")
    total = int(start) if start.isascii() and start.isdigit() and len(start) < 5 else 0
    unread: list[str] = []
    fitting = lines[: max(0, MOST_ROWS - total)]
    for number, cells in enumerate(fitting, total):
        _fill(data, f"{into}-{number}", section.form, columns, cells, unread)
    data[f"{into}-TOTAL_FORMS"] = str(total + len(fitting))
    note = f"{len(fitting)} rows added to {section.title}. Check them, then save."
    if len(fitting) < len(lines):
        note += f" {len(lines) - len(fitting)} more did not fit."
    if unread:
        note += f" Not in the list: {', '.join(dict.fromkeys(unread))}."
    return data, note[:1000]


def _is_heading(cells: list[str], fields: dict[str, Any], columns: list[str]) -> bool:
    labels = {str(fields[name].label).casefold() if name in fields else name for name in columns}
    said = [cell.strip().casefold() for cell in cells if cell.strip()]
    return bool(said) and all(cell in labels for cell in said)


def _fill(
    data: MultiValueDict[str, str],
    prefix: str,
    form: type[RecipeRowForm],
    columns: list[str],
    cells: list[str],
    unread: list[str],
) -> None:
    """Write one line of cells as one row of the form, with what its other fields begin with."""
    form.begin(data, prefix)
    for name, cell in zip(columns, cells, strict=False):
        text = cell.strip()[:500]
        if not text:
            continue
        if name == SIZES:
            unread.extend(_fill_sizes(data, prefix, text))
            continue
        value = _value_of(form.base_fields[name], text)
        if value is None:
            unread.append(text)
        else:
            data[f"{prefix}-{name}"] = value
    if form is PieceForm and data.get(f"{prefix}-form"):
        data[f"{prefix}-shape"] = "form"


def _fill_sizes(data: MultiValueDict[str, str], prefix: str, text: str) -> list[str]:
    """Write sizes like `W 7 1/2; D 4; H 8` into a row; return what is not a size."""
    unread = []
    for part in text.split(";"):
        found = _SIZE.fullmatch(part.strip())
        if found:
            data[f"{prefix}-{SIZE}{found[1]}"] = _EDGES.get(found[2].casefold(), found[2])
        elif part.strip():
            unread.append(part.strip())
    return unread
