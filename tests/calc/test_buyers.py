"""What is made at once and what one buyer takes at once: fees, tiers and packing follow the buyer.

Card fees of 2.6% and 0.30 are an example of a card reader's terms; the sums are by hand.
"""

import math
from dataclasses import dataclass, replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.calc.recipes.recipe import Basis, RecipePacking, RecipeStep, When
from pricing.calc.costing.cost import cost_of
from pricing.calc.costing.rates import Ask, ChannelRates, NobodyBuys, TierRates, WorkshopRates
from pricing.calc.price.lowest_price import left_at, lowest_price
from pricing.calc.price.price import price_at, price_for
from pricing.calc.price.terms import terms_at_any_price
from tests.calc.small_recipe import rates, recipe, sheet_for_each_piece

D = Decimal
RATES = WorkshopRates(D(12), D(3))


@dataclass(frozen=True)
class Job:
    quantity: int
    cost: Decimal
    minutes: Decimal = Decimal(60)
    labour_cost: Decimal = Decimal(12)


def stall(*tiers, **shares):
    tiers = tiers or (TierRates(fee_share=D("0.026"), fixed_fee=D("0.30")),)
    return ChannelRates("fair", tiers, bought_at_once=1, **shares)


def one_by_one(quantity, channel):
    return Ask(quantity).sold_through(channel)


def test_twelve_buyers_pay_twelve_fees():
    ask = one_by_one(12, stall())
    apart = price_at(D(18), Job(12, D(100)), ask, stall(), RATES)
    # 18.00 x 0.026 + 0.30 = 0.768, taken as 0.77 from each of them
    assert (apart.total, apart.fees, apart.terms.sales) == (D("216.00"), D("9.24"), 12)
    planned = apart.total * D("0.026") + apart.terms.fixed_fees
    assert planned == D("9.216")
    together = price_at(D(18), Job(12, D(100)), Ask(12), stall(), RATES)
    # 216.00 x 0.026 + 0.30 = 5.916
    assert (together.fees, together.terms.sales) == (D("5.92"), 1)


def test_a_price_that_loses_at_the_stall_is_said():
    """Cost 2.70: (2.70 + 0.30) / 0.974 = 3.0801; of 3.08 the fee is 0.38, of 3.07 it is 0.38."""
    job, ask = Job(12, 12 * D("2.70")), one_by_one(12, stall())
    price = price_at(D("3.00"), job, ask, stall(), RATES)
    assert price.floor_each == D("3.08")
    assert price.is_below_floor
    assert price.profit == 12 * (D("3.00") - D("0.38") - D("2.70"))
    at_lowest = price_at(D("3.08"), job, ask, stall(), RATES)
    assert (at_lowest.profit, at_lowest.is_below_floor) == (D(0), False)
    below = price_at(D("3.07"), job, ask, stall(), RATES)
    assert (below.profit, below.is_below_floor) == (D("-0.12"), True)
    one_order = price_at(D("3.00"), job, Ask(12), stall(), RATES)
    assert not one_order.is_below_floor


def test_what_one_buyer_takes_chooses_the_tier():
    tiers = (TierRates(margin=D("0.32")), TierRates(bought_at_once=6, margin=D("0.28")))
    job, channel = Job(12, D(68)), stall(*tiers)
    # 68.00 / 12 / 0.68 = 8.3333, / 0.72 = 7.8704
    assert price_for(job, one_by_one(12, channel), channel, RATES).price_each == D("8.34")
    assert price_for(job, Ask(12), channel, RATES).price_each == D("7.88")
    assert price_for(job, Ask(12, bought_at_once=6), channel, RATES).terms.tier == tiers[1]
    assert price_for(job, Ask(12), channel, RATES).terms.tier == tiers[1]


def test_the_last_buyer_takes_what_is_left():
    tier = TierRates(fixed_fee=D("0.30"))
    price = price_at(D(2), Job(13, D(13)), Ask(13, bought_at_once=5), stall(tier), RATES)
    assert (price.terms.sales, price.fees) == (3, D("0.90"))
    # a price plans for 13 / 5 sales
    assert price.terms.fixed_fees == D("0.78")
    assert price.terms.settled_fixed_fees == D("0.90")


def test_tax_and_commission_are_rounded_for_each_buyer():
    channel = stall(TierRates(), commission_share=D("0.3"), listing_fee=D("0.18"))
    workshop = replace(RATES, tax_rate=D("0.2"))
    price = price_at(D("0.99"), Job(12, D(1)), one_by_one(12, channel), channel, workshop)
    # 0.99 has 0.165 of tax: 0.17 from each; 0.3 x 0.82 = 0.246: 0.25 from each
    assert (price.tax, price.net) == (D("2.04"), D("9.84"))
    assert (price.commission, price.listing_fees) == (D("3.00"), D("2.16"))
    assert price.fees == D("5.16")


def test_each_buyer_has_a_deposit_and_a_delivery():
    tier = TierRates(fee_share=D("0.02"), fixed_fee=D("0.30"), deposit_share=D("0.4"))
    ask = Ask(24, bought_at_once=12, delivery=D(5))
    price = price_at(D(3), Job(24, D(40)), ask, stall(tier), RATES)
    # 41.00 each: 17 now, 24 later; fees of 0.64 and 0.78
    assert (price.total, price.delivery, price.net) == (D("82.00"), D(10), D("72.00"))
    assert (price.deposit, price.balance) == (D(34), D(48))
    assert price.fees == 2 * (D("0.64") + D("0.78"))
    assert price.payments == (D(17), D(24))


def test_as_many_as_usual_are_bought_where_nothing_is_said():
    to_order = ChannelRates("orders", (TierRates(),))
    assert Ask(12).sold_through(to_order).bought == 12
    assert Ask(12).sold_through(stall()).bought == 1
    by_dozens = replace(to_order, bought_at_once=24)
    assert Ask(12).sold_through(by_dozens).bought == 12
    assert Ask(60).sold_through(by_dozens).bought == 24
    asked = Ask(12, bought_at_once=30).sold_through(stall())
    assert (asked.quantity, asked.bought) == (30, 30)
    with pytest.raises(NobodyBuys):
        Ask(12, bought_at_once=0).sold_through(stall())


def packed_recipe():
    sleeve = RecipePacking("sleeve", "sleeve", 1, cost_each=D("0.06"), when=When(to_quantity=11))
    carton = RecipePacking("carton", "carton", 40, cost_each=D("0.85"), when=When(from_quantity=12))
    close = RecipeStep("close cartons", Basis.CARTON, D(4))
    return recipe(packings=(sleeve, carton), steps=(*recipe().steps, close))


@pytest.mark.parametrize(
    ("made", "bought", "packed", "cartons"),
    [
        (60, 60, {"carton": 2}, 2),
        (60, 1, {"sleeve": 60}, 0),
        (60, 12, {"carton": 5}, 5),
        (60, 25, {"carton": 2, "sleeve": 10}, 2),
        (1, 1, {"sleeve": 1}, 0),
    ],
)
def test_each_buyer_gets_packing_of_their_own(made, bought, packed, cartons):
    asked = Ask(made, bought_at_once=bought)
    job = cost_of(packed_recipe(), asked, rates(), sheet_for_each_piece)
    assert {each.packing.name: each.count for each in job.parts.packed} == packed
    assert job.parts.cartons == cartons
    closing = [done.minutes for done in job.work.steps if done.step.name == "close cartons"]
    assert closing == [D(4) * cartons]


def test_sheets_and_minutes_follow_what_is_made_at_once():
    together = cost_of(recipe(), Ask(12), rates(), sheet_for_each_piece)
    apart = cost_of(recipe(), Ask(12, bought_at_once=1), rates(), sheet_for_each_piece)
    assert (apart.minutes, apart.sheets) == (together.minutes, together.sheets)


channels = st.builds(
    lambda fee, fixed, payments, deposit, commission, listing: ChannelRates(
        "any",
        (
            TierRates(
                fee_share=fee, fixed_fee=fixed, payments_per_sale=payments, deposit_share=deposit
            ),
        ),
        commission_share=commission,
        listing_fee=listing,
    ),
    st.decimals(0, "0.12", places=4),
    st.decimals(0, 2, places=2),
    st.integers(1, 3),
    st.sampled_from([D(0), D(0), D("0.4")]),
    st.decimals(0, "0.5", places=3),
    st.decimals(0, 1, places=3),
)
workshops = st.builds(
    lambda tax, inside, by_line, digits: WorkshopRates(
        D(12), D(3), tax_rate=tax, prices_include_tax=inside, tax_per_line=by_line,
        currency_digits=digits,
    ),
    st.sampled_from([D(0), D("0.07"), D("0.19"), D("0.2")]),
    st.booleans(),
    st.booleans(),
    st.sampled_from([0, 2, 3]),
)  # fmt: skip


def fee_of_payment(payment, tier, digits):
    """One fee as whoever takes it works it out: in whole coins, halves up."""
    return round_half_up(payment * tier.fee_share + tier.fixed_fee, digits)


def round_half_up(amount, digits):
    scaled = amount.scaleb(digits)
    whole = int(scaled)
    return D(whole + (scaled - whole >= D("0.5"))).scaleb(-digits)


def brought_in(each, quantity, bought, channel, workshop):
    """What is left of n items for their cost, buyer after buyer; written apart from the program.

    A sale of nothing is paid in no payments.
    """
    tier, digits, left, brought = channel.tiers[0], workshop.currency_digits, quantity, D(0)
    sales = 0
    while left:
        items = min(bought, left)
        left -= items
        sales += 1
        paid = round_half_up(each * items, digits)
        rate = workshop.tax_rate
        if workshop.prices_include_tax:
            gross, net = paid, paid - round_half_up(paid * rate / (1 + rate), digits)
        else:
            gross, net = paid + round_half_up(paid * rate, digits), paid
        deposit = D(0)
        if tier.deposit_share:
            deposit = min(D(math.ceil(gross * tier.deposit_share)), gross)
        count = max(tier.payments_per_sale, 2 if tier.deposit_share else 1)
        rest, parts = gross - deposit, count - 1 if deposit else count
        coin = D(1).scaleb(-digits)
        coins = int(rest / coin)
        payments = [coin * (coins // parts + (n < coins % parts)) for n in range(parts)]
        fees = sum(fee_of_payment(p, tier, digits) for p in [deposit, *payments] if p)
        fees += round_half_up(channel.listing_fee * items, digits)
        fees += round_half_up(net * channel.commission_share, digits)
        brought += net - fees
    assert sales == -(-quantity // bought)
    return brought


@given(
    st.integers(1, 60),
    st.integers(1, 60),
    st.decimals(0, 400, places=4),
    channels,
    workshops,
)
def test_items_at_their_lowest_price_bring_their_cost_and_the_fees_of_every_buyer(
    quantity, bought, cost, channel, workshop
):
    bought = min(bought, quantity)
    ask = Ask(quantity, bought_at_once=bought)
    price = price_for(Job(quantity, cost), ask, channel, workshop)
    lowest = price.floor_each
    coin = D(1).scaleb(-workshop.currency_digits)
    assert lowest % coin == 0
    assert price.price_each >= lowest
    assert not price.is_below_floor
    if lowest:
        assert brought_in(lowest, quantity, bought, channel, workshop) >= cost
    settled = price_at(lowest, Job(quantity, cost), ask, channel, workshop)
    assert settled.profit == brought_in(lowest, quantity, bought, channel, workshop) - cost
    # so does every higher price, and a coin less does not
    for more in range(1, 8):
        assert brought_in(lowest + more * coin, quantity, bought, channel, workshop) >= cost
    if lowest:
        below = price_at(lowest - coin, Job(quantity, cost), ask, channel, workshop)
        assert below.is_below_floor
        assert below.profit < 0


@given(st.integers(1, 300), st.decimals(0, 2000, places=3), channels, workshops)
def test_one_buyer_of_all_is_an_order(quantity, cost, channel, workshop):
    one = price_for(Job(quantity, cost), Ask(quantity), channel, workshop)
    asked = Ask(quantity, bought_at_once=quantity)
    assert price_for(Job(quantity, cost), asked, channel, workshop) == one
    assert one.terms.fixed_fees == one.terms.settled_fixed_fees
    assert sum(one.payments) == one.total


def test_the_lowest_price_is_found_from_above():
    """0.07 pays a cost of 0.03 by luck: of 0.08 both the commission and the fee take a cent more.

    0.07 - 0.01 - 0.03 = 0.03; 0.08 - 0.02 - 0.04 = 0.02; 0.09 - 0.02 - 0.04 = 0.03.
    """
    channel = stall(TierRates(fee_share=D("0.45")), commission_share=D("0.2"))
    terms = terms_at_any_price(one_by_one(12, channel), channel, RATES)
    left = [left_at(D(cents) / 100, D("0.36"), 12, terms, RATES) for cents in range(7, 12)]
    assert left == [D(0), D("-0.12"), D(0), D(0), D("0.12")]
    assert lowest_price(D("0.36"), 12, terms, RATES) == D("0.09")


def test_one_is_the_fewest_a_buyer_takes():
    assert Ask(12, bought_at_once=1).sold_through(stall()).bought == 1
    with pytest.raises(NobodyBuys):
        Ask(12, bought_at_once=0).sold_through(stall())


def test_a_line_of_an_order_has_its_part_of_what_is_paid_once():
    tier = TierRates(fee_share=D("0.02"), fixed_fee=D("1.00"))
    taxed = WorkshopRates(D(12), D(3), tax_rate=D("0.2"))
    line = Ask(4, ordered=10, delivery=D(6))
    terms = terms_at_any_price(line, ChannelRates("post", (tier,)), taxed)
    assert (terms.delivery, terms.delivery_gross) == (D("2.40"), D("2.88"))  # 4 of 10 of 7.20
    assert terms.fixed_fees == D("0.4576")  # 1.00 x 0.4 + 2.88 x 0.02
    alone = terms_at_any_price(replace(line, ordered=4), ChannelRates("post", (tier,)), taxed)
    assert (alone.delivery_gross, alone.fixed_fees) == (D("7.20"), D("1.1440"))


def test_every_buyer_has_their_part_of_what_is_sunk():
    # twelve in threes are four buyers, in fives two and two fifths
    for bought, sunk in [(3, D(6)), (5, D(10)), (12, D(24))]:
        ask = Ask(12, bought_at_once=bought, sunk=D(24))
        assert terms_at_any_price(ask, stall(), RATES).sunk == sunk
