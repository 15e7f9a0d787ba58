"""The size of what is made, changed in one place: sizes that belong together, before and after."""

import copy
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from catalogue.calc import recipe as values
from catalogue.calc.flat_pattern import FormInput, UnknownForm
from catalogue.calc.flat_patterns import form_named
from catalogue.calc.form_blank import form_blank
from catalogue.calc.parts_list import parts_for
from catalogue.calc.recipe_document import Document
from catalogue.calc.sheet_use import PlanSheets, sheets_for
from maker.calc.refusal import Refusal

QUANTITIES = (1, 12, 60)


@dataclass(frozen=True, slots=True)
class SharedSize:
    """A size that folded pieces have in common: changed once, changed in all of them.

    `rows` are the places of the pieces in the recipe, `value` its millimetres (or number) in text.
    """

    key: str
    asked: FormInput
    value: str
    rows: tuple[int, ...]
    pieces: tuple[str, ...]
    is_apart: bool


def shared_sizes(document: Document, apart: Iterable[str] = ()) -> list[SharedSize]:
    """Return the sizes of all folded pieces; the same letter with the same value is one entry.

    Letters in `apart` are asked for piece by piece. Sizes of the finished thing come first.
    """
    apart = set(apart)
    groups: dict[tuple[str, str, int], list[tuple[int, str, FormInput]]] = {}
    for at, row in enumerate(document["pieces"]):
        if row["shape"] != "form":
            continue
        try:
            asked_for = form_named(row["form"]).inputs
        except UnknownForm:
            continue
        for asked in asked_for:
            if asked.name in row["form_inputs"]:
                alone = at if asked.name in apart else -1
                place = (asked.name, row["form_inputs"][asked.name], alone)
                groups.setdefault(place, []).append((at, row["name"], asked))
    found = [
        SharedSize(
            key=f"{name}-{those[0][0]}",
            asked=those[0][2],
            value=value,
            rows=tuple(at for at, _, _ in those),
            pieces=tuple(piece for _, piece, _ in those),
            is_apart=alone >= 0,
        )
        for (name, value, alone), those in groups.items()
    ]
    return sorted(found, key=lambda size: size.asked.group != "size")


def resized(document: Document, sizes: Sequence[SharedSize], typed: Mapping[str, str]) -> Document:
    """Return the document with the sizes typed, by key; the blanks follow when it is read."""
    made = copy.deepcopy(document)
    for size in sizes:
        for at in size.rows:
            if size.key in typed:
                made["pieces"][at]["form_inputs"][size.asked.name] = typed[size.key]
    return made


@dataclass(frozen=True, slots=True)
class Change:
    """A figure before and after; texts, because one of them may be a reason instead."""

    before: str
    after: str

    @property
    def is_same(self) -> bool:
        """Whether nothing changes."""
        return self.before == self.after


def resized_values(recipe: values.Recipe, document: Document, rows: Sequence[int]) -> values.Recipe:
    """Return the recipe with the blanks of a document that differs in sizes alone.

    `rows` are the keys of the pieces, in the order of the document.
    """
    of_key = dict(zip(rows, document["pieces"], strict=True))
    return replace(
        recipe,
        pieces=tuple(_resized_piece(piece, of_key[piece.id or 0]) for piece in recipe.pieces),
    )


def _resized_piece(piece: values.Piece, row: Document) -> values.Piece:
    if row["shape"] != "form":
        return piece
    blank = form_blank(row["form"], row["form_inputs"])
    return replace(
        piece,
        width_mm=blank.width_mm,
        height_mm=blank.height_mm,
        count=row["count"] * blank.count,
        glue_bead_mm=blank.glue_bead_mm,
        glue_area_mm2=blank.glue_area_mm2,
        area_mm2=blank.area_mm2,
    )


def sheets_of(
    recipe: values.Recipe, quantity: int, plan_sheets: PlanSheets
) -> dict[str, int | str]:
    """Return the sheets of each material for a quantity, or why they cannot be cut."""
    try:
        uses = sheets_for(
            parts_for(recipe, quantity),
            gap_mm=recipe.gap_mm,
            plan_sheets=plan_sheets,
            unit=recipe.unit,
        )
    except Refusal as refused:
        return {"": refused.message}
    found: dict[str, int | str] = {}
    for use in uses:
        found[use.material.name] = int(found.get(use.material.name, 0)) + use.sheets
    return found


def glue_of(recipe: values.Recipe, quantity: int) -> dict[str, tuple[Decimal, str]]:
    """Return what glue measured on the folded pieces takes, by material, waste included."""
    measured = {
        fixing.role for fixing in recipe.fixings if fixing.measure is not values.Measure.AMOUNT
    }
    found: dict[str, tuple[Decimal, str]] = {}
    for use in parts_for(recipe, quantity).uses:
        if use.role in measured:
            before = found.get(use.material.name, (Decimal(0), ""))[0]
            found[use.material.name] = (before + use.amount, use.material.unit)
    return found
