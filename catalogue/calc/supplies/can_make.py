"""How many items the materials at hand are enough for, also with colours swapped or out of a pad.

With swaps each material may stand in for some others. By the theorem of max-flow and min-cut, so
many sets can be made as the scarcest group of needs allows: for each group of needs, all that can
serve any of them, over what one set takes of them together. Source: Ford and Fulkerson, Flows in
Networks, Princeton 1962, chapter 1.5 and 2.1 (supply and demand).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import combinations

from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal

ZERO = Decimal(0)
MOST_ITEMS = 100_000
MOST_NEEDS = 12


class TooManyRoles(Refusal):
    """More materials than swaps can be worked out for."""


@dataclass(frozen=True, slots=True)
class Supply:
    """What is free of a material, and the places of the needs it may serve."""

    amount: Decimal
    serves: frozenset[int]


def most_made(is_enough: Callable[[int], bool], at_most: int = MOST_ITEMS) -> int:
    """Return the largest number something is enough for; more never needs less."""
    if not is_enough(1):
        return 0
    low, high = 1, 2
    while high <= at_most and is_enough(high):
        low, high = high, high * 2
    high = min(high, at_most + 1)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if is_enough(middle) else (low, middle)
    return low


@with_working_precision
def most_sets(needs: Sequence[Decimal], supplies: Sequence[Supply]) -> int:
    """Return how many sets can be made; `needs` is what one set takes, none of them zero.

    Materials may be split as finely as one likes: of sheets the answer is the most there can be.
    Errors: TooManyRoles above twelve needs.
    """
    if len(needs) > MOST_NEEDS:
        raise TooManyRoles(f"Swaps are worked out for up to {MOST_NEEDS} materials.")
    # what serves the same needs is as good as one material
    together: dict[frozenset[int], Decimal] = {}
    for one in supplies:
        together[one.serves] = together.get(one.serves, ZERO) + one.amount
    least: Decimal | None = None
    places = range(len(needs))
    for count in range(1, len(needs) + 1):
        for group in combinations(places, count):
            wanted = set(group)
            there = sum((free for serves, free in together.items() if serves & wanted), ZERO)
            sets = there / sum((needs[place] for place in group), ZERO)
            least = sets if least is None else min(least, sets)
    return int(least or ZERO)


def matching_from_pad(sheets: Sequence[int], makes: Callable[[int], int]) -> int:
    """Return how many items can be made that match in themselves.

    `sheets` are those of each print of the pad; `makes` says how many items so many sheets of one
    print make. What is left of one print is no use to another.
    """
    known = {count: makes(count) if count else 0 for count in set(sheets)}
    return sum(known[count] for count in sheets)
