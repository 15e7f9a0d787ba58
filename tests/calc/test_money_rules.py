"""Rules about money: coins that are gone, tax by line and document, decimals, deposits."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.calc.recipes.recipe import Basis, PackOffer, RecipeStep
from catalogue.calc.supplies.shopping import shopping_list
from maker.calc.money import cash_step, minor_digits, to_minor
from pricing.calc.costing.cost import cost_of
from pricing.calc.costing.rates import Ask, ChannelRates, TierRates
from pricing.calc.price.cash import BadCashStep, cash_total
from pricing.calc.price.deposit_rule import BadDeposit, advise_deposit, deposit_line, sunk_in
from pricing.calc.price.fees import deposit_of, fee_of, payments_for
from pricing.calc.price.markup import (
    NothingToCompareWith,
    before_discount,
    markup_from_margin,
)
from pricing.calc.price.tax import (
    BadDocumentLine,
    DocumentLine,
    document_totals,
    line_amount,
    tax_inside,
    tax_on,
)
from pricing.calc.price.terms import terms_at_any_price
from tests.calc import small_recipe, worked_case
from tests.calc.kept_prices import priced

D = Decimal


# Source: Slovak act on prices, in force since 1 July 2022: a rest below half of 5 cents goes
# down, one of half or more goes up; 1 or 2 cents to pay become 5
@pytest.mark.parametrize(
    ("total", "payable"),
    [
        ("10.00", "10.00"),
        ("10.01", "10.00"),
        ("10.02", "10.00"),
        ("10.03", "10.05"),
        ("10.04", "10.05"),
        ("10.06", "10.05"),
        ("10.07", "10.05"),
        ("10.08", "10.10"),
        ("10.09", "10.10"),
        ("0.01", "0.05"),
        ("0.02", "0.05"),
        ("0.00", "0.00"),
    ],
)
def test_five_cents_by_the_slovak_act_on_prices(total, payable):
    found = cash_total(D(total), D("0.05"))
    assert found.payable == D(payable)
    assert found.payable - found.rounding == D(total)
    # money given back is rounded like the sale
    assert cash_total(-D(total), D("0.05")).payable == -D(payable)


@pytest.mark.parametrize(
    ("currency", "total", "payable"),
    [
        ("CHF", "7.43", "7.45"),
        ("DKK", "99.24", "99.00"),
        ("DKK", "99.25", "99.50"),
        ("SEK", "12.50", "13"),
        ("EUR", "12.34", "12.34"),
        ("JPY", "1099", "1099"),
    ],
)
def test_the_coins_of_a_currency(currency, total, payable):
    assert cash_total(D(total), cash_step(currency)).payable == D(payable)


def test_the_rounding_is_a_line_that_adds_up():
    line = cash_total(D("10.08"), D("0.05")).line
    assert line.find("cash.rounding").number == D("0.02")
    assert sum(part.number for part in line.lines) == line.number == D("10.10")


def test_no_step_leaves_the_total_and_a_step_below_zero_is_refused():
    assert cash_total(D("10.03"), D(0)).payable == D("10.03")
    with pytest.raises(BadCashStep):
        cash_total(D(1), D("-0.05"))


@given(st.decimals(-500, 500, places=2), st.sampled_from(["0.05", "0.10", "0.50", "1"]))
def test_what_is_paid_is_payable_and_nearest(total, step):
    found = cash_total(total, D(step))
    assert found.payable % D(step) == 0
    small = 0 < abs(total) < D(step) / 2
    assert abs(found.rounding) <= (D(step) if small else D(step) / 2)


# Bahrain: ISO 4217 gives BHD three decimals; tax of 10 % by hand
def test_a_document_in_a_currency_with_three_decimals():
    digits = minor_digits("BHD")
    lines = [DocumentLine(D("1.235"), D(3), D("0.1")), DocumentLine(D("0.0455"), D(10), D("0.1"))]
    inside = document_totals(lines, prices_include_tax=True, digits=digits)
    assert inside.line_amounts == (D("3.705"), D("0.455"))
    # 4.160 / 11 = 0.37818
    assert (inside.gross, inside.tax, inside.net) == (D("4.160"), D("0.378"), D("3.782"))
    on_top = document_totals(lines, prices_include_tax=False, digits=digits)
    assert (on_top.net, on_top.tax, on_top.gross) == (D("4.160"), D("0.416"), D("4.576"))


# Japan: ISO 4217 gives JPY none; 10 % and the reduced 8 % each rounded once
def test_a_document_in_a_currency_without_decimals():
    lines = [
        DocumentLine(D(333), D(1), D("0.1")),
        DocumentLine(D(333), D(1), D("0.1")),
        DocumentLine(D(128), D(3), D("0.08")),
    ]
    once = document_totals(lines, prices_include_tax=False, digits=minor_digits("JPY"))
    # 66.6 and 30.72
    assert (once.tax, once.gross) == (67 + 31, 666 + 384 + 98)
    by_line = document_totals(
        lines, prices_include_tax=False, per_line=True, digits=minor_digits("JPY")
    )
    assert by_line.tax == 33 + 33 + 31


DOCUMENT = st.lists(
    st.tuples(
        st.decimals(0, 99, places=2),
        st.integers(1, 20),
        st.sampled_from([D(0), D("0.055"), D("0.07"), D("0.2"), D("0.25")]),
    ),
    min_size=1,
    max_size=8,
)


@given(DOCUMENT, st.booleans(), st.sampled_from([0, 2, 3]))
def test_both_ways_of_rounding_add_up_and_stay_within_half_a_unit_for_each_sum(
    rows, inside, digits
):
    lines = [DocumentLine(price, D(count), rate) for price, count, rate in rows]
    unit = D(1).scaleb(-digits)
    for per_line in (False, True):
        found = document_totals(lines, prices_include_tax=inside, per_line=per_line, digits=digits)
        assert found.net + found.tax == found.gross
        assert found.gross == to_minor(found.gross, digits)
        exact = sum(
            amount * line.tax_rate / (1 + line.tax_rate if inside else 1)
            for amount, line in zip(found.line_amounts, lines, strict=True)
        )
        sums = len(lines) if per_line else len({line.tax_rate for line in lines})
        assert abs(found.tax - exact) <= unit / 2 * sums + D("1e-15")
        shown = sum(found.line_amounts)
        assert (found.gross if inside else found.net) == shown


@given(st.decimals(0, 5000, places=2), st.sampled_from(["0.05", "0.07", "0.2", "0.25"]))
def test_tax_put_on_and_taken_out_again_is_the_same_to_a_cent(net, rate):
    tax = tax_on(net, D(rate))
    assert abs(tax_inside(net + tax, D(rate)) - tax) <= D("0.01")


def test_forty_percent_of_the_worked_order_cover_its_packs():
    job, price, _ = priced(60)
    sunk = shopping_list(job.needs).cash
    found = advise_deposit(price.total, share=D("0.40"), step=D(1), sunk=sunk, tax_rate=D("0.2"))
    case = worked_case.CASE["cases"]["60"]
    assert found.deposit == D(str(case["p.deposit"]))
    assert found.to_cover == D("104.94")  # 87.45 of packs x 1.2
    assert found.by_share >= found.to_cover


def test_a_short_run_of_dear_packs_asks_for_more_than_the_share():
    # one bag at 42.50: 40 % are 17; empty shelves need 67.05 of packs, more than the whole price
    job, price, _ = priced(1)
    sunk = shopping_list(job.needs).cash
    found = advise_deposit(price.total, share=D("0.40"), step=D(1), sunk=sunk)
    assert (found.by_share, found.deposit) == (D(17), D("42.50"))
    assert found.deposit < found.to_cover  # even the whole total does not cover it
    half = advise_deposit(D("42.50"), share=D("0.40"), step=D(1), sunk=D("20.30"))
    assert half.by_share < half.to_cover < half.deposit == D(21)


@given(
    st.decimals(0, 900, places=2),
    st.decimals(0, 1, places=2),
    st.sampled_from(["0", "1", "5"]),
    st.decimals(0, 900, places=2),
    st.sampled_from([0, 2]),
)
def test_a_deposit_covers_what_is_sunk_or_is_the_whole_total(total, share, step, sunk, digits):
    total = to_minor(total, digits)
    found = advise_deposit(total, share=share, step=D(step), sunk=sunk, digits=digits)
    assert found.deposit >= found.by_share
    assert found.deposit >= min(found.to_cover, total)
    assert found.deposit <= total
    assert found.deposit == to_minor(found.deposit, digits)


def test_less_than_nothing_is_refused():
    with pytest.raises(BadDeposit):
        advise_deposit(D(10), share=D("0.4"), step=D(1), sunk=D(-1))


def test_a_charge_adds_to_a_line_and_to_a_document_and_an_allowance_takes_away():
    # by hand: 7 x 3.00 / 2 + 1.50 - 0.40 = 11.60
    line = DocumentLine(D(3), D(7), D("0.2"), D(2), charge=D("1.50"), allowance=D("0.40"))
    assert line_amount(line) == D("11.60")
    whole = [DocumentLine(D("5.00"), tax_rate=D("0.2")), DocumentLine(D(-2), tax_rate=D("0.1"))]
    totals = document_totals([line, *whole], prices_include_tax=False)
    # (11.60 + 5.00) x 0.2 = 3.32; -2.00 x 0.1 = -0.20
    assert [(each.base, each.tax) for each in totals.rates] == [
        (D("16.60"), D("3.32")),
        (D("-2.00"), D("-0.20")),
    ]
    assert (totals.net, totals.tax, totals.gross) == (D("14.60"), D("3.12"), D("17.72"))
    assert totals.due(D("7.72")) == D("10.00")


def test_a_line_is_rounded_to_cents_unless_the_currency_has_others():
    line = DocumentLine(D("0.125"), D(3))
    assert [line_amount(line), line_amount(line, 3)] == [D("0.38"), D("0.375")]


def test_a_price_for_nothing_is_refused():
    with pytest.raises(BadDocumentLine) as refused:
        line_amount(DocumentLine(D(1), base_quantity=D(0)))
    assert refused.value.where == "base_quantity"


def test_the_share_is_enough_where_it_covers_what_is_sunk_to_the_coin():
    even = advise_deposit(D(50), share=D("0.40"), step=D(1), sunk=D(20))
    assert (even.by_share, even.to_cover, even.deposit) == (D(20), D(20), D(20))
    whole = advise_deposit(D(20), share=D("0.40"), step=D(1), sunk=D(20))
    assert whole.deposit == whole.to_cover == D(20)  # all of it just covers


def test_sunk_is_what_no_other_design_uses_and_the_work_on_names():
    rates, recipe = small_recipe.rates(), packed(on_hand=0)
    job = cost_of(recipe, Ask(3, names=3), rates, small_recipe.sheet_for_each_piece)
    # names: 3 x 4 min at 12 + 6 an hour = 3.60; card: 2 packs of two sheets = 2.20;
    # ribbon: 3 x 0.5 m x 1.1 = 1.65 m of a roll at 1.20
    assert sunk_in(job, {1, 2}, rates) == D("3.60")
    assert sunk_in(job, {2}, rates) == D("5.80")
    assert sunk_in(job, {1}, rates) == D("4.80")
    assert sunk_in(job, (), rates) == D("7.00")


def test_what_is_on_the_shelf_is_not_sunk():
    rates, recipe = small_recipe.rates(), packed(on_hand=2)
    job = cost_of(recipe, Ask(3, names=3), rates, small_recipe.sheet_for_each_piece)
    assert sunk_in(job, {2}, rates) == D("4.70")  # 3.60 for names, one pack for the third sheet


def packed(on_hand):
    """The small box with names: card is sold in twos at 1.10, ribbon in rolls of 5 m at 1.20."""
    twos, roll = PackOffer("two", D(2), D("1.10")), PackOffer("roll", D(5), D("1.20"))
    return small_recipe.recipe(
        materials={
            "body": replace(small_recipe.CARD, packs=(twos,), on_hand=D(on_hand)),
            "tie": replace(small_recipe.RIBBON, packs=(roll,)),
        },
        steps=(RecipeStep("write names", Basis.NAME, D(4)),),
    )


def test_what_is_sunk_counts_only_where_a_deposit_is_asked():
    rates = small_recipe.rates()

    def asked(share, sunk):
        channel = ChannelRates("post", (TierRates(deposit_share=D(share), deposit_step=D(1)),))
        terms = replace(terms_at_any_price(Ask(1), channel, rates), sunk=D(sunk))
        return deposit_line(D(80), terms, 2, "deposit").number

    assert asked("0.25", 30) == D(30)  # 80 x 0.25 = 20 does not cover 30
    assert asked("0.25", 10) == D(20)
    assert asked("0.25", 0) == D(20)
    assert asked(0, 30) == 0


def test_payments_are_whole_coins_and_the_deposit_is_one_of_them():
    assert payments_for(D(100), D(40), 4) == (D(40), D(20), D(20), D(20))
    assert payments_for(D(100), D(40), 1) == (D(40), D(60))  # the rest is still a payment
    assert payments_for(D(10), D(0), 3) == (D("3.34"), D("3.33"), D("3.33"))
    # in thousandths: 10.000 - 5 = 5.000 / 3 = 1.667 + 1.667 + 1.666
    assert payments_for(D(10), D(5), 4, 3) == (D(5), D("1.667"), D("1.667"), D("1.666"))
    assert payments_for(D(11), D(5), 3, 0) == (D(5), D(3), D(3))


def test_no_payment_pays_no_fee_and_a_small_total_still_has_a_deposit():
    assert fee_of(D(0), D("0.02"), D("0.30")) == 0
    assert fee_of(D("0.01"), D("0.02"), D("0.30")) == D("0.30")
    assert fee_of(D("10.25"), D("0.02"), D("0.30")) == D("0.51")  # 0.205 + 0.30, halves up
    assert deposit_of(D("0.80"), D("0.5"), D(0)) == D("0.40")
    assert deposit_of(D("0.81"), D("0.5"), D(0)) == D("0.41")  # 0.405 up to the cent
    assert deposit_of(D(80), D(0), D(5)) == deposit_of(D(0), D("0.5"), D(5)) == 0


def test_a_margin_and_the_mark_up_of_the_same_price():
    # 10.00 that cost 7.50: a quarter of the price is a third of the cost
    assert round(markup_from_margin(D("0.25")), 6) == D("0.333333")
    assert markup_from_margin(D("0.5")) == 1
    assert before_discount(D(60), D("0.25")) == 80
    for share in (D(1), D("1.5")):
        with pytest.raises(NothingToCompareWith):
            markup_from_margin(share)
        with pytest.raises(NothingToCompareWith):
            before_discount(D(80), share)
