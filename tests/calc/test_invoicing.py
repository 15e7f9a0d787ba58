"""Invoices of an order, credit notes and payments, beside sums worked out by hand.

Tax once for each rate of a document, halves up: EN 16931, rules BR-CO-14, BR-CO-17 and BR-S-08;
the discount and the delivery charge are its document level allowance and charge (BR-CO-13).
"""

import datetime
import random
from decimal import Decimal

import pytest

from pricing.calc.invoicing.credit_notes import Credited, TaxInParts, credit_note
from pricing.calc.invoicing.invoices import (
    BadInvoice,
    Delivered,
    SaleTerms,
    invoices_of,
    order_totals,
    totals_of,
)
from pricing.calc.invoicing.payments import Payment, account_of
from pricing.calc.invoicing.sharing import share_in_turn
from pricing.calc.price.tax import DocumentLine

FIFTH = Decimal("0.20")
TENTH = Decimal("0.10")


def money(*amounts):
    return [Decimal(amount) for amount in amounts]


def line(price, quantity, rate=FIFTH):
    return DocumentLine(Decimal(price), Decimal(quantity), rate)


@pytest.mark.parametrize(
    ("total", "weights", "shares"),
    [
        ("10.00", (1, 1, 1), ("3.33", "3.33", "3.34")),
        ("0.02", (1, 1, 1, 1), ("0.01", "0.01", "0.00", "0.00")),  # never below zero
        ("0.00", (3, 4), ("0.00", "0.00")),
        ("5.00", (0, 0), ("2.50", "2.50")),
        ("7.77", (5,), ("7.77",)),
        ("0.05", (1, 1), ("0.03", "0.02")),  # halves up, the last takes the rest
    ],
)
def test_the_last_share_takes_the_odd_cents(total, weights, shares):
    found = share_in_turn(Decimal(total), [Decimal(weight) for weight in weights])
    assert found == money(*shares)


def test_nothing_to_share_over_gives_no_shares():
    assert share_in_turn(Decimal(0), []) == []


def test_the_discount_of_a_delivery_lowers_the_tax_of_its_own_rates():
    # 60 at 20 % and 40 at 10 %, 10 off: 6 and 4; tax 54 x 0.2 + 36 x 0.1 = 10.80 + 3.60
    goods = (line(6, 10), line(4, 10, TENTH))
    (invoice,) = invoices_of([Delivered(goods)], SaleTerms(discount=Decimal(10)))
    assert [(each.rate, each.base, each.tax) for each in invoice.totals.rates] == [
        (FIFTH, Decimal(54), Decimal("10.80")),
        (TENTH, Decimal(36), Decimal("3.60")),
    ]
    assert invoice.totals.gross == Decimal("104.40")


def test_extras_carry_no_discount():
    delivered = Delivered((line(10, 10),), (line(12, 1),))
    (invoice,) = invoices_of([delivered], SaleTerms(discount=Decimal(10), delivery=Decimal(8)))
    assert (invoice.goods, invoice.discount, invoice.delivery, invoice.extras) == (100, 10, 8, 12)
    assert invoice.totals.net == 110
    assert invoice.totals.tax == 22


def test_prices_with_tax_in_them_stay_what_was_asked():
    # 12.00 with a fifth of tax in it is 10.00 and 2.00
    terms = SaleTerms(prices_include_tax=True, deposit=Decimal(6))
    first, last = invoices_of([Delivered((line(12, 1),)), Delivered((line(12, 2),))], terms)
    assert (first.totals.net, first.totals.tax, first.totals.gross) == (10, 2, 12)
    assert (first.deposit, last.deposit) == (2, 4)
    assert (first.due, last.due) == (10, 20)


def test_a_discount_above_the_goods_is_refused():
    with pytest.raises(BadInvoice) as refused:
        invoices_of([Delivered((line(1, 3),))], SaleTerms(discount=Decimal("3.01")))
    assert refused.value.where == "discount"


def test_a_deposit_takes_off_no_more_than_the_invoices_come_to():
    invoices = invoices_of([Delivered((line(1, 3),))] * 2, SaleTerms(deposit=Decimal(100)))
    assert [invoice.due for invoice in invoices] == [0, 0]
    assert sum(invoice.deposit for invoice in invoices) == Decimal("7.20")


def test_a_credit_note_takes_its_share_of_the_discount_and_none_of_the_delivery():
    # 3 x 4.15 + 2 x 0.70 = 13.85; 3 % of it 0.42; tax 2.686 -> 2.69
    terms = SaleTerms(discount=Decimal("16.20"), delivery=Decimal("17.50"))
    credit = credit_note((line("4.15", 3), line("0.70", 2)), Decimal("0.03"), terms)
    assert (credit.goods, credit.discount) == tuple(money("13.85", "0.42"))
    found = credit.totals
    assert (found.net, found.tax, found.gross) == tuple(money("13.43", "2.69", "16.12"))


def test_goods_credited_one_by_one_take_the_whole_discount_to_the_cent():
    # 3 x 0.50 less 5 %: 0.075 -> 0.08; alone each takes 0.025 -> 0.03, which would be 0.09
    terms, share, before, given = SaleTerms(), Decimal("0.05"), Credited(), []
    for _ in range(3):
        note = credit_note([line("0.50", 1, Decimal(0))], share, terms, before)
        given.append(note.discount)
        before = Credited(before.goods + note.goods, before.discount + note.discount)
    assert given == money("0.03", "0.02", "0.03")
    assert before == Credited(Decimal("1.50"), Decimal("0.08"))


@pytest.mark.parametrize(
    ("include_tax", "per_line", "taxes"),
    [
        # 7 x 10.03 = 70.21, a fifth 14.042 -> 14.04; of 1, 2, 3 ... 2.006, 4.012, 6.018 ...
        (False, False, ("2.01", "2.00", "2.01", "2.00", "2.01", "2.01", "2.00")),
        # a sixth of 70.21 is 11.7017 -> 11.70; of 1, 2, 3 ... 1.6717, 3.3433, 5.015 ...
        (True, False, ("1.67", "1.67", "1.68", "1.67", "1.67", "1.67", "1.67")),
        # tax of each line as it is rounded, until nothing is left: the last takes the rest
        (False, True, ("2.01", "2.01", "2.01", "2.01", "2.01", "2.01", "1.98")),
    ],
)
def test_goods_credited_one_by_one_take_the_tax_of_the_invoice(include_tax, per_line, taxes):
    terms = SaleTerms(prices_include_tax=include_tax, tax_per_line=per_line)
    whole = totals_of([line("10.03", 7)], terms)
    given, rates = [], []
    for left in range(6, -1, -1):
        parts = TaxInParts({FIFTH: whole.tax}, tuple(rates), is_rest=not left)
        note = credit_note([line("10.03", 1)], Decimal(0), terms, tax=parts)
        given.append(note.totals.tax)
        rates.extend(note.totals.rates)
        assert note.totals.gross == note.totals.net + note.totals.tax
    assert given == money(*taxes)
    assert sum(given) == whole.tax
    assert sum(each.base for each in rates) == whole.net


def test_charges_are_credited_beside_goods_and_bear_no_discount():
    # 10 less 5 % is 9.50, and 12.00: tax 4.30
    note = credit_note([line(10, 1)], Decimal("0.05"), SaleTerms(), charges=[line(12, 1)])
    assert (note.goods, note.discount) == tuple(money("10", "0.50"))
    assert (note.totals.net, note.totals.tax) == tuple(money("21.50", "4.30"))


def test_only_cards_cost_a_fee_and_paying_back_earns_none():
    day = datetime.date(2026, 10, 5)
    payments = [
        Payment(day, Decimal(amount), by_card)
        for amount, by_card in (("200", True), ("50", False), ("150", True), ("-20", True))
    ]
    account = account_of(
        money("447.44"),
        money("16.12"),
        payments,
        fee_share=Decimal("0.0175"),
        fee_fixed=Decimal("0.20"),
    )
    # 3.50 + 0.20 and 2.625 + 0.20 -> 2.83
    assert account.fees == Decimal("6.53")
    assert (account.paid, account.owed) == tuple(money("380", "51.32"))


@pytest.mark.parametrize("seed", range(40))
@pytest.mark.parametrize("include_tax", [False, True])
def test_invoices_add_up_to_the_order_but_for_the_rounding_of_tax(seed, include_tax):
    chance = random.Random(seed)
    digits = chance.choice([0, 2, 3])
    rates = [chance.choice(money("0", "0.055", "0.20")) for _ in range(2)]

    def amount(most):
        return Decimal(chance.randint(0, most)).scaleb(-digits)

    deliveries = [
        Delivered(
            tuple(DocumentLine(amount(900), Decimal(chance.randint(0, 60)), r) for r in rates),
            (DocumentLine(amount(500), tax_rate=rates[0]),),
        )
        for _ in range(chance.randint(1, 6))
    ]
    goods = sum(invoice.goods for invoice in invoices_of(deliveries, SaleTerms(digits=digits)))
    terms = SaleTerms(
        discount=min(amount(2000), goods),
        delivery=amount(3000),
        deposit=amount(20_000),
        prices_include_tax=include_tax,
        tax_per_line=chance.random() < 0.5,
        digits=digits,
    )
    invoices, quote = invoices_of(deliveries, terms), order_totals(deliveries, terms)
    assert sum(invoice.discount for invoice in invoices) == terms.discount
    assert sum(invoice.delivery for invoice in invoices) == terms.delivery
    assert all(invoice.discount >= 0 and invoice.delivery >= 0 for invoice in invoices)
    total = sum(invoice.totals.gross for invoice in invoices)
    assert sum(invoice.deposit for invoice in invoices) == min(terms.deposit, total)
    # half a unit for each tax that is rounded by itself: two rates, or each line
    roundings = sum(len(invoice.lines) for invoice in invoices) + len(deliveries)
    assert abs(total - quote.gross) <= roundings * Decimal(1).scaleb(-digits)
    if include_tax:
        assert total == quote.gross
