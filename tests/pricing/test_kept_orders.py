"""Costs of orders that are kept: the same as worked out, and of nothing but what was asked."""

from dataclasses import fields, replace
from functools import lru_cache

import pytest
from hypothesis import given, settings

from catalogue.calc.cutting.planning import plan_cuts
from catalogue.calc.recipes.recipe import Recipe
from pricing.calc.costing.rates import Ask
from pricing.calc.orders.order import OrderedLine, cost_of_order
from pricing.costs.kept_orders import KeptOrders, content_of
from tests.calc import small_recipe, worked_case
from tests.calc.random_orders import by_area, orders
from tests.calc.small_recipe import D

plan_once = lru_cache(maxsize=None)(plan_cuts)
LINE = OrderedLine(worked_case.recipe(), worked_case.ask(60), "bag")


class Planned(Exception):
    """Sheets were planned, so that the cost was not kept."""


def plans(job):
    raise Planned


@settings(max_examples=40, deadline=None)
@given(orders(), orders())
def test_kept_or_worked_out_an_order_costs_the_same(one, other):
    kept, rates = KeptOrders(8), small_recipe.rates()
    for lines in (one, other, one):
        found, worked = kept.cost_of(lines, rates, by_area), cost_of_order(lines, rates, by_area)
        assert found.cost == worked.cost
        assert found.explanation == worked.explanation
        assert [line.explanation for line in found.lines] == [
            line.explanation for line in worked.lines
        ]


def test_the_bag_costed_by_hand_is_worked_out_once():
    kept, rates = KeptOrders(8), worked_case.rates()
    first = kept.cost_of([LINE], rates, plan_once)
    # read from the database again they are other values that say the same
    again = OrderedLine(worked_case.recipe(), worked_case.ask(60), "bag")
    assert kept.cost_of([again], worked_case.rates(), plans) is first


@pytest.mark.parametrize("name", sorted(field.name for field in fields(Recipe)))
def test_whatever_a_recipe_says_otherwise_makes_it_another(name):
    recipe = LINE.recipe
    value = getattr(recipe, name)
    if name == "materials":
        role = next(iter(value))
        value = {**value, role: replace(value[role], on_hand=value[role].on_hand + 1)}
    elif isinstance(value, tuple):
        value = (*value, "another")
    else:
        value = f"{value}, another" if isinstance(value, str) else value + 1
    assert content_of(replace(recipe, **{name: value})) != content_of(recipe)
    assert content_of(worked_case.recipe()) == content_of(recipe)


@pytest.mark.parametrize(
    ("line", "rates"),
    [
        (replace(LINE, ask=worked_case.ask(61)), worked_case.rates()),
        (replace(LINE, ask=replace(LINE.ask, is_rush=True)), worked_case.rates()),
        (replace(LINE, group="other"), worked_case.rates()),
        (LINE, replace(worked_case.rates(), wage_per_hour=D("17.01"))),
    ],
)
def test_another_ask_or_hour_is_worked_out_anew(line, rates):
    kept = KeptOrders(8)
    first = kept.cost_of([LINE], worked_case.rates(), plan_once)
    assert kept.cost_of([line], rates, plan_once) is not first
    assert kept.cost_of([LINE], worked_case.rates(), plans) is first


def test_what_stands_on_a_plan_that_may_get_better_is_not_kept():
    kept, rates = KeptOrders(8), worked_case.rates()

    def unproven(job):
        return replace(plan_once(job), proven=False)

    first = kept.cost_of([LINE], rates, unproven)
    assert kept.cost_of([LINE], rates, plan_once) is not first


def test_the_longest_unused_is_let_go():
    kept, rates = KeptOrders(2), small_recipe.rates()
    lines = [[OrderedLine(small_recipe.recipe(), Ask(count), "box")] for count in (1, 2, 3)]
    one, two = (kept.cost_of(line, rates, by_area) for line in lines[:2])
    assert kept.cost_of(lines[0], rates, plans) is one
    kept.cost_of(lines[2], rates, by_area)
    assert kept.cost_of(lines[0], rates, plans) is one
    assert kept.cost_of(lines[1], rates, by_area) is not two
