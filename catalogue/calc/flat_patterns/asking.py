"""What forms ask for, and the refusal of sizes that cannot be folded."""

from collections.abc import Mapping
from fractions import Fraction

from catalogue.calc.flat_patterns.numbers import MM_PER, said
from catalogue.calc.flat_patterns.pattern import ZERO, BadSize, Bound, Form, FormInput, Sizes

LONGEST_MM = 5000
# no hand, ruler or file gives a length finer than this
_FINEST_BITS = 200
# a limit with a root in it is as exact as the root, whichever unit it is worked out in
_ROOT_ERROR = Fraction(1, 10**24)


def size(
    name: str,
    title: str,
    limit: str = "",
    *,
    most: Bound | None = None,
    least: Bound | None = None,
    is_bound: bool = False,
) -> FormInput:
    """Ask for a size of the finished thing, or a bound one: that of what it goes with."""
    return FormInput(name, title, limit=limit, most=most, least=least, is_bound=is_bound)


def allowance(
    name: str,
    title: str,
    default_mm: Fraction | int,
    default_in: Fraction | int,
    limit: str = "",
    *,
    most: Bound | None = None,
    least: Bound | None = None,
    may_be_zero: bool = False,
) -> FormInput:
    """Ask for a making allowance that has a usual value."""
    return FormInput(
        name,
        title,
        Fraction(default_mm),
        Fraction(default_in),
        is_optional=True,
        may_be_zero=may_be_zero,
        group="allowance",
        limit=limit,
        least=least,
        most=most,
    )


def following(
    name: str,
    title: str,
    default_of: Bound,
    default_note: str,
    limit: str = "",
    *,
    most: Bound | None = None,
    least: Bound | None = None,
    group: str = "allowance",
) -> FormInput:
    """Ask for a size that follows from the others when it is left out."""
    return FormInput(
        name,
        title,
        is_optional=True,
        group=group,
        limit=limit,
        default_note=default_note,
        default_of=default_of,
        most=most,
        least=least,
    )


def choice(name: str, title: str, *, default: bool = False) -> FormInput:
    """Ask a question of yes (1) or no (0)."""
    answer = Fraction(int(default))
    return FormInput(
        name,
        title,
        answer,
        answer,
        is_optional=True,
        may_be_zero=True,
        group="allowance",
        limit="1 is yes, 0 is no",
        is_yes_no=True,
    )


def one_of(name: str, title: str, *choices: str) -> FormInput:
    """Ask which of some ways; the first when it is left out, so that kept recipes stay as short."""
    return FormInput(
        name,
        title,
        is_optional=True,
        may_be_zero=True,
        limit=f"one of: {', '.join(choices)}",
        default_note=choices[0],
        default_of=lambda sizes: ZERO,
        choices=choices,
    )


def tab(limit: str = "", *, name: str = "g", most: Bound | None = None) -> FormInput:
    """Ask for the width of the glue tab: 12 mm or 1/2 in (common practice, no source)."""
    return allowance(name, "glue tab", 12, Fraction(1, 2), limit, most=most)


THICKNESS = allowance(
    "t",
    "thickness of the sheet",
    0,
    0,
    "at most 5 mm: thicker board is not folded",
    most=lambda sizes: sizes.mm(5),
    may_be_zero=True,
)
# c 0.5 mm a side for card on card (common practice, no source)
CLEARANCE = allowance(
    "c",
    "clearance on each side",
    Fraction(1, 2),
    Fraction(1, 50),
    "at most 10 mm: wider parts rattle",
    most=lambda sizes: sizes.mm(10),
    may_be_zero=True,
)


def smallest(unit: str) -> Fraction:
    """Return the shortest length that is a size: 1/2 mm, 1/32 in."""
    return Fraction(1, 2) if unit == "mm" else Fraction(1, 32)


def longest(unit: str) -> Fraction:
    """Return the longest length that is a size, 5 m, in the unit."""
    return LONGEST_MM / MM_PER[unit]


def take_sizes(
    form: Form, given: Mapping[str, Fraction], unit: str, ruler: Fraction | None
) -> Sizes:
    """Return every input of a form, defaults filled in, or refuse with the size that works."""
    try:
        return _read(form, given, unit, ruler)
    except BadSize as refusal:
        nearest = refusal.nearest
        if nearest is not None:
            nearest = _if_it_works(form, given, unit, refusal.where, nearest)
        advice = "" if nearest is None else f" Nearest that works: {said(nearest, unit)}."
        raise BadSize(refusal.message + advice, where=refusal.where, nearest=nearest) from None


def _if_it_works(
    form: Form, given: Mapping[str, Fraction], unit: str, name: str, nearest: Fraction
) -> Fraction | None:
    try:
        _read(form, {**given, name: nearest}, unit, None)
    except BadSize:
        return None
    return nearest


def _read(form: Form, given: Mapping[str, Fraction], unit: str, ruler: Fraction | None) -> Sizes:
    _refuse_unknown(form, given)
    values: dict[str, Fraction] = {}
    so_far = Sizes(form.name, values, unit, ruler)
    for asked in form.inputs:
        values[asked.name] = _value(asked, given, so_far)
    for asked in form.inputs:
        bound = _broken_limit(asked, so_far)
        if bound is not None:
            raise BadSize(
                f"The {asked.title} can't be {said(values[asked.name], unit)}. "
                f"It must be {asked.limit}.",
                where=asked.name,
                nearest=bound,
            )
    return so_far


def _refuse_unknown(form: Form, given: Mapping[str, Fraction]) -> None:
    known = [asked.name for asked in form.inputs]
    for name in given:
        if name not in known:
            raise BadSize(
                f"“{name}” isn't a size of {form.name}. Its sizes are {', '.join(known)}.",
                where=name,
            )


def _value(asked: FormInput, given: Mapping[str, Fraction], sizes: Sizes) -> Fraction:
    name, unit = asked.name, sizes.unit
    if name not in given:
        default = asked.default_mm if unit == "mm" else asked.default_in
        if default is not None:
            return default
        if asked.default_of is not None:
            return _plain_length(asked, asked.default_of(sizes), sizes)
        raise BadSize(f"Give {name}, the {asked.title}.", where=name)
    value = given[name]
    if not isinstance(value, Fraction | int) or isinstance(value, bool):
        raise BadSize(f"{name} must be an exact length, a fraction.", where=name)
    value = Fraction(value)
    if value.denominator.bit_length() > _FINEST_BITS:
        raise BadSize(f"{name} has more digits than a length can have.", where=name)
    if asked.is_yes_no:
        if value not in (0, 1):
            raise BadSize(
                f"{name} ({asked.title}) is 1 for yes or 0 for no.", where=name, nearest=ZERO
            )
        return value
    return _plain_length(asked, value, sizes)


def _plain_length(asked: FormInput, value: Fraction, sizes: Sizes) -> Fraction:
    name, unit = asked.name, sizes.unit
    if asked.choices:
        if value.denominator != 1 or not 0 <= value < len(asked.choices):
            raise BadSize(
                f"{name} ({asked.title}) is one of: {', '.join(asked.choices)}.",
                where=name,
                nearest=ZERO,
            )
        return value
    if asked.is_count:
        if value.denominator != 1 or not 1 <= value <= 100:
            raise BadSize(f"{name} ({asked.title}) is a whole number from 1 to 100.", where=name)
        return value
    least, most = smallest(unit), longest(unit)
    if value < 0 or (value == 0 and not asked.may_be_zero):
        why = "can't be less than 0" if asked.may_be_zero else "must be more than 0"
        raise BadSize(
            f"{name}, the {asked.title}, {why}.",
            where=name,
            nearest=ZERO if asked.may_be_zero else least,
        )
    if asked.group == "size" and 0 < value < least:
        raise BadSize(
            f"{name}, the {asked.title}, is too small to be folded: at least {said(least, unit)}.",
            where=name,
            nearest=least,
        )
    if value > most:
        raise BadSize(
            f"{name}, the {asked.title}, is more than {said(most, unit)}. Check the unit.",
            where=name,
            nearest=most,
        )
    return value


def _broken_limit(asked: FormInput, sizes: Sizes) -> Fraction | None:
    """Return the limit an input oversteps."""
    value = sizes[asked.name]
    if value == 0 and asked.may_be_zero:
        return None
    if asked.most is not None and value > (bound := asked.most(sizes)) + _ROOT_ERROR:
        return bound
    if asked.least is not None and value < (bound := asked.least(sizes)) - _ROOT_ERROR:
        return bound
    return None
