"""Prices with everything they were worked out from, for tests that lay two of them side by side."""

from dataclasses import replace
from decimal import Decimal
from functools import lru_cache

from catalogue.calc.cutting.planning import plan_cuts
from pricing.calc.costing.cost import cost_of
from pricing.calc.costing.rates import Ask
from pricing.calc.price.ingredients import ingredients_of
from pricing.calc.price.price import price_at, price_for
from tests.calc import small_recipe, worked_case

D = Decimal
plan_once = lru_cache(maxsize=None)(plan_cuts)


def priced(
    quantity=60,
    *,
    recipe=None,
    channel=None,
    rates=None,
    price_each=None,
    planner=plan_once,
    **asked,
):
    """Cost and price a job of the worked case (or of what is given); return all three."""
    ask = Ask(quantity, **asked)
    recipe = recipe or worked_case.recipe()
    channel, rates = channel or worked_case.channel(), rates or worked_case.rates()
    job = cost_of(recipe, ask, rates, planner)
    if price_each is None:
        price = price_for(job, ask, channel, rates)
    else:
        price = price_at(D(price_each), job, ask, channel, rates)
    return job, price, ingredients_of(job, price, ask, channel, rates)


def kept(*args, **options):
    return priced(*args, **options)[2]


def small(quantity=2, **options):
    """Return the ingredients of the small recipe, one sheet for each piece."""
    values = {
        "recipe": small_recipe.recipe(),
        "channel": small_recipe.channel(),
        "rates": small_recipe.rates(),
        "planner": small_recipe.sheet_for_each_piece,
    }
    return kept(quantity, **(values | options))


def dearer(recipe, role, by_share):
    """Return the recipe with the material of a role dearer."""
    material = recipe.materials[role]
    cost = replace(material.cost, value=material.cost.value * (1 + D(by_share)))
    return replace(recipe, materials={**recipe.materials, role: replace(material, cost=cost)})


def with_minutes(recipe, **minutes):
    """Return the recipe with other minutes for the steps named."""
    steps = tuple(
        replace(step, minutes=D(minutes.get(step.name, step.minutes))) for step in recipe.steps
    )
    return replace(recipe, steps=steps)


def with_tiers(channel, **values):
    """Return the channel with something else in all its tiers."""
    return replace(channel, tiers=tuple(replace(tier, **values) for tier in channel.tiers))
