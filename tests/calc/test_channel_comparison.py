"""One price over several channels, by hand: fair, web shop, gallery on commission, shop."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.calc.recipes.recipe import Basis, RecipeFixing, RecipePacking, RecipeStep
from pricing.calc.costing.cost import cost_of
from pricing.calc.costing.rates import Ask, ChannelRates, TierRates
from pricing.calc.price.channel_comparison import (
    NothingLeftByTheShop,
    at_one_price,
    at_own_prices,
    for_same_profit,
    shelf_price,
)
from tests.calc import small_recipe

D = Decimal
RATES = small_recipe.rates(tax_rate=D("0.2"))  # 12.00 wage and 6.00 overhead an hour
ASK = Ask(10)


def channel(
    name,
    *,
    margin="0.2",
    step="0.05",
    payments=1,
    fee_share="0",
    fixed_fee="0",
    bought_at_once=None,
    **shares,
):
    tier = TierRates(
        margin=D(margin),
        price_step=D(step),
        payments_per_sale=payments,
        fee_share=D(fee_share),
        fixed_fee=D(fixed_fee),
    )
    return ChannelRates(
        name,
        (tier,),
        bought_at_once=bought_at_once,
        **{key: D(share) for key, share in shares.items()},
    )


FAIR = channel("fair", fee_share="0.0175")
WEB = channel("web", fee_share="0.05", fixed_fee="0.30", bought_at_once=1, listing_fee="0.20")
GALLERY = channel("gallery", commission_share="0.40")
SHOP = channel("shop", resale_share="0.5")
ALL = (FAIR, WEB, GALLERY, SHOP)


def job(asked):
    """Ten items: 1.00 of ribbon and 10 minutes each; 10 + 20 wage + 10 overhead = 40.00."""
    made_from = small_recipe.recipe(
        pieces=(),
        materials={"tie": replace(small_recipe.RIBBON, waste_share=D(0))},
        fixings=(RecipeFixing("tie", "tie", D(5)),),
        steps=(RecipeStep("make", Basis.MADE, D(10)),),
    )
    return cost_of(made_from, asked, RATES, small_recipe.sheet_for_each_piece)


def test_what_one_price_leaves_in_four_channels_by_hand():
    # 12.00 with 20 % tax, ten of them: 120.00, of which 20.00 tax and 100.00 net; cost 40.00
    found = at_one_price(D("12.00"), job, ASK, ALL, RATES)
    fair, web, gallery, shop = (each.price for each in found.results)
    # 1.75 % of 120.00 is 2.10
    assert (fair.fees, fair.profit) == (D("2.10"), D("57.90"))
    # ten buyers of 12.00: 0.60 + 0.30 each; ten listings of 0.20
    assert (web.fees, web.profit) == (D("11.00"), D("49.00"))
    assert (gallery.fees, gallery.profit) == (D("40.00"), D("20.00"))
    # the shop buys at 6.00 with tax: 60.00, 10.00 of it tax
    assert (shop.price_each, shop.net, shop.profit) == (D("6.00"), D("50.00"), D("10.00"))
    # 100 minutes; wage 20.00
    assert fair.per_hour == pytest.approx(D("77.90") * 60 / 100, abs=D("1e-20"))
    assert found.best_per_hour.channel is FAIR
    # not the first of the list, but where an hour earns most
    turned = at_one_price(D("12.00"), job, ASK, ALL[::-1], RATES)
    assert turned.best_per_hour.channel is FAIR


def test_the_parts_add_up_to_what_customers_pay():
    for each in at_one_price(D("12.00"), job, ASK, ALL, RATES).results:
        assert sum(part.amount for part in each.parts) == D("120.00")
        assert each.line.number == D("120.00")
    shop = at_one_price(D("12.00"), job, ASK, [SHOP], RATES).results[0]
    assert {part.key: part.amount for part in shop.parts} == {
        "shop": D("60.00"),
        "tax": D("10.00"),
        "bought": D("10.00"),
        "overhead": D("10.00"),
        "labour": D("20.00"),
        "profit": D("10.00"),
    }


def test_prices_shown_without_tax_add_up_too():
    net_shown = replace(RATES, prices_include_tax=False)
    for each in at_one_price(D("10.00"), job, ASK, ALL, net_shown).results:
        assert sum(part.amount for part in each.parts) == D("120.00")


def test_each_channel_at_the_price_of_its_own_margin():
    found = at_own_prices(job, ASK, ALL, RATES)
    gallery, shop = found.results[2:]
    # 40 / (1 - 0.2 - 0.4) x 1.2 / 10 = 12.00; 40 / 0.8 x 1.2 / 10 = 6.00, on the shelf 12.00
    assert (gallery.price.price_each, gallery.customer_each) == (D("12.00"), D("12.00"))
    assert (shop.price.price_each, shop.customer_each) == (D("6.00"), D("12.00"))
    assert gallery.price.margin == shop.price.margin == D("0.2")


def test_the_price_each_channel_needs_for_the_same_profit_by_hand():
    found = for_same_profit(D("20"), job, ASK, ALL, RATES)
    fair, web, gallery, shop = found.results
    # 60 / (1 - 0.021) x 1.2 / 10 = 7.354...; web (60 + 3 + 2) / 0.94 x 0.12 = 8.297...: of 8.30
    # each buyer's tax is 1.38, the fee 0.715 is taken as 0.72, so 10 x 6.20 - 2.00 is left
    assert (fair.customer_each, web.customer_each) == (D("7.40"), D("8.30"))
    # 60 / 0.6 x 0.12; 60 x 0.12 = 7.20 to the shop
    assert (gallery.customer_each, shop.customer_each) == (D("12.00"), D("14.40"))
    assert all(each.price.profit >= 20 for each in found.results)


def test_a_channel_that_does_not_sell_so_many_says_so_and_stays_in_the_list():
    from_fifty = ChannelRates("bulk", (TierRates(bought_at_once=50),))
    found = at_one_price(D("12.00"), job, ASK, [from_fifty, SHOP], RATES)
    assert found.results[0].price is None
    assert "starts at 50" in found.results[0].refusal
    assert found.best_per_hour.channel is SHOP
    assert at_one_price(D("12.00"), job, ASK, [from_fifty], RATES).best_per_hour is None
    greedy = channel("greedy", resale_share="1")
    assert at_own_prices(job, ASK, [greedy], RATES).results[0].refusal
    with pytest.raises(NothingLeftByTheShop):
        shelf_price(D(5), greedy, RATES)


def test_each_channel_sells_as_its_buyers_buy():
    """What is asked for one channel is not asked of the others."""
    asked = replace(ASK, bought_at_once=5)
    found = at_one_price(D("12.00"), job, asked, ALL, RATES).results
    assert [each.bought_at_once for each in found] == [10, 1, 10, 10]
    assert [each.price.terms.sales for each in found] == [1, 10, 1, 1]


def test_each_channel_pays_for_the_packing_of_its_buyers():
    def packed(asked):
        box = RecipePacking("box", "carton", 10, cost_each=D("0.80"))
        made_from = small_recipe.recipe(packings=(box,))
        return cost_of(made_from, asked, RATES, small_recipe.sheet_for_each_piece)

    fair, web = at_one_price(D("12.00"), packed, ASK, (FAIR, WEB), RATES).results
    bought = [{part.key: part.amount for part in each.parts}["bought"] for each in (fair, web)]
    assert bought[1] - bought[0] == 9 * D("0.80")


def test_carriage_is_left_out():
    sent = replace(ASK, delivery=D("9.00"))
    assert at_one_price(D(12), job, sent, ALL, RATES) == at_one_price(D(12), job, ASK, ALL, RATES)


CHANNELS = st.builds(
    channel,
    st.just("any"),
    step=st.sampled_from(["0", "0.05", "0.50"]),
    fee_share=st.sampled_from(["0", "0.0175", "0.1"]),
    fixed_fee=st.sampled_from(["0", "0.20", "1"]),
    payments=st.integers(1, 3),
    listing_fee=st.sampled_from(["0", "0.15"]),
    commission_share=st.sampled_from(["0", "0.3", "0.5"]),
    resale_share=st.sampled_from(["0", "0.5"]),
)


@given(CHANNELS, st.integers(1, 40), st.decimals(-5, 90, places=2))
def test_the_price_for_a_profit_leaves_it_and_one_step_less_does_not(sold_in, quantity, profit):
    price = for_same_profit(profit, job, Ask(quantity), [sold_in], RATES).results[0].price
    assert price.profit >= profit
    each = price.price_each - max(sold_in.tiers[0].price_step, D("0.01"))
    if each > 0:
        on_shelf = shelf_price(each, sold_in, RATES)
        less = at_one_price(on_shelf, job, Ask(quantity), [sold_in], RATES).results[0].price
        # whole cents of tax and of each fee
        assert less.profit < profit + D("0.04")
