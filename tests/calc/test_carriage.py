"""A whole list bought over several suppliers: carriage, free carriage, and what that is worth."""

import itertools
import random
from decimal import Decimal

import pytest

from catalogue.calc.recipes.recipe import MaterialValues, PackOffer
from catalogue.calc.supplies.postage import SupplierTerms
from catalogue.calc.supplies.shopping import Need, shopping_list

D = Decimal


def material(name, *offers, number=None):
    packs = tuple(
        PackOffer(f"{supplier} {quantity}", D(quantity), D(price), supplier)
        for supplier, quantity, price in offers
    )
    return MaterialValues(name, "sheet", "sheet", None, packs=packs, id=number)


def bought(shopping):
    return {
        line.material.name: {pack.offer.name: pack.count for pack in line.bought.packs}
        for line in shopping.lines
    }


def test_one_order_is_cheaper_than_two_carriages():
    # card is 0.50 cheaper in the second shop, whose carriage is 3.00
    card = material("card", ("first", 10, "5.00"), ("second", 10, "4.50"), number=1)
    foam = material("foam", ("first", 5, "2.00"), number=2)
    terms = (SupplierTerms("first", D("2.50")), SupplierTerms("second", D("3.00")))
    shopping = shopping_list([Need(card, D(10)), Need(foam, D(5))], terms=terms)
    assert bought(shopping) == {"card": {"first 10": 1}, "foam": {"first 5": 1}}
    assert (shopping.cash, shopping.total) == (D("7.00"), D("9.50"))
    how = shopping.explanation.find("buy.total").how
    # each by itself: 4.50 + 2.00 + 2.50 + 3.00 = 12.00
    assert how == "packs + postage; 2.50 less than with every material by itself"
    assert [order.supplier for order in shopping.orders] == ["first"]


def test_two_orders_are_worth_it_when_the_goods_save_more_than_the_carriage():
    card = material("card", ("first", 10, "9.00"), ("second", 10, "4.50"), number=1)
    foam = material("foam", ("first", 5, "2.00"), number=2)
    terms = (SupplierTerms("first", D("2.50")), SupplierTerms("second", D("3.00")))
    shopping = shopping_list([Need(card, D(10)), Need(foam, D(5))], terms=terms)
    assert bought(shopping)["card"] == {"second 10": 1}
    assert shopping.total == D("4.50") + D("2.00") + D("2.50") + D("3.00")


def test_a_pack_more_is_bought_when_it_costs_less_than_the_carriage_it_saves():
    # 24 of goods and 5.00 carriage, or one foam more for 2.00 and nothing from 25.00 on
    card = material("card", ("shop", 24, "22.00"), number=1)
    foam = material("foam", ("shop", 5, "2.00"), number=2)
    needs = [Need(card, D(24)), Need(foam, D(5))]
    shopping = shopping_list(needs, terms=(SupplierTerms("shop", D("5.00"), D("25.00")),))
    assert bought(shopping) == {"card": {"shop 24": 1}, "foam": {"shop 5": 2}}
    assert (shopping.cash, shopping.total) == (D("26.00"), D("26.00"))
    (order,) = shopping.orders
    assert (order.carriage, order.to_free) == (0, None)
    assert str(order.line.how) == "free from 25"


def test_packs_of_less_than_one_unit_are_counted_for_the_whole_need():
    # six halves: 6.00 + 2.00 at the first, 5.40 + 3.00 at the second
    glue = material("glue", ("first", "0.5", "1.00"), ("second", "0.5", "0.90"), number=1)
    terms = (SupplierTerms("first", D("2.00")), SupplierTerms("second", D("3.00")))
    shopping = shopping_list([Need(glue, D(3))], terms=terms)
    assert bought(shopping) == {"glue": {"first 0.5": 6}}
    assert shopping.total == D("8.00")


def test_what_reaches_free_carriage_on_the_way_is_bought_for_the_whole_need():
    # ten are 10.00 at the first, sent for nothing from 4.00 on, or 9.00 + 3.00 at the second
    card = material("card", ("first", 1, "1.00"), ("second", 1, "0.90"), number=1)
    terms = (SupplierTerms("first", D("2.00"), D("4.00")), SupplierTerms("second", D("3.00")))
    shopping = shopping_list([Need(card, D(10))], terms=terms)
    assert bought(shopping) == {"card": {"first 1": 10}}
    assert shopping.total == D("10.00")


def test_a_shop_without_terms_beside_one_with_carriage():
    # 5.00 and nothing to send it, or 4.50 + 3.00
    card = material("card", ("market", 10, "5.00"), ("shop", 10, "4.50"), number=1)
    shopping = shopping_list([Need(card, D(10))], terms=(SupplierTerms("shop", D("3.00")),))
    assert bought(shopping) == {"card": {"market 10": 1}}
    assert shopping.total == D("5.00")


def test_it_says_how_much_is_missing_to_free_carriage():
    # goods of 9.00, one more pack would cost 9.00 to save 2.50
    card = material("card", ("shop", 24, "9.00"), number=1)
    terms = (SupplierTerms("shop", D("2.50"), D("11.10")),)
    shopping = shopping_list([Need(card, D(3))], terms=terms)
    (order,) = shopping.orders
    assert (order.goods, order.carriage, order.to_free) == (D("9.00"), D("2.50"), D("2.10"))
    assert str(order.line.how) == "9 of goods, 2.1 more and it is free"
    assert shopping.explanation.value == D("11.50")


def test_exactly_at_the_threshold_carriage_is_free():
    terms = SupplierTerms("shop", D("2.50"), D("10"))
    assert terms.carriage_on(D("9.99")) == D("2.50")
    assert terms.carriage_on(D("10.00")) == 0
    assert terms.carriage_on(D(0)) == 0


def test_without_terms_or_carriage_every_material_is_bought_by_itself():
    card = material("card", ("first", 10, "5.00"), ("second", 10, "4.50"), number=1)
    alone = shopping_list([Need(card, D(10))])
    free = shopping_list([Need(card, D(10))], terms=(SupplierTerms("second", D(0)),))
    assert bought(alone) == bought(free) == {"card": {"second 10": 1}}
    assert alone.orders == ()
    assert alone.explanation.find("buy.cash").how == "postage not included"
    assert free.total == D("4.50")


def test_what_has_no_price_or_no_pack_is_left_as_it_is():
    card = material("card", ("shop", 10, "5.00"), number=1)
    lost = MaterialValues("lost", "count", "piece", None, id=2)
    unpriced = MaterialValues(
        "gem", "count", "piece", None, packs=(PackOffer("card of 60", D(60), None, "shop"),), id=3
    )
    needs = [Need(card, D(10)), Need(lost, D(3)), Need(unpriced, D(3))]
    shopping = shopping_list(needs, terms=(SupplierTerms("shop", D("2.00")),))
    assert shopping.unpriced == ("lost", "gem")
    assert shopping.lines[2].bought.count == 1
    assert shopping.total == D("7.00")


def every_way(needs, terms):
    """Return the least total, trying every number of packs that could be of use."""
    known = {each.name: each for each in terms}
    offers = [(at, pack) for at, need in enumerate(needs) for pack in need.material.packs]
    best = None
    for counts in itertools.product(range(5), repeat=len(offers)):
        covered = [D(0)] * len(needs)
        goods = {}
        for count, (at, pack) in zip(counts, offers, strict=True):
            covered[at] += count * pack.quantity
            goods[pack.supplier] = goods.get(pack.supplier, D(0)) + count * pack.price
        if any(have < need.amount for have, need in zip(covered, needs, strict=True)):
            continue
        total = sum(goods.values()) + sum(known[s].carriage_on(g) for s, g in goods.items())
        best = total if best is None else min(best, total)
    return best


@pytest.mark.parametrize("seed", range(40))
def test_no_way_to_buy_is_cheaper(seed):
    rng = random.Random(seed)
    shops = ["first", "second"]
    needs = []
    for number in range(2):
        offers = [
            (rng.choice(shops), rng.randint(3, 9), f"{rng.randint(100, 600) / 100:.2f}")
            for _ in range(rng.randint(1, 3))
        ]
        needs.append(Need(material(f"m{number}", *offers, number=number), D(rng.randint(1, 12))))
    terms = [
        SupplierTerms(
            name,
            D(rng.randint(0, 400)) / 100,
            rng.choice([None, D(rng.randint(400, 1500)) / 100]),
        )
        for name in shops
    ]
    shopping = shopping_list(needs, terms=terms)
    assert shopping.total == every_way(needs, terms)
    assert shopping.total == shopping.cash + sum(order.carriage for order in shopping.orders)
    for line, need in zip(shopping.lines, needs, strict=True):
        assert line.bought.quantity >= need.amount


def test_the_second_shop_may_be_the_one_whose_carriage_falls_away():
    paper = material("paper", ("first", 10, "10.00"), ("second", 10, "12.00"), number=1)
    glue = material("glue", ("first", 5, "3.00"), ("second", 5, "4.00"), number=2)
    terms = (SupplierTerms("first", D("4.00")), SupplierTerms("second", D("2.00"), D("15.00")))
    shopping = shopping_list([Need(paper, D(10)), Need(glue, D(5))], terms=terms)
    # first: 13.00 + 4.00; second: 16.00 and nothing from 15.00 on; mixed 12.00 + 3.00 + 6.00
    assert bought(shopping) == {"paper": {"second 10": 1}, "glue": {"second 5": 1}}
    assert shopping.total == D("16.00")
