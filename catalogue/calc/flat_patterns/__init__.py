"""The library of forms: from a finished size to blanks, scores, cuts, folds and glue."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from types import MappingProxyType

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
from catalogue.calc.flat_patterns.pattern import BadSize, FlatPattern, Form, UnknownForm
from catalogue.calc.flat_patterns.together import Companion, companions_of, forms_beside

__all__ = [
    "FORMS",
    "UNITS",
    "Beside",
    "flat_pattern",
    "form_named",
    "form_taking",
    "goes_beside",
]

UNITS = ("in", "mm")
_FAMILIES = (bags, boxes, trays, curved, pointed, envelopes, hexagons, flat)
FORMS: Mapping[str, Form] = MappingProxyType(
    {
        form.name: replace(form, goes_with=forms_beside(form.name))
        for family in _FAMILIES
        for form in family.FORMS
    }
)


def form_named(name: str) -> Form:
    """Return a form of the library, or refuse the name and say which there are."""
    if name not in FORMS:
        raise UnknownForm(
            f"There is no shape “{name}”. Choose from: {', '.join(FORMS)}.", where="form"
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
        raise BadSize("Enter a ruler step above 0 and at most 1 in.", where="ruler")
    return chosen.build(take_sizes(chosen, inputs, unit, ruler))


@dataclass(frozen=True, slots=True)
class Beside:
    """A part that goes with a thing, with the sizes it takes from it, in the unit of that."""

    companion: Companion
    form: Form
    sizes: Mapping[str, Fraction]


def goes_beside(
    form: str, inputs: Mapping[str, Fraction], *, unit: str = "mm", ruler: Fraction | None = None
) -> list[Beside]:
    """Return what goes with a form at a size, each with the sizes it takes from it.

    A part that could not be folded at its sizes is left out. Sizes come without the limits of
    what they leave open: a bag is known by its lid, but for its height. Refuses as flat_pattern.
    """
    whole = take_sizes(form_named(form), inputs, unit, ruler)
    found = []
    for companion in companions_of(form):
        sizes = companion.taken(whole)
        if sizes is None:
            continue
        part = form_named(companion.part)
        known = {one.name: one for one in part.inputs}
        # a usual value need not be said: it stays the part's own
        said = {
            name: value
            for name, value in sizes.items()
            if value != (known[name].default_mm if unit == "mm" else known[name].default_in)
        }
        if not companion.is_back or _is_whole(part, said):
            try:
                part.build(take_sizes(part, said, unit, ruler))
            except BadSize:
                continue
        found.append(Beside(companion, part, said))
    return found


def _is_whole(form: Form, sizes: Mapping[str, Fraction]) -> bool:
    return all(one.is_optional or one.name in sizes for one in form.inputs)
