"""What the overhead of a workshop comes to for one hour of work at the bench."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal, localcontext

from maker.calc.money import format_money
from maker.calc.refusal import Refusal
from maker.calc.units import format_number

MONTHS = 12
# More digits than any later sum uses, so that the rate itself adds no error of its own.
DIGITS = 40


class NoHours(Refusal):
    """Overhead has to be shared over hours, and none in the file."""


@dataclass(frozen=True, slots=True)
class OverheadCost:
    """One thing that is paid whether or not anything is made."""

    amount: Decimal
    is_yearly: bool


@dataclass(frozen=True, slots=True)
class WritingOff:
    """How amounts are written in an explanation."""

    currency: str = "EUR"
    locale: str = "en_GB"

    def money(self, amount: Decimal) -> str:
        """Write an amount."""
        return format_money(amount, self.currency, self.locale)

    def number(self, value: Decimal) -> str:
        """Write a plain number."""
        return format_number(value, self.locale)


def yearly_total(costs: Sequence[OverheadCost]) -> Decimal:
    """Return what all costs come to in a year: a monthly one counts twelve times."""
    return sum(
        (cost.amount if cost.is_yearly else cost.amount * MONTHS for cost in costs), Decimal(0)
    )


def rate_over_year(
    costs: Sequence[OverheadCost], hours_per_year: Decimal, writing: WritingOff
) -> tuple[Decimal, str]:
    """Share a year's overhead over the hands-on hours of a year; return rate and explanation.

    The rate is not rounded. Refusals: NoHours, when there is overhead and no hour to bear it.
    """
    total = yearly_total(costs)
    if not total:
        return Decimal(0), "no overhead entered"
    if hours_per_year <= 0:
        raise NoHours(
            f"{writing.money(total)} of overhead per year can't be shared over 0 hours. Enter "
            "your hands-on hours per year.",
            where="hours_per_year",
        )
    with localcontext(prec=DIGITS):
        rate = total / hours_per_year
    return rate, (
        f"{writing.money(total)} of overhead per year ÷ {writing.number(hours_per_year)} "
        "hands-on hours per year"
    )


def rate_over_month(
    costs: Sequence[OverheadCost], planned_hours: Decimal, writing: WritingOff
) -> tuple[Decimal, str]:
    """Share a month's overhead over the hours planned for a month; return rate and explanation.

    A yearly cost counts a twelfth. The rate is not rounded. Refusals: NoHours.
    """
    total = yearly_total(costs)
    if not total:
        return Decimal(0), "no overhead entered"
    if planned_hours <= 0:
        raise NoHours(
            f"{writing.money(total / MONTHS)} of overhead per month can't be shared over 0 "
            "hours. Enter your planned hours per month.",
            where="planned_hours_per_month",
        )
    with localcontext(prec=DIGITS):
        # one division, so that a twelfth that never ends is not cut off half-way
        rate = total / (planned_hours * MONTHS)
    return rate, (
        f"{writing.money(total / MONTHS)} of overhead per month ÷ "
        f"{writing.number(planned_hours)} planned hours per month"
    )
