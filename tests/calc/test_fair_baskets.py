"""Bundles at the table: the smallest amount for the buyer, never below a bundle's lowest price."""

import itertools
import random
from collections.abc import Mapping, Sequence

import pytest

from pricing.calc.fairs import basket as sums
from pricing.calc.fairs.basket import BadBasket, TableBundle, amount_with, basket_of

PRICES = {"lantern": 650, "starbox": 1100, "tag": 120}
# 22.50 for two lanterns and a star box: the bundle of the worked case, full price 24.00
PAIR = TableBundle("pair", {"lantern": 2, "starbox": 1}, 2250, 1575)


def smallest(
    items: Mapping[str, int], prices: Mapping[str, int], bundles: Sequence[TableBundle]
) -> int:
    """Every way to take bundles, by counting them all out."""
    full = sum(count * prices[name] for name, count in items.items())
    most = [max(items.values(), default=0)] * len(bundles)
    amounts = [full]
    for counts in itertools.product(*(range(top + 1) for top in most)):
        used: dict[str, int] = {}
        amount = full
        for bundle, count in zip(bundles, counts, strict=True):
            apart = sum(each * prices[name] for name, each in bundle.items.items())
            amount += (max(bundle.price, bundle.lowest) - apart) * count
            for name, each in bundle.items.items():
                used[name] = used.get(name, 0) + each * count
        if all(count <= items.get(name, 0) for name, count in used.items()):
            amounts.append(amount)
    return min(amounts)


def random_case(rng: random.Random) -> tuple[dict[str, int], dict[str, int], list[TableBundle]]:
    names = ["a", "b", "c", "d"][: rng.randint(1, 4)]
    prices = {name: rng.randint(50, 1500) for name in names}
    items = {name: rng.randint(0, 5) for name in names}
    bundles = []
    for key in range(rng.randint(0, 3)):
        held = {name: rng.randint(1, 2) for name in names if rng.random() < 0.7}
        if held:
            apart = sum(each * prices[name] for name, each in held.items())
            price, lowest = rng.randint(apart // 2, apart + 50), rng.randint(apart // 3, apart)
            bundles.append(TableBundle(str(key), held, price, lowest))
    return items, prices, bundles


def test_a_bundle_applies_by_itself() -> None:
    basket = basket_of({"lantern": 5, "starbox": 2}, PRICES, [PAIR])
    assert (dict(basket.bundles), basket.amount, basket.saved) == ({"pair": 2}, 5150, 300)


def test_a_bundle_is_never_sold_below_its_own_lowest_price() -> None:
    cheap = TableBundle("pair", {"lantern": 2, "starbox": 1}, 900, 1575)
    assert basket_of({"lantern": 2, "starbox": 1}, PRICES, [cheap]).amount == 1575


def test_a_bundle_that_costs_more_than_its_items_is_left_out() -> None:
    dear = TableBundle("pair", {"lantern": 2, "starbox": 1}, 2000, 2401)
    assert basket_of({"lantern": 2, "starbox": 1}, PRICES, [dear]).amount == 2400


def test_the_largest_saving_is_not_always_part_of_the_smallest_amount() -> None:
    """All three at once save 300, two bundles of two save 200 each."""
    prices = dict.fromkeys("abcd", 1000)
    three = TableBundle("three", {"a": 1, "b": 1, "c": 1}, 2700, 0)
    first = TableBundle("first", {"a": 1, "d": 1}, 1800, 0)
    second = TableBundle("second", {"b": 1, "c": 1}, 1800, 0)
    basket = basket_of(dict.fromkeys("abcd", 1), prices, [three, first, second])
    assert (dict(basket.bundles), basket.amount) == ({"first": 1, "second": 1}, 3600)


def test_it_is_the_smallest_amount_of_all_ways() -> None:
    rng = random.Random(14)
    saved = 0
    for _ in range(1_500):
        items, prices, bundles = random_case(rng)
        found = basket_of(items, prices, bundles)
        assert found.amount == smallest(items, prices, bundles)
        assert amount_with(items, prices, bundles, found.bundles) == found.amount
        saved += found.saved > 0
    assert saved > 300


def test_of_a_basket_nobody_carries_the_best_found_so_far_is_taken(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    names = [f"n{place}" for place in range(12)]
    prices = dict.fromkeys(names, 500)
    bundles = [
        TableBundle(f"{a}{b}", {a: 1, b: 1}, 950 - place, 0)
        for place, (a, b) in enumerate(itertools.combinations(names, 2))
    ]

    def saved(steps: int) -> int:
        monkeypatch.setattr(sums, "MOST_STEPS", steps)
        return basket_of(dict.fromkeys(names, 500), prices, bundles).saved

    usual = sums.MOST_STEPS
    few, many = saved(100), saved(usual)
    assert 0 < few <= many
    assert saved(2 * usual) >= many


@pytest.mark.parametrize(
    ("items", "counts", "words"),
    [
        ({"lantern": 1}, {"pair": 1}, "fewer items than its bundles"),
        ({"lantern": 1}, {"gone": 1}, "not sold on this day"),
        ({"vase": 1}, {}, "not sold on this day"),
        ({"lantern": -1}, {}, "above 0"),
    ],
)
def test_a_basket_that_cannot_be_is_refused(
    items: dict[str, int], counts: dict[str, int], words: str
) -> None:
    with pytest.raises(BadBasket, match=words):
        amount_with(items, PRICES, [PAIR], counts)
