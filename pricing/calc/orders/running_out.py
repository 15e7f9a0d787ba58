"""How far stock goes for an order: how many of each line, and which material runs out first."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from pricing.calc.orders.order import OrderCost
from pricing.calc.price.ingredients import IngredientKind

STOCKED = (IngredientKind.SHEET, IngredientKind.OTHER, IngredientKind.PACKING)
ZERO = Fraction(0)


@dataclass(frozen=True, slots=True)
class Covered:
    """So many of a line can be made from stock; `first` runs out first, empty where none does."""

    place: int
    count: int
    of: int
    first: str


def covered(
    order: OrderCost, free: Mapping[str, Decimal], left: Mapping[int, int]
) -> tuple[Covered, ...]:
    """Return how far stock goes for what is `left` to make of each line, the shortest first.

    `free` has what may be used by identity of the material, as text; one that is not in it is not
    kept in stock. A material several lines use is shared as the order shares it. A line of which
    nothing is left is left out.
    """
    taken: list[dict[str, Fraction]] = []
    names: dict[str, str] = {}
    total: dict[str, Fraction] = {}
    for line in order.lines:
        mine: dict[str, Fraction] = {}
        for charge, share in line.shares:
            # what offcuts are credited with takes nothing from stock
            if charge.kind in STOCKED and share > 0 and charge.identity in free:
                still = share * left.get(line.place, 0) / line.quantity
                mine[charge.identity] = mine.get(charge.identity, ZERO) + still
                total[charge.identity] = total.get(charge.identity, ZERO) + still
                names[charge.identity] = charge.name
        taken.append(mine)
    found = []
    for line, mine in zip(order.lines, taken, strict=True):
        ratio, first, of = Fraction(1), "", left.get(line.place, 0)
        if not of:
            continue
        for identity in mine:
            there = Fraction(max(free[identity], Decimal(0))) / total[identity]
            if there < ratio:
                ratio, first = there, names[identity]
        found.append(Covered(line.place, int(of * ratio), of, first))
    return tuple(sorted(found, key=lambda each: (Fraction(each.count, each.of), each.place)))
