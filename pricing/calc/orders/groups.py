"""Who is who in an order: lines of one recipe form a group, lines cut alike share their spares.

All counts of a group are those of its sum: rows that hold for some quantities read it, and so does
"no spares under ...". A row that only some lines have counts the items of those lines.
"""

from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Protocol, TypeVar

from catalogue.calc.recipes.parts_list import (
    Rows,
    check_quantity,
    choices_for,
    material_in,
    name_count,
    spares_of,
)
from catalogue.calc.recipes.recipe import (
    Basis,
    MaterialValues,
    Recipe,
    RecipeFixing,
    RecipePacking,
    RecipePiece,
    RecipeStep,
    RecipeWear,
    When,
)
from maker.calc.refusal import Refusal
from pricing.calc.costing.rates import Ask

ZERO = Fraction(0)
_Key = TypeVar("_Key", bound=Hashable)


class NothingOrdered(Refusal):
    """An order without lines costs nothing and has no price."""


@dataclass(frozen=True, slots=True)
class OrderedLine:
    """One line of an order; lines with the same `group` (design and version) share one recipe.

    Their recipes may differ in materials (colourways) alone.
    """

    recipe: Recipe
    ask: Ask
    group: Hashable = None


@dataclass(frozen=True, slots=True)
class Part:
    """A line with what it takes of its recipe; rows are told by their place in the recipe."""

    place: int
    recipe: Recipe
    quantity: int
    names: int
    answers: Mapping[str, str]
    pieces: Mapping[int, RecipePiece]
    fixings: Mapping[int, RecipeFixing]
    packings: Mapping[int, RecipePacking]
    steps: Mapping[int, RecipeStep]
    wears: Mapping[int, RecipeWear]
    cut_alike: Hashable

    @property
    def takes_names(self) -> bool:
        """Whether a row it has is counted by names."""
        bases = {row.basis for row in self.fixings.values()}
        return Basis.NAME in bases | {row.basis for row in self.steps.values()}

    def material(self, role: str, row: str) -> MaterialValues:
        """Return the material of a role. Refuses a role without one."""
        return material_in(self.recipe, role, row)


@dataclass(frozen=True, slots=True)
class Group:
    """All lines of one recipe."""

    number: int
    parts: tuple[Part, ...]

    @property
    def recipe(self) -> Recipe:
        """The recipe; for what does not hang on the colourway."""
        return self.parts[0].recipe

    @property
    def quantity(self) -> int:
        """Good items of all its lines."""
        return good_in(self.parts)

    @property
    def made(self) -> int:
        """Items made, spares included."""
        return self.made_of(self.parts)

    def made_of(self, parts: Iterable[Part]) -> int:
        """Return how many are made of some of the lines: spares go up for each way of cutting."""
        return sum(self._made_alike(good) for good in _good_by_cut(parts).values())

    def _made_alike(self, good: int) -> int:
        recipe = self.recipe
        return good + (spares_of(recipe, good) if self.quantity >= recipe.rejects_from else 0)

    def made_shares(self, parts: Sequence[Part]) -> dict[int, Fraction]:
        """Return how many of those made for some of the lines belong to each of them."""
        good = _good_by_cut(parts)
        made = {key: self._made_alike(many) for key, many in good.items()}
        return {
            part.place: Fraction(made[part.cut_alike] * part.quantity, good[part.cut_alike])
            for part in parts
        }

    def alike(self) -> list[tuple[Part, ...]]:
        """Return the lines by what is cut for them."""
        found: dict[Hashable, list[Part]] = {}
        for part in self.parts:
            found.setdefault(part.cut_alike, []).append(part)
        return [tuple(parts) for parts in found.values()]

    def packed(self, parts: Sequence[Part]) -> list[tuple[int, str, int, tuple[Part, ...]]]:
        """Return packings of some lines: row, material, how many, and for which lines.

        Goods of one delivery go in together, as far as they go into the same.
        """
        found: dict[tuple[int, str], list[Part]] = {}
        for part in parts:
            for row, packing in part.packings.items():
                material = part.material(packing.role, packing.name) if packing.role else None
                named = str(material.identity) if material else ""
                found.setdefault((row, named), []).append(part)
        packed = []
        for (row, named), those in sorted(found.items(), key=lambda each: each[0]):
            packing = those[0].packings[row]
            if packing.holds < 1:
                raise Refusal(f"“{packing.name}” must hold at least one.", where=packing.name)
            packed.append((row, named, -(-good_in(those) // packing.holds), tuple(those)))
        return packed

    def cartons(self, parts: Sequence[Part]) -> int:
        """Return the cartons some of the lines leave in."""
        return sum(
            many for row, _, many, those in self.packed(parts)
            if those[0].packings[row].kind == "carton"
        )  # fmt: skip

    def count(self, basis: Basis, parts: Sequence[Part]) -> int | None:
        """Return how often a row of some lines counts; None where it is not counted by items."""
        if basis is Basis.JOB:
            return 1
        if basis is Basis.MADE:
            return self.made_of(parts)
        if basis is Basis.GOOD:
            return good_in(parts)
        if basis is Basis.CARTON:
            return self.cartons(parts)
        if basis is Basis.NAME:
            return sum(part.names for part in parts)
        return None

    def weights(self, basis: Basis, parts: Sequence[Part]) -> tuple[dict[int, Fraction], str]:
        """Return by what a row is shared over its lines, and how that is said."""
        if basis is Basis.NAME:
            return {part.place: Fraction(part.names) for part in parts}, "names"
        if basis in (Basis.GOOD, Basis.CARTON):
            return {part.place: Fraction(part.quantity) for part in parts}, "items"
        return self.made_shares(parts), "items made"


def good_in(parts: Iterable[Part]) -> int:
    """Return the good items of some lines."""
    return sum(part.quantity for part in parts)


def _good_by_cut(parts: Iterable[Part]) -> dict[Hashable, int]:
    good: dict[Hashable, int] = {}
    for part in parts:
        good[part.cut_alike] = good.get(part.cut_alike, 0) + part.quantity
    return good


def share(total: Fraction, weights: Mapping[_Key, Fraction]) -> dict[_Key, Fraction]:
    """Share a total exactly; lines without weight get nothing and are left out."""
    whole = sum(weights.values(), ZERO)
    if not whole or not total:
        return {}
    return {place: total * weight / whole for place, weight in weights.items() if weight}


def group_lines(lines: Sequence[OrderedLine]) -> tuple[Group, ...]:
    """Return the groups of an order, in the order of their first lines.

    Refuses an order of nothing, an impossible quantity (of a line or a group), an unknown option
    and too many names.
    """
    if not lines:
        raise NothingOrdered("An order needs at least one line.", where="lines")
    members: dict[Hashable, list[int]] = {}
    for place, line in enumerate(lines):
        check_quantity(line.ask.quantity)
        members.setdefault(line.group, []).append(place)
    groups = []
    for number, places in enumerate(members.values()):
        quantity = sum(lines[place].ask.quantity for place in places)
        check_quantity(quantity)
        parts = tuple(_part(place, lines[place], quantity) for place in places)
        groups.append(Group(number, parts))
    return tuple(groups)


def _part(place: int, line: OrderedLine, group_quantity: int) -> Part:
    recipe, ask = line.recipe, line.ask
    answers = choices_for(recipe, ask.choices)
    rows = Rows(recipe, group_quantity, answers)
    pieces = _held(recipe.pieces, group_quantity, answers)
    materials = sorted((role, str(each.identity)) for role, each in recipe.materials.items())
    return Part(
        place=place,
        recipe=recipe,
        quantity=ask.quantity,
        names=name_count(rows, ask.quantity, ask.names),
        answers=answers,
        pieces=pieces,
        fixings=_held(recipe.fixings, group_quantity, answers),
        packings=_held(recipe.packings, group_quantity, answers),
        steps=_held(recipe.steps, group_quantity, answers),
        wears=_held(recipe.wears, group_quantity, answers),
        cut_alike=(tuple(pieces), tuple(materials)),
    )


class _Holding(Protocol):
    @property
    def when(self) -> When: ...


_Row = TypeVar("_Row", bound=_Holding)


def _held(rows: Sequence[_Row], quantity: int, answers: Mapping[str, str]) -> dict[int, _Row]:
    return {place: row for place, row in enumerate(rows) if row.when.holds(quantity, answers)}


def as_decimal(value: Fraction) -> Decimal:
    """Return a fraction with all digits of the working precision."""
    return Decimal(value.numerator) / Decimal(value.denominator)
