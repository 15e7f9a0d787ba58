"""Totals paid in coins: rounded to what can be paid, once, after tax, and shown as a line.

Where the smallest coins are gone the total to pay in cash goes to the nearest multiple of what is
left; what is paid by card is not rounded, and tax is that of the unrounded total. Halves go up, and
an amount above nothing never becomes nothing. Source: the Slovak act on prices as in force since
1 July 2022 (5 cents), read as reproduced in notes for makers of cash registers. That cash goes to
0.50 in Denmark and to 0.05 in Canada and Switzerland: Unicode CLDR, supplemental currency data
(`cashRounding`); local law comes first.
"""

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from maker.calc.explanation import Line
from maker.calc.money import exponent_of, with_working_precision
from maker.calc.refusal import Refusal

ZERO = Decimal(0)


class BadCashStep(Refusal):
    """The smallest payable amount is above zero, or zero for none."""


@dataclass(frozen=True, slots=True)
class CashTotal:
    """What is paid in coins, and the rounding that a document shows (payable - total)."""

    payable: Decimal
    rounding: Decimal
    line: Line


@with_working_precision
def cash_total(total: Decimal, step: Decimal) -> CashTotal:
    """Return the total as it can be paid in multiples of `step`; a step of 0 leaves it.

    A refund is rounded like the sale it takes back. Errors: BadCashStep.
    """
    if not step.is_finite() or step < 0:
        raise BadCashStep("Cash rounding must be 0 (none) or more.", where="step")
    payable = total
    if step:
        steps = (abs(total) / step).to_integral_value(rounding=ROUND_HALF_UP)
        if total:
            steps = max(steps, Decimal(1))
        payable = (steps * step).copy_sign(total).quantize(min(total, step, key=exponent_of))
    rounding = payable - total
    how = f"nearest {step}" if step else "not rounded"
    lines = (
        Line("total", total, "money"),
        Line("rounding", rounding, "money", key="cash.rounding"),
    )
    line = Line("to pay in cash", payable, "money", how, "cash", lines, is_sum=True)
    return CashTotal(payable, rounding, line)
