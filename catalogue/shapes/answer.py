"""What a form's page says of a size: figures, which of her sheets take it, what would save some."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

from catalogue.calc.flat_patterns.pattern import FlatPattern, Form
from catalogue.calc.sheets.fit import (
    Sheet,
    SheetFit,
    fits,
    free_sizes,
    largest_scale,
    saving_changes,
    sheets_in_rows,
)
from catalogue.calc.sheets.joining import join_advice
from catalogue.calc.sheets.paper import pattern_weight_g
from catalogue.materials.models import Material
from catalogue.shapes.words import (
    MM_PER_INCH,
    decimal_of,
    length_text,
    lengths_together,
    ruler_text,
    size_text,
)
from maker.calc.money import to_minor
from maker.calc.units import format_number

# Blanks a comparison is made for: so many that one more on a sheet saves sheets, and divided
# evenly by most numbers of blanks a sheet holds.
LOT = 5040
MOST_SHEETS_SHOWN = 30


@dataclass(frozen=True, slots=True)
class ShapeFigure:
    """A figure with its label, as `components/figures.html` shows it."""

    label: str
    value_text: str
    unit: str = ""
    note: str = ""
    main: bool = False


@dataclass(frozen=True, slots=True)
class FitRow:
    """One of her sheets and how the blank lies on it."""

    material: Material
    size: str
    takes_it: bool
    per_sheet: int
    left: str
    is_exact: bool
    is_turned: bool


@dataclass(frozen=True, slots=True)
class SheetSaving:
    """A size that may be changed, in words, and the sizes with it as an address has them."""

    text: str
    name: str
    value: Fraction


@dataclass(frozen=True, slots=True)
class Advice:
    """What may change on one sheet: sizes that grow for nothing, sizes that save."""

    sheet: str
    free: tuple[SheetSaving, ...] = ()
    saving: tuple[SheetSaving, ...] = ()
    joining: str = ""
    largest: tuple[tuple[str, Fraction], ...] = ()
    largest_text: str = ""
    is_bound: bool = False  # every size is that of what it goes with


def figures_of(pattern: FlatPattern, grammage: Decimal | None) -> list[ShapeFigure]:
    """Return the figures of a pattern: blank, outside, volume, weight, glue."""
    piece, unit = pattern.pieces[0], pattern.unit
    times = f"cut {piece.count}" if piece.count > 1 else ""
    blank = size_text(piece.width, piece.height, unit).rsplit(" ", 1)[0]
    found = [ShapeFigure("Blank", blank, unit, times, main=True)]
    if pattern.outside:
        sides = [side for side in pattern.outside if side]
        found.append(ShapeFigure("Finished size", lengths_together(sides, unit, " × ", 1), unit))
    if pattern.volume:
        found.append(_volume(pattern.volume, unit))
    weight = weight_g(pattern, grammage)
    if weight is not None:
        note = f"at {format_number(grammage or Decimal(0))} g/m², without glue"
        found.append(ShapeFigure("Weight each", format_number(weight, decimals=1), "g", note))
    bead = sum((one.glue_bead * one.count for one in pattern.pieces), Fraction(0))
    if bead:
        found.append(
            ShapeFigure("Glue needed", ruler_text(bead, unit, 0), unit, "one line per tab")
        )
    return found


def _volume(volume: Fraction, unit: str) -> ShapeFigure:
    millilitres = decimal_of(volume * (MM_PER_INCH**3 if unit == "in" else 1) / 1000)
    cubic_inches = decimal_of(volume / (1 if unit == "in" else MM_PER_INCH**3))
    if unit == "in":
        note = f"{format_number(millilitres, decimals=0)} ml"
        return ShapeFigure("Volume", format_number(cubic_inches, decimals=1), "in³", note)
    note = f"{format_number(cubic_inches, decimals=1)} in³"
    return ShapeFigure("Volume", format_number(millilitres, decimals=0), "ml", note)


def weight_g(pattern: FlatPattern, grammage: Decimal | None) -> Decimal | None:
    """Return what the card of one finished thing weighs, a tenth of a gram half up."""
    return None if grammage is None else to_minor(pattern_weight_g(pattern, grammage), 1)


# From here on a sheet is counted at its folds (common practice, no source): card of 300 g/m2 on
# whatever slips over or into something, two layers or board on a bag.
_COUNTED_FROM_MM = Decimal("0.3")
_COUNTED_ON_BAGS_FROM_MM = Decimal("0.5")
_BAGS = frozenset({"two_piece_bag", "one_piece_bag"})


def thickness_to_count(pattern: FlatPattern, material: Material | None) -> Decimal | None:
    """Return the thickness of a sheet in mm where the pattern should count it and does not."""
    thickness = material.thickness_mm if material else None
    if thickness is None or "t" not in pattern.inputs:
        return None
    least = _COUNTED_ON_BAGS_FROM_MM if pattern.form in _BAGS else _COUNTED_FROM_MM
    per = MM_PER_INCH if pattern.unit == "in" else Fraction(1)
    if thickness < least or pattern.inputs["t"] == Fraction(thickness) / per:
        return None
    return thickness


def sheet_of(material: Material, unit: str) -> Sheet:
    """Return a material as a sheet in the unit of a pattern."""
    per = MM_PER_INCH if unit == "in" else Fraction(1)
    return Sheet(
        name=material.name,
        width=Fraction(material.width_mm or 0) / per,
        height=Fraction(material.height_mm or 0) / per,
        trim=Fraction(material.trim_mm) / per,
        is_directional=material.is_directional,
    )


def fit_rows(pattern: FlatPattern, materials: Sequence[Material]) -> list[FitRow]:
    """Return her sheets: those that take it first, and of them the smallest."""
    unit = pattern.unit
    # many sheets have one size
    sizes = {_size(material): sheet_of(material, unit) for material in materials}
    found = dict(zip(sizes, fits(pattern, list(sizes.values())), strict=True))

    def order(material: Material) -> tuple[bool, Decimal]:
        takes_it = found[_size(material)].takes_it
        return not takes_it, _area(material) * (1 if takes_it else -1)

    shown = sorted(materials, key=order)[:MOST_SHEETS_SHOWN]
    return [_fit_row(material, found[_size(material)], unit) for material in shown]


def _fit_row(material: Material, fit: SheetFit, unit: str) -> FitRow:
    return FitRow(
        material=material,
        size=size_text(fit.sheet.width, fit.sheet.height, unit),
        takes_it=fit.takes_it,
        per_sheet=fit.per_sheet,
        left=_left(fit, unit),
        is_exact=fit.is_exact,
        is_turned=fit.is_turned,
    )


def _size(material: Material) -> tuple[Any, ...]:
    return material.width_mm, material.height_mm, material.trim_mm, material.is_directional


def _area(material: Material) -> Decimal:
    return (material.width_mm or Decimal(0)) * (material.height_mm or Decimal(0))


def _left(fit: SheetFit, unit: str) -> str:
    across, up = fit.slack_across, fit.slack_up
    if fit.takes_it:
        return f"{length_text(across, unit)} across, {length_text(up, unit)} up"
    parts = [
        f"{length_text(-slack, unit)} {way}"
        for slack, way in ((across, "across"), (up, "up"))
        if slack < 0
    ]
    return f"short by {' and '.join(parts)}"


def advice_for(
    form: Form,
    pattern: FlatPattern,
    typed: Mapping[str, Fraction],
    material: Material,
    step: Fraction | None,
) -> Advice:
    """Return what may change on one sheet. Everything said has been tried on the pattern.

    Bound sizes are told too: who knows what the thing goes with says whether they may change.
    """
    unit, sheet = pattern.unit, sheet_of(material, pattern.unit)
    marks = step or (Fraction(1, 16) if unit == "in" else Fraction(1, 2))
    sheets_for = sheets_in_rows(sheet, LOT)
    (fit,) = fits(pattern, [sheet])
    is_bound = all(one.is_bound for one in form.inputs if one.group == "size" and one.is_length)
    saving = tuple(
        SheetSaving(_changed(one.title, one.before, one.after, unit), one.name, one.after)
        for one in saving_changes(form.name, typed, sheets_for, unit=unit, step=marks)
    )
    if fit.takes_it:
        free = tuple(
            SheetSaving(_changed(one.title, one.before, one.after, unit), one.name, one.after)
            for one in free_sizes(form.name, typed, sheets_for, unit=unit, step=marks)
            if one.change > 0
        )
        return Advice(material.name, free=free, saving=saving, is_bound=is_bound)
    largest = largest_scale(form.name, typed, sheets_for, unit=unit, step=marks) or {}
    sizes = " × ".join(ruler_text(value, unit) for value in largest.values())
    return Advice(
        material.name,
        saving=saving,
        joining=join_advice(pattern, sheet.width - 2 * sheet.trim, sheet.height - 2 * sheet.trim),
        largest=tuple(largest.items()),
        largest_text=f"{sizes} {unit}" if largest else "",
        is_bound=is_bound,
    )


def without_bound(form: Form, advice: Advice) -> Advice:
    """Leave out the sizes that only change with what a thing goes with."""
    bound = {one.name for one in form.inputs if one.is_bound}

    def loose(changes: tuple[SheetSaving, ...]) -> tuple[SheetSaving, ...]:
        return tuple(one for one in changes if one.name not in bound)

    return replace(advice, free=loose(advice.free), saving=loose(advice.saving))


def _changed(title: str, before: Fraction, after: Fraction, unit: str) -> str:
    by = length_text(abs(after - before), unit)
    more = "larger" if after > before else "smaller"
    return f"{title[:1].upper()}{title[1:]} {length_text(after, unit)}: {by} {more}"
