"""What the bench sheet says: the counts and minutes of the price, without its money."""

from dataclasses import replace
from decimal import Decimal
from functools import lru_cache

import pytest
from hypothesis import given, settings

from catalogue.calc.cutting.planning import plan_cuts
from catalogue.calc.recipes.parts_list import parts_for
from catalogue.calc.recipes.recipe import Basis, RecipeFixing, RecipePiece, RecipeStep
from pricing.calc.costing.cost import cost_of
from pricing.calc.costing.rates import Ask
from pricing.calc.orders.groups import NothingOrdered
from pricing.calc.orders.order import OrderedLine, cost_of_order
from pricing.calc.papers.bench import bench_batches
from tests.calc import small_recipe, worked_case
from tests.calc.random_orders import by_area, orders
from tests.calc.small_recipe import CARD, RIBBON, D, sheet_for_each_piece

plan_once = lru_cache(maxsize=None)(plan_cuts)


def batches(recipe, quantity, **ask):
    return bench_batches([OrderedLine(recipe, Ask(quantity, **ask))], sheet_for_each_piece)


@pytest.mark.parametrize("quantity", [1, 12, 60, 250])
def test_it_counts_what_the_worked_case_was_costed_with(quantity):
    """`worked_case` was worked by hand; its cost is tested against that elsewhere."""
    ask, recipe = worked_case.ask(quantity), worked_case.recipe()
    job = cost_of(recipe, ask, worked_case.rates(), plan_once)
    parts = parts_for(recipe, ask.quantity, ask.choices, ask.names)
    (batch,) = bench_batches([OrderedLine(recipe, ask)], plan_once)
    assert (batch.made, batch.spares) == (parts.made, parts.spares)
    assert batch.minutes == pytest.approx(job.minutes, abs=Decimal("1e-25"))
    assert [(cut.piece.name, cut.count) for cut in batch.cuts] == [
        (cut.piece.name, cut.count) for cut in parts.cuts
    ]
    assert sum(count for _, count in batch.sheets) == job.sheets
    used: dict[str, Decimal] = {}
    for use in batch.uses:
        used[use.material] = used.get(use.material, D(0)) + use.amount
    wanted: dict[str, Decimal] = {}
    for use in parts.uses:
        wanted[use.material.name] = wanted.get(use.material.name, D(0)) + use.amount
    assert used == wanted
    worked = {each.step.name: (each.count, each.minutes) for each in job.work.steps if each.count}
    told = {
        each.step.name: (each.count, each.minutes) for each in batch.steps if not each.is_waiting
    }
    assert told.keys() == worked.keys()
    for name, (count, minutes) in worked.items():
        assert told[name][0] == count, name
        assert told[name][1] == pytest.approx(minutes, abs=Decimal("1e-25")), name


@settings(max_examples=40)
@given(orders())
def test_the_minutes_of_the_batches_are_those_of_the_order(lines):
    order = cost_of_order(lines, small_recipe.rates(), by_area)
    told = bench_batches(lines, by_area)
    assert sum(batch.minutes for batch in told) == pytest.approx(order.minutes, abs=D("1e-20"))
    assert [batch.recipe.name for batch in told] == [group.recipe.name for group in order.groups]
    assert [batch.made for batch in told] == [group.made for group in order.groups]


def test_a_material_without_a_cost_is_cut_all_the_same():
    recipe = small_recipe.recipe(
        materials={"body": replace(CARD, cost=None), "tie": replace(RIBBON, cost=None)}
    )
    (batch,) = batches(recipe, 10)
    assert batch.cuts[0].count == 10
    assert batch.minutes == 10 + 10 * 3


def test_lengths_are_cut_from_a_reel_and_waiting_takes_no_minutes():
    recipe = small_recipe.recipe(
        fixings=(
            RecipeFixing("handles", "tie", D("0.6"), cut_mm=D(300), cut_count=2),
            RecipeFixing("bow", "tie", D("0.4")),
        ),
        steps=(
            RecipeStep("fold", Basis.MADE, D(2)),
            RecipeStep("dry", Basis.RACK, D(30), per=8, times=2),
            RecipeStep("under weights", Basis.NIGHT, per=15),
            RecipeStep("letter", Basis.NAME, D(4)),
        ),
        reject_share=D("0.1"),
    )
    (batch,) = batches(recipe, 20, names=5)
    assert (batch.made, batch.spares) == (22, 2)
    handles, bow = batch.uses
    # 22 made x 2 of 300 mm, 10 % waste: 22 x 0.6 m x 1.1
    assert (handles.cuts, handles.cut_mm, handles.amount) == (44, D(300), D("14.52"))
    assert (bow.cuts, bow.amount) == (0, D("9.68"))
    fold, dry, weights, letter = batch.steps
    assert (fold.count, fold.minutes) == (22, 44)
    # 22 / 8, up: three loads, each twice 30 minutes; 22 / 15, up: two nights
    assert (dry.count, dry.waits, dry.minutes, dry.is_waiting) == (3, 60, 0, True)
    assert (weights.count, weights.waits, weights.minutes) == (2, 0, 0)
    assert (letter.count, letter.minutes) == (5, 20)


def test_lines_of_one_recipe_are_one_batch_and_each_colour_is_cut_for_itself():
    blue = small_recipe.recipe(
        materials={"body": replace(CARD, name="blue card", id=9), "tie": RIBBON}
    )
    lines = [
        OrderedLine(small_recipe.recipe(), Ask(10), group=1),
        OrderedLine(blue, Ask(5), group=1),
        OrderedLine(small_recipe.recipe(name="tag"), Ask(3), group=2),
    ]
    boxes, tags = bench_batches(lines, sheet_for_each_piece)
    assert [(line.place, line.quantity) for line in boxes.lines] == [(0, 10), (1, 5)]
    assert [(cut.material, cut.count, cut.places) for cut in boxes.cuts] == [
        ("card", 10, (0,)),
        ("blue card", 5, (1,)),
    ]
    assert [step.step.name for step in boxes.steps] == ["set up", "fold"]
    assert boxes.steps[0].count == 1
    assert tags.cuts[0].count == 3


def test_a_die_cut_piece_counts_its_passes():
    recipe = small_recipe.recipe(
        pieces=(RecipePiece("panel", "body", D(60), D(60), count=2, is_die_cut=True),),
        steps=(RecipeStep("die-cut", Basis.PASS, D("0.5"), per=3),),
    )
    (batch,) = batches(recipe, 20)
    # 40 shapes, three to a pass
    assert (batch.steps[0].count, batch.steps[0].minutes) == (14, 7)


def test_nothing_ordered_has_no_sheet():
    with pytest.raises(NothingOrdered):
        bench_batches([], sheet_for_each_piece)
