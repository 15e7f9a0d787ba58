"""What a fair must take before it is worth saying yes to, at the mix of items sold before."""

from dataclasses import dataclass
from decimal import Decimal

from maker.calc.money import whole_up, with_working_precision

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class SoldMix:
    """An average item of a mix: what it is sold for, with tax, and what it leaves of that."""

    price_each: Decimal
    gain_each: Decimal


@dataclass(frozen=True, slots=True)
class Goal:
    """So many items, what they take, and both for each hour the fair is open (None: no hours)."""

    items: int
    takings: Decimal
    items_an_hour: Decimal | None
    takings_an_hour: Decimal | None


@with_working_precision
def goal_of(amount: Decimal, mix: SoldMix, hours_open: Decimal) -> Goal | None:
    """Return how many items with this mix leave an amount; None where no number does.

    items = amount / gain of an item, up. Common practice (break-even quantity), no source.
    """
    if mix.gain_each <= 0:
        return None
    items = int(whole_up(max(amount, ZERO) / mix.gain_each))
    takings = items * mix.price_each
    if hours_open <= 0:
        return Goal(items, takings, None, None)
    return Goal(items, takings, items / hours_open, takings / hours_open)


@with_working_precision
def paid_an_hour(items: int, mix: SoldMix, fixed: Decimal, hours: Decimal) -> Decimal | None:
    """Return what an hour pays when so many items with this mix sell; None without hours."""
    return (items * mix.gain_each - fixed) / hours if hours > 0 else None


@with_working_precision
def share_of_fixed(fixed: Decimal, items: int) -> Decimal | None:
    """Return what fixed costs add to each item when so many are sold; None for none sold."""
    return fixed / items if items > 0 else None
