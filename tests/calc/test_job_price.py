"""Prices: margin kept, steps, tax, rush, delivery, deposits, floors, and what cannot be asked."""

import re
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.calc.recipes.recipe import Basis, RecipeFixing, RecipeStep
from maker.calc.money import up_to_step
from maker.calc.refusal import Refusal
from maker.calc.sums import told
from maker.web.words import sum_writer
from pricing.calc.costing.cost import cost_of
from pricing.calc.costing.rates import Ask, TierRates
from pricing.calc.price.figures import explain, figures
from pricing.calc.price.price import price_at, price_for
from pricing.calc.price.terms import BadDelivery, ImpossibleMargin, NoTerms, tier_for
from pricing.calc.what_if.what_ifs import (
    material_up,
    one_more_minute,
    one_more_sheet,
    wage_up,
    what_ifs_for,
)
from tests.calc.small_recipe import CARD, channel, rates, recipe, sheet_for_each_piece
from tests.work import work_of

D = Decimal
TAXED = {"tax_rate": D("0.2")}


def tier(margin="0.25", **values):
    return TierRates(margin=D(margin), **{key: D(value) for key, value in values.items()})


def priced(*tiers, quantity=1, workshop=None, sells=None, made_from=None, **asked):
    """Cost and price a job; `small box` costs 3.01 each when two are made."""
    workshop = workshop or rates()
    ask = Ask(quantity, **asked)
    job = cost_of(made_from or recipe(), ask, workshop, sheet_for_each_piece)
    return job, price_for(job, ask, channel(*tiers, **(sells or {})), workshop)


def test_a_price_by_hand_without_tax_and_fees():
    _, price = priced(quantity=2)
    # 6.02 / (1 - 0.25) / 2 = 4.01333, up to the next cent
    assert price.price_each == D("4.02")
    assert (price.total, price.tax, price.fees) == (D("8.04"), 0, 0)
    assert price.profit == D("2.02")
    assert price.floor_each == D("3.01")
    assert price.margin.quantize(D("0.0001")) == D("0.2512")  # 2.02 / 8.04
    assert price.markup.quantize(D("0.0001")) == D("0.3355")  # 8.04 / 6.02 - 1


def test_not_registered_means_no_tax_line():
    _, price = priced()
    assert "p.tax" not in {line.key for line in price.explanation.walk()}
    _, taxed = priced(workshop=rates(**TAXED))
    assert taxed.explanation.find("p.tax").number == taxed.tax > 0


def test_prices_without_tax_get_it_on_top_and_the_step_is_on_the_net_price():
    steps = tier("0.25", price_step="0.50")
    _, shown_net = priced(steps, quantity=2, workshop=rates(prices_include_tax=False, **TAXED))
    assert shown_net.price_each == D("4.50")
    assert (shown_net.net, shown_net.tax, shown_net.total) == (D("9.00"), D("1.80"), D("10.80"))
    assert shown_net.floor_each == D("3.01")
    _, shown_gross = priced(steps, quantity=2, workshop=rates(**TAXED))
    # 4.01333 x 1.2 = 4.816
    assert shown_gross.price_each == D("5.00")
    assert (shown_gross.net, shown_gross.tax) == (D("8.33"), D("1.67"))
    # 3.01 x 1.2; 3.61 each are 7.22 with a tax of 1.20: 6.02 is left of them
    assert (shown_gross.floor_exact, shown_gross.floor_each) == (D("3.612"), D("3.61"))


@pytest.mark.parametrize(("digits", "price_each", "tax"), [(0, "5", "2"), (3, "4.816", "1.605")])
def test_currencies_without_and_with_three_decimals(digits, price_each, tax):
    _, price = priced(quantity=2, workshop=rates(currency_digits=digits, **TAXED))
    assert (price.price_each, price.tax) == (D(price_each), D(tax))


def test_the_tier_is_that_of_the_quantity():
    tiers = (TierRates(1, D("0.4")), TierRates(12, D("0.3")), TierRates(60, D("0.2")))
    margins = [tier_for(channel(*tiers), n).margin for n in (1, 11, 12, 59, 60, 999)]
    assert margins == [D(share) for share in ("0.4", "0.4", "0.3", "0.3", "0.2", "0.2")]
    with pytest.raises(NoTerms, match="it starts at 12"):
        tier_for(channel(*tiers[1:]), 11)


def test_an_impossible_margin_is_explained_with_its_numbers():
    with pytest.raises(ImpossibleMargin) as refused:
        priced(tier("0.80", fee_share="0.20"), workshop=rates(**TAXED))
    refusal = refused.value
    assert "80%" in refusal.message
    assert "24%" in refusal.message
    assert "104%" in refusal.message
    assert refusal.largest_margin == D("0.76")
    assert refusal.explanation.find("p.den").number == D("-0.04")
    # exactly nothing left is impossible too; a hair under the bound is not
    with pytest.raises(ImpossibleMargin):
        priced(tier("0.76", fee_share="0.20"), workshop=rates(**TAXED))
    _, price = priced(tier("0.7599", fee_share="0.20"), workshop=rates(**TAXED))
    assert price.margin >= D("0.7599")
    with pytest.raises(ImpossibleMargin, match="No price works"):
        priced(tier("0", fee_share="0.9"), workshop=rates(**TAXED))


def test_rush_multiplies_the_price_before_the_step():
    _, usual = priced(quantity=2, sells={"rush_share": D("0.5")})
    _, rushed = priced(quantity=2, sells={"rush_share": D("0.5")}, is_rush=True)
    assert usual.price_each == D("4.02")
    assert rushed.price_each == D("6.02")  # 4.01333 x 1.5
    assert rushed.floor_each == usual.floor_each


def test_delivery_is_passed_on_at_cost_and_earns_nothing():
    terms = tier("0.25", fee_share="0.02", fixed_fee="0.30")
    job, without = priced(terms, quantity=2, workshop=rates(**TAXED))
    _, sent = priced(terms, quantity=2, workshop=rates(**TAXED), delivery=D("5.00"))
    # the goods' price carries the 2 % fee on 6.00: 0.12 / 0.726 x 1.2 / 2 = 0.0992 each
    assert sent.price_exact - without.price_exact == pytest.approx(D("0.0992"), abs=D("0.0001"))
    assert sent.total == sent.price_each * 2 + D("6.00")
    assert sent.net == sent.total - sent.tax - D("5.00")
    assert sent.profit == sent.net - sent.fees - job.cost
    assert sent.margin >= D("0.25")
    with pytest.raises(BadDelivery):
        priced(delivery=D("-1"))


def test_tax_of_goods_and_delivery_together_or_line_by_line():
    # goods 0.33 and delivery 0.33 at 20 % on top: 0.066 each, 0.132 together
    free = recipe(pieces=(), steps=(), fixings=(RecipeFixing("bead", "tie", D("1.5")),))
    asked = {"made_from": free, "delivery": D("0.33")}
    once, by_line = (
        priced(
            tier("0"),
            workshop=rates(prices_include_tax=False, tax_per_line=per_line, **TAXED),
            **asked,
        )[1]
        for per_line in (False, True)
    )
    assert once.net == by_line.net == D("0.33")
    assert (once.tax, by_line.tax) == (D("0.13"), D("0.14"))
    assert (once.total, by_line.total) == (D("0.79"), D("0.80"))


def test_a_deposit_goes_up_to_its_step_and_makes_two_payments():
    terms = tier("0.25", fee_share="0.02", fixed_fee="0.30", deposit_share="0.4")
    _, price = priced(terms, quantity=10)
    # (18.10 + 2 x 0.30) / 0.73 / 10 = 2.5616; 2.57 x 10 x 0.4 = 10.28
    assert price.deposit == D("11.00")
    assert price.payments == (price.deposit, price.balance)
    assert price.deposit + price.balance == price.total
    by_payment = [(payment * D("0.02") + D("0.30")) for payment in price.payments]
    assert price.fees == sum(fee.quantize(D("0.01"), "ROUND_HALF_UP") for fee in by_payment)


def test_a_deposit_is_never_more_than_the_total():
    _, price = priced(tier("0", deposit_share="0.9", deposit_step="50"))
    assert price.deposit == price.total
    assert price.balance == 0
    assert price.payments == (price.total,)


def test_listing_fees_are_paid_for_every_piece():
    _, plain = priced(quantity=10)
    _, listed = priced(quantity=10, sells={"listing_fee": D("0.20")})
    assert listed.fees == D("2.00")
    assert listed.price_exact - plain.price_exact == pytest.approx(
        D("0.20") / D("0.75"), abs=D("1e-20")
    )


def test_listing_fees_are_in_the_coins_of_the_currency():
    workshop = rates(currency_digits=3)
    _, price = priced(workshop=workshop, sells={"listing_fee": D("0.125")})
    assert price.fees == D("0.125")


def test_a_price_she_names_may_be_below_the_floor_and_says_so():
    job, _ = priced(quantity=2)
    ask, workshop = Ask(2), rates()
    low = price_at(D("3.00"), job, ask, channel(), workshop)
    assert low.is_below_floor
    assert low.profit == D("-0.02")
    assert not price_at(D("3.01"), job, ask, channel(), workshop).is_below_floor
    # a wanted margin nobody could ask does not matter for a price that is named
    named = price_at(D("5.00"), job, ask, channel(tier("1")), workshop)
    assert named.profit == D("3.98")
    assert named.price_exact == D("5.00")  # no price leaves that margin
    wanted = price_at(D("5.00"), job, ask, channel(), workshop)
    assert round(wanted.price_exact, 4) == D("4.0133")  # 6.02 / 0.75 / 2
    with pytest.raises(Refusal):
        price_at(D("-1"), job, ask, channel(), workshop)


def test_what_costs_nothing_has_no_margin_to_speak_of():
    nothing = recipe(pieces=(), fixings=(), steps=())
    job, price = priced(made_from=nothing)
    assert (price.price_each, price.total, price.payments) == (0, 0, ())
    assert price.margin is price.markup is price.per_hour is None
    assert figures(job, price, ready_on=None)["margin"] is None
    assert figures(job, price, ready_on=None)["per_hour"] is None


def test_figures_are_plain_texts_and_counts():
    big = recipe(fixings=(RecipeFixing("gold", "tie", D("1E+5")),))
    job, price = priced(quantity=100, made_from=big, workshop=rates(**TAXED))
    found = figures(job, price, ready_on=None)
    texts = [value for value in found.values() if isinstance(value, str)]
    assert not any("E" in text for text in texts)
    assert type(found["make"]) is int
    for line in explain(job, price).walk():
        assert "E" not in str(line.as_dict()["value"])


def test_a_dearer_material_counts_in_all_its_roles_and_unknown_roles_are_refused():
    job, price = priced(quantity=2)
    assert material_up(job, price, "body", D("0.1")).cost_change == D("0.10")
    with pytest.raises(Refusal):
        material_up(job, price, "lid", D("0.1"))
    with pytest.raises(Refusal):
        one_more_sheet(job, price, rates(), "tie")
    keys = [change.line.key for change in what_ifs_for(job, price, rates(), dearer_by=D("0.1"))]
    assert keys == ["w.minute", "w.wage", "w.sheet.body", "w.body10", "w.unit.tie", "w.tie10"]


def test_what_if_the_wage_rises_is_what_costing_anew_says():
    job, price = priced(quantity=3)
    anew, priced_anew = priced(quantity=3, workshop=rates(wage_per_hour=D(13)))
    change = wage_up(job, price)
    assert change.cost_change == pytest.approx(anew.cost - job.cost, abs=D("1e-25"))
    assert change.price_needed == priced_anew.price_each


COSTS = st.decimals("0.01", 500, places=4)
STEPS = st.sampled_from(["0", "0.01", "0.05", "0.50", "1"])


@given(
    st.integers(1, 500),
    COSTS,
    st.decimals(0, "0.6", places=3),
    st.decimals(0, "0.1", places=4),
    st.decimals(0, 2, places=2),
    st.sampled_from(["0", "0.07", "0.2", "0.25"]),
    STEPS,
    st.sampled_from(["0", "0.4"]),
    st.decimals(0, 30, places=2),
    st.booleans(),
)
def test_the_rounded_price_keeps_the_margin_and_everything_adds_up(
    quantity, cost, margin, fee, fixed, tax, step, deposit, delivery, shown_gross
):
    made_from = recipe(
        pieces=(),
        steps=(RecipeStep("fold", Basis.MADE, D(2)),),
        fixings=(RecipeFixing("t", "tie", cost),),
    )
    terms = tier(margin, fee_share=fee, fixed_fee=fixed, price_step=step, deposit_share=deposit)
    workshop = rates(tax_rate=D(tax), prices_include_tax=shown_gross)
    job, price = priced(
        terms, quantity=quantity, workshop=workshop, made_from=made_from, delivery=delivery
    )
    # tax and each fee are rounded to whole cents, so that much may be missing, and no more
    cents = D("0.005") * (2 + len(price.payments))
    assert price.profit >= margin * price.net - cents
    assert price.net + price.tax + price.delivery == price.total
    assert price.deposit + price.balance == sum(price.payments) == price.total
    assert price.profit + price.fees + job.cost == price.net
    assert price.price_each >= price.price_exact
    assert price.floor_exact <= price.price_exact
    # no margin leaves no room for rounding: then the price is the lowest one, up to its step
    least = max(price.price_exact, price.floor_each)
    assert 0 <= price.price_each - least < max(D(step), D("0.01"))


def test_a_list_of_quantities_is_little_work():
    made_from, workshop, stall = recipe(), rates(**TAXED), channel()

    def climb():
        for quantity in range(1, 101):
            ask = Ask(quantity)
            price_for(cost_of(made_from, ask, workshop, sheet_for_each_piece), ask, stall, workshop)

    # measured: 991 calls a price, a thousandth of a second, without the planning of sheets
    assert work_of(climb).calls < 100 * 2_000


def test_a_gallery_keeps_its_commission_of_the_net_price():
    _, price = priced(quantity=2, workshop=rates(**TAXED), sells={"commission_share": D("0.40")})
    # 6.02 / (1 - 0.25 - 0.40) = 17.20; x 1.2 / 2 = 10.32; 40 % of 17.20 goes to the gallery
    assert (price.price_each, price.net) == (D("10.32"), D("17.20"))
    assert price.fees == price.explanation.find("p.commission").number == D("6.88")
    assert price.profit == D("4.30")
    assert price.margin == D("0.25")
    # 6.02 / (1 - 0.40)
    assert price.floor_net == pytest.approx(D("10.03333333"), abs=D("1e-7"))
    with pytest.raises(ImpossibleMargin) as refused:
        priced(sells={"commission_share": D("0.75")})
    assert (refused.value.largest_margin, refused.value.where) == (D("0.25"), "margin")


@pytest.mark.parametrize(
    ("digits", "price_each", "fees"),
    [
        # 6.02 / (1 - 0.25 - 0.30) / 2 = 6.6889; 30 % of 14 is 4.2
        (0, "7", "4"),
        # 30 % of 13.378 is 4.0134
        (3, "6.689", "4.013"),
    ],
)
def test_a_commission_is_in_the_coins_of_the_currency(digits, price_each, fees):
    workshop = rates(currency_digits=digits)
    _, price = priced(quantity=2, workshop=workshop, sells={"commission_share": D("0.30")})
    assert (price.price_each, price.fees) == (D(price_each), D(fees))


@pytest.mark.parametrize("is_rush", [False, True])
def test_what_a_small_change_does_is_told_as_it_is_worked_out(is_rush):
    selling = replace(channel(), rush_share=D("0.2"))
    ask = Ask(3, is_rush=is_rush)
    job = cost_of(recipe(), ask, rates(), sheet_for_each_piece)
    price = price_for(job, ask, selling, rates())
    change = one_more_minute(job, price, rates())
    how = str(change.line.how)
    assert ("x 1.2 for the rush" in how) == is_rush
    # the sum as it is written comes to the figure beside it
    sum_alone = how.replace(" for the rush", "").partition(",")[0].replace(" x ", " * ")
    numbers = re.sub(r"[0-9.]+", lambda found: f"D('{found[0]}')", sum_alone)
    assert eval(numbers, {"D": D}) == pytest.approx(change.price_change, abs=D("1e-20"))  # noqa: S307 - our own text
    # and what is to be asked can be paid
    assert change.price_needed == up_to_step(change.price_needed, price.terms.step)


def test_what_another_price_leaves_is_the_same_however_it_is_asked():
    selling, workshop = channel(tier("0.3", fee_share="0.065", fixed_fee="0.2")), rates(**TAXED)
    ask = Ask(7, bought_at_once=2, delivery=D(3))
    job = cost_of(recipe(), ask, workshop, sheet_for_each_piece)
    price = price_for(job, ask, selling, workshop)
    for each in (D("0.10"), D("4.95"), price.price_each, D("99.00")):
        assert price.at(each) == price_at(each, job, ask, selling, workshop)
        assert price.at(each).explanation.find("p.unit").number == each
        assert price.at(each).explanation.find("p.fee").number == price.at(each).fees


def test_a_sum_for_people_has_no_nothing_and_no_share_to_divide_by():
    _, price = priced(quantity=3)
    for line in price.explanation.walk():
        said = told(line.how, sum_writer("EUR", "en_GB"))
        assert "+ 0" not in said
        assert not re.search(r"[/÷] (1|0\.\d+)\b(?! %)", said)
        assert not re.search(r"\d\.\d{5}", said)


def test_a_material_that_is_not_used_is_passed_over_and_the_next_ones_asked_about():
    materials = {"spare": replace(CARD, name="not used", id=9), **recipe().materials}
    job, price = priced(quantity=3, made_from=recipe(materials=materials))
    found = what_ifs_for(job, price, rates(), dearer_by=D("0.1"))
    keys = [change.line.key for change in found]
    assert keys[2:] == ["w.sheet.body", "w.body10", "w.unit.tie", "w.tie10"]


def test_half_of_the_fourth_decimal_goes_up():
    # one minute more is (12.003 + 6) / 60 = 0.30005
    workshop = rates(wage_per_hour=D("12.003"))
    job, price = priced(tier("0"), workshop=workshop)
    change = one_more_minute(job, price, workshop)
    assert (change.price_change, change.line.number) == (D("0.30005"), D("0.3001"))
