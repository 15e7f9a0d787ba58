"""How many stock is enough for: counted by hand, and against every way to share it out."""

import random
from decimal import Decimal as D
from itertools import product

import pytest

from catalogue.calc.supplies.can_make import (
    Supply,
    TooManyRoles,
    matching_from_pad,
    most_made,
    most_sets,
)


@pytest.mark.parametrize("most", [0, 1, 2, 3, 7, 8, 100])
def test_the_largest_number_is_found(most):
    asked = []

    def is_enough(count):
        asked.append(count)
        return count <= most

    assert most_made(is_enough) == most
    assert len(asked) <= 2 * 8 + 1
    assert most_made(lambda count: True, at_most=50) == 50


def test_a_pad_counts_by_print_not_by_sheet():
    # 24 sheets, two of each of twelve prints; a bag takes 1.5 sheets of one print
    def bags(sheets):
        return int(sheets / 1.5)

    assert matching_from_pad([2] * 12, bags) == 12  # not 16, which 24 sheets of one print make
    assert matching_from_pad([24], bags) == 16
    assert matching_from_pad([3, 1, 0, 2], bags) == 3


def test_swapped_colours_share_what_both_could_use():
    body, pocket = D(1), D("0.5")
    own = [Supply(D(10), frozenset({0})), Supply(D(2), frozenset({1}))]
    assert most_sets([body, pocket], own) == 4
    # a third card does for both: 2 + 9 pay for the pockets, 10 + 9 for the bodies,
    # 10 + 2 + 9 = 21 for 1.5 a bag
    spare = [*own, Supply(D(9), frozenset({0, 1}))]
    assert most_sets([body, pocket], spare) == 14
    assert most_sets([body, pocket], own[:1]) == 0


def test_like_trying_every_way_to_share_whole_sheets():
    rng = random.Random(5)
    for _ in range(60):
        supplies = [
            Supply(D(rng.randint(0, 4)), frozenset(rng.sample(range(2), rng.randint(1, 2))))
            for _ in range(3)
        ]
        best = 0
        # of each supply so many go to the first need and the rest to the second
        for split in product(*(range(int(one.amount) + 1) for one in supplies)):
            first = second = 0
            for one, part in zip(supplies, split, strict=True):
                first += part if 0 in one.serves else 0
                second += int(one.amount) - part if 1 in one.serves else 0
            best = max(best, min(first, second))
        assert most_sets([D(1), D(1)], supplies) == best


def test_too_many_roles_are_refused():
    with pytest.raises(TooManyRoles):
        most_sets([D(1)] * 13, [])
