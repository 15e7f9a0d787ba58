"""Pieces that come into a recipe with their sizes: parts of what is there, a form on its way in."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from catalogue.calc.flat_patterns import FORMS
from catalogue.calc.flat_patterns.pattern import Form
from catalogue.calc.flat_patterns.together import companions_of
from catalogue.calc.recipes.document import MOST_ROWS, Document
from catalogue.calc.recipes.form_blank import Sizes
from catalogue.materials.models import Material
from catalogue.recipes.folded_fields import SIZE
from catalogue.recipes.following import Part, parts_beside
from catalogue.recipes.form_sizes import shown_size, size_field, sizes_of_query
from catalogue.recipes.piece_form import PieceForm, fill_sizes
from catalogue.recipes.row_form import Names

_ROW = re.compile(r"pieces-\d{1,4}", re.ASCII)
_TAKEN = re.compile(
    r"(?:(?P<row>pieces-\d{1,4})=)?(?P<whole>pieces-\d{1,4}):(?P<name>[a-z ]{1,40})"
)


@dataclass(frozen=True, slots=True)
class Offered:
    """A part of a folded piece on the page: what a button sends for it, and what it says."""

    value: str
    text: str
    part: Part
    whole: PieceForm


def offered_parts(pieces: Iterable[PieceForm], unit: str) -> list[Offered]:
    """Return what goes with the folded pieces as they stand, parts of each in their order.

    A lid leads to its bag only where there is none.
    """
    there = [
        (form, form.folded.name, str(form["name"].value() or form.folded.title))
        for form in pieces
        if form.folded and form.blank and form.prefix
    ]
    parts = {one.part for _, name, _ in there for one in companions_of(name) if not one.is_back}
    return [
        Offered(
            f"{form.prefix}:{part.companion.name}", f"{part.companion.name} of {said}", part, form
        )
        for form, name, said in there
        for part in parts_beside(name, form.sizes, unit)
        if not (part.companion.is_back and name in parts)
    ]


def posted_pieces(data: Any, workshop: Any, *, but: str = "") -> list[PieceForm]:
    """Return the rows of the pieces as they were sent, without one of them."""
    prefixes = (f"pieces-{number}" for number in range(_count_of(data, "pieces")))
    return [
        PieceForm(data, prefix=prefix, workshop=workshop, names=Names(), is_checked=False)
        for prefix in prefixes
        if prefix != but
        and data.get(f"{prefix}-shape") == "form"
        and not data.get(f"{prefix}-DELETE")
    ]


def fill_from_others(data: Any, prefix: str, workshop: Any) -> list[Offered]:
    """Give a row the sizes it takes from the other pieces; return all it could take.

    The ones asked for by a button (`take_sizes`) stand instead of what was typed. Without one,
    the first, or the one the name of the row speaks of, as long as nothing was typed.
    """
    form = FORMS.get(data.get(f"{prefix}-form", ""))
    if form is None or data.get(f"{prefix}-shape") != "form":
        return []
    others = posted_pieces(data, workshop, but=prefix)
    offered = [
        one
        for one in offered_parts(others, workshop.unit)
        if one.part.companion.part == form.name and one.part.sizes
    ]
    asked = _TAKEN.fullmatch(data.get("take_sizes", ""))
    if asked and asked["row"] == prefix:
        for one in offered:
            if one.value == f"{asked['whole']}:{asked['name']}":
                _write_sizes(data, prefix, form, one.part.sizes, workshop)
        return offered
    needed = [one.name for one in form.inputs if one.group == "size"]
    if offered and not any(data.get(f"{prefix}-{SIZE}{name}") for name in needed):
        said = data.get(f"{prefix}-name", "").casefold()
        meant = max(
            offered, key=lambda one: sum(word in said for word in one.part.companion.name.split())
        )
        _write_sizes(data, prefix, form, meant.part.sizes, workshop)
    return offered


def _write_sizes(data: Any, prefix: str, form: Form, sizes: Sizes, workshop: Any) -> None:
    for asked in form.inputs:
        if asked.name in sizes:
            field = size_field(asked, workshop)
            shown = field.prepare_value(shown_size(asked, sizes[asked.name]))
            data[f"{prefix}-{SIZE}{asked.name}"] = str(shown)


def fill_every_row(sent: Any, workshop: Any) -> Any:
    """Return what was sent with the sizes each row takes from the others, where it has none."""
    data = sent.copy()
    for form in posted_pieces(sent, workshop):
        fill_from_others(data, str(form.prefix), workshop)
    return data


def with_part_added(sent: Any, workshop: Any) -> tuple[Any, str]:
    """Return what was sent with a row for the part a button asked for, and what it is called."""
    asked = _TAKEN.fullmatch(sent.get("add_part", ""))
    if asked is None:
        return sent, ""
    for one in offered_parts(posted_pieces(sent, workshop), workshop.unit):
        if one.value == f"{asked['whole']}:{asked['name']}":
            data = sent.copy()
            number = int(data["pieces-TOTAL_FORMS"])
            prefix = f"pieces-{number}"
            data["pieces-TOTAL_FORMS"] = str(number + 1)
            PieceForm.begin(data, prefix)
            data[f"{prefix}-name"] = one.part.companion.name
            data[f"{prefix}-role"] = str(one.whole["role"].value() or "")
            data[f"{prefix}-shape"] = "form"
            data[f"{prefix}-form"] = one.part.companion.part
            form = FORMS[one.part.companion.part]
            _write_sizes(data, prefix, form, one.part.sizes, workshop)
            return data, one.text
    return sent, ""


def with_other_materials(data: Any, materials: Mapping[str, Material]) -> Any:
    """Give a role to each material a row names that the recipe doesn't use yet.

    `data` is changed: the role is one more row of the materials, and the row says it.
    """
    for prefix, name in _others_in(data):
        name = next((one for one in materials if one.casefold() == name.casefold()), name)
        roles = {
            data.get(f"roles-{number}-material", "").strip(): data[f"roles-{number}-name"].strip()
            for number in range(_count_of(data, "roles"))
            if data.get(f"roles-{number}-name") and not data.get(f"roles-{number}-DELETE")
        }
        if name not in roles:
            number = _count_of(data, "roles")
            data["roles-TOTAL_FORMS"] = str(number + 1)
            data[f"roles-{number}-name"] = data[f"roles-{number}-material"] = name
        data[f"{prefix}-role"], data[f"{prefix}-other"] = roles.get(name, name), ""
    return data


def _others_in(data: Any) -> list[tuple[str, str]]:
    """Return the rows that name another material, and which; a role that is chosen counts."""
    prefixes = (
        f"{key}-{number}" for key in ("pieces", "fixings") for number in range(_count_of(data, key))
    )
    return [
        (prefix, name)
        for prefix in prefixes
        if (name := " ".join(data.get(f"{prefix}-other", "").split()))
        and not data.get(f"{prefix}-role")
        and not data.get(f"{prefix}-DELETE")
    ]


def _count_of(data: Any, key: str) -> int:
    total = str(data.get(f"{key}-TOTAL_FORMS", ""))
    count = int(total) if total.isascii() and total.isdigit() and len(total) < 5 else 0
    return min(count, MOST_ROWS)


def posted_piece(sent: Any, workshop: Any) -> PieceForm | None:
    """Return one row of the editor as it stands now, usual sizes filled in; None without one."""
    prefix = sent.get("row", "")
    if not _ROW.fullmatch(prefix):
        return None
    data = sent.copy()
    offered = fill_from_others(data, prefix, workshop)
    fill_sizes(data, prefix, workshop)
    form = PieceForm(data, prefix=prefix, workshop=workshop, names=Names())
    form.offered = offered
    return form


def with_arriving(
    document: Document, query: Any, workshop: Any, materials: Mapping[str, Material]
) -> tuple[Document, str]:
    """Return the document with a row for the form an address carries, and what that is called.

    `?form=tag&w=2&h=3 1/2&sheet=7`: the sheet's use is chosen, if the design has one.
    """
    form = FORMS.get(query.get("form", ""))
    if form is None:
        return document, ""
    sheet = query.get("sheet", "")
    names = {one.name for one in materials.values() if str(one.pk) == sheet}
    uses = [role["name"] for role in document["roles"] if role["material"] in names]
    row = {
        "name": form.title,
        "role": uses[0] if uses else "",
        "shape": "form",
        "form": form.name,
        "form_inputs": sizes_of_query(form, query, workshop),
        "when": {},
    }
    return {**document, "pieces": [*document["pieces"], row]}, form.title
