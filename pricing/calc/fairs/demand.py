"""How many of an item may be asked for, as chances of whole counts, exact.

Chances are fractions: a sum that equals a ratio must be seen to equal it, and decimals of sixths do
not (a table of six market days is enough to go wrong by one class).
"""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from functools import reduce

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
    return reduce(_added, days, {0: Fraction(1)})


def mean_of(chances: Chances) -> Fraction:
    """Return the count to be expected."""
    return sum((count * chance for count, chance in chances.items()), Fraction(0))


def chance_of_enough(chances: Chances, count: int) -> Fraction:
    """Return the chance that not more than so many are asked for."""
    return sum((chance for asked, chance in chances.items() if asked <= count), Fraction(0))


def enough_for(chances: Chances, chance: Fraction) -> int:
    """Return the smallest count whose chance of being enough reaches this one."""
    if chance <= 0:
        return 0
    reached = Fraction(0)
    for count, each in chances.items():
        reached += each
        if reached >= chance:
            return count
    return max(chances)


def sold_of(chances: Chances, count: int) -> Fraction:
    """Return how many of so many are to be expected to sell; the others are left over."""
    return sum((min(asked, count) * chance for asked, chance in chances.items()), Fraction(0))


def _added(first: Chances, second: Chances) -> Chances:
    found: dict[int, Fraction] = {}
    for one, chance in first.items():
        for other, by in second.items():
            found[one + other] = found.get(one + other, Fraction(0)) + chance * by
    return dict(sorted(found.items()))
