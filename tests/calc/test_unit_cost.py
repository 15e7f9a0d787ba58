"""Landed costs: shares that add up, tax in or out of the cost, receipts that cannot be meant."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.calc.supplies.unit_cost import (
    BadReceipt,
    ReceiptLine,
    land_receipt,
    rounded_unit_cost,
)

D = Decimal


def line(amount, quantity="1", name="card"):
    return ReceiptLine(name, D(quantity), D(amount))


def test_a_tie_goes_to_the_earlier_line():
    receipt = land_receipt([line("1.00"), line("1.00")], postage=D("0.01"))
    assert [each.postage_share for each in receipt.lines] == [D("0.01"), D("0.00")]


def test_tax_is_part_of_the_cost_only_when_nobody_pays_it_back():
    lines = [line("8.00", "4"), line("2.00", "4")]
    kept = land_receipt(lines, tax=D("2.00"))
    paid_back = land_receipt(lines, tax=D("2.00"), tax_is_recoverable=True)
    assert [each.unit_cost for each in kept.lines] == [D("2.4"), D("0.6")]
    assert [each.unit_cost for each in paid_back.lines] == [D("2"), D("0.5")]
    assert [each.tax_share for each in paid_back.lines] == [D("1.60"), D("0.40")]
    assert kept.paid == paid_back.paid == 12
    assert (kept.landed, paid_back.landed) == (12, 10)


def test_what_was_paid_is_goods_and_postage_and_tax_less_the_discount():
    receipt = land_receipt(
        [line("8.00", "4"), line("2.00", "4")],
        postage=D("1.50"),
        discount=D("1.00"),
        tax=D("2.10"),
    )
    # 10.00 + 1.50 - 1.00 + 2.10
    assert receipt.paid == receipt.landed == receipt.explanation.find("RC").number == D("12.60")


def test_a_free_line_carries_no_postage_and_free_lines_alone_share_it_equally():
    receipt = land_receipt([line("0"), line("3.00")], postage=D("1.00"))
    assert [each.landed for each in receipt.lines] == [0, D("4.00")]
    receipt = land_receipt([line("0"), line("0")], postage=D("1.01"))
    assert [each.landed for each in receipt.lines] == [D("0.51"), D("0.50")]


@pytest.mark.parametrize(
    ("digits", "postage", "shares"),
    [(0, "100", ["34", "33", "33"]), (3, "0.100", ["0.034", "0.033", "0.033"])],
)
def test_currencies_without_and_with_three_decimals(digits, postage, shares):
    receipt = land_receipt([line("5")] * 3, postage=D(postage), digits=digits)
    assert [each.postage_share for each in receipt.lines] == [D(share) for share in shares]


@pytest.mark.parametrize(
    ("lines", "shared", "where"),
    [
        ([], {}, "lines"),
        ([line("-1")], {}, "card"),
        ([line("1.005")], {}, "card"),
        ([line("NaN")], {}, "card"),
        ([line("1", "0")], {}, "card"),
        ([line("1", "-2")], {}, "card"),
        ([line("1")], {"postage": D("-0.01")}, "postage"),
        ([line("1")], {"discount": D("1.01")}, "discount"),
        ([line("1")], {"tax": D("Infinity")}, "tax"),
    ],
)
def test_receipts_that_cannot_be_meant_are_refused(lines, shared, where):
    with pytest.raises(BadReceipt) as refused:
        land_receipt(lines, **shared)
    assert refused.value.where == where


CENTS = st.decimals(0, 500, places=2)


@given(
    st.lists(st.tuples(CENTS, st.decimals("0.001", 500, places=3)), min_size=1, max_size=8),
    CENTS,
    CENTS,
    st.decimals(0, 1, places=2),
    st.booleans(),
)
def test_nothing_is_lost_and_nothing_lands_below_zero(goods, postage, tax, part, recoverable):
    lines = [
        ReceiptLine(str(n), amount_and[1], amount_and[0]) for n, amount_and in enumerate(goods)
    ]
    discount = (sum(each.amount for each in lines) * part).quantize(D("0.01"), "ROUND_DOWN")
    receipt = land_receipt(
        lines, postage=postage, discount=discount, tax=tax, tax_is_recoverable=recoverable
    )
    assert sum(each.postage_share for each in receipt.lines) == postage
    assert sum(each.discount_share for each in receipt.lines) == discount
    assert sum(each.tax_share for each in receipt.lines) == tax
    assert sum(each.landed for each in receipt.lines) == receipt.landed
    assert receipt.paid - receipt.landed == (tax if recoverable else 0)
    assert all(each.landed >= 0 for each in receipt.lines)


def test_halves_of_the_sixth_decimal_go_up():
    assert rounded_unit_cost(D("0.0000025"), D(1)) == D("0.000003")
    assert rounded_unit_cost(D("0.0000249"), D(10)) == D("0.000002")


def test_each_share_and_unit_cost_says_how_it_came_about():
    lines = [ReceiptLine("card", D(10), D("8.00"), "sheet", 7), ReceiptLine("cord", D(4), D(2))]
    receipt = land_receipt(lines, postage=D(1), tax=D(2), tax_is_recoverable=True)
    card, cord = receipt.lines
    share = card.explanation.find("RC.card.share")
    # 1.00 x 8.00 / 10.00 of the postage; (8.00 + 0.80) / 10
    assert (share.number, str(share.how).split(",")[0]) == (D("0.80"), "1 x 8 / 10")
    assert card.explanation.find("RC.card.amount").number == D("8.00")
    assert str(card.unit_explanation.how) == "8.8 / 10, 6 decimals"
    assert card.unit_explanation.number == D("0.88")
    assert card.unit_explanation.source == ("purchase_line", 7)
    assert cord.unit_explanation.source is None
    assert "per sheet" in card.unit_explanation.label
    assert "per unit" in cord.unit_explanation.label
    assert receipt.explanation.find("RC.tax").how == "reclaimed, so not part of the cost"
    kept = land_receipt(lines, tax=D(2))
    assert kept.explanation.find("RC.tax").how == "part of the cost"


def test_an_amount_finer_than_its_currency_is_refused_by_the_currency_s_own_decimals():
    with pytest.raises(BadReceipt):
        land_receipt([line("8.50")], digits=0)
    assert land_receipt([line("8.505")], digits=3).goods == D("8.505")
