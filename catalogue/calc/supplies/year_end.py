"""Stock at the year's end: what is slow, and the lower of cost and what it would fetch.

Source: IAS 2 Inventories, paragraphs 9 and 28 to 33: item by item, and materials that go into
things sold at or above cost are not written down (paragraph 32). What local tax law wants may
differ.
"""

import datetime
from dataclasses import dataclass
from decimal import Decimal

from maker.calc.money import to_minor, with_working_precision

ZERO = Decimal(0)
RECENT_DAYS = 90


@dataclass(frozen=True, slots=True)
class SlowLimits:
    """Stock is slow after so many days without use, or when it lasts longer than so many weeks."""

    days: int
    weeks: Decimal


@dataclass(frozen=True, slots=True)
class Cover:
    """How long ago a material was used, how many weeks it lasts; None where it never was."""

    days_since_use: int | None
    weeks: Decimal | None
    is_slow: bool


@dataclass(frozen=True, slots=True)
class YearEndValue:
    """A material's cost, what it would fetch, and its value at the year's end, in whole coins."""

    cost: Decimal
    would_fetch: Decimal
    value: Decimal

    @property
    def written_down(self) -> Decimal:
        """Return what its value is below its cost."""
        return self.cost - self.value


@with_working_precision
def cover_of(
    in_stock: Decimal,
    last_used_on: datetime.date | None,
    used_lately: Decimal,
    end: datetime.date,
    limits: SlowLimits,
) -> Cover:
    """Return how slow a material is; `used_lately` is its use of the last 90 days."""
    days = None if last_used_on is None else (end - last_used_on).days
    weeks = in_stock / (used_lately / RECENT_DAYS * 7) if used_lately else None
    is_slow = days is None or days >= limits.days or weeks is None or weeks > limits.weeks
    return Cover(days, weeks, is_slow)


def is_lately(day: datetime.date, end: datetime.date) -> bool:
    """Return whether a day lies in the last 90 days up to the end."""
    return 0 <= (end - day).days < RECENT_DAYS


@with_working_precision
def year_end_value(
    cost: Decimal,
    quantity: Decimal,
    fetches_each: Decimal,
    *,
    sold_above_cost: bool,
    digits: int = 2,
) -> YearEndValue:
    """Return the lower of both; at cost where it goes into things sold at or above cost."""
    in_coins = to_minor(cost, digits)
    would_fetch = to_minor(quantity * fetches_each, digits)
    value = in_coins if sold_above_cost else min(in_coins, would_fetch)
    return YearEndValue(in_coins, would_fetch, value)
