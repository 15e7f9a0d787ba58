"""How many until it pays: fixed costs over what each sale leaves, a tool over what it saves.

Source of the sums: OpenStax (Franklin, Graybeal, Cooper), Principles of Accounting 2, chapter 3
(contribution margin, target profit, sales mix, operating leverage).
"""

from dataclasses import dataclass
from decimal import Decimal

from maker.calc import sums
from maker.calc.explanation import Line
from maker.calc.money import whole_up, with_working_precision
from maker.calc.refusal import Refusal
from pricing.calc.costing.rates import WorkshopRates

ZERO = Decimal(0)


class NeverPays(Refusal):
    """Each piece leaves or saves nothing, so no number of them pays."""


@dataclass(frozen=True, slots=True)
class BreakEven:
    """`exact` as the sum gives it, `count` the whole number that pays, `gain_each` of one."""

    exact: Decimal
    count: int
    gain_each: Decimal
    line: Line


@with_working_precision
def break_even(fixed: Decimal, gain_each: Decimal, target: Decimal = ZERO) -> BreakEven:
    """Return how many sales pay what is fixed and leave a target profit: (fixed + target) / gain.

    `gain_each` is what one sale leaves after all that it costs. Errors: NeverPays.
    """
    if gain_each <= 0:
        raise NeverPays("A sale leaves nothing, so it never pays.", where="gain_each")
    exact = max(fixed + target, ZERO) / gain_each
    count = int(whole_up(exact))
    how = ((sums.money(fixed) + sums.money(target)) / sums.money(gain_each)).then("up")
    return BreakEven(exact, count, gain_each, Line("sales needed", count, "piece", how, "even"))


@with_working_precision
def leverage(contribution: Decimal, fixed: Decimal) -> Decimal:
    """Return by how many times the share of the sales' change the profit changes.

    Contribution / (contribution - fixed): 2 means that 10% more sales are 20% more profit.
    Refuses a profit of nothing or less, which has no share to change by.
    """
    if contribution <= fixed:
        raise NeverPays("There is no profit whose share could change.", where="fixed")
    return contribution / (contribution - fixed)


@with_working_precision
def tool_break_even(
    price: Decimal,
    *,
    saved_minutes_each: Decimal,
    rates: WorkshopRates,
    saved_cost_each: Decimal = ZERO,
) -> BreakEven:
    """Return after how many pieces a tool has paid for itself.

    Each piece saves minutes at wage and overhead, and material or wear (below zero: the tool
    wears more than it saves). Errors: NeverPays.
    """
    minute = (rates.wage_per_hour + rates.overhead_per_hour) / 60
    saving = saved_minutes_each * minute + saved_cost_each
    minutes = sums.say("{} min", sums.number(saved_minutes_each))
    how = minutes * sums.unit_cost(minute) + sums.money(saved_cost_each)
    return _pays(price, saving, Line("saved per item", saving, "money", how))


def _pays(price: Decimal, saving: Decimal, line: Line) -> BreakEven:
    if saving <= 0:
        raise NeverPays(
            "The tool saves nothing per item, so it never pays for itself.", where="price"
        )
    exact = price / saving
    count = int(whole_up(exact))
    how = (sums.money(price) / sums.money(saving)).then("up")
    return BreakEven(
        exact,
        count,
        saving,
        Line("items until it has paid for itself", count, "piece", how, "tool", (line,)),
    )
