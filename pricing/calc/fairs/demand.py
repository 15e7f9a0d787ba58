"""How many of an item may be asked for, as chances of whole counts, exact.

Chances are fractions: a sum that equals a ratio must be seen to equal it, and decimals of sixths do
not (a table of six market days is enough to go wrong by one class).
"""

import math
from collections.abc import Mapping, Sequence
from decimal import Decimal
from fractions import Fraction

from maker.calc.refusal import Refusal

Chances = Mapping[int, Fraction]


class BadChances(Refusal):
    """Chances that cannot be those of anything."""


def chances_of(weights: Mapping[int, Decimal | int | Fraction]) -> Chances:
    """Return chances from weights, such as days on which so many were asked for, by count.

    Errors: BadChances for a count or weight below zero, or nothing above zero.
    """
    if any(count < 0 or weight < 0 for count, weight in weights.items()):
        raise BadChances("A count and its chance must be zero or more.", where="demand")
    whole = sum((Fraction(weight) for weight in weights.values()), Fraction(0))
    if not whole:
        raise BadChances("At least one count needs a chance above zero.", where="demand")
    return {count: Fraction(weight) / whole for count, weight in sorted(weights.items()) if weight}


def together(days: Sequence[Chances]) -> Chances:
    """Return the chances of the sum of independent days; no day at all asks for nothing."""
    found, whole = {0: 1}, 1
    for day in days:
        parts, of = _parts_of(day)
        added: dict[int, int] = {}
        for one, part in found.items():
            for other, by in parts.items():
                added[one + other] = added.get(one + other, 0) + part * by
        found, whole = added, whole * of
    return {count: Fraction(part, whole) for count, part in sorted(found.items())}


def mean_of(chances: Chances) -> Fraction:
    """Return the count to be expected."""
    parts, whole = _parts_of(chances)
    return Fraction(sum(count * part for count, part in parts.items()), whole)


def chance_of_enough(chances: Chances, count: int) -> Fraction:
    """Return the chance that not more than so many are asked for."""
    parts, whole = _parts_of(chances)
    return Fraction(sum(part for asked, part in parts.items() if asked <= count), whole)


def enough_for(chances: Chances, chance: Fraction) -> int:
    """Return the smallest count whose chance of being enough reaches this one."""
    if chance <= 0:
        return 0
    parts, whole = _parts_of(chances)
    wanted, reached = chance * whole, 0
    for count, part in parts.items():
        reached += part
        if reached >= wanted:
            return count
    return max(chances)


def sold_of(chances: Chances, count: int) -> Fraction:
    """Return how many of so many are to be expected to sell; the others are left over."""
    parts, whole = _parts_of(chances)
    return Fraction(sum(min(asked, count) * part for asked, part in parts.items()), whole)


def sold_up_to(chances: Chances, most: int) -> list[Fraction]:
    """Return how many are to be expected to sell when none are taken, one, and so on.

    One more sells when more than those before it are asked for.
    """
    parts, whole = _parts_of(chances)
    sold, more = 0, sum(parts.values()) - parts.get(0, 0)
    found = [Fraction(0)]
    for count in range(1, most + 1):
        sold += more
        more -= parts.get(count, 0)
        found.append(Fraction(sold, whole))
    return found


def _parts_of(chances: Chances) -> tuple[dict[int, int], int]:
    """Return chances in whole parts, and what they are parts of: exact, and quick to add."""
    whole = math.lcm(*(chance.denominator for chance in chances.values()))
    parts = {
        count: chance.numerator * (whole // chance.denominator) for count, chance in chances.items()
    }
    return parts, whole
