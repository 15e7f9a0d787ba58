"""What is owed for a cancelled order, beside sums worked out by hand.

The order is the worked one of two drops: 663.96 in all, the first drop 447.44.
"""

from decimal import Decimal

import pytest

from pricing.calc.invoicing.cancelling import (
    BadStage,
    owed_after_credit,
    owed_when_cancelled,
)

TOTAL, FIRST = Decimal("663.96"), Decimal("447.44")


@pytest.mark.parametrize(
    ("delivered", "share", "owed"),
    [
        ("0", "0", "0.00"),
        # 663.96 x 0.3 = 199.188
        ("0", "0.3", "199.19"),
        # 663.96 x 0.75 = 497.97
        ("0", "0.75", "497.97"),
        # 447.44 + 216.52 x 0.75 = 447.44 + 162.39
        ("447.44", "0.75", "609.83"),
        ("447.44", "0", "447.44"),
        ("0", "1", "663.96"),
        ("663.96", "0.3", "663.96"),
    ],
)
def test_what_left_is_paid_and_the_share_of_the_rest(delivered, share, owed):
    assert owed_when_cancelled(TOTAL, Decimal(delivered), Decimal(share)) == Decimal(owed)


def test_without_minor_units_it_is_whole():
    assert owed_when_cancelled(Decimal(9999), Decimal(0), Decimal("0.3"), digits=0) == 3000


@pytest.mark.parametrize(("delivered", "share"), [("0", "-0.1"), ("0", "1.1"), ("700", "0.5")])
def test_what_cannot_be_is_refused(delivered, share):
    with pytest.raises(BadStage):
        owed_when_cancelled(TOTAL, Decimal(delivered), Decimal(share))


@pytest.mark.parametrize(
    ("owed", "invoiced", "credit", "left"),
    [
        # 447.44 left and 162.39 of the rest: 16.12 of what left came back
        ("609.83", "447.44", "16.12", "593.71"),
        # only what left is owed, and all of it came back
        ("447.44", "447.44", "447.44", "0.00"),
        # 47.44 were let off before: the credit note only writes that down
        ("400.00", "447.44", "47.44", "400.00"),
        ("400.00", "447.44", "60.00", "387.44"),
        ("0.00", "447.44", "447.44", "0.00"),
    ],
)
def test_a_credit_note_after_cancelling_lowers_what_is_owed(owed, invoiced, credit, left):
    found = owed_after_credit(Decimal(owed), Decimal(invoiced), Decimal(credit))
    assert found == Decimal(left)
