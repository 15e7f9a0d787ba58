"""What offcuts are worth in a cost: nothing, or the share of the sheet they are kept of."""

from dataclasses import replace
from decimal import Decimal

import pytest

from catalogue.calc.cutting.job import Layout, Placement, PlannedOffcut, SheetPlan
from catalogue.calc.cutting.planning import plan_cuts
from catalogue.calc.recipes.recipe import RecipePiece
from catalogue.calc.sheets.use import kept_offcuts
from pricing.calc.costing.cost import cost_of
from pricing.calc.costing.rates import Ask
from pricing.calc.price.ingredients import ingredients_of
from pricing.calc.price.price import price_for
from pricing.calc.what_if.what_ifs import material_up
from tests.calc import worked_case
from tests.calc.small_recipe import channel, rates, recipe

D = Decimal
# CARD is 300 x 200 mm at 0.50: one piece of 150 x 100 leaves three quarters of the sheet
ONE = recipe(pieces=(RecipePiece("body", "body", D(150), D(100)),), fixings=(), steps=())


def cost(least_mm, made_from=ONE, quantity=1, plan=plan_cuts):
    ruled = rates(offcut_least_mm=None if least_mm is None else D(least_mm))
    return cost_of(made_from, Ask(quantity), ruled, plan)


def test_by_default_offcuts_are_worth_nothing():
    job = cost(None)
    assert job.sheets_cost == D("0.50")
    assert job.offcuts == ()
    assert job.explanation.find("c.sheets").how == "1 whole sheets, offcuts not credited"


def test_large_offcuts_are_credited_by_area():
    job = cost(50)
    # 0.50 x (1 - 150 x 100 / (300 x 200)) = 0.375 come back
    assert job.sheets_cost == D("0.125")
    (kept,) = job.offcuts
    assert kept.sheets == D("0.75")
    line = job.explanation.find("c.offcuts.card")
    assert line.value == D("-0.375")
    assert line.label == f"card: {kept.count} offcut{'s' if kept.count > 1 else ''} kept"
    assert "both sides at least 50 mm" in str(line.how)
    # the sheets are bought whole all the same
    assert [need.amount for need in job.needs] == [1]
    assert sum(each.number for each in job.explanation.find("c.sheets").lines) == D("0.125")


def test_what_is_kept_of_a_price_has_its_offcuts_taken_off():
    job, workshop = cost(50), rates(offcut_least_mm=D(50))
    price = price_for(job, Ask(1), channel(), workshop)
    kept = ingredients_of(job, price, Ask(1), channel(), workshop)
    # one sheet, of which three quarters come back
    assert [(item.name, item.amount) for item in kept.items] == [("card", D("0.25"))]
    assert kept.cost == job.cost == D("0.125")


def test_an_offcut_with_one_short_side_is_not_kept():
    strip = recipe(pieces=(RecipePiece("body", "body", D(300), D(160)),), fixings=(), steps=())
    # what is left is 300 x 40
    assert cost(40, strip).sheets_cost == D("0.40")
    assert cost("40.000001", strip).sheets_cost == D("0.50")
    assert cost("40.000001", strip).offcuts == ()


@pytest.mark.parametrize("quantity", [1, 3, 4, 5, 9])
def test_a_sheet_is_never_charged_below_what_is_used_of_it(quantity):
    used = quantity * D(150 * 100) / D(300 * 200) * D("0.50")
    assert used <= cost(1, quantity=quantity).sheets_cost <= cost(None, quantity=quantity).cost


def test_offcuts_that_overlap_are_not_credited_twice():
    def overlapping(job):
        whole = PlannedOffcut(D(0), D(100), D(300), D(100))
        placed = Placement("body", D(0), D(0), D(150), D(100), turned=False)
        layout = Layout("card", 2, (placed,), (whole, whole), D(100))
        return SheetPlan(2, D(2), D(2), True, "as given", 0.0, (layout,))

    # 2 x 300 x 100 would be the whole sheet; a quarter of each is used
    assert cost(50, plan=overlapping).sheets_cost == 2 * D("0.50") / 4


def test_inches_of_a_plan_are_measured_in_mm():
    bag = replace(worked_case.recipe(), unit="in")
    job = cost_of(bag, Ask(60), worked_case.rates(), plan_cuts)
    plan = job.sheet_uses[0].plan
    assert plan.unit_mm == D("25.4")
    # no offcut is as long as a sheet of 12 in is wide and high, every one is longer than nothing
    assert kept_offcuts(plan, D("304.8")).count == 0
    # the largest of them is kept when it is just as large as asked, not a hair larger
    largest = max(min(o.width, o.height) for each in plan.plan.layouts for o in each.offcuts)
    assert kept_offcuts(plan, largest * D("25.4")).count > 0
    assert kept_offcuts(plan, largest * D("25.4") + D("0.001")).count == 0
    everything = sum(len(each.offcuts) * each.times for each in plan.plan.layouts)
    assert kept_offcuts(plan, D(0)).count == everything


def test_dearer_card_counts_only_what_is_charged():
    job = cost(50)
    price = price_for(job, Ask(1), channel(), rates())
    assert material_up(job, price, "body", D("0.10")).cost_change == D("0.0125")
