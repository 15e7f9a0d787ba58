"""Offcuts that are credited count the same on the list, in its cliffs and on the attack list."""

from dataclasses import replace
from decimal import Decimal

import pytest

from catalogue.calc.cutting.planning import plan_cuts
from catalogue.calc.recipes.recipe import Basis, RecipeFixing, RecipePiece, RecipeStep
from pricing.calc.costing.cost import cost_of
from pricing.calc.costing.rates import Ask
from pricing.calc.price.price import price_for
from pricing.calc.quantities.cliffs import PricedQuantity, cliff_between
from pricing.calc.quantities.every_quantity import every_quantity_of
from pricing.calc.what_if.attack import attack_list
from tests.calc.kept_prices import plan_once, priced
from tests.calc.small_recipe import channel, rates, recipe

D = Decimal
HAIR = D("1e-20")
# CARD is 300 x 200 mm at 0.50, one way: two pieces of 150 x 120 on a sheet leave 300 x 80
TWO_ON_A_SHEET = recipe(pieces=(RecipePiece("body", "body", D(150), D(120)),))
KEPT = rates(offcut_least_mm=D(50))


def quote(quantity, made_from=TWO_ON_A_SHEET):
    job = cost_of(made_from, Ask(quantity), KEPT, plan_once)
    return PricedQuantity(job, price_for(job, Ask(quantity), channel(), KEPT))


def test_a_row_is_what_costing_that_quantity_alone_gives():
    every_quantity = every_quantity_of(TWO_ON_A_SHEET, Ask(1), channel(), KEPT, plan_cuts, up_to=12)
    for row in every_quantity.rows:
        alone = quote(row.quantity)
        assert alone.cost.offcuts
        assert row.cost == alone.cost.cost
        assert row.worked_out_each == alone.price.price_each
        assert row.sheets == -(-row.quantity // 2)


def test_one_more_sheet_and_its_offcuts_are_told_apart_in_a_cliff():
    # ten minutes of cutting make a new sheet dearer than what comes back of it
    steps = (*TWO_ON_A_SHEET.steps, RecipeStep("cut", Basis.SHEET, D(10)))
    small, large = (quote(each, replace(TWO_ON_A_SHEET, steps=steps)) for each in (6, 7))
    cliff = cliff_between(small, large, KEPT)
    effects = {line.key: line.number for line in cliff.line.lines}
    # no fees: after the cost kinds nothing is left for the terms but the last of 34 digits
    assert abs(effects.get("cliff.terms", D(0))) < HAIR

    def credit(quoted):
        (kept,) = quoted.cost.offcuts
        return -kept.sheets * D("0.50")

    # 0.75 of the price is left for the cost at a margin of a quarter
    by_hand = (credit(large) - credit(small) * 7 / 6) / D("0.75") / 7
    assert abs(effects["cliff.offcuts"] - by_hand) < HAIR
    assert cliff.line.number == cliff.change_each


@pytest.mark.parametrize("quantity", [1, 2, 5, 8])
def test_no_more_can_go_of_a_sheet_than_is_charged_and_not_used(quantity):
    quoted = quote(quantity)
    attacks = attack_list(quoted.cost, quoted.price, KEPT)
    body = next(each for each in attacks if each.key == "sheet.body")
    used = D(150 * 120) / D(300 * 200) * quantity * D("0.50")
    assert abs(body.cost - quoted.cost.sheets_cost) < HAIR
    assert abs(body.saving_each - (body.cost - used) / D("0.75") / quantity) < HAIR
    # nothing is rejected, so what is attacked is the whole cost, once
    assert abs(sum(each.cost for each in attacks) - quoted.cost.cost) < HAIR


def test_spares_take_only_what_goes_into_each_one_made():
    made_from = recipe(
        fixings=(
            RecipeFixing("tie", "tie", D("0.5")),
            RecipeFixing("bundle", "tie", D(3), basis=Basis.JOB),
            RecipeFixing("bow", "tie", D("0.4"), basis=Basis.GOOD),
        ),
        steps=(RecipeStep("fold", Basis.MADE, D(3)),),
        reject_share=D("0.1"),
    )
    job, price, _ = priced(20, recipe=made_from, channel=channel(), rates=rates())
    spares = next(each for each in attack_list(job, price, rates()) if each.key == "spares")
    # two spares: 3 min at 0.30 and 0.5 m of ribbon with a tenth of waste at 0.20
    assert abs(spares.cost - 2 * (D("0.90") + D("0.11"))) < HAIR
    without = priced(
        20, recipe=replace(made_from, reject_share=D(0)), channel=channel(), rates=rates()
    )[0]
    saved = job.cost - without.cost - (job.sheets_cost - without.sheets_cost)
    assert abs(spares.cost - saved) < HAIR
