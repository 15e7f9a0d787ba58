"""What the page of a recipe shows: its rows in words, its folded pieces drawn, its cut list."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import Any

from django.utils.safestring import SafeString, mark_safe

from catalogue.calc.flat_pattern import FlatPattern
from catalogue.calc.flat_patterns import FORMS
from catalogue.calc.form_blank import form_pattern, sizes_in
from catalogue.calc.made_of import made_of
from catalogue.calc.recipe_changes import Writing
from catalogue.calc.sheet_fit import Sheet, SheetFit, fits
from catalogue.flat_patterns.answer import Advice, advice_for, sheet_of
from catalogue.flat_patterns.drawing import key_of, piece_for_page
from catalogue.flat_patterns.words import (
    ScoreTable,
    cut_list,
    length_text,
    piece_description,
    score_tables,
    slanted_folds,
)
from catalogue.materials.models import Material
from catalogue.recipes.drawing import draw_blanks
from catalogue.recipes.form_sizes import size_query
from catalogue.recipes.inputs import recipe_values
from catalogue.recipes.models import DesignVersion, Piece
from catalogue.recipes.summary import ADVICE, summary_of
from maker.calc.money import to_minor
from maker.calc.refusal import Refusal
from maker.calc.units import format_number
from maker.workshop.models import Workshop

MOST_DRAWN = 12  # more would make a page nobody reads; the others have their form's page


@dataclass(frozen=True, slots=True)
class FoldedPiece:
    """A piece that is folded from a form, drawn, and how its blank lies on its sheet."""

    number: int
    name: str
    title: str
    form: str
    query: str
    svg: SafeString
    panels: tuple[str, ...]
    description: str
    scores: tuple[ScoreTable, ...]
    slanted: tuple[str, ...]
    cuts: tuple[str, ...]
    sheet: str
    fit: str
    is_short: bool
    is_exact: bool


def page_of(version: DesignVersion, workshop: Workshop) -> dict[str, Any]:
    """Return what a page needs to show a recipe; no query when it was loaded `with_recipe()`."""
    folded = folded_pieces(version, workshop)
    return {
        "summary": summary_of(version, workshop),
        "drawing": draw_blanks(version.pieces.all()),
        "advice": ADVICE,
        "folded": folded,
        "drawing_key": _drawing_key(version, workshop) if folded else [],
        "cut_rows": cut_rows(version, workshop),
    }


def folded_pieces(version: DesignVersion, workshop: Workshop) -> list[FoldedPiece]:
    """Return the pieces that are folded from a form of the library, each drawn once."""
    materials = {role.pk: role.material for role in version.roles.all()}
    return [
        _folded(number, row, materials[row.role_id], workshop)
        for number, row, _ in _patterns(version, workshop)
    ]


def _patterns(
    version: DesignVersion, workshop: Workshop
) -> Iterable[tuple[int, Piece, FlatPattern]]:
    drawn = 0
    for number, row in enumerate(version.pieces.all(), 1):
        if row.shape != Piece.Shape.FORM or drawn == MOST_DRAWN:
            continue
        try:
            pattern = form_pattern(row.form, row.form_inputs, workshop.unit)
        except Refusal:  # a form the library has no more is still cut by its kept blank
            continue
        drawn += 1
        yield number, row, pattern


def _drawing_key(version: DesignVersion, workshop: Workshop) -> list[tuple[SafeString, str]]:
    pieces = [pattern.pieces[0] for _, _, pattern in _patterns(version, workshop)]
    return [(_safe(sample), words) for sample, words in key_of(pieces)]


def _folded(number: int, row: Piece, material: Material, workshop: Workshop) -> FoldedPiece:
    unit = workshop.unit
    pattern = form_pattern(row.form, row.form_inputs, unit)
    piece = pattern.pieces[0]
    fit = fit_of(row, pattern, material, unit)
    svg, panels = piece_for_page(piece, unit=unit, name=f"folded{number}")
    writing = Writing(workshop.unit, workshop.currency, workshop.locale)
    blank = writing.size(row.width_mm, row.height_mm)
    count = row.count * piece.count
    return FoldedPiece(
        number=number,
        name=row.name,
        title=f"{FORMS[row.form].title}, {blank}" + (f", cut {count}" if count > 1 else ""),
        form=row.form,
        query=size_query(row.form, row.form_inputs, workshop, material.pk),
        svg=_safe(svg),
        panels=tuple(panels),
        description=piece_description(piece, unit),
        scores=tuple(score_tables(piece, unit)),
        slanted=tuple(slanted_folds(piece, unit)),
        cuts=tuple(cut_list(piece, unit)),
        sheet=material.name,
        fit=_fit_words(fit, unit),
        is_short=not fit.takes_it,
        is_exact=fit.is_exact,
    )


def fit_of(row: Piece, pattern: FlatPattern, material: Material, unit: str) -> SheetFit:
    """Return how a blank lies on the sheet of its material, turned only where it may be."""
    sheet = sheet_of(material, unit)
    if row.turning == Piece.Turning.FREE:
        sheet = Sheet(sheet.name, sheet.width, sheet.height, sheet.trim)
    (fit,) = fits(pattern, [sheet], may_turn=row.turning != Piece.Turning.FIXED)
    return fit


def _fit_words(fit: SheetFit, unit: str) -> str:
    across, up = fit.slack_across, fit.slack_up
    if not fit.takes_it:
        short = [
            f"{length_text(-slack, unit)} {way}"
            for slack, way in ((across, "across"), (up, "up"))
            if slack < 0
        ]
        return f"The sheet is too small by {' and '.join(short)}."
    words = f"{fit.per_sheet} to a sheet{', turned' if fit.is_turned else ''}"
    return (
        f"{words}; left beside one: {length_text(across, unit)} across, {length_text(up, unit)} up."
    )


@dataclass(frozen=True, slots=True)
class CutListRow:
    """One kind of blank of a finished item, in words."""

    name: str
    blank: str
    count: int
    material: str
    weight: str


@dataclass(frozen=True, slots=True)
class CutList:
    """The blanks of one finished item, what they weigh and how far its glue runs."""

    rows: tuple[CutListRow, ...]
    weight: str
    not_weighed: str
    glue_line: str


def cut_rows(version: DesignVersion, workshop: Workshop) -> CutList | None:
    """Return the cut list of one item with the usual choices; None when nothing is cut."""
    try:
        made = made_of(recipe_values(version, workshop))
    except Refusal:
        return None
    if not made.rows:
        return None
    writing = Writing(workshop.unit, workshop.currency, workshop.locale)

    def grams(value: Decimal) -> str:
        return f"{format_number(to_minor(value, 1), workshop.locale)} g"

    return CutList(
        rows=tuple(
            CutListRow(
                name=row.piece.name,
                blank=writing.size(row.piece.width_mm, row.piece.height_mm),
                count=row.count,
                material=row.material.name,
                weight="" if row.weight_g is None else grams(row.weight_g),
            )
            for row in made.rows
        ),
        weight=grams(made.weight_g) if made.weight_g else "",
        not_weighed=", ".join(made.not_weighed),
        glue_line=writing.length(made.glue_line_mm) if made.glue_line_mm else "",
    )


def advice_on(version: DesignVersion, workshop: Workshop) -> list[tuple[str, Advice]]:
    """Return which sizes of each folded piece may grow for nothing, and which save; remembered."""
    materials = {role.pk: role.material for role in version.roles.all()}
    found = []
    for _, row, _ in _patterns(version, workshop):
        material = materials[row.role_id]
        sheet = (
            material.name,
            material.width_mm,
            material.height_mm,
            material.trim_mm,
            material.is_directional and row.turning != Piece.Turning.FREE,
        )
        sizes = tuple(sorted(row.form_inputs.items()))
        found.append((row.name, _advice(row.form, sizes, workshop.unit, *sheet)))
    return found


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


def _safe(svg: str) -> SafeString:
    return mark_safe(svg)  # noqa: S308  # drawn by us, texts escaped
