"""Sizes of folded pieces that follow others, and parts that may be added to what is there.

Nothing is kept of it: a lid follows its bag as long as it has the bag's sizes. What was set to
another size follows no more.
"""

import copy
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import lru_cache

from catalogue.calc.flat_patterns import Beside, form_named, goes_beside
from catalogue.calc.flat_patterns.asking import take_sizes
from catalogue.calc.flat_patterns.pattern import BadSize, UnknownForm
from catalogue.calc.flat_patterns.together import Companion, companions_of
from catalogue.calc.recipes.document import Document
from catalogue.calc.recipes.form_blank import (
    MM_PER_INCH,
    Sizes,
    form_blank,
    is_length,
    rounded,
    sizes_in,
    with_defaults,
)
from maker.calc.sums import plain_text


@dataclass(frozen=True, slots=True)
class Follow:
    """A piece that takes sizes from another: their places in the recipe, and the letters."""

    row: int
    whole: int
    companion: Companion
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Part:
    """A part that goes with a folded piece, with its sizes as a recipe keeps them."""

    companion: Companion
    sizes: Sizes


def parts_beside(form: str, sizes: Sizes, unit: str) -> list[Part]:
    """Return what goes with a form at a kept size; nothing when that cannot be folded."""
    return list(_parts_beside(form, tuple(sorted(sizes.items())), unit))


@lru_cache(maxsize=512)
def _parts_beside(form: str, sizes: tuple[tuple[str, str], ...], unit: str) -> tuple[Part, ...]:
    try:
        exact, ruler = sizes_in(form, with_defaults(form, dict(sizes)), unit)
        found = goes_beside(form, exact, unit=unit, ruler=ruler)
    except (BadSize, UnknownForm):
        return ()
    return tuple(Part(one.companion, kept_sizes(one, unit)) for one in found)


def kept_sizes(beside: Beside, unit: str) -> dict[str, str]:
    """Return the sizes of a part as a recipe keeps them."""
    lengths = {one.name: is_length(one) for one in beside.form.inputs}
    return {
        name: plain_text(rounded(value * (MM_PER_INCH if unit == "in" and lengths[name] else 1)))
        for name, value in beside.sizes.items()
    }


@lru_cache(maxsize=2048)
def _taken(
    form: str, sizes: tuple[tuple[str, str], ...], unit: str
) -> tuple[tuple[Companion, dict[str, str]], ...]:
    """Return what each part of a form takes from it at a kept size, in the way a recipe has it."""
    exact, ruler = sizes_in(form, with_defaults(form, dict(sizes)), unit)
    whole = take_sizes(form_named(form), exact, unit, ruler)
    per = MM_PER_INCH if unit == "in" else 1
    return tuple(
        (one, {name: plain_text(rounded(value * per)) for name, value in taken.items()})
        for one in companions_of(form)
        if not one.is_back and (taken := one.taken(whole)) is not None
    )


def _taken_from(row: Document, unit: str) -> tuple[tuple[Companion, dict[str, str]], ...]:
    try:
        return _taken(row["form"], tuple(sorted(row["form_inputs"].items())), unit)
    except (BadSize, UnknownForm):
        return ()


def follows_in(document: Document, unit: str, own: Collection[int] = ()) -> list[Follow]:
    """Return which pieces follow which, wholes before their parts; those in `own` do not.

    Where a piece could follow several (a panel on a bag as deep as it is wide), the one its name
    speaks of, else the first.
    """
    rows = document["pieces"]
    folded = [at for at, row in enumerate(rows) if row["shape"] == "form"]
    wanted = {at: rows[at]["form"] for at in folded if at not in own}
    found: dict[int, list[Follow]] = {}
    for whole in folded:
        taken = _taken_from(rows[whole], unit)
        for at, form in wanted.items():
            for companion, sizes in taken:
                if companion.part == form and at != whole:
                    names = _held(rows[at], companion, sizes)
                    if names:
                        found.setdefault(at, []).append(Follow(at, whole, companion, names))
    chosen = {at: max(those, key=lambda one: _is_meant(one, rows)) for at, those in found.items()}
    ordered: dict[int, Follow] = {}
    for at in chosen:
        _put_after_its_whole(at, chosen, ordered)
    return list(ordered.values())


def _held(row: Document, companion: Companion, taken: dict[str, str]) -> tuple[str, ...]:
    """Return the letters whose value is what the part would take; none where it does not go."""
    kept = row["form_inputs"]
    holds = {name for name in taken if name in kept and Decimal(kept[name]) == Decimal(taken[name])}
    # what must be the same tells a part; where nothing must, everything it was given does
    telling = set(companion.sizes) or set(taken)
    return tuple(name for name in taken if name in holds) if telling <= holds else ()


def _is_meant(follow: Follow, rows: Sequence[Document]) -> int:
    said = rows[follow.row]["name"].casefold()
    return sum(word in said for word in follow.companion.name.split()) + (
        rows[follow.whole]["name"].casefold() in said
    )


def _put_after_its_whole(at: int, chosen: dict[int, Follow], ordered: dict[int, Follow]) -> None:
    if at in ordered or at not in chosen:
        return
    _put_after_its_whole(chosen[at].whole, chosen, ordered)
    ordered[at] = chosen[at]


def made_to_follow(document: Document, follows: Iterable[Follow], unit: str) -> Document:
    """Return the document with every size that follows taken anew; `follows` in their order."""
    made = copy.deepcopy(document)
    for follow in follows:
        for companion, taken in _taken_from(made["pieces"][follow.whole], unit):
            if companion == follow.companion:
                sizes = made["pieces"][follow.row]["form_inputs"]
                sizes.update({name: taken[name] for name in follow.names if name in taken})
    return made


def following_a_save(before: Document, after: Document, unit: str) -> tuple[Document, list[str]]:
    """Let parts follow what was changed by hand; return the document and the pieces that moved.

    Of the pieces with one name before and after: the whole has other sizes now, the part has not.
    """
    places = _places_of_names(before, after)
    moved = []
    for follow in follows_in(before, unit):
        at, whole = places.get(follow.row), places.get(follow.whole)
        if at is None or whole is None:
            continue
        old, new = before["pieces"][follow.row], after["pieces"][at]
        is_kept = all(
            new["form_inputs"].get(name) == old["form_inputs"][name] for name in follow.names
        )
        if new["form"] == old["form"] and is_kept:
            moved.append(replace(follow, row=at, whole=whole))
    made = made_to_follow(after, moved, unit)
    names = []
    for follow in moved:
        row = made["pieces"][follow.row]
        if row["form_inputs"] == after["pieces"][follow.row]["form_inputs"]:
            continue
        try:
            form_blank(row["form"], row["form_inputs"])
        except BadSize:  # as it was it can still be folded; what is typed says what is wrong
            made["pieces"][follow.row] = after["pieces"][follow.row]
        else:
            names.append(row["name"])
    return made, names


def _places_of_names(before: Document, after: Document) -> dict[int, int]:
    """Return where the folded pieces of a document are in another, by names there but once."""

    def by_name(document: Document) -> dict[str, int]:
        names = [row["name"].casefold() for row in document["pieces"]]
        return {name: at for at, name in enumerate(names) if names.count(name) == 1}

    old, new = by_name(before), by_name(after)
    return {
        at: new[name]
        for name, at in old.items()
        if name in new and after["pieces"][new[name]]["shape"] == "form"
    }
