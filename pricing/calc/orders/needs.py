"""The materials an order needs: whole sheets, lengths to cut from reels, and the rest by use."""

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from catalogue.calc.reels.planning import Length
from catalogue.calc.supplies.shopping import Need
from pricing.calc.orders.charges import Charge
from pricing.calc.orders.groups import Group, Part, as_decimal
from pricing.calc.orders.sheets import SheetJob
from pricing.calc.price.ingredients import IngredientKind

ZERO = Fraction(0)


def needs_of(
    groups: Sequence[Group], jobs: Sequence[SheetJob], charges: Sequence[Charge]
) -> tuple[Need, ...]:
    """Return the materials to have: whole sheets, and the rest by use."""
    materials = {
        str(material.identity): material
        for group in groups
        for part in group.parts
        for material in part.recipe.materials.values()
    }
    amounts: dict[str, Fraction] = {}
    for job in jobs:
        key = str(job.material.identity)
        amounts[key] = amounts.get(key, ZERO) + job.sheets
    for charge in charges:
        if charge.kind in (IngredientKind.OTHER, IngredientKind.PACKING):
            amounts[charge.identity] = amounts.get(charge.identity, ZERO) + charge.exact
    for group in groups:
        # a stated cost says what one costs, not that it comes from nowhere
        for row, _, many, parts in group.packed(group.parts):
            packing = parts[0].packings[row]
            if packing.role and packing.cost_each is not None:
                key = str(parts[0].material(packing.role, packing.name).identity)
                amounts[key] = amounts.get(key, ZERO) + many
    lengths = _lengths(groups)
    return tuple(
        Need(materials[key], as_decimal(amount), lengths.get(key, ()))
        for key, amount in amounts.items()
        if amount
    )


def _lengths(groups: Sequence[Group]) -> dict[str, tuple[Length, ...]]:
    """Return the lengths that are cut from reels, by material."""
    found: dict[str, dict[str, Length]] = {}
    for group in groups:
        for row in range(len(group.recipe.fixings)):
            alike: dict[tuple[str, Decimal, int], list[Part]] = {}
            for part in group.parts:
                fixing = part.fixings.get(row)
                if fixing is not None and fixing.cut_mm is not None:
                    identity = str(part.material(fixing.role, fixing.name).identity)
                    key = (identity, fixing.cut_mm, fixing.cut_count)
                    alike.setdefault(key, []).append(part)
            for (identity, cut_mm, times), parts in alike.items():
                fixing = parts[0].fixings[row]
                many = (group.count(fixing.basis, parts) or 0) * times
                if not many:
                    continue
                named = found.setdefault(identity, {})
                name, number = fixing.name, 2
                while name in named:
                    name, number = f"{fixing.name} ({number})", number + 1
                named[name] = Length(name, cut_mm, many)
    return {identity: tuple(named.values()) for identity, named in found.items()}
