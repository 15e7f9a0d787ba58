"""The folded pieces of a recipe: drawn, with their scores and cuts, and how they lie on a sheet."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from django.utils.safestring import SafeString, mark_safe

from catalogue.calc.flat_patterns import FORMS
from catalogue.calc.flat_patterns.pattern import FlatPattern
from catalogue.calc.recipes.changes import ChangeWords
from catalogue.calc.recipes.form_blank import form_pattern
from catalogue.calc.sheets.fit import Sheet, SheetFit, fits
from catalogue.materials.models import Material
from catalogue.recipes.form_sizes import size_query
from catalogue.recipes.models import DesignVersion, Piece
from catalogue.shapes.answer import sheet_of
from catalogue.shapes.drawing import key_of, piece_for_page
from catalogue.shapes.folded import finished_svg
from catalogue.shapes.words import (
    ScoreTable,
    cut_list,
    length_text,
    piece_description,
    score_tables,
    slanted_folds,
)
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop

MOST_DRAWN = 12  # more would make a page nobody reads; the others have their form's page
SMALL_WIDTH = 72.0


@dataclass(frozen=True, slots=True)
class Drawing:
    """What a form at a size looks like, whichever piece of whichever recipe it is."""

    small: SafeString
    svg: SafeString
    panels: tuple[str, ...]
    description: str
    scores: tuple[ScoreTable, ...]
    slanted: tuple[str, ...]
    cuts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FoldedPiece:
    """A piece that is folded from a shape, drawn, and how its blank lies on its sheet."""

    number: int
    name: str
    title: str
    form: str
    query: str
    drawing: Drawing
    sheet: str
    fit: str
    is_short: bool
    is_exact: bool


def folded_pieces(version: DesignVersion, workshop: Workshop) -> list[FoldedPiece]:
    """Return the pieces that are folded from a shape of the library, each drawn once."""
    materials = {role.pk: role.material for role in version.roles.all()}
    return [
        _folded(number, row, pattern, materials[row.role_id], workshop)
        for number, row, pattern in patterns_of(version, workshop)
    ]


def patterns_of(
    version: DesignVersion, workshop: Workshop
) -> Iterable[tuple[int, Piece, FlatPattern]]:
    """Give each folded piece with its number in the recipe and its pattern, as many as are drawn.

    No query when the version was loaded `with_recipe()`.
    """
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


def drawing_key(version: DesignVersion, workshop: Workshop) -> list[tuple[SafeString, str]]:
    """Return the lines and hatchings used in the drawings, each with what it means."""
    pieces = [pattern.pieces[0] for _, _, pattern in patterns_of(version, workshop)]
    return [(_safe(sample), words) for sample, words in key_of(pieces)]


def _folded(
    number: int, row: Piece, pattern: FlatPattern, material: Material, workshop: Workshop
) -> FoldedPiece:
    unit = workshop.unit
    fit = fit_of(row, pattern, material, unit)
    writing = ChangeWords(workshop.unit, workshop.currency, workshop.locale)
    blank = writing.size(row.width_mm, row.height_mm)
    count = row.count * pattern.pieces[0].count
    return FoldedPiece(
        number=number,
        name=row.name,
        title=f"{FORMS[row.form].title}, {blank}" + (f", cut {count}" if count > 1 else ""),
        form=row.form,
        query=size_query(row.form, row.form_inputs, workshop, material.pk),
        drawing=_drawing(row.form, tuple(sorted(row.form_inputs.items())), unit, f"folded{number}"),
        sheet=material.name,
        fit=_fit_words(fit, unit),
        is_short=not fit.takes_it,
        is_exact=fit.is_exact,
    )


@lru_cache(maxsize=256)
def _drawing(form: str, sizes: tuple[tuple[str, str], ...], unit: str, name: str) -> Drawing:
    """Draw a form at a size, once for each place it has on a page (its ids are the page's own)."""
    pattern = form_pattern(form, dict(sizes), unit)
    piece = pattern.pieces[0]
    svg, panels = piece_for_page(piece, unit=unit, name=name)
    return Drawing(
        small=_safe(finished_svg(pattern, title=FORMS[form].title, width=SMALL_WIDTH)),
        svg=_safe(svg),
        panels=tuple(panels),
        description=piece_description(piece, unit),
        scores=tuple(score_tables(piece, unit)),
        slanted=tuple(slanted_folds(piece, unit)),
        cuts=tuple(cut_list(piece, unit)),
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
    words = f"{fit.per_sheet} per sheet{', turned' if fit.is_turned else ''}"
    return f"{words}; spare: {length_text(across, unit)} across, {length_text(up, unit)} up."


def _safe(svg: str) -> SafeString:
    return mark_safe(svg)  # noqa: S308  # drawn by us, texts escaped
