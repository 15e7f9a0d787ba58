"""The best combination within table, hours and sheets, against every combination there is."""

import itertools
import random
from decimal import Decimal

import pytest

from pricing.calc.fairs.choosing import Candidate, Limits, choice_of
from pricing.calc.fairs.demand import mean_of
from pricing.calc.fairs.guess import BadGuess, guessed
from pricing.calc.fairs.table_space import DoesNotFit
from pricing.calc.fairs.what_to_take import FairItem, FairRates, what_to_take

RATES = FairRates(Decimal("0.2"), Decimal("0.0169"), Decimal(0))


def candidate(rng, name, *, high=6, days=1):
    cost = Decimal(rng.randrange(100, 600)) / 100
    item = FairItem(
        name=name,
        price=cost * Decimal(rng.randrange(15, 26)) / 10,
        cost=cost,
        bag=Decimal("0.06"),
        card_share=Decimal("0.7"),
        payments_each=Decimal("0.8"),
        worth_after=cost * Decimal(rng.randrange(2, 10)) / 10,
        handling=Decimal("0.2"),
    )
    low = rng.randrange(0, 3)
    likely = low + rng.randrange(0, 3)
    demand = guessed(low, likely, max(likely, rng.randrange(1, high)))
    return Candidate(
        name,
        what_to_take(item, [demand] * days, RATES),
        table=Decimal(rng.randrange(30, 200)),
        minutes=Decimal(rng.randrange(3, 25)),
        sheets=Decimal(rng.randrange(1, 8)) / 4,
        least=rng.randrange(0, 2),
        in_stock=rng.randrange(0, 4),
    )


def gain_of(candidates, counts):
    pairs = zip(candidates, counts, strict=True)
    return sum(each.taking.gain_of(count) for each, count in pairs)


def fits(candidates, counts, limits):
    pairs = list(zip(candidates, counts, strict=True))
    made = [(each, max(count - each.in_stock, 0)) for each, count in pairs]
    needs = {
        "table": sum(each.table * count for each, count in pairs),
        "minutes": sum(each.minutes * count for each, count in made),
        "sheets": sum(each.sheets * count for each, count in made),
    }
    return all(needs[name] <= getattr(limits, name) for name in limits.known())


def best_by_looking(candidates, limits):
    ranges = [range(each.least, max(each.taking.count, each.least) + 1) for each in candidates]
    found = [c for c in itertools.product(*ranges) if fits(candidates, c, limits)]
    return max((gain_of(candidates, counts) for counts in found), default=None)


@pytest.mark.parametrize("seed", range(60))
def test_no_combination_leaves_more(seed):
    rng = random.Random(seed)
    candidates = [candidate(rng, str(n)) for n in range(3)]
    limits = Limits(
        table=Decimal(rng.randrange(100, 900)) if rng.random() < 0.8 else None,
        minutes=Decimal(rng.randrange(0, 120)) if rng.random() < 0.7 else None,
        sheets=Decimal(rng.randrange(0, 12)) / 2 if rng.random() < 0.5 else None,
    )
    best = best_by_looking(candidates, limits)
    if best is None:
        with pytest.raises(DoesNotFit):
            choice_of(candidates).within(limits)
        return
    chosen = choice_of(candidates).within(limits, seconds=20)
    assert not chosen.may_gain
    assert abs(chosen.gain - best) < Decimal("1e-6")
    assert abs(gain_of(candidates, chosen.counts) - best) < Decimal("1e-6")
    assert fits(candidates, chosen.counts, limits)


def test_one_more_of_each_is_what_a_wider_limit_gains():
    rng = random.Random(5)
    candidates = [candidate(rng, str(n), high=9) for n in range(3)]
    limits = Limits(table=Decimal(700), minutes=Decimal(40))
    choice = choice_of(candidates)
    chosen = choice.within(limits)
    more = choice.one_more_of_each(limits, chosen)
    assert set(more) == {"table", "minutes"}
    wider = best_by_looking(candidates, Limits(table=Decimal(800), minutes=Decimal(40)))
    assert abs(chosen.gain + more["table"] - wider) < Decimal("1e-6")
    wider = best_by_looking(candidates, Limits(table=Decimal(700), minutes=Decimal(100)))
    assert abs(chosen.gain + more["minutes"] - wider) < Decimal("1e-6")


def test_without_a_limit_each_item_is_taken_as_by_itself():
    rng = random.Random(9)
    candidates = [candidate(rng, str(n), days=3) for n in range(5)]
    choice = choice_of(candidates)
    chosen = choice.within(Limits())
    expected = tuple(max(each.taking.count, each.least) for each in candidates)
    assert chosen.counts == expected
    assert choice.one_more_of_each(Limits(), chosen) == {}
    # to the last digit what is asked for one count by itself
    for each, gains in zip(candidates, choice.gains, strict=True):
        assert list(gains) == [each.taking.gain_of(count) for count in range(len(gains))]


def test_a_guess_rises_to_the_likely_count_and_falls_after_it():
    chances = guessed(2, 4, 7)
    # weights 1/3 2/3 1 3/4 2/4 1/4, in twelfths: 4 8 12 9 6 3 of 42
    assert [chance * 42 for chance in chances.values()] == [4, 8, 12, 9, 6, 3]
    assert guessed(3, 3, 3) == {3: 1}
    assert mean_of(guessed(1, 3, 5)) == 3


@pytest.mark.parametrize("guess", [(5, 4, 9), (1, 9, 8), (-1, 2, 3)])
def test_a_guess_out_of_order_is_refused(guess):
    with pytest.raises(BadGuess):
        guessed(*guess)
