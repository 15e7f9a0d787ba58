"""A wanted price turned into minutes, wage, material price, margin, size or quantity, and back."""

from dataclasses import replace
from decimal import Decimal
from functools import lru_cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.calc.cutting.planning import plan_cuts
from catalogue.calc.recipes.recipe import Basis, RecipeFixing, RecipeStep
from pricing.calc.costing.cost import cost_of
from pricing.calc.costing.rates import Ask, TierRates
from pricing.calc.price.price import price_at, price_for
from pricing.calc.quantities.every_quantity import every_quantity_of
from pricing.calc.what_if.targets import (
    TargetOutOfReach,
    at_size,
    floors_of,
    margin_for,
    minutes_for,
    quantity_for,
    size_for,
    unit_cost_for,
    wage_for,
)
from tests.calc import small_recipe, worked_case
from tests.calc.kept_prices import priced, with_minutes, with_tiers

D = Decimal
HAIR = D("1e-20")
CASE_60 = worked_case.CASE["cases"]["60"]
RATES = worked_case.rates()


def sixty(**changes):
    job, price, _ = priced(60, **changes)
    return job, price


def test_ten_euro_for_the_worked_bag_by_hand():
    job, price = sixty()
    # 10.00 x 60 / 1.2 x 0.729 - 0.40 = 364.10: 19.680828 less than 383.780828;
    # a minute of finishing costs 63 x 0.7359 x 0.32
    allowed = D("364.10")
    found = minutes_for(D(10), "finish", job, price, RATES)
    assert found.now == 6
    assert found.needed == pytest.approx(
        6 - (job.cost - allowed) / (63 * D("0.7359") * D("0.32")), abs=HAIR
    )
    assert found.line.lines[0].number == allowed


@pytest.mark.parametrize("wanted", ["9.50", "10.00", "10.55", "11.20"])
def test_costing_anew_with_the_answer_gives_the_wanted_price(wanted):
    job, price = sixty()
    wanted = D(wanted)
    body = minutes_for(wanted, "body", job, price, RATES).needed
    _, anew = sixty(recipe=with_minutes(worked_case.recipe(), body=body))
    assert abs(anew.price_exact - wanted) < HAIR

    wage = wage_for(wanted, job, price, RATES).needed
    _, anew = sixty(rates=replace(RATES, wage_per_hour=wage))
    assert abs(anew.price_exact - wanted) < HAIR

    margin = margin_for(wanted, job, price).needed
    _, anew = sixty(channel=with_tiers(worked_case.channel(), margin=margin))
    assert abs(anew.price_exact - wanted) < HAIR


def test_a_materials_price_is_solved_in_every_role_it_plays():
    recipe = worked_case.recipe()
    both = replace(
        recipe,
        materials={**recipe.materials, "Q": recipe.materials["P"]},
        fixings=(*recipe.fixings, RecipeFixing("spare card", "P", D("0.1"))),
    )
    job, price = sixty(recipe=both)
    found = unit_cost_for(D("10.40"), "P", job, price)
    dear = replace(both.materials["P"], cost=replace(both.materials["P"].cost, value=found.needed))
    anew = replace(both, materials={**both.materials, "P": dear, "Q": dear})
    assert abs(sixty(recipe=anew)[1].price_exact - D("10.40")) < HAIR


def test_the_price_of_a_material_by_hand():
    # two small boxes: 1.00 of card in 6.02; at 3.51 each without margin 7.02 may be spent
    rates = small_recipe.rates()
    job = cost_of(small_recipe.recipe(), Ask(2), rates, small_recipe.sheet_for_each_piece)
    price = price_for(job, Ask(2), small_recipe.channel(TierRates(margin=D(0))), rates)
    assert unit_cost_for(D("3.51"), "body", job, price).needed == D("1.00")  # 0.50 + 1.00 / 2
    # ribbon: 2 x 0.5 m x 1.1 = 1.1 m at 0.20, and 0.11 more for it
    assert unit_cost_for(D("3.065"), "tie", job, price).needed == D("0.30")
    # in inches ribbon is priced by the yard of 0.9144 m
    inches = cost_of(
        small_recipe.recipe(unit="in"), Ask(2), rates, small_recipe.sheet_for_each_piece
    )
    yard = unit_cost_for(D("3.065"), "tie", inches, price)
    assert (round(yard.now, 9), round(yard.needed, 9)) == (D("0.18288"), D("0.27432"))
    # with card for nothing the two cost 5.02
    assert unit_cost_for(D("2.51"), "body", job, price).needed == 0
    with pytest.raises(TargetOutOfReach, match=r"costs 5\.02\. The price allows 5\.00"):
        unit_cost_for(D("2.50"), "body", job, price)


def test_room_above_the_price_is_said_too():
    job, price = sixty()
    assert minutes_for(D("11.20"), "finish", job, price, RATES).needed > 6
    assert wage_for(D("11.20"), job, price, RATES).needed > 15


@pytest.mark.parametrize(
    ("ask", "said"),
    [
        (lambda job, price: minutes_for(D(5), "check", job, price, RATES), "at zero"),
        (lambda job, price: minutes_for(D(10), "dance", job, price, RATES), "no step"),
        (lambda job, price: wage_for(D(3), job, price, RATES), "at zero"),
        (lambda job, price: unit_cost_for(D(9), "P", job, price), "at zero"),
        (lambda job, price: unit_cost_for(D(9), "Z", job, price), "No material"),
        (lambda job, price: margin_for(D("7.84"), job, price), "below the lowest price"),
        (lambda job, price: margin_for(D(0), job, price), "below the lowest price"),
        (lambda job, price: minutes_for(D("0.01"), "body", job, price, RATES), "cover the fees"),
    ],
)
def test_what_cannot_bring_the_price_there_says_why(ask, said):
    job, price = sixty()
    with pytest.raises(TargetOutOfReach, match=said):
        ask(job, price)


def test_a_margin_that_leaves_just_nothing_reaches_no_price():
    rates, ask = small_recipe.rates(), Ask(10)
    job = cost_of(small_recipe.recipe(), ask, rates, small_recipe.sheet_for_each_piece)
    price = price_at(D(9), job, ask, small_recipe.channel(TierRates(margin=D(1))), rates)
    with pytest.raises(TargetOutOfReach, match="add up to 100% or more"):
        minutes_for(D(8), "fold", job, price, rates)


@pytest.mark.parametrize("digits", [0, 2, 3])
def test_amounts_are_told_in_the_coins_of_the_currency(digits):
    rates = replace(RATES, currency_digits=digits)
    job, price, _ = priced(60, rates=rates)
    # 3.00 x 60 / 1.2 x 0.729 - 0.40 (two payments) = 108.95 may be spent
    with pytest.raises(TargetOutOfReach) as refused:
        wage_for(D(3), job, price, rates)
    said = {0: "109", 2: "108.95", 3: "108.950"}[digits]
    assert refused.value.message.endswith(f"The price allows {said}.")


def test_a_job_without_work_does_not_depend_on_the_wage():
    idle = small_recipe.recipe(steps=())
    job = cost_of(idle, Ask(2), small_recipe.rates(), small_recipe.sheet_for_each_piece)
    price = price_for(job, Ask(2), small_recipe.channel(), small_recipe.rates())
    with pytest.raises(TargetOutOfReach, match="doesn't depend"):
        wage_for(D(1), job, price, small_recipe.rates())


@given(
    st.integers(1, 200),
    st.decimals("0.5", 30, places=2),
    st.decimals(0, "0.5", places=2),
    st.booleans(),
)
def test_the_answer_always_gives_the_wanted_price_or_says_no(quantity, wanted, margin, is_rush):
    workshop = small_recipe.rates(tax_rate=D("0.2"))
    stall = with_tiers(
        small_recipe.channel(rush_share=D("0.25")), margin=margin, fixed_fee=D("0.30")
    )
    ask = Ask(quantity, is_rush=is_rush)

    def made(minutes):
        recipe = small_recipe.recipe(
            steps=(RecipeStep("set up", Basis.JOB, D(10)), RecipeStep("fold", Basis.MADE, minutes))
        )
        job = cost_of(recipe, ask, workshop, small_recipe.sheet_for_each_piece)
        return job, price_for(job, ask, stall, workshop)

    try:
        needed = minutes_for(wanted, "fold", *made(D(3)), workshop).needed
    except TargetOutOfReach:
        assert made(D(0))[1].price_exact > wanted
    else:
        assert abs(made(needed)[1].price_exact - wanted) < HAIR


def test_the_smallest_quantity_at_a_price_is_on_the_list():
    plan_once = lru_cache(maxsize=None)(plan_cuts)
    every_quantity = every_quantity_of(
        worked_case.recipe(), Ask(1), worked_case.channel(), RATES, plan_once, up_to=30
    )
    found = quantity_for(D("14.45"), every_quantity)
    assert found.needed == 12
    assert every_quantity.row(11).price_each > D("14.45") >= every_quantity.row(12).price_each
    with pytest.raises(TargetOutOfReach):
        quantity_for(D(5), every_quantity)


def test_the_largest_size_that_fits_a_price_by_trying_them_all():
    rates, channel = small_recipe.rates(), small_recipe.channel()
    recipe = small_recipe.recipe(steps=(), fixings=())

    def price_of(smaller):
        job = cost_of(smaller, Ask(8), rates, plan_cuts)
        return price_for(job, Ask(8), channel, rates).price_each

    # a piece of 150 x 100 lies four times on a sheet of 300 x 200, nine times at 66 % of its size
    prices = {percent: price_of(at_size(recipe, percent)) for percent in range(50, 101)}
    assert len(set(prices.values())) > 1
    for wanted in sorted(set(prices.values())):
        largest = max(percent for percent, price in prices.items() if price <= wanted)
        assert size_for(wanted, recipe, price_of).needed == largest
    with pytest.raises(TargetOutOfReach):
        size_for(min(prices.values()) - D("0.01"), recipe, price_of)


def test_pieces_shrink_in_both_directions_and_nothing_else_does():
    recipe = worked_case.recipe()
    smaller = at_size(recipe, 50)
    assert smaller.pieces[0].width_mm * 2 == recipe.pieces[0].width_mm
    assert smaller.pieces[0].height_mm * 2 == recipe.pieces[0].height_mm
    assert replace(smaller, pieces=recipe.pieces) == recipe


def test_the_three_floors_of_the_worked_bag():
    job, price = sixty()
    floors = floors_of(job, price, worked_case.rates())
    # in whole cents that pay: 7.8484 by the worked case; without 72.752636 of overhead
    # (311.428192) / 0.979 x 1.2 / 60 = 6.3622; without 259.830843 of wage too
    # (51.597349) / 0.979 x 0.02 = 1.0541
    assert (floors.floor_each, floors.walk_away_each, floors.bills_each) == (
        D("7.85"),
        D("6.37"),
        D("1.06"),
    )
    assert floors.floor_each == price.floor_each >= D(CASE_60["f.unit"])


# Source: OpenStax, Principles of Accounting 2, section 10.2: a special order must pay 750 of
# material, 600 of labour and 300 of what else it adds; what is fixed anyway does not count
def test_published_special_order_is_worth_taking_above_what_it_adds():
    recipe = small_recipe.recipe(
        pieces=(),
        materials={"tie": replace(small_recipe.RIBBON, waste_share=D(0))},
        fixings=(RecipeFixing("tie", "tie", D(1050) / D("0.20")),),
        steps=(RecipeStep("make", Basis.MADE, D(60)),),
    )
    rates = small_recipe.rates(wage_per_hour=D(600), overhead_per_hour=D(400))
    job = cost_of(recipe, Ask(800), rates, small_recipe.sheet_for_each_piece)
    price = price_for(job, Ask(800), small_recipe.channel(), rates)
    assert floors_of(job, price, rates).walk_away_each == 1650
    assert floors_of(job, price, rates).floor_each == 2050


def test_a_quantity_is_asked_for_beside_the_first_of_the_list():
    # the job is 3.00 and 1.51 each, a quarter is margin: 6.02 for one, 4.02 for two, 3.35 for three
    every_quantity = every_quantity_of(
        small_recipe.recipe(),
        Ask(1),
        small_recipe.channel(),
        small_recipe.rates(),
        small_recipe.sheet_for_each_piece,
        up_to=3,
    )
    found = quantity_for(D("3.50"), every_quantity)
    assert (found.now, found.needed, found.unit) == (1, 3, "piece")
