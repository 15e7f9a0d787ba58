"""Totals of a quote: one line as the job's own price, several lines, tax both ways, deposit, floor.

The figures of sixty bags are those of the order costed by hand in tests/data/worked_case.json.
"""

from dataclasses import replace
from decimal import ROUND_HALF_UP
from fractions import Fraction
from functools import cache, lru_cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.calc.cutting import plan_cuts
from pricing.calc.cost import cost_of
from pricing.calc.price import price_at, price_for
from pricing.calc.quote import AskedLine, NothingQuoted, price_quote
from pricing.calc.rates import Ask, ChannelTier
from pricing.calc.terms import ImpossibleMargin
from tests.calc import small_recipe, worked_case
from tests.calc.small_recipe import D

plan_once = lru_cache(maxsize=None)(plan_cuts)


@cache
def bag(quantity):
    ask = worked_case.ask(quantity)
    return AskedLine(cost_of(worked_case.recipe(), ask, worked_case.rates(), plan_once), ask)


@cache
def box(quantity, price=None, **rates):
    ask = Ask(quantity)
    recipe, values = small_recipe.recipe(), small_recipe.rates(**rates)
    return AskedLine(cost_of(recipe, ask, values, small_recipe.sheet_for_each_piece), ask, price)


def quoted(lines, channel=None, rates=None, **options):
    return price_quote(
        lines, channel or small_recipe.channel(), rates or small_recipe.rates(), **options
    )


def worked(*lines, **options):
    return price_quote(lines, worked_case.channel(), worked_case.rates(), **options)


def test_sixty_bags_are_quoted_as_they_were_costed_by_hand():
    quote = worked(bag(60))
    case = worked_case.CASE["cases"]["60"]
    found = quote.explanation.find
    assert quote.lines[0].price_each == D("10.55") == D(str(case["p.unit"]))
    assert (quote.total, quote.deposit, quote.balance) == (D(633), D(254), D(379))
    for ours, theirs in {
        "q.total": "p.gross",
        "q.net": "p.net",
        "q.tax": "p.tax",
        "q.deposit": "p.deposit",
        "q.balance": "p.balance",
        "p.fee": "p.fee",
        "q.profit": "p.profit",
        "q.margin": "p.margin",
        "q.hourly": "p.hourly",
    }.items():
        assert found(ours).number == D(str(case[theirs])), ours
    assert quote.ready_in_days == 9
    assert (quote.floor / 60).quantize(D("0.0001")) == D(str(case["f.unit"]))


@pytest.mark.parametrize("quantity", [1, 12, 60, 250])
@pytest.mark.parametrize("options", [{}, {"is_rush": True}, {"delivery": D("7.35")}])
def test_a_quote_of_one_line_equals_the_price_of_that_job(quantity, options):
    channel = replace(worked_case.channel(), rush_share=D("0.15"))
    line = bag(quantity)
    job = price_for(line.cost, replace(line.ask, **options), channel, worked_case.rates())
    quote = price_quote([line], channel, worked_case.rates(), **options)
    assert quote.lines[0].price_each == job.price_each
    for name in (
        *("total", "tax", "net", "deposit", "balance", "payments", "fees", "profit"),
        *("margin", "per_hour", "is_below_floor"),
    ):
        assert getattr(quote, name) == getattr(job, name), name


def test_lines_keep_their_own_prices_and_the_fixed_fee_is_paid_once():
    quote = worked(bag(60), bag(12))
    assert [line.price_each for line in quote.lines] == [D("10.55"), D("14.45")]
    # 633.00 + 173.40; the tier of 72 pieces is that of 60: 40 % deposit, two payments
    assert quote.total == D("806.40")
    assert quote.tax == D("134.40")
    assert quote.deposit == D(323)  # 322.56, up to the next whole one
    # 323 x 0.0175 + 0.20 = 5.8525 -> 5.85; 483.40 x 0.0175 + 0.20 = 8.6595 -> 8.66
    assert quote.fees == D("14.51")
    assert quote.profit == D("672.00") - D("14.51") - quote.cost
    assert quote.explanation.find("q.sum").is_sum
    # 1039.32337 + 267.41203 min at 210 a day: 7 days; the rack needs 1 and 1
    assert quote.ready_in_days == 4 + 7


def test_a_price_she_names_is_taken_as_it_is_and_the_floor_said():
    quote = worked(replace(bag(60), price_each=D("7.50")))
    assert quote.total == D("450.00")
    assert quote.lines[0].target_each == D("10.55")
    assert quote.is_below_floor  # 7.8484 each is the floor
    assert quote.profit < 0
    job = price_at(D("7.50"), bag(60).cost, bag(60).ask, worked_case.channel(), worked_case.rates())
    assert quote.profit == job.profit


def test_an_impossible_margin_is_refused_unless_she_names_a_price():
    channel = small_recipe.channel(ChannelTier(margin=D("0.99"), fee_share=D("0.02")))
    with pytest.raises(ImpossibleMargin):
        quoted([box(10)], channel)
    quote = quoted([box(10, D(9))], channel)
    assert quote.total == 90
    assert quote.lines[0].target_each is None


def test_a_quote_of_nothing_is_refused():
    with pytest.raises(NothingQuoted, match="at least one line"):
        quoted([])


def test_the_quotes_own_deposit_comes_before_the_channels():
    assert worked(bag(60), deposit_share=D(0)).deposit == 0
    # half of 633.00 is 316.50, up to the next whole one
    assert worked(bag(60), deposit_share=D("0.5")).deposit == D(317)


def test_the_floor_is_a_total_at_which_nothing_is_left():
    channel = small_recipe.channel(ChannelTier(margin=D("0.25"), fee_share=D("0.02")))
    rates = small_recipe.rates(tax_rate=D("0.2"))
    quote = quoted([box(10), box(5)], channel, rates, delivery=D(8))
    goods = (quote.floor - quote.terms.delivery_gross) / 15
    at_floor = quoted(
        [replace(box(10), price_each=goods), replace(box(5), price_each=goods)],
        channel,
        rates,
        delivery=D(8),
    )
    # cents of tax, amounts and fees are rounded
    assert abs(at_floor.profit) <= D("0.03")


def named(*rows):
    return [box(int(quantity), D(price)) for quantity, price in rows]


def test_tax_once_and_line_by_line_differ_where_they_must():
    # three lines of 0.33 at 20 %: 0.20 by EN 16931 (rules BR-CO-17, BR-S-08), 0.21 line by line;
    # numbers our own, the published documents do not tell the two apart
    rates = small_recipe.rates(tax_rate=D("0.2"), prices_include_tax=False)
    lines = named(("1", "0.33"), ("1", "0.33"), ("1", "0.33"))
    once = quoted(lines, rates=rates)
    assert (once.totals.sum_of_lines, once.tax, once.total) == (D("0.99"), D("0.20"), D("1.19"))
    by_line = quoted(lines, rates=replace(rates, tax_per_line=True))
    assert (by_line.tax, by_line.total) == (D("0.21"), D("1.20"))


def test_the_line_is_rounded_not_the_price():
    # EN 16931 validation artefacts of the European Commission (ConnectingEurope/
    # eInvoicing-EN16931, snapshot b6c9e06a), ubl/examples/sample-discount-price.xml
    rates = small_recipe.rates(tax_rate=D("0.25"), prices_include_tax=False)
    quote = quoted(named(("100", "0.1212")), rates=rates)
    assert quote.lines[0].amount == D("12.12")
    assert (quote.tax, quote.total) == (D("3.03"), D("15.15"))


def test_fifteen_lines_of_a_published_document_add_up():
    # the 6 % lines of ubl/examples/ubl-tc434-example1.xml of the same artefacts, without its
    # credit, which a quote has none of. Printed is the base with it, 183.23, and the credit,
    # 109.98; their sum 293.21 and its tax, 17.5926 -> 17.59, are worked out from these by hand
    rows = [
        ("2", "9.95"), ("1", "9.85"), ("1", "8.29"), ("2", "7.23"), ("1", "35.00"),
        ("1", "35.00"), ("1", "10.65"), ("1", "1.55"), ("3", "4.79"), ("1", "8.29"),
        ("2", "8.29"), ("1", "9.95"), ("2", "1.65"), ("1", "3.90"), ("6", "17.02"),
    ]  # fmt: skip
    rates = small_recipe.rates(tax_rate=D("0.06"), prices_include_tax=False)
    quote = quoted(named(*rows), rates=rates)
    assert quote.totals.sum_of_lines == D("293.21")
    assert (quote.tax, quote.total) == (D("17.59"), D("310.80"))


def test_the_twelve_percent_line_of_another_published_document():
    # ubl/examples/ubl-tc434-example5.xml of the same artefacts: 500 x 5.00 at 12 %; base 2500
    # and tax 300 are printed, their sum is ours
    rates = small_recipe.rates(tax_rate=D("0.12"), prices_include_tax=False)
    quote = quoted(named(("500", "5.00")), rates=rates)
    assert (quote.tax, quote.total) == (D(300), D(2800))


def test_a_currency_without_decimals_stays_whole():
    rates = small_recipe.rates(
        wage_per_hour=D(1500), tax_rate=D("0.1"), currency_digits=0, prices_include_tax=True
    )
    line = box(12, wage_per_hour=D(1500), tax_rate=D("0.1"), currency_digits=0)
    tier = ChannelTier(margin=D("0.3"), deposit_share=D("0.333"), fee_share=D("0.02"))
    quote = quoted([line, line], small_recipe.channel(tier), rates, delivery=D("700.5"))
    for amount in (quote.total, quote.tax, quote.deposit, quote.balance, quote.fees):
        assert amount == amount.to_integral_value()
    assert sum(line.amount for line in quote.lines) + quote.delivery == quote.total


prices = st.decimals(D(0), D(5000), places=3)


@given(
    rows=st.lists(st.tuples(st.integers(1, 40), st.none() | prices), min_size=1, max_size=6),
    tax=st.sampled_from(["0", "0.06", "0.2", "0.21"]),
    inside=st.booleans(),
    per_line=st.booleans(),
    delivery=st.decimals(D(0), D(60), places=2),
    share=st.none() | st.sampled_from([D(0), D("0.333"), D(1)]),
)
def test_whatever_is_quoted_adds_up(rows, tax, inside, per_line, delivery, share):
    rates = small_recipe.rates(tax_rate=D(tax), prices_include_tax=inside, tax_per_line=per_line)
    tier = ChannelTier(
        margin=D("0.3"), fee_share=D("0.0175"), fixed_fee=D("0.20"), price_step=D("0.05"),
        deposit_share=D("0.4"),
    )  # fmt: skip
    lines = [box(quantity, price) for quantity, price in rows]
    quote = quoted(lines, small_recipe.channel(tier), rates, delivery=delivery, deposit_share=share)

    def cents(value):
        number = D(value.numerator) / D(value.denominator)
        return Fraction(number.quantize(D("0.01"), rounding=ROUND_HALF_UP))

    # the same document added up in fractions
    factor = 1 + Fraction(tax)
    amounts = [cents(Fraction(line.price_each) * line.cost.quantity) for line in quote.lines]
    if delivery:
        amounts.append(cents(Fraction(delivery) * factor) if inside else Fraction(delivery))
    groups = [[amount] for amount in amounts] if per_line else [amounts]
    rate = Fraction(tax) / factor if inside else Fraction(tax)
    wanted_tax = sum(cents(sum(group) * rate) for group in groups)
    assert Fraction(quote.tax) == wanted_tax
    assert Fraction(quote.total) == sum(amounts) + (0 if inside else wanted_tax)
    # and what must always be so
    assert quote.deposit + quote.balance == quote.total == sum(quote.payments)
    assert 0 <= quote.deposit <= quote.total
    assert quote.explanation.find("q.sum").number == quote.totals.sum_of_lines
    assert quote.profit == quote.net - quote.fees - quote.cost
    if len(rows) == 1 and rows[0][1] is None and share is None:
        ask = Ask(rows[0][0], delivery=delivery)
        assert quote.total == price_for(lines[0].cost, ask, small_recipe.channel(tier), rates).total
