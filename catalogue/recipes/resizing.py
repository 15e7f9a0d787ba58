"""The size of what is made, changed in one place: sizes that belong together, before and after."""

import copy
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from catalogue.calc.flat_patterns import form_named
from catalogue.calc.flat_patterns.pattern import FormInput, UnknownForm
from catalogue.calc.recipes import recipe as values
from catalogue.calc.recipes.document import Document
from catalogue.calc.recipes.form_blank import form_blank
from catalogue.calc.recipes.parts_list import CutCount, parts_for
from catalogue.calc.sheets.use import PlanSheets, sheets_for
from catalogue.recipes.following import Follow, made_to_follow
from maker.calc.refusal import Refusal

QUANTITIES = (1, 12, 60)


@dataclass(frozen=True, slots=True)
class SharedSize:
    """A size that folded pieces have in common: changed once, changed in all of them.

    `rows` are the places of the pieces in the recipe, `names` the letter each calls it by, `value`
    its millimetres (or number) in text.
    """

    key: str
    asked: FormInput
    value: str
    rows: tuple[int, ...]
    names: tuple[str, ...]
    pieces: tuple[str, ...]
    is_apart: bool


def shared_sizes(
    document: Document, apart: Iterable[str] = (), follows: Iterable[Follow] = ()
) -> list[SharedSize]:
    """Return the sizes of all folded pieces; the same letter with the same value is one entry.

    Letters in `apart` are asked for piece by piece. What follows another size is not asked for.
    Sizes of the finished thing come first.
    """
    apart = set(apart)
    followed: set[tuple[int, str]] = set()
    for follow in follows:  # wholes before their parts
        for name in follow.names:
            is_asked = _is_one_letter(document, follow, name)
            if not is_asked or (follow.whole, name) in followed:
                followed.add((follow.row, name))
    groups: dict[tuple[str, str, int], list[tuple[int, str, FormInput]]] = {}
    for at, row in enumerate(document["pieces"]):
        if row["shape"] != "form":
            continue
        try:
            asked_for = form_named(row["form"]).inputs
        except UnknownForm:
            continue
        for asked in asked_for:
            if asked.name in row["form_inputs"] and (at, asked.name) not in followed:
                alone = at if asked.name in apart else -1
                place = (asked.name, row["form_inputs"][asked.name], alone)
                groups.setdefault(place, []).append((at, row["name"], asked))
    found = [
        SharedSize(
            key=f"{those[0][2].name}-{those[0][0]}",
            asked=those[0][2],
            value=value,
            rows=tuple(at for at, _, _ in those),
            names=tuple(asked.name for _, _, asked in those),
            pieces=tuple(piece for _, piece, _ in those),
            is_apart=alone >= 0,
        )
        for (_, value, alone), those in groups.items()
    ]
    return sorted(found, key=lambda size: size.asked.group != "size")


def _is_one_letter(document: Document, follow: Follow, name: str) -> bool:
    """Whether it has the letter and value of its whole, so that both are one entry anyway."""
    part, whole = (document["pieces"][at]["form_inputs"] for at in (follow.row, follow.whole))
    return bool(whole.get(name) == part[name])


def resized(
    document: Document,
    sizes: Sequence[SharedSize],
    typed: Mapping[str, str],
    follows: Iterable[Follow] = (),
    unit: str = "mm",
) -> Document:
    """Return the document with the sizes typed, by key, and what follows them taken anew.

    The blanks follow when it is read.
    """
    made = copy.deepcopy(document)
    asked = {place for size in sizes for place in zip(size.rows, size.names, strict=True)}
    for size in sizes:
        if size.key not in typed:
            continue
        for at, name in zip(size.rows, size.names, strict=True):
            made["pieces"][at]["form_inputs"][name] = typed[size.key]
    rest = [
        replace(follow, names=tuple(n for n in follow.names if (follow.row, n) not in asked))
        for follow in follows
    ]
    return made_to_follow(made, rest, unit)


@dataclass(frozen=True, slots=True)
class SizeChange:
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


def _resized_piece(piece: values.RecipePiece, row: Document) -> values.RecipePiece:
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


@dataclass(frozen=True, slots=True)
class MaterialSheets:
    """The sheets one material takes; `too_large` are pieces that cannot be cut from it at all."""

    material: values.MaterialValues
    sheets: int | None
    too_large: tuple[values.RecipePiece, ...] = ()
    reason: str = ""


def sheets_of(
    recipe: values.Recipe, quantity: int, plan_sheets: PlanSheets
) -> list[MaterialSheets]:
    """Return the sheets of each material for a quantity; one that is too small stops no other."""
    parts = parts_for(recipe, quantity)
    groups: dict[int | str, list[CutCount]] = {}
    for cut in parts.cuts:
        groups.setdefault(cut.material.identity, []).append(cut)
    found = []
    for cuts in groups.values():
        material = cuts[0].material
        try:
            uses = sheets_for(
                replace(parts, cuts=tuple(cuts)),
                gap_mm=recipe.gap_mm,
                plan_sheets=plan_sheets,
                unit=recipe.unit,
            )
        except Refusal as refused:
            pieces = tuple(cut.piece for cut in cuts if not _fits(cut.piece, material))
            found.append(MaterialSheets(material, None, pieces, refused.message))
        else:
            found.append(MaterialSheets(material, sum(use.sheets for use in uses)))
    return found


def _fits(piece: values.RecipePiece, material: values.MaterialValues) -> bool:
    width, height = (
        side - 2 * material.trim_mm for side in (material.width_mm, material.height_mm)
    )
    may_turn = not material.is_directional if piece.may_turn is None else piece.may_turn
    ways = [(piece.width_mm, piece.height_mm)]
    if may_turn:
        ways.append((piece.height_mm, piece.width_mm))
    return any(across <= width and up <= height for across, up in ways)


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
