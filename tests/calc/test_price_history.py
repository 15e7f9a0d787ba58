"""Old price to new price in steps: each checked by pricing again, the sum exact to the cent."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.calc.recipes.recipe import (
    Basis,
    Choice,
    RecipeFixing,
    RecipeOption,
    RecipePacking,
    RecipeStep,
    RecipeWear,
    UnitCost,
    When,
)
from maker.calc.money import to_minor
from maker.calc.sums import told
from maker.web.words import sum_writer
from pricing.calc.changes.history import cost_history, price_history, total_history
from pricing.calc.changes.history_words import causes_for_a_customer
from pricing.calc.costing.rates import TierRates
from tests.calc import small_recipe, worked_case
from tests.calc.kept_prices import dearer, kept, small, with_minutes, with_tiers

D = Decimal
HAIR = D("1e-20")


def changes(history):
    return {step.key: step.change for step in history.steps}


def exact(history):
    return {step.key: step.exact for step in history.steps}


def test_patterned_card_15_percent_dearer_by_hand():
    history = price_history(kept(60), kept(60, recipe=dearer(worked_case.recipe(), "P", "0.15")))
    # 10.53994 -> 10.6088 by the worked case: 10.54 to 10.61 in cents;
    # then up to 0.05: 10.55 is 0.01 above its sum, 10.65 is 0.04 above
    assert (history.old, history.new) == (D("10.55"), D("10.65"))
    assert changes(history) == {"price.1": D("0.07"), "rounding": D("0.03")}
    assert round(exact(history)["price.1"], 4) == D("10.6088") - D("10.5399")
    assert str(history.steps[0].how) == "0.522917 → 0.60135455 per sheet"


@pytest.mark.parametrize(
    ("lengths", "price", "use"),
    [
        ("in", "$0.1829 → $0.2286 per yd", "18 in → 54 in per item"),
        ("mm", "$0.20 → $0.25 per m", "0.4572 m → 1.37 m per item"),
    ],
)
def test_ribbon_is_told_in_the_lengths_of_the_workshop(lengths, price, use):
    # 0.20 a metre are 0.18288 a yard (1 yd = 0.9144 m), 0.25 are 0.2286
    sides = [
        kept_ribbon(D("0.20"), D("0.4572")),
        kept_ribbon(D("0.25"), D("1.3716")),
    ]
    said = {
        step.key: told(step.how, sum_writer("USD", "en_US", lengths))
        for step in price_history(*sides).steps
    }
    assert (said["price.2"], said["use.other.2"]) == (price, use)
    exact_words = {step.key: str(step.how) for step in price_history(*sides).steps}
    assert exact_words["use.other.2"] == "0.4572 m → 1.3716 m per item"
    assert exact_words["price.2"] == "0.2 → 0.25 per m"


def kept_ribbon(unit_cost, metres):
    """Return the small box tied with so much of a ribbon of that cost, without waste."""
    ribbon = replace(small_recipe.RIBBON, cost=UnitCost(unit_cost), waste_share=D(0))
    recipe = small_recipe.recipe()
    fixings = (RecipeFixing("tie", "tie", metres, Basis.MADE),)
    return small(
        recipe=replace(recipe, materials={**recipe.materials, "tie": ribbon}, fixings=fixings)
    )


def test_nothing_changed_has_no_steps():
    assert price_history(kept(60), kept(60)).steps == ()
    assert total_history(kept(60), kept(60)).steps == ()


def test_twelve_to_sixty_each_step_by_pricing_again():
    old, new = kept(12), kept(60)
    history = price_history(old, new)
    assert history.change == D("10.55") - D("14.45")
    assert sum(changes(history).values()) == history.change
    # two payments of 0.20 over 60 instead of 12 bags, at 30 % margin: kept 0.679
    fees_spread = (D("0.40") / 60 - D("0.40") / 12) / D("0.679") * D("1.2")
    assert abs(exact(history)["quantity"] - fees_spread) < HAIR
    # a sheet of P a bag: 7/12 -> 32/60
    use_of_p = (D(32) / 60 - D(7) / 12) * D("0.522917") / D("0.679") * D("1.2")
    assert abs(exact(history)["use.sheet.1"] - use_of_p) < HAIR
    minutes = (D("1039.32337") / 60 - D("267.41203") / 12) * D("0.32") / D("0.679") * D("1.2")
    assert abs(exact(history)["minutes"] - minutes) < HAIR
    # margin comes last: the whole new cost at 0.729 instead of 0.679
    cost = D("383.7808284") + D("0.40")
    margin = cost * D("1.2") / 60 * (1 / D("0.729") - 1 / D("0.679"))
    assert abs(exact(history)["margin"] - margin) < D("1e-8")
    assert not {"wage", "tax", "fees"} & set(changes(history))


def test_wage_then_fee_then_tax_each_priced_by_the_whole_machinery():
    rates = worked_case.rates()
    dear_wage = replace(rates, wage_per_hour=D(17))
    new_channel = with_tiers(worked_case.channel(), fee_share=D("0.03"), fixed_fee=D("0.30"))
    new_tax = replace(dear_wage, tax_rate=D("0.25"))
    stages = [
        kept(60),
        kept(60, rates=dear_wage),
        kept(60, rates=dear_wage, channel=new_channel),
        kept(60, rates=new_tax, channel=new_channel),
    ]
    prices = [stage.price_exact for stage in stages]
    history = price_history(stages[0], stages[-1])
    assert list(changes(history)) == ["wage", "fees", "tax", "rounding"]
    for key, before, after in zip(("wage", "fees", "tax"), prices, prices[1:], strict=False):
        assert abs(exact(history)[key] - (after - before)) < HAIR
        assert changes(history)[key] == to_minor(after) - to_minor(before)
    assert sum(changes(history).values()) == history.change


def test_two_versions_with_other_materials_minutes_tools_and_packing():
    old = small(10)
    lined = small_recipe.recipe(
        fixings=(RecipeFixing("tie", "tie", D("0.5")), RecipeFixing("lining", "lining", D(2))),
        materials={
            **small_recipe.recipe().materials,
            "lining": replace(small_recipe.RIBBON, name="lining", id=3),
        },
        wears=(RecipeWear("blade", Basis.SHEET, D("0.60"), D(60)),),
        packings=(RecipePacking("sleeve", "sleeve", cost_each=D("0.06")),),
        steps=(RecipeStep("set up", Basis.JOB, D(10)), RecipeStep("fold", Basis.MADE, D("3.5"))),
    )
    history = cost_history(old, small(10, recipe=lined))
    # ten boxes: 2 x 1.1 m lining x 0.20; blade 0.01; sleeve 0.06; half a minute at 18.00 an hour
    assert exact(history) == {
        "use.other.3": D("0.44"),
        "wear": D("0.01"),
        "packing": D("0.06"),
        "minutes": D("0.15"),
    }
    assert history.change == D("0.66")
    back = cost_history(small(10, recipe=lined), old)
    assert back.change == D("-0.66")
    assert exact(back)["use.other.3"] == D("-0.44")


def test_options_are_a_step_of_their_own_when_asked_for():
    lid = RecipeOption("lid", "Lid", (Choice("no", "no", is_default=True), Choice("yes", "yes")))
    optional = small_recipe.recipe(
        options=(lid,),
        steps=(
            *small_recipe.recipe().steps,
            RecipeStep("lid", Basis.MADE, D(2), when=When(only_with=("lid", "yes"))),
        ),
    )
    with_lid = {"choices": (("lid", "yes"),)}
    paid_better = small_recipe.rates(wage_per_hour=D(15))
    old = small(10, recipe=optional)
    options = small(10, recipe=optional, **with_lid)
    new = small(10, recipe=optional, rates=paid_better, **with_lid)
    history = price_history(old, new, with_options=options)
    assert list(changes(history)) == ["options", "wage"]
    assert abs(exact(history)["options"] - (options.price_exact - old.price_exact)) < HAIR
    assert history.steps[0].how == "lid: no → yes"
    assert sum(changes(history).values()) == history.change
    # without it the two minutes show as minutes
    assert "minutes" in changes(price_history(old, new))


def test_a_price_she_named_is_said_and_still_adds_up():
    history = price_history(kept(60), kept(60, price_each="9.99"))
    assert changes(history) == {"rounding": D("-0.56")}
    assert history.steps[0].label == "you set this price yourself"
    assert history.steps[0].how == "new"


def test_a_fee_that_would_leave_nothing_is_told_together_with_the_margin_that_makes_room():
    old = small(channel=small_recipe.channel(TierRates(margin=D("0.6"))))
    new = small(channel=small_recipe.channel(TierRates(margin=D("0.1"), fee_share=D("0.45"))))
    history = price_history(old, new)
    assert [step.key for step in history.steps if step.key != "rounding"] == ["fees+margin"]
    assert sum(changes(history).values()) == history.change


@pytest.mark.parametrize("inside", [True, False])
def test_totals_of_two_quotes_add_up_with_delivery_and_tax(inside):
    rates = replace(worked_case.rates(), prices_include_tax=inside)
    old = kept(12, rates=rates, delivery=D("4.20"))
    new = kept(60, rates=replace(rates, wage_per_hour=D(16)), delivery=D("9.90"))
    history = total_history(old, new)
    assert history.old == old.left_at(old.price_each).total
    assert history.new == new.left_at(new.price_each).total
    assert sum(changes(history).values()) == history.change
    assert changes(history)["pieces"] == 48 * old.price_each
    assert ("tax_on_top" in changes(history)) is not inside
    assert "delivery" in changes(history)


def test_the_explanation_adds_up_too():
    history = price_history(kept(12), kept(60))
    assert history.line.find("history.change").number == history.change


SHARES = st.decimals(0, "0.3", places=3)
SIDES = st.fixed_dictionaries(
    {
        "quantity": st.sampled_from([1, 2, 7, 30]),
        "card": st.decimals("0.01", 3, places=3),
        "ribbon": st.decimals("0.001", 2, places=3),
        "amount": st.decimals(0, 2, places=2),
        "minutes": st.decimals(0, 9, places=1),
        "wage": st.decimals(0, 30, places=2),
        "overhead": st.decimals(0, 9, places=2),
        "margin": SHARES,
        "fee": SHARES,
        "fixed": st.decimals(0, 1, places=2),
        "commission": SHARES,
        "tax": st.sampled_from([D(0), D("0.07"), D("0.2")]),
        "step": st.sampled_from([D(0), D("0.05"), D("0.50")]),
        "inside": st.booleans(),
        "is_rush": st.booleans(),
        "delivery": st.decimals(0, 9, places=2),
        "digits": st.just(2),
    }
)


def side(values):
    material = small_recipe.CARD, small_recipe.RIBBON
    card, ribbon = (
        replace(each, cost=replace(each.cost, value=values[name]))
        for each, name in zip(material, ("card", "ribbon"), strict=True)
    )
    return small(
        values["quantity"],
        recipe=small_recipe.recipe(
            materials={"body": card, "tie": ribbon},
            fixings=(RecipeFixing("tie", "tie", values["amount"]),),
            steps=(RecipeStep("fold", Basis.MADE, values["minutes"]),),
        ),
        rates=small_recipe.rates(
            wage_per_hour=values["wage"],
            overhead_per_hour=values["overhead"],
            tax_rate=values["tax"],
            prices_include_tax=values["inside"],
        ),
        channel=small_recipe.channel(
            TierRates(
                margin=values["margin"],
                fee_share=values["fee"],
                fixed_fee=values["fixed"],
                price_step=values["step"],
            ),
            commission_share=values["commission"],
            rush_share=D("0.2"),
        ),
        is_rush=values["is_rush"],
        delivery=values["delivery"],
    )


@settings(max_examples=60, deadline=None)
@given(SIDES, SIDES)
def test_whatever_changed_the_steps_add_up(old_values, new_values):
    old, new = side(old_values), side(new_values)
    one = price_history(old, new)
    assert sum(changes(one).values(), D(0)) == new.price_each - old.price_each
    assert abs(sum(exact(one).values(), D(0)) - one.change) < HAIR
    assert all(step.change == to_minor(step.change) for step in one.steps)
    total = total_history(old, new)
    assert sum(changes(total).values(), D(0)) == total.change
    cost = cost_history(old, new)
    assert abs(sum(exact(cost).values(), D(0)) - (new.cost_each - old.cost_each)) < HAIR


def test_slower_hands_are_minutes_and_the_step_is_named():
    slower = with_minutes(worked_case.recipe(), finish="7.0")
    history = cost_history(kept(60), kept(60, recipe=slower))
    # one more minute x 63 made x 0.7359 x 0.32 / 60
    assert exact(history)["minutes"] == pytest.approx(
        D(63) * D("0.7359") * D("0.32") / 60, abs=D("1e-20")
    )
    assert "“finish”" in str(history.steps[0].how)


def test_buyers_of_one_each_share_no_payment_by_hand():
    fee = small_recipe.channel(TierRates(margin=D("0.25"), fixed_fee=D("0.30")))
    old, new = small(12, channel=fee), small(12, channel=fee, bought_at_once=1)
    history = price_history(old, new)
    # eleven payments of 0.30 more, over 12 items at 0.75 kept: 0.3667
    step = history.steps[0]
    assert (step.key, step.label, str(step.how)) == ("buyers", "bought at once", "12 → 1")
    assert abs(step.exact - D("3.30") / 12 / D("0.75")) < HAIR
    assert sum(changes(history).values()) == history.change
    cause = causes_for_a_customer(history)[0]
    assert cause.words == "a smaller number costs more each"
    back = price_history(new, old)
    assert causes_for_a_customer(back)[0].words == "a larger number costs less each"
