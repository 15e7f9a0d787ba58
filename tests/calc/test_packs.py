"""Packs to buy: the cheapest mixture, ties, stock on hand, and what has no price."""

import itertools
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.calc.recipes.recipe import MaterialValues, PackOffer
from catalogue.calc.supplies.packs import NoPackKnown, packs_to_buy
from catalogue.calc.supplies.shopping import Need, shopping_list
from maker.calc.refusal import Refusal

D = Decimal


def offer(quantity, price, name=""):
    return PackOffer(name or f"pack of {quantity}", D(quantity), D(price) if price else None)


def counts(bought):
    return {int(pack.offer.quantity): pack.count for pack in bought.packs}


def test_a_mixture_can_be_cheaper_than_one_size():
    # 24s for 11.40 and 10s for 5.20: 34 take 24 + 10 (16.60), not two 24s (22.80), not four 10s
    bought = packs_to_buy(D(34), [offer(24, "11.40"), offer(10, "5.20")])
    assert counts(bought) == {24: 1, 10: 1}
    assert bought.cost == D("16.60")
    assert bought.left_over == 0


def test_a_larger_pack_may_be_cheaper_than_the_size_that_is_needed():
    bought = packs_to_buy(D(10), [offer(10, "5.00"), offer(25, "4.00")])
    assert counts(bought) == {25: 1}
    assert bought.left_over == 15


def test_equally_cheap_gives_most_then_takes_the_fewest_packs():
    assert counts(packs_to_buy(D(10), [offer(20, "4.00"), offer(12, "4.00")])) == {20: 1}
    # two more sheets for the same money before two exact packs
    assert counts(packs_to_buy(D(10), [offer(12, "4.00"), offer(5, "2.00")])) == {12: 1}
    assert counts(packs_to_buy(D(100), [offer(10, "1.00"), offer(50, "5.00")])) == {50: 2}
    first, second = offer(10, "1.00", "first"), offer(10, "1.00", "second")
    assert packs_to_buy(D(5), [first, second]).packs[0].offer is first


def test_stock_is_deducted_only_when_asked_and_below_zero_counts_as_nothing():
    sheet = MaterialValues("card", "sheet", "sheet", None, on_hand=D(30), packs=(offer(24, "1"),))
    missing = MaterialValues("foam", "sheet", "sheet", None, on_hand=D(-5), packs=(offer(10, "1"),))
    needs = [Need(sheet, D(32)), Need(missing, D(10))]
    assert [line.bought.count for line in shopping_list(needs).lines] == [2, 1]
    assert [line.bought.count for line in shopping_list(needs, deduct_stock=True).lines] == [1, 1]
    assert packs_to_buy(D(32), sheet.packs, on_hand=D(40)).packs == ()


def test_of_free_packs_none_is_taken_that_could_be_left_out():
    free = [PackOffer("three", D(3), D(0)), PackOffer("five", D(5), D(0))]
    # two of three give six, one of five gives five; a three and a five need only the five
    assert counts(packs_to_buy(D(4), free)) == {3: 2}
    assert counts(packs_to_buy(D(6), free)) == {5: 2}
    # a ten and a three are three too many, just the three: four of three give most of what is left
    assert counts(packs_to_buy(D(10), [PackOffer("ten", D(10), D(0)), free[0]])) == {3: 4}


def test_needs_of_one_material_are_added_before_packs_are_counted():
    twine = MaterialValues("twine", "length", "m", None, packs=(offer(50, "3.95"),), id=4)
    shopping = shopping_list([Need(twine, D(30)), Need(twine, D("20.5"))])
    assert [line.bought.count for line in shopping.lines] == [2]
    assert shopping.cash == D("7.90")


def test_without_any_price_the_least_is_bought_and_the_cost_is_not_known():
    bought = packs_to_buy(D(11), [offer(10, ""), offer(6, "")])
    assert counts(bought) == {6: 2}
    assert bought.cost is None


def test_what_cannot_be_bought_is_listed_with_its_problem():
    lost = MaterialValues("ribbon", "length", "m", None)
    priceless = MaterialValues("gem", "count", "piece", None, packs=(offer(60, ""),))
    shopping = shopping_list([Need(lost, D(3)), Need(priceless, D(3))])
    assert shopping.cash == 0
    assert shopping.unpriced == ("ribbon", "gem")
    assert "Add a pack" in shopping.lines[0].problem
    with pytest.raises(NoPackKnown):
        packs_to_buy(D(3), [])
    with pytest.raises(Refusal):
        packs_to_buy(D(-1), [offer(1, "1")])


def test_many_awkward_sizes_of_one_price_are_still_answered_quickly():
    offers = [offer(size, size) for size in (997, 991, 983, 977, 971, 967, 953)]
    bought = packs_to_buy(D(1_000_000), offers)
    assert bought.quantity >= 1_000_000
    assert bought.cost >= 1_000_000


OFFERS = st.lists(
    st.builds(
        lambda quantity, cents: PackOffer("pack", D(quantity), D(cents) / 100),
        st.integers(1, 12),
        st.integers(0, 300),
    ),
    min_size=1,
    max_size=3,
)


@given(st.integers(0, 25), OFFERS)
def test_no_mixture_is_cheaper_or_gives_more_for_the_same_money(need, offers):
    bought = packs_to_buy(D(need), offers)
    assert bought.is_cheapest
    assert bought.quantity == need + bought.left_over
    ranges = [range(int(need // offer.quantity) + 2) for offer in offers]
    found = []
    for mixture in itertools.product(*ranges):
        quantity = sum(n * offer.quantity for n, offer in zip(mixture, offers, strict=True))
        cost = sum(n * offer.price for n, offer in zip(mixture, offers, strict=True))
        smallest = min((o.quantity for n, o in zip(mixture, offers, strict=True) if n), default=0)
        # every pack is needed
        if quantity >= need and (not smallest or quantity - smallest < need):
            found.append((cost, -quantity))
    assert (bought.cost, -bought.quantity) == min(found)
