"""What is open of an order's invoices, beside the worked order of two drops.

Invoice 1: 447.44, deposit 138.15 off, 309.29 due; invoice 2: 216.52, 66.85 off, 149.67 due;
the credit note on invoice 1 is 16.12.
"""

from decimal import Decimal

import pytest

from pricing.calc.invoicing.overdue import (
    Billed,
    at_most,
    deposit_missing,
    gone_again,
    open_amounts,
    paid_ahead,
)

FIRST, SECOND, DEPOSIT = Decimal("309.29"), Decimal("149.67"), Decimal("205.00")


@pytest.mark.parametrize(
    ("paid", "opened"),
    [
        ("0", ("309.29", "149.67")),
        # the deposit pays no invoice twice
        ("205.00", ("309.29", "149.67")),
        ("455.00", ("59.29", "149.67")),
        ("514.29", ("0.00", "149.67")),
        ("616.47", ("0.00", "47.49")),
        ("700.00", ("0.00", "0.00")),
    ],
)
def test_the_earliest_invoice_is_paid_first(paid, opened):
    found = open_amounts([Billed(FIRST), Billed(SECOND)], Decimal(paid), DEPOSIT)
    assert found == tuple(Decimal(each) for each in opened)


def test_what_was_credited_is_not_owed():
    """As the case says: 616.47 was paid and 31.37 is still owed."""
    invoices = [Billed(FIRST, Decimal("16.12")), Billed(SECOND)]
    assert sum(open_amounts(invoices, Decimal("616.47"), DEPOSIT)) == Decimal("31.37")
    assert open_amounts([Billed(FIRST, FIRST)], Decimal(0)) == (0,)


def test_what_was_credited_beyond_an_invoice_pays_the_next_or_was_paid_back():
    paid_off = [Billed(Decimal(20), Decimal(50)), Billed(Decimal(100))]
    assert open_amounts(paid_off, DEPOSIT, DEPOSIT) == (0, 70)
    # the 30 were paid back, and then 100 paid for the second
    assert open_amounts(paid_off, DEPOSIT - 30, DEPOSIT) == (0, 100)
    assert open_amounts(paid_off, DEPOSIT - 30 + 100, DEPOSIT) == (0, 0)


@pytest.mark.parametrize(
    ("paid", "ahead", "missing"),
    [
        # the case: 250 pays a part of what invoice 1 asks for
        ("455.00", "0", "0"),
        ("514.29", "0", "0"),
        ("520.00", "5.71", "0"),
        ("150.00", "0", "55.00"),
    ],
)
def test_what_pays_no_invoice_was_paid_ahead(paid, ahead, missing):
    invoices, paid = [Billed(FIRST)], Decimal(paid)
    assert paid_ahead(invoices, paid, DEPOSIT) == Decimal(ahead)
    assert deposit_missing(invoices, paid, DEPOSIT) == Decimal(missing)


@pytest.mark.parametrize(
    ("paid", "opened"),
    [
        ("205.00", ("309.29", "149.67")),
        # of the deposit that both took off: none, or only a part, was ever paid
        ("0", ("447.44", "216.52")),
        ("100.00", ("347.44", "216.52")),
        ("138.15", ("309.29", "216.52")),
        ("200.00", ("309.29", "154.67")),
    ],
)
def test_what_was_taken_off_and_is_not_there_is_open_again(paid, opened):
    first = Billed(FIRST, taken_off=Decimal("138.15"))
    second = Billed(SECOND, taken_off=Decimal("66.85"))
    found = open_amounts([first, second], Decimal(paid), DEPOSIT)
    assert found == tuple(Decimal(each) for each in opened)


def test_a_deposit_kept_for_the_next_invoice_is_missed_before_what_was_taken_off():
    first = Billed(FIRST, taken_off=Decimal("138.15"))
    assert open_amounts([first], Decimal("138.15"), DEPOSIT) == (FIRST,)
    assert open_amounts([first], Decimal("138.14"), DEPOSIT) == (FIRST + Decimal("0.01"),)


@pytest.mark.parametrize(
    ("paid", "gone"),
    [
        ("205.00", ("0", "0")),
        # 5.00 of the 66.85 that the second took off; then all of it, and of the first's 138.15
        ("200.00", ("0", "5.00")),
        ("138.15", ("0", "66.85")),
        ("100.00", ("38.15", "66.85")),
        ("0", ("138.15", "66.85")),
    ],
)
def test_what_was_taken_off_is_missed_from_the_last_invoice_back(paid, gone):
    first = Billed(FIRST, taken_off=Decimal("138.15"))
    second = Billed(SECOND, taken_off=Decimal("66.85"))
    found = gone_again([first, second], Decimal(paid), DEPOSIT)
    assert found == tuple(Decimal(each) for each in gone)


def test_nothing_is_missed_of_what_was_credited():
    """Invoice 447.44, 138.15 off, 309.29 asked. All but 38.15 credited: 38.15 of it are owed."""
    first = Billed(FIRST, Decimal("409.29"), Decimal("138.15"))
    taken = Decimal("138.15")
    assert gone_again([first], taken, taken) == (0,)
    # 100.00 were owed back, and were paid back
    assert gone_again([first], taken - 100, taken) == (0,)
    assert gone_again([first], Decimal(0), taken) == (Decimal("38.15"),)


def test_a_payment_ahead_that_is_undone_is_missed_like_a_deposit():
    """Invoice 100, 30 deposit and 20 paid ahead off, 50 asked: the 20 were not paid after all."""
    invoice = Billed(Decimal(50), taken_off=Decimal(50))
    assert gone_again([invoice], Decimal(30), Decimal(50)) == (20,)
    assert open_amounts([invoice], Decimal(30), Decimal(50)) == (70,)
    assert open_amounts([invoice], Decimal(80), Decimal(50)) == (20,)


def test_no_more_is_open_than_a_cancelled_order_owes():
    opened = (Decimal("309.29"), Decimal("149.67"))
    assert at_most(opened, Decimal("500")) == opened
    assert at_most(opened, Decimal("400")) == (Decimal("309.29"), Decimal("90.71"))
    assert at_most(opened, Decimal("-20")) == (0, 0)


def test_a_payment_ahead_is_missed_before_the_deposit_kept_for_the_next_invoice():
    """Deposit 145: 81.56 of it and 30 ahead came off 216; 63.44 are kept for the next invoice."""
    first = Billed(Decimal("104.44"), taken_off=Decimal("111.56"), ahead=Decimal("30"))
    held = Decimal("175")
    assert gone_again([first], Decimal("145"), held) == (30,)
    assert open_amounts([first], Decimal("145"), held) == (Decimal("134.44"),)
    assert deposit_missing([first], Decimal("145"), held) == 0
    # of the deposit first what is kept goes, then what came off
    assert gone_again([first], Decimal("81.56"), held) == (30,)
    assert gone_again([first], Decimal("81.55"), held) == (Decimal("30.01"),)
    assert deposit_missing([first], Decimal("81.56"), held) == Decimal("63.44")
