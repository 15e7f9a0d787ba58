"""What is kept of a price gives the same cost and price again, also after a trip through JSON."""

import json
from dataclasses import replace
from decimal import Decimal

import pytest

from pricing.calc.price.ingredients import (
    UnreadableIngredients,
    as_form_2,
    as_plain,
    at_costs,
    from_plain,
)
from tests.calc import worked_case
from tests.calc.kept_prices import dearer, kept, priced

D = Decimal
HAIR = D("1e-24")


@pytest.mark.parametrize("quantity", [1, 12, 60, 250])
def test_kept_ingredients_cost_and_price_the_same(quantity):
    job, price, ingredients = priced(quantity)
    case = worked_case.CASE["cases"][str(quantity)]
    assert abs(ingredients.cost - D(str(case["C"]))) < HAIR
    assert abs(ingredients.price_exact - price.price_exact) < HAIR
    assert ingredients.minutes == job.minutes
    left = ingredients.left_at(price.price_each)
    assert (left.fees, left.tax, left.total) == (price.fees, price.tax, price.total)
    assert abs(left.profit - price.profit) < HAIR
    assert abs(left.floor_each - price.floor_each) < HAIR


def test_they_come_back_from_json_as_they_went():
    _, _, ingredients = priced(60, is_rush=True, delivery=D("7.50"))
    text = json.dumps(as_plain(ingredients))
    assert from_plain(json.loads(text)) == ingredients
    assert "E-" not in text
    assert "NaN" not in text


def as_form_1(plain):
    """Write what is kept today as it was kept before buyers were told apart."""
    (tier,) = plain["channel"]["tiers"]
    names = {"bought_at_once": "from_quantity", "payments_per_sale": "payments"}
    tier = {names.get(key, key): value for key, value in tier.items()}
    rest = {key: value for key, value in plain.items() if key != "bought_at_once"}
    return rest | {"form": 1, "channel": {**plain["channel"], "tiers": [tier]}}


def test_what_was_kept_in_form_1_is_read_with_the_names_of_today():
    ingredients = replace(kept(12), bought_at_once=None)
    before = as_form_1(as_plain(ingredients))
    assert "from_quantity" in before["channel"]["tiers"][0]
    assert as_form_2(before) == as_plain(ingredients)
    assert from_plain(before) == ingredients
    assert as_form_2(as_plain(ingredients)) == as_plain(ingredients)


@pytest.mark.parametrize("channel", [{}, {"tiers": None}, {"tiers": ["fair"]}, "stall", None])
def test_a_malformed_channel_of_form_1_is_left_to_be_refused(channel):
    before = as_form_1(as_plain(kept(12))) | {"channel": channel}
    assert as_form_2(before)["channel"] == channel
    with pytest.raises(UnreadableIngredients):
        from_plain(before)


@pytest.mark.parametrize(
    "broken",
    [
        {},
        {"form": 99},
        {"quantity": None},
        {"items": [{"kind": "cloud"}]},
        {"items": 3},
        {"delivery": "much"},
        {"work": [{"name": "fold"}]},
    ],
)
def test_what_cannot_be_read_is_refused(broken):
    plain = as_plain(kept(12))
    with pytest.raises(UnreadableIngredients):
        from_plain(plain | broken if broken else {})


def test_the_same_amounts_at_todays_costs_are_what_costing_anew_gives():
    recipe = dearer(worked_case.recipe(), "P", "0.15")
    rates = replace(worked_case.rates(), wage_per_hour=D(17))
    anew = kept(60, recipe=recipe, rates=rates)
    unit_costs = {str(m.identity): m.cost.value for m in recipe.materials.values()}
    found = at_costs(kept(60), unit_costs, rates=rates, channel=worked_case.channel())
    assert found.cost == anew.cost
    assert found.price_exact == anew.price_exact
    fair = replace(worked_case.channel(), bought_at_once=None)
    in_fives = at_costs(kept(60), {}, rates=rates, channel=fair, bought_at_once=5)
    assert (in_fives.bought_at_once, found.bought_at_once) == (5, kept(60).bought_at_once)
    # nothing is known of this one any more: it keeps its cost
    known = {key: cost for key, cost in unit_costs.items() if key != "1"}
    assert at_costs(kept(60), known, rates=rates, channel=worked_case.channel()).cost < anew.cost
