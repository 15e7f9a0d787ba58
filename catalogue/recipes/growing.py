"""Sizes you can increase for free and which save some, for the sizes of a recipe."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache, partial

from catalogue.calc.flat_patterns import FORMS
from catalogue.calc.recipes.document import Document
from catalogue.calc.recipes.form_blank import (
    MM_PER_INCH,
    form_pattern,
    is_length,
    rounded,
    sizes_in,
)
from catalogue.calc.sheets.fit import fits
from catalogue.materials.models import Material
from catalogue.recipes.folded import MOST_DRAWN, patterns_of
from catalogue.recipes.following import Follow
from catalogue.recipes.models import DesignVersion, Piece
from catalogue.recipes.resizing import SharedSize, resized
from catalogue.shapes.answer import Advice, SheetSaving, advice_for, sheet_of, without_bound
from catalogue.shapes.words import length_text
from maker.calc.refusal import Refusal
from maker.calc.sums import plain_text
from maker.workshop.models import Workshop


@dataclass(frozen=True, slots=True)
class SizeOffer:
    """A size to take with one tap: which entry, its value in millimetres, and why."""

    key: str
    text: str
    value: str


def advice_on(version: DesignVersion, workshop: Workshop) -> list[tuple[str, Advice]]:
    """Return which sizes of each folded piece may grow for nothing, and which save; remembered."""
    materials = {role.pk: role.material for role in version.roles.all()}
    return [
        (
            row.name,
            without_bound(
                FORMS[row.form],
                _advice_on(
                    row.form, row.form_inputs, row.turning, materials[row.role_id], workshop.unit
                ),
            ),
        )
        for _, row, _ in patterns_of(version, workshop)
    ]


def offers_for(
    version: DesignVersion,
    document: Document,
    sizes: Sequence[SharedSize],
    follows: Sequence[Follow],
    workshop: Workshop,
) -> list[SizeOffer]:
    """Return what may be taken on the page that changes the sizes, as they stand in a document.

    A size several pieces have in common grows only as far as each of them can by itself, what
    follows it counted; it is worth a smaller one if that saves sheets for any of them. In plain
    rows, each piece by itself: the plan that is made when it is taken has the last word. A size
    that all its pieces take from something else is not offered.
    """
    materials = {role.name: role.material for role in version.roles.all()}
    advice: dict[int, Advice] = {}
    for at, row in enumerate(document["pieces"]):
        if row["shape"] != Piece.Shape.FORM or len(advice) == MOST_DRAWN:
            continue
        try:
            advice[at] = _advice_on(
                row["form"], row["form_inputs"], row["turning"], materials[row["role"]],
                workshop.unit,
            )  # fmt: skip
        except Refusal:  # kept before a form had the limit it has now
            continue

    def bears(size: SharedSize, value: str) -> bool:
        """Whether what follows a size has as many to a sheet when that is so large."""
        made = resized(document, sizes, {size.key: value}, follows, workshop.unit)
        for follow in follows:
            rows = [one["pieces"][follow.row] for one in (document, made)]
            if rows[0]["form_inputs"] == rows[1]["form_inputs"]:
                continue
            sheet = sheet_of(materials[rows[0]["role"]], workshop.unit)
            try:
                counts = [
                    fits(
                        form_pattern(row["form"], row["form_inputs"], workshop.unit),
                        [sheet],
                        may_turn=row["turning"] != Piece.Turning.FIXED,
                    )[0].per_sheet
                    for row in rows
                ]
            except Refusal:
                return False
            if counts[1] < counts[0]:
                return False
        return True

    found: list[SizeOffer] = []
    for size in sizes:
        if may_change(size, document):
            found += _offers_of(size, advice, workshop.unit, partial(bears, size))
    return found


def may_change(size: SharedSize, document: Document) -> bool:
    """Whether a size may be advised: a length of the thing that is not bound in all its pieces."""
    if size.asked.group != "size" or not is_length(size.asked):
        return False
    bound = [
        one.is_bound
        for at, name in zip(size.rows, size.names, strict=True)
        for one in FORMS[document["pieces"][at]["form"]].inputs
        if one.name == name
    ]
    return not all(bound)


def _offers_of(
    size: SharedSize, advice: Mapping[int, Advice], unit: str, bears: Callable[[str], bool]
) -> Iterable[SizeOffer]:
    if not all(at in advice for at in size.rows):
        return
    rows = list(zip(size.rows, size.names, strict=True))
    free = [_value_of(name, advice[at].free) for at, name in rows]
    value = min(one for one in free if one) if all(free) else None
    if value is not None and bears(_in_mm(value, unit)):
        yield SizeOffer(
            size.key,
            f"up to {length_text(value, unit)}: free",
            _in_mm(value, unit),
        )
    saving = [one for at, name in rows if (one := _value_of(name, advice[at].saving))]
    if saving:
        value = max(saving)
        yield SizeOffer(
            size.key,
            f"{length_text(value, unit)}: saves sheets",
            _in_mm(value, unit),
        )


def _value_of(name: str, changes: Iterable[SheetSaving]) -> Fraction | None:
    return next((one.value for one in changes if one.name == name), None)


def _in_mm(value: Fraction, unit: str) -> str:
    return plain_text(rounded(value * (MM_PER_INCH if unit == "in" else 1)))


def _advice_on(
    form: str, sizes: Mapping[str, str], turning: str, material: Material, unit: str
) -> Advice:
    return _advice(
        form,
        tuple(sorted(sizes.items())),
        unit,
        material.name,
        material.width_mm or Decimal(0),
        material.height_mm or Decimal(0),
        material.trim_mm,
        turning == Piece.Turning.FIXED
        or (material.is_directional and turning != Piece.Turning.FREE),
    )


@lru_cache(maxsize=256)
def _advice(
    form: str,
    sizes: tuple[tuple[str, str], ...],
    unit: str,
    name: str,
    width_mm: Decimal,
    height_mm: Decimal,
    trim_mm: Decimal,
    is_directional: bool,
) -> Advice:
    # of a sheet by its measures, so that what is remembered is never of a sheet that was changed
    sheet = Material(
        name=name,
        width_mm=width_mm,
        height_mm=height_mm,
        trim_mm=trim_mm,
        is_directional=is_directional,
    )
    typed, step = sizes_in(form, dict(sizes), unit)
    pattern = form_pattern(form, dict(sizes), unit)
    return advice_for(FORMS[form], pattern, typed, sheet, step)
