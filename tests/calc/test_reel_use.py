"""Lengths of a job are bought as whole reels that hold them, not as so many metres."""

from decimal import Decimal

from catalogue.calc.cutting.planning import plan_cuts
from catalogue.calc.recipes.parts_list import parts_for
from catalogue.calc.recipes.recipe import (
    Basis,
    MaterialValues,
    PackOffer,
    RecipeFixing,
    UnitCost,
    When,
)
from catalogue.calc.reels.planning import Length
from catalogue.calc.supplies.postage import SupplierTerms
from catalogue.calc.supplies.reel_use import lengths_of
from catalogue.calc.supplies.shopping import Need, shopping_list
from pricing.calc.costing.cost import cost_of
from pricing.calc.costing.rates import Ask
from tests.calc.small_recipe import CARD, rates, recipe

D = Decimal
LARGE = When(from_quantity=100)


def ribbon(*packs, **changes):
    values = {
        "cut_loss_mm": D(10),
        "reel_end_mm": D(300),
        "packs": packs or (PackOffer("reel of 10 m", D(10), D("1.95"), "shop"),),
        "id": 7,
    }
    return MaterialValues("ribbon", "length", "m", UnitCost(D("0.20")), **(values | changes))


def only(shopping):
    (line,) = shopping.lines
    return line


def test_six_long_lengths_take_six_reels_though_half_the_metres_would_do():
    # 6 x 5.01 m are 30.06 m, four reels by the metre; a reel of 9.7 m gives one length of 5 m
    need = Need(ribbon(), D("30.06"), (Length("garland", D(5000), 6),))
    line = only(shopping_list([need]))
    assert line.bought.count == 6
    assert line.bought.cost == D("11.70")
    assert "whole reels for the lengths cut, proved" in str(line.line.how)
    assert only(shopping_list([Need(ribbon(), D("30.06"))])).bought.count == 4


def test_what_is_on_the_shelf_is_one_opened_reel_and_whole_ones():
    # 14 m are a reel of 10 m and 4 m of an opened one: one garland, not two
    need = Need(ribbon(on_hand=D(14)), D("10.02"), (Length("garland", D(5000), 2),))
    line = only(shopping_list([need], deduct_stock=True))
    assert line.bought.count == 1
    assert line.bought.from_stock == D("5.01")
    # with 20 m two whole reels are there
    need = Need(ribbon(on_hand=D(20)), D("10.02"), (Length("garland", D(5000), 2),))
    assert only(shopping_list([need], deduct_stock=True)).bought.count == 0


def test_use_by_the_metre_takes_what_the_lengths_leave_on_the_shelf():
    # a garland of 5.01 m and 12 m more are 17.01 m; 14 m are there, a reel brings 6.99 m too many
    need = Need(ribbon(on_hand=D(14)), D("5.01") + D(12), (Length("garland", D(5000), 1),))
    bought = only(shopping_list([need], deduct_stock=True)).bought
    assert (bought.count, bought.from_stock, bought.left_over) == (1, D(14), D("6.99"))


def test_use_by_the_metre_beside_lengths_is_bought_too():
    # one garland leaves 4.99 m of its reel; 12 m more need another reel
    need = Need(ribbon(), D("5.01") + D(12), (Length("garland", D(5000), 1),))
    line = only(shopping_list([need]))
    assert line.bought.count == 2
    assert line.bought.left_over == D("2.99")


def test_the_cheaper_mixture_of_reels_is_bought():
    both = ribbon(
        PackOffer("reel of 10 m", D(10), D("1.95")), PackOffer("reel of 25 m", D(25), D("3.95"))
    )
    # 40 x 0.61 m: 15 on a small reel (9.7 m), 40 on a large one (24.7 m)
    line = only(shopping_list([Need(both, D("24.4"), (Length("bow", D(600), 40),))]))
    assert [(pack.offer.name, pack.count) for pack in line.bought.packs] == [("reel of 25 m", 1)]


def test_a_length_no_reel_gives_is_a_problem_of_the_list():
    line = only(shopping_list([Need(ribbon(), D(11), (Length("train", D(11_000), 1),))]))
    assert line.bought is None
    assert "train (11000 mm) is longer than any reel" in line.problem


def test_without_a_pack_or_a_price():
    lengths = (Length("bow", D(600), 40),)
    assert "Add a pack" in only(shopping_list([Need(ribbon(packs=()), D(1), lengths)])).problem
    priceless = ribbon(PackOffer("long", D(30), None), PackOffer("short", D(26), None))
    line = only(shopping_list([Need(priceless, D("24.4"), lengths)]))
    assert [pack.offer.name for pack in line.bought.packs] == ["short"]
    assert line.bought.cost is None


def test_a_reel_without_a_price_is_not_bought_where_another_has_one():
    lengths = (Length("bow", D(600), 10),)
    reels = ribbon(PackOffer("no price", D(10), None), PackOffer("priced", D(10), D("1.95")))
    line = only(shopping_list([Need(reels, D("6.1"), lengths)]))
    assert [pack.offer.name for pack in line.bought.packs] == ["priced"]
    assert line.bought.cost == D("1.95")


def test_reels_count_towards_free_carriage():
    card = MaterialValues("card", "sheet", "sheet", None, id=8)
    card = MaterialValues(
        "card", "sheet", "sheet", None, id=8, packs=(PackOffer("pad", D(10), D("5"), "shop"),)
    )
    needs = [Need(ribbon(), D("30.06"), (Length("garland", D(5000), 6),)), Need(card, D(10))]
    terms = (SupplierTerms("shop", D("4.90"), D("16.70")),)
    shopping = shopping_list(needs, terms=terms)
    # 6 x 1.95 + 5.00 = 16.70, just enough: no second pad is bought
    assert shopping.total == shopping.cash == D("16.70")


def test_a_job_asks_for_the_lengths_that_hold_for_it():
    made_from = recipe(
        materials={"body": CARD, "tie": ribbon(waste_share=D(0))},
        fixings=(
            RecipeFixing("bow", "tie", D("0.78"), cut_mm=D(380), cut_count=2),
            RecipeFixing("bow", "tie", D("0.2"), Basis.JOB, cut_mm=D(190), cut_count=1),
            # not for so few, so none of it is cut
            RecipeFixing("band", "tie", D(1), cut_mm=D(500), cut_count=2, when=LARGE),
        ),
    )
    parts = parts_for(made_from, 12)
    assert lengths_of(made_from, parts) == {
        7: (Length("bow", D(380), 24), Length("bow (2)", D(190), 1))
    }
    job = cost_of(made_from, Ask(12), rates(), plan_cuts)
    need = next(need for need in job.needs if need.material.name == "ribbon")
    assert need.amount == 12 * D("0.78") + D("0.2")
    # 24 x 0.39 + 0.2 = 9.56 m on one reel that gives 9.7 m; one bow more is too much
    assert only(shopping_list([need])).bought.count == 1
    more = next(
        need
        for need in cost_of(made_from, Ask(13), rates(), plan_cuts).needs
        if need.material.name == "ribbon"
    )
    assert only(shopping_list([more])).bought.count == 2
