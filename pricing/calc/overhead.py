"""What an hour of work must earn for the bills: overhead over honest hands-on hours."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from maker.calc.explanation import Line, shown, sum_line
from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal

MONTHS_OF_A_YEAR = 12


class NoHours(Refusal):
    """Overhead cannot be spread over no hours."""


class Period(StrEnum):
    """How often a bill comes, and over which time hours are planned."""

    MONTH = "month"
    YEAR = "year"


@dataclass(frozen=True, slots=True)
class Bill:
    """Rent, insurance, electricity: paid whether or not anything is made."""

    name: str
    amount: Decimal
    period: Period
    id: int | None = None


@dataclass(frozen=True, slots=True)
class OverheadRate:
    """Overhead of one hands-on hour, unrounded, and how it comes about."""

    per_hour: Decimal
    how: str
    line: Line


@with_working_precision
def overhead_per_hour(bills: Sequence[Bill], *, hours: Decimal, over: Period) -> OverheadRate:
    """Spread the bills over the hands-on hours of a year, or over the planned ones of a month.

    Yearly bills count a twelfth in a month, monthly ones twelve times in a year. Without bills the
    rate is zero. Refuses bills over no hours.
    """
    lines = [_in_period(bill, over) for bill in bills]
    total = sum_line(f"overhead of a {over.value}", lines, unit="money", key="o.total")
    if total.number and hours <= 0:
        raise NoHours(
            f"Say how many hours you work hands-on in a {over.value}, to spread the bills over.",
            where="hours",
        )
    per_hour = total.number / hours if total.number else Decimal(0)
    how = f"{shown(total.number)} a {over.value} / {shown(hours)} h"
    line = Line("overhead an hour", per_hour, "money", how, "o.hour", (total,))
    return OverheadRate(per_hour, how, line)


def _in_period(bill: Bill, over: Period) -> Line:
    source = ("overhead_item", bill.id) if bill.id is not None else None
    amount, how = bill.amount, f"{shown(bill.amount)} a {bill.period.value}"
    if bill.period is not over:
        if over is Period.YEAR:
            amount, how = amount * MONTHS_OF_A_YEAR, f"{how} x {MONTHS_OF_A_YEAR}"
        else:
            amount, how = amount / MONTHS_OF_A_YEAR, f"{how} / {MONTHS_OF_A_YEAR}"
    return Line(bill.name, amount, "money", how, source=source)
