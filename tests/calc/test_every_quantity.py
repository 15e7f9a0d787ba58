"""The list of the order costed by hand: cliffs, offers, breaks, least order, and its speed."""

from dataclasses import replace
from decimal import Decimal
from functools import cache, lru_cache
from itertools import pairwise

import pytest

from catalogue.calc.cutting.planning import plan_cuts
from catalogue.calc.recipes.recipe import Basis, RecipePacking, RecipeStep, RecipeWear, When
from maker.calc.refusal import Refusal
from pricing.calc.costing.cost import cost_of
from pricing.calc.costing.rates import Ask, TierRates
from pricing.calc.price.price import price_for
from pricing.calc.price.terms import NoTerms
from pricing.calc.quantities.cliffs import PricedQuantity, cliff_between
from pricing.calc.quantities.every_quantity import (
    QuantityNotListed,
    QuantityOffer,
    every_quantity_of,
)
from pricing.calc.quantities.minimum_order import NoMinimumOrder, minimum_by_price, minimum_by_setup
from tests.calc import small_recipe, worked_case
from tests.work import work_of

D = Decimal
plan_once = lru_cache(maxsize=None)(plan_cuts)


def by_carton(recipe):
    """The worked recipe with a carton from two bags on, as its list was worked out by hand."""
    sleeve, carton = recipe.packings
    return replace(recipe, packings=(sleeve, replace(carton, when=When(from_quantity=2))))


def in_fives(channel):
    """The worked channel with price steps of 0.05 for all quantities."""
    first, *others = channel.tiers
    return replace(channel, tiers=(replace(first, price_step=D("0.05")), *others))


RECIPE, CHANNEL = by_carton(worked_case.recipe()), in_fives(worked_case.channel())


@cache
def every_quantity(up_to=250):
    return every_quantity_of(RECIPE, Ask(1), CHANNEL, worked_case.rates(), plan_once, up_to=up_to)


def small_list(up_to, *, recipe=None, channel=None, ask=None):
    return every_quantity_of(
        recipe or small_recipe.recipe(),
        ask or Ask(1),
        channel or small_recipe.channel(),
        small_recipe.rates(),
        small_recipe.sheet_for_each_piece,
        up_to=up_to,
    )


def quote(quantity, *, recipe=RECIPE, channel=CHANNEL, rates=None, planner=plan_once):
    rates = rates or worked_case.rates()
    cost = cost_of(recipe, Ask(quantity), rates, planner)
    return PricedQuantity(cost, price_for(cost, Ask(quantity), channel, rates))


def cliff_at(made, quantity):
    """The cliff that a quantity starts."""
    return next(cliff for cliff in made.cliffs if cliff.quantity == quantity)


# worked out by hand beside the order of tests/data/worked_case.json
@pytest.mark.parametrize(("quantity", "each"), [(6, "16.75"), (7, "16.90")])
def test_seven_cost_more_each_than_six(quantity, each):
    assert every_quantity().row(quantity).worked_out_each == D(each)


def test_ten_are_dearer_each_than_nine_because_the_first_spare_starts():
    assert every_quantity().row(10).worked_out_each > every_quantity().row(9).worked_out_each
    cliff = cliff_at(every_quantity(), 10)
    assert cliff.reasons[0].label == "the first spare is needed"
    assert every_quantity().row(10).price_each == every_quantity().row(9).price_each


def test_60_cost_less_than_56_and_who_asks_for_56_is_told():
    offer = every_quantity().offer_for(56)
    assert (offer.asked_total, offer.quantity, offer.total) == (D("641.20"), 60, D("633.00"))
    assert offer.saving == D("8.20")
    assert every_quantity().offer_for(60) is None
    assert every_quantity().offer_for(250) is None
    falls = cliff_at(every_quantity(), 60)
    assert (falls.price_each, falls.price_each_before) == (D("10.55"), D("11.35"))
    assert falls.reasons[0].label == "25% margin instead of 30% from 60"


@pytest.mark.parametrize("quantity", [7, 12, 60, 100, 250])
def test_a_row_is_what_costing_that_quantity_alone_gives(quantity):
    alone, row = quote(quantity), every_quantity().row(quantity)
    assert (row.cost, row.made, row.sheets) == (
        alone.cost.cost,
        alone.cost.made,
        alone.cost.sheets,
    )
    assert row.worked_out_each == alone.price.price_each
    assert row.minutes == alone.cost.minutes


def test_published_prices_never_rise_and_totals_always_do():
    for low, high in pairwise(every_quantity().rows):
        assert low.price_each >= high.price_each
        assert low.total < high.total
    assert not any(row.is_below_floor for row in every_quantity().rows)


def test_a_lowered_price_shows_the_margin_it_leaves():
    row = every_quantity().row(56)
    assert row.price_each == D("11.15")
    assert "so that 57 cost more in total" in row.line.how
    tier_margin = D("0.30")
    assert row.margin < tier_margin < quote(56).price.margin
    # 56 x 11.15 = 624.40; 520.33 without 20 % tax; deposit 40 % of it, up: 250, and 374.40;
    # fees 250 x 0.0175 + 0.20 = 4.58 and 6.75
    assert row.profit == D("520.33") - D("4.58") - D("6.75") - row.cost


def test_every_cliff_is_there_and_no_other():
    prices = {row.quantity: row.worked_out_each for row in every_quantity().rows}
    expected = [
        n
        for n in range(2, 251)
        if prices[n] > prices[n - 1] or n * prices[n] <= (n - 1) * prices[n - 1]
    ]
    assert [cliff.quantity for cliff in every_quantity().cliffs] == expected
    assert 7 in expected


def test_the_effects_behind_a_cliff_add_up_to_the_change_of_the_price():
    for cliff in every_quantity().cliffs:
        assert abs(cliff.line.number - cliff.change_each) < D("1e-25")
        assert cliff.reasons


def test_what_one_more_sheet_does_to_seven_by_hand():
    # one sheet of P is 0.522917 + 0.01 blade + 3 min x 0.32; six bags took 3 sheets, seven 4:
    # beyond growing in step it is 4 - 3 x 7/6 = 0.5 of a sheet over 7 bags
    sheet = D("0.522917") + D("0.01") + 3 * D("0.32")
    effect = sheet * D("0.5") / 7 / D("0.629") * D("1.20")
    reason = next(r for r in cliff_at(every_quantity(), 7).reasons if r.key == "sheet.P")
    assert reason.effect_each == pytest.approx(effect, abs=D("1e-20"))
    assert reason.label == "one more sheet of P"


def test_wear_and_tax_are_in_what_one_more_sheet_does_by_hand():
    blade = RecipeWear("blade", Basis.SHEET, D(30), D(100))
    fold = RecipeStep("fold", Basis.MADE, D(3))

    def by_twos(job):
        return small_recipe.sheet_for_each_piece(
            replace(job, pieces=[replace(p, count=-(-p.count // 2)) for p in job.pieces])
        )

    two, three = (
        quote(
            quantity,
            recipe=small_recipe.recipe(wears=(blade,), steps=(fold,)),
            channel=small_recipe.channel(),
            rates=small_recipe.rates(tax_rate=D("0.2")),
            planner=by_twos,
        )
        for quantity in (2, 3)
    )
    # a sheet is 0.50 and 30 / 100 of blade; two take one sheet, three take two: beyond growing in
    # step it is 2 - 1 x 3/2 = 0.5 of a sheet over 3, with a quarter of margin and a fifth of tax
    effect = D("0.5") * D("0.80") / 3 / D("0.75") * D("1.2")
    (sheet,) = cliff_between(two, three, small_recipe.rates()).reasons
    assert sheet.key == "sheet.body"
    assert sheet.effect_each == pytest.approx(effect, abs=D("1e-20"))


def test_a_carton_and_a_batch_that_start_are_named():
    boxed = small_recipe.recipe(
        packings=(RecipePacking("box", "carton", holds=4, cost_each=D(5)),),
        steps=(
            RecipeStep("fold", Basis.MADE, D(3)),
            RecipeStep("press", Basis.BATCH, D(20), per=3),
        ),
    )
    made = small_list(9, recipe=boxed)
    assert cliff_at(made, 4).why == "one more batch of “press”"
    assert cliff_at(made, 5).why == "one more box"
    assert {cliff.quantity for cliff in made.cliffs} == {4, 5, 7, 9}


def test_breaks_are_the_published_list_in_runs():
    found = every_quantity(30).breaks
    assert found[0].from_quantity == 1
    assert found[-1].to_quantity == 30
    for run, following in pairwise(found):
        assert following.from_quantity == run.to_quantity + 1
        assert following.price_each < run.price_each
    seven = next(run for run in found if run.from_quantity <= 7 <= run.to_quantity)
    assert (seven.from_quantity, seven.price_each) == (6, D("16.75"))


def test_least_order_by_set_up_share():
    # 29 min of set-up x 0.32 = 9.28
    three, four = quote(3).cost.cost, quote(4).cost.cost
    assert D("9.28") / four < D("0.25") < D("9.28") / three
    least = minimum_by_setup(every_quantity())
    assert least.quantity == 4
    assert every_quantity().row(4).setup_share == pytest.approx(D("9.28") / four, abs=D("1e-25"))
    # a share that is just the limit is not under it
    assert minimum_by_setup(every_quantity(), every_quantity().row(4).setup_share).quantity == 5
    with pytest.raises(NoMinimumOrder, match=f"^Even for {every_quantity().rows[-1].quantity},"):
        minimum_by_setup(every_quantity(), D("0.0001"))


def test_least_order_by_what_the_market_bears():
    assert minimum_by_price(every_quantity(), D("16.80")).quantity == 6
    assert minimum_by_price(every_quantity(), D("16.75")).quantity == 6
    assert minimum_by_price(every_quantity(), D("16.74")).quantity == 8
    six = minimum_by_price(every_quantity(), D("16.80"))
    assert [line.key for line in six.line.lines] == [
        every_quantity().row(n).line.key for n in (5, 6)
    ]
    assert minimum_by_price(every_quantity(), D("100")).quantity == 1
    last = every_quantity().rows[-1]
    with pytest.raises(NoMinimumOrder, match=f"^Even {last.quantity} cost {last.price_each} each"):
        minimum_by_price(every_quantity(), D("5"))


def test_a_channel_that_starts_at_twelve_has_a_list_from_twelve():
    wholesale = small_recipe.channel(TierRates(bought_at_once=12, margin=D("0.2")))
    found = small_list(20, channel=wholesale)
    assert [row.quantity for row in found.rows] == list(range(12, 21))
    with pytest.raises(QuantityNotListed):
        found.row(11)
    with pytest.raises(NoTerms) as refused:
        small_list(11, channel=wholesale)
    assert refused.value.where == "quantity"
    assert [row.quantity for row in small_list(12, channel=wholesale).rows] == [12]


def test_what_costs_less_in_all_is_found_on_a_list_that_starts_at_twelve():
    tiers = TierRates(bought_at_once=12, margin=D("0.5")), TierRates(14, margin=D("0.2"))
    found = small_list(15, channel=small_recipe.channel(*tiers))
    # the job is 3.00 and 1.51 each: 12 are 21.12 / 0.5 = 42.24, 14 are 24.14 / 0.8 = 30.175, which
    # is 2.1554 each, up to 2.16
    assert found.offer_for(12) == QuantityOffer(12, 14, D("42.24"), D("30.24"))
    assert found.offer_for(15) is None


def test_a_batch_is_made_at_once_only_for_buyers_of_less_than_it():
    made = [
        small_list(12, ask=ask).row(5).made_at_once
        for ask in (Ask(10), Ask(10, bought_at_once=10), Ask(10, bought_at_once=2))
    ]
    assert made == [5, 5, 10]


def test_refusals_of_cost_and_price_come_through():
    with pytest.raises(Refusal):
        small_list(0)
    with pytest.raises(Refusal):
        small_list(5, channel=small_recipe.channel(TierRates(margin=D(1))))


def test_two_quantities_that_are_no_cliff_have_none():
    small = [
        quote(
            n,
            recipe=small_recipe.recipe(),
            channel=small_recipe.channel(),
            rates=small_recipe.rates(),
            planner=small_recipe.sheet_for_each_piece,
        )
        for n in (1, 2)
    ]
    assert cliff_between(*small, small_recipe.rates()) is None


def test_a_list_to_250_is_little_work_once_planned_and_plans_little():
    every_quantity()

    def climb():
        every_quantity_of(RECIPE, Ask(1), CHANNEL, worked_case.rates(), plan_once)

    # measured: 1,856 calls a quantity, 0.11 s for all; 3,758 where each was told line by line
    assert work_of(climb).calls < 250 * 3_000
    # five materials, 250 quantities
    assert every_quantity().planned < 125


def test_a_price_that_holds_up_to_a_quantity_is_looked_at_up_to_that_quantity():
    # from eight on every one takes an hour more, 18.00
    steps = (
        RecipeStep("fold", Basis.MADE, D(3)),
        RecipeStep("by hand", Basis.MADE, D(60), when=When(from_quantity=8)),
    )
    found = small_list(8, recipe=small_recipe.recipe(steps=steps))
    first, last = found.short_list([found.row(1), found.row(5)])
    assert (first.from_quantity, first.to_quantity, first.below_floor) == (1, 4, ())
    assert last.price_each < found.row(8).floor_each
    assert (last.below_floor, last.highest_floor) == ((8,), found.row(8).floor_each)
