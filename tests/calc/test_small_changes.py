"""What one more of anything costs, and what to attack first: each checked by costing anew."""

from dataclasses import replace
from decimal import Decimal

import pytest

from catalogue.calc.recipes.recipe import Basis, RecipeFixing, RecipeStep, RecipeWear
from maker.calc.refusal import Refusal
from pricing.calc.costing.cost import cost_of
from pricing.calc.costing.rates import Ask
from pricing.calc.price.price import price_for
from pricing.calc.what_if.attack import NotAShare, attack_list
from pricing.calc.what_if.what_ifs import (
    material_up,
    one_more_minute,
    one_more_sheet,
    one_more_unit,
    wage_up,
)
from tests.calc import small_recipe, worked_case
from tests.calc.kept_prices import dearer, plan_once, priced, with_minutes
from tests.calc.test_cost_range import estimated

D = Decimal
HAIR = D("1e-20")
RATES = worked_case.rates()
QUANTITIES = [1, 12, 60, 250]


def both(quantity, **changes):
    job, price, _ = priced(quantity, **changes)
    return job, price


@pytest.mark.parametrize("quantity", QUANTITIES)
def test_one_more_minute_is_a_step_of_one_minute_more(quantity):
    job, price = both(quantity)
    recipe = worked_case.recipe()
    slower = replace(recipe, steps=(*recipe.steps, RecipeStep("think", Basis.MADE, D(1))))
    _, anew = both(quantity, recipe=slower)
    change = one_more_minute(job, price, RATES)
    assert abs(change.price_change - (anew.price_exact - price.price_exact)) < HAIR


@pytest.mark.parametrize("role", ["P", "R", "T"])
@pytest.mark.parametrize("quantity", QUANTITIES)
def test_one_more_sheet_is_a_plan_that_needs_one_more(quantity, role):
    job, price = both(quantity)
    one_less_careful = worked_case.recipe().materials[role].name

    def plan(cutting):
        found = plan_once(cutting)
        more = cutting.sheets[0].name == one_less_careful
        return replace(found, sheet_count=found.sheet_count + more)

    anew = cost_of(worked_case.recipe(), Ask(quantity), RATES, plan)
    # a blade and the minutes of cutting go with the sheet
    assert anew.sheets == job.sheets + 1
    change = one_more_sheet(job, price, RATES, role)
    assert abs(change.cost_change - (anew.cost - job.cost)) < HAIR
    repriced = price_for(anew, Ask(quantity), worked_case.channel(), RATES)
    assert abs(change.price_change - (repriced.price_exact - price.price_exact)) < HAIR


@pytest.mark.parametrize("role", ["dot", "glue", "twine"])
def test_one_more_unit_is_a_fixing_that_takes_one_more(role):
    job, price = both(60)
    recipe = worked_case.recipe()
    fixings = tuple(
        replace(each, amount=each.amount + 1) if each.role == role else each
        for each in recipe.fixings
    )
    _, anew = both(60, recipe=replace(recipe, fixings=fixings))
    change = one_more_unit(job, price, role)
    assert abs(change.price_change - (anew.price_exact - price.price_exact)) < HAIR
    with pytest.raises(Refusal):
        one_more_unit(job, price, "P")


def test_one_more_wage_and_a_dearer_material_are_what_costing_anew_says():
    job, price = both(60)
    _, paid = both(60, rates=replace(RATES, wage_per_hour=D(16)))
    wage = wage_up(job, price)
    assert abs(wage.price_change - (paid.price_exact - price.price_exact)) < HAIR
    _, dear = both(60, recipe=dearer(worked_case.recipe(), "glue", "0.10"))
    glue = material_up(job, price, "glue", D("0.10"))
    assert abs(glue.price_change - (dear.price_exact - price.price_exact)) < HAIR


def attacks(quantity=60, could_go=None):
    job, price = both(quantity, recipe=estimated(worked_case.recipe()))
    found = attack_list(job, price, RATES, could_go)
    return {each.key: each for each in found}, found, price


def test_the_list_starts_with_what_saves_most():
    _, found, _ = attacks()
    savings = [each.saving_each for each in found]
    assert savings == sorted(savings, reverse=True)
    # finishing may take 4.8 instead of 6.0 of 16.1 minutes: nothing else comes near
    assert found[0].key == "step.finish"
    assert found[0].could_go == D("0.2")


def test_what_a_step_saves_is_the_price_at_its_low_estimate():
    by_key, _, price = attacks()
    for step, low in (("finish", "4.8"), ("body", "4.2")):
        _, quick = both(60, recipe=with_minutes(worked_case.recipe(), **{step: low}))
        saved = price.price_exact - quick.price_exact
        assert abs(by_key[f"step.{step}"].saving_each - saved) < HAIR
    # no low estimate: nothing is known to go
    assert by_key["step.check"].could_go == 0


def test_waste_of_sheets_and_glue_by_the_worked_case():
    by_key, _, price = attacks()
    waste = D(worked_case.CASE["cases"]["60"]["waste.P"])
    assert round(by_key["sheet.P"].could_go, 4) == waste
    # 15 % on top is 0.15 / 1.15 of what is used
    assert by_key["use.glue"].could_go == pytest.approx(D("0.15") / D("1.15"), abs=HAIR)
    no_waste = replace(
        worked_case.recipe(),
        materials={
            name: replace(material, waste_share=D(0))
            for name, material in worked_case.recipe().materials.items()
        },
    )
    _, clean = both(60, recipe=no_waste)
    saved = by_key["use.glue"].saving_each + by_key["use.twine"].saving_each
    assert abs(saved - (price.price_exact - clean.price_exact)) < HAIR


def test_spares_that_are_not_needed():
    by_key, _, _ = attacks()
    # 3 of 63: other materials, and minutes by hand at 0.32
    made = D("20.938806") + D("746.42337") * D("0.32")
    assert by_key["spares"].cost == pytest.approx(made * 3 / 63, abs=D("1e-6"))
    assert "spares" not in attacks(1)[0]


def test_the_shares_of_all_but_spares_are_the_whole_cost():
    by_key, _, _ = attacks()
    assert abs(sum(each.share for key, each in by_key.items() if key != "spares") - 1) < HAIR


def test_she_may_say_how_much_could_go():
    by_key, found, _ = attacks(could_go={"packing": D(1), "step.finish": D(0)})
    assert by_key["packing"].could_go == 1
    assert by_key["step.finish"].saving_each == 0
    assert found[0].key != "step.finish"
    with pytest.raises(NotAShare):
        attacks(could_go={"wear": D("1.1")})


def test_wear_counts_when_there_is_any():
    recipe = replace(worked_case.recipe(), wears=(RecipeWear("mat", Basis.JOB, D(3), D(2)),))
    job, price = both(60, recipe=recipe)
    wear = next(each for each in attack_list(job, price, RATES) if each.key == "wear")
    assert wear.cost == D("1.5")


def test_all_that_is_wasted_of_a_material_could_go():
    # ribbon: 1 m with a half more, 2 m with the material's own tenth: 0.5 and 0.2 of 3.7
    tie = RecipeFixing("tie", "tie", D(1), waste_share=D("0.5"))
    made = small_recipe.recipe(fixings=(tie, RecipeFixing("bow", "tie", D(2))))
    rates = small_recipe.rates()
    job = cost_of(made, Ask(1), rates, small_recipe.sheet_for_each_piece)
    price = price_for(job, Ask(1), small_recipe.channel(), rates)
    ribbon = next(each for each in attack_list(job, price, rates) if each.key == "use.tie")
    assert ribbon.cost == D("0.74")
    assert round(ribbon.could_go * D("3.7"), 20) == D("0.7")
