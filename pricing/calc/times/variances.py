"""Planned against actual: what the price and what the amount of a thing changed in a cost.

For labour the price is the wage and the amount the hours; for a material its unit cost and its
use. Source: OpenStax, Principles of Accounting 2, section 8.3 (the two parts add up to the whole:
the price counts on what was really used, the amount at the planned price).
"""

from dataclasses import dataclass
from decimal import Decimal

from maker.calc import sums
from maker.calc.explanation import Line, sum_line
from maker.calc.money import with_working_precision


@dataclass(frozen=True, slots=True)
class Variance:
    """Above zero it cost more than planned. Money, unrounded."""

    by_price: Decimal
    by_amount: Decimal
    line: Line

    @property
    def total(self) -> Decimal:
        """What it cost more than planned."""
        return self.by_price + self.by_amount


@with_working_precision
def variance_of(
    name: str,
    *,
    planned_amount: Decimal,
    planned_price: Decimal,
    actual_amount: Decimal,
    actual_price: Decimal,
) -> Variance:
    """Return what the price and what the amount changed: (AP - PP) x AA and (AA - PA) x PP."""
    by_price = (actual_price - planned_price) * actual_amount
    by_amount = (actual_amount - planned_amount) * planned_price
    lines = [
        Line(
            f"{name}: price",
            by_price,
            "money",
            (sums.unit_cost(actual_price) - sums.unit_cost(planned_price))
            * sums.number(actual_amount),
            "variance.price",
        ),
        Line(
            f"{name}: amount",
            by_amount,
            "money",
            (sums.number(actual_amount) - sums.number(planned_amount))
            * sums.unit_cost(planned_price),
            "variance.amount",
        ),
    ]
    line = sum_line(f"{name}: over plan", lines, unit="money", key="variance")
    return Variance(by_price, by_amount, line)
