"""Reads sizes typed as name=value and writes forms and flat patterns as JSON values."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal, localcontext
from fractions import Fraction
from types import MappingProxyType
from typing import Any

from catalogue.calc.flat_patterns import UNITS
from catalogue.calc.flat_patterns.numbers import MM_PER
from catalogue.calc.flat_patterns.pattern import (
    BadSize,
    FlatPattern,
    FlatPiece,
    Form,
    FormInput,
    Point,
    StrokeKind,
)
from maker.calc.units import UnreadableNumber, parse_exact_length

# thirds and roots are written with so many decimals; what is a decimal is written whole
_PLACES = 15
_NO_CHOICES: Mapping[str, tuple[str, ...]] = MappingProxyType({})


def read_sizes(
    words: Iterable[str], unit: str, choices: Mapping[str, tuple[str, ...]] = _NO_CHOICES
) -> dict[str, Fraction]:
    """Return sizes by name from words such as `W=7`, `1/2`, `D=190 mm`, `edge=pointed`.

    A word without = goes on with the size before it, so `W=7 1/2` needs no quotes. `choices` are
    the words each size of a form may be chosen from.
    """
    typed: dict[str, str] = {}
    name = ""
    for word in words:
        key, mark, value = word.partition("=")
        if not mark:
            if not name:
                raise BadSize(f"“{word}” isn't a size. Enter sizes like W=7.5.", where=word)
            typed[name] += f" {word}"
            continue
        name = key.strip()
        if name in typed:
            raise BadSize(f"“{name}” is given twice.", where=name)
        typed[name] = value
    return {
        name: Fraction(choices[name].index(value))
        if value in choices.get(name, ())
        else read_size(name, value, unit)
        for name, value in typed.items()
    }


def read_size(name: str, text: str, unit: str) -> Fraction:
    """Return a length exactly in the unit; a unit typed with it is turned into that one."""
    plain = text.strip()
    is_below_zero = plain.startswith(("-", "−"))
    try:
        value = parse_exact_length(plain.lstrip("-−"), unit) / MM_PER[unit]
    except UnreadableNumber as problem:
        raise BadSize(problem.message, where=name) from None
    return -value if is_below_zero else value


def write_form(form: Form) -> dict[str, Any]:
    """Return a form and what it asks for."""
    return {
        "name": form.name,
        "title": form.title,
        "summary": form.summary,
        "inputs": [_write_input(asked) for asked in form.inputs],
        "goes_with": list(form.goes_with),
    }


def _write_input(asked: FormInput) -> dict[str, Any]:
    defaults = {"mm": asked.default_mm, "in": asked.default_in}
    kind = "yes or no" if asked.is_yes_no else "count" if asked.is_count else "length"
    if asked.choices:
        kind = "choice"
    return {
        "name": asked.name,
        "title": asked.title,
        "kind": kind,
        "group": asked.group,
        "required": not asked.is_optional,
        "may_be_zero": asked.may_be_zero,
        "default": {unit: _number(value) for unit, value in defaults.items() if value is not None}
        or None,
        "default_note": asked.default_note,
        "limit": asked.limit,
        **({"choices": list(asked.choices)} if asked.choices else {}),
    }


def write_pattern(pattern: FlatPattern) -> dict[str, Any]:
    """Return a pattern: lengths and angles are text, counts are integers."""
    return {
        "form": pattern.form,
        "unit": pattern.unit,
        "inputs": _numbers(pattern.inputs),
        "pieces": [_write_piece(piece) for piece in pattern.pieces],
        "outside": None if pattern.outside is None else [_number(n) for n in pattern.outside],
        "volume": None if pattern.volume is None else _number(pattern.volume),
        "checks": list(pattern.checks),
        "steps": list(pattern.steps),
        "cautions": list(pattern.cautions),
    }


def _write_piece(piece: FlatPiece) -> dict[str, Any]:
    cuts = [stroke for stroke in piece.strokes if stroke.kind is StrokeKind.CUT]
    folds = [stroke for stroke in piece.strokes if stroke.kind is not StrokeKind.CUT]
    return {
        "name": piece.name,
        "count": piece.count,
        "blank": [_number(piece.width), _number(piece.height)],
        "x_scores": [_number(at) for at in piece.x_scores],
        "y_scores": [_number(at) for at in piece.y_scores],
        "cuts": [{"name": cut.name, "points": _places(cut.points)} for cut in cuts],
        "folds": [
            {"name": fold.name, "kind": fold.kind.value, "points": _places(fold.points)}
            for fold in folds
        ],
        "removed": [_places(outline) for outline in piece.removed],
        "panels": [
            {"name": panel.name, "kind": panel.kind.value, "points": _places(panel.outline)}
            for panel in piece.panels
        ],
        "hinges": [
            {
                "first": hinge.first,
                "second": hinge.second,
                "angle_deg": str(round(hinge.angle_deg, 6)),
            }
            for hinge in piece.hinges
        ],
        "glue": [
            {
                "panel": glue.panel,
                "onto": glue.onto,
                "side": "back" if glue.on_back else "good",
                "bead": _number(glue.bead),
                "area": _number(glue.area),
            }
            for glue in piece.glue_areas
        ],
        "glue_bead": _number(piece.glue_bead),
        "glue_area": _number(piece.glue_area),
        "grain": piece.grain,
        **_numbers(piece.details),
        **{name: [_number(at) for at in row] for name, row in piece.marks.items()},
        **{name: _places(row) for name, row in piece.spots.items()},
    }


def _places(points: Iterable[Point]) -> list[list[str]]:
    return [[_number(point.x), _number(point.y)] for point in points]


def _numbers(values: Mapping[str, Fraction]) -> dict[str, str]:
    return {name: _number(value) for name, value in values.items()}


def _number(value: Fraction) -> str:
    with localcontext() as context:
        context.prec = 60
        decimal = Decimal(value.numerator) / Decimal(value.denominator)
        rounded = round(decimal, _PLACES)
    return f"{rounded.normalize():f}" if rounded else "0"


def check_unit(unit: str) -> str:
    """Return the unit, or refuse one that is none."""
    if unit not in UNITS:
        raise BadSize(f"The unit must be one of: {', '.join(UNITS)}.", where="unit")
    return unit
