"""The best mix on a table, beside trying every mix there is."""

import itertools
import random
from decimal import Decimal

import pytest

from pricing.calc.fairs.demand import chances_of
from pricing.calc.fairs.table_space import DoesNotFit, Offer, best_mix, greedy_mix
from pricing.calc.fairs.what_to_take import OneMore, expected_gain

NOTHING = Decimal(0)


def offer(name, gains, needs, least=0):
    return Offer(
        name, tuple(Decimal(str(gain)) for gain in gains), tuple(map(Decimal, needs)), least
    )


def random_offer(chance, name, limits, most):
    counts = sorted(chance.sample(range(1, most + 1), min(4, most)))
    demand = chances_of({count: chance.randint(1, 9) for count in counts})
    gain, loss = (Decimal(chance.randint(1, 900)) / 100 for _ in range(2))
    one_more = OneMore(NOTHING, NOTHING, gain, loss)
    return Offer(
        name,
        tuple(expected_gain(demand, count, one_more) for count in range(max(demand) + 1)),
        tuple(Decimal(chance.choice(["0.5", "1", "2", "3", "2.25"])) for _ in range(limits)),
        chance.randint(0, 1),
    )


def every_mix(offers, limits):
    """The best gain of all mixes that fit, and of those with it the fewest of the first item."""
    ranges = [range(each.least, each.most + 1) for each in offers]
    found = []
    for counts in itertools.product(*ranges):
        pairs = list(zip(offers, counts, strict=True))
        if all(
            sum(count * each.needs[place] for each, count in pairs) <= limit
            for place, limit in enumerate(limits)
        ):
            found.append(
                (-sum(each.gains[count] for each, count in pairs).quantize(Decimal("1e-9")), counts)
            )
    return min(found) if found else None


@pytest.mark.parametrize("seed", range(60))
@pytest.mark.parametrize("many", [1, 3])
def test_as_good_as_trying_every_mix(seed, many):
    chance = random.Random(seed)
    offers = [
        random_offer(chance, str(place), many, most=8) for place in range(chance.randint(1, 3))
    ]
    limits = [Decimal(chance.randint(2, 40)) / 2 for _ in range(many)]
    best = every_mix(offers, limits)
    if best is None:
        with pytest.raises(DoesNotFit):
            best_mix(offers, limits)
        return
    found = best_mix(offers, limits)
    assert found.is_best
    assert all(used <= limit for used, limit in zip(found.used, limits, strict=True))
    assert abs(found.gain + best[0]) <= Decimal("1e-8")
    if many == 1:
        assert found.counts == best[1]
        assert greedy_mix(offers, limits[0]).gain <= found.gain


def test_of_equal_mixes_the_one_with_fewer_of_the_first_item():
    alike = [offer(name, [0, 2, 4], ["1"]) for name in ("first", "second")]
    assert best_mix(alike, [Decimal(2)]).counts == (0, 2)


def test_greedy_can_be_short_of_the_best():
    # the small one gains more for its space, but then the large one has no place
    offers = [offer("small", [0, 3], ["2"]), offer("large", [0, 4], ["3"])]
    assert greedy_mix(offers, Decimal(3)).gain == 3
    assert best_mix(offers, [Decimal(3)]).gain == 4


def test_what_is_needed_for_show_must_fit():
    with pytest.raises(DoesNotFit):
        best_mix([offer("a", [0, 1, 2], ["3"], least=2)], [Decimal(5)])


def test_forty_items_on_one_table_are_proved_best():
    chance = random.Random(40)
    offers = [random_offer(chance, str(place), 1, most=60) for place in range(40)]
    found = best_mix(offers, [Decimal(600)])
    assert found.is_best
    assert found.used[0] <= 600
    assert found.gain >= greedy_mix(offers, Decimal(600)).gain
