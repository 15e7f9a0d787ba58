"""The library of forms: from a finished size to blanks, scores, cuts, folds and glue."""

from collections.abc import Iterable, Mapping
from fractions import Fraction
from types import MappingProxyType

from catalogue.calc.flat_pattern import BadSize, FlatPattern, Form, UnknownForm
from catalogue.calc.flat_patterns import (
    bags,
    boxes,
    curved,
    envelopes,
    flat,
    hexagons,
    pointed,
    trays,
)
from catalogue.calc.flat_patterns.asking import take_sizes

__all__ = ["FORMS", "UNITS", "flat_pattern", "form_named", "form_taking"]

UNITS = ("in", "mm")
_FAMILIES = (bags, boxes, trays, curved, pointed, envelopes, hexagons, flat)
FORMS: Mapping[str, Form] = MappingProxyType(
    {form.name: form for family in _FAMILIES for form in family.FORMS}
)


def form_named(name: str) -> Form:
    """Return a form of the library, or refuse the name and say which there are."""
    if name not in FORMS:
        raise UnknownForm(
            f"There is no form “{name}”. Choose of: {', '.join(FORMS)}.", where="form"
        )
    return FORMS[name]


def form_taking(name: str, sizes: Iterable[str]) -> Form:
    """Return the form of that name, or the part that goes with it when only that has such sizes.

    A tray asked for by the height of its lid is its lid. Refuses: UnknownForm.
    """
    form, asked = form_named(name), set(sizes)
    for candidate in (form, *map(form_named, form.goes_with)):
        if asked <= {each.name for each in candidate.inputs}:
            return candidate
    return form


def flat_pattern(
    form: str,
    inputs: Mapping[str, Fraction],
    *,
    unit: str = "mm",
    ruler: Fraction | None = None,
) -> FlatPattern:
    """Return the pattern of a form for a finished size, all lengths in one unit.

    `ruler` is the step of her ruler (1/16 in, 1/2 mm): each panel width is rounded to it before
    they are added up, so that edges that meet stay equal. Exact where the formula is rational.
    Refuses: UnknownForm; BadSize for a size missing, unknown or outside its limits.
    """
    chosen = form_named(form)
    if unit not in UNITS:
        raise BadSize(f"The unit must be one of: {', '.join(UNITS)}.", where="unit")
    if ruler is not None and not 0 < ruler <= (1 if unit == "in" else 25):
        raise BadSize("The step of the ruler is more than nothing and at most 1 in.", where="ruler")
    return chosen.build(take_sizes(chosen, inputs, unit, ruler))
