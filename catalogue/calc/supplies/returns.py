"""Goods that go back to the supplier: what they cost here, what he owes, and what is lost.

They leave at the landed unit cost of their own receipt line; the supplier pays back the price less
the discount's share, but not the postage, which is lost (common practice; contracts differ).
"""

from dataclasses import dataclass
from decimal import Decimal

from catalogue.calc.supplies.unit_cost import rounded_unit_cost
from maker.calc.money import to_minor, with_working_precision


@dataclass(frozen=True, slots=True)
class ReturnedGoods:
    """`cost` with six decimals, `owed` in whole coins."""

    cost: Decimal
    owed: Decimal

    def lost(self, refund: Decimal) -> Decimal:
        """Return what is lost when the supplier pays back so much."""
        return self.cost - refund


@with_working_precision
def returned_goods(
    quantity: Decimal, *, of_quantity: Decimal, landed: Decimal, owed: Decimal, digits: int = 2
) -> ReturnedGoods:
    """Return what some of a line's goods cost and what the supplier owes for them, halves up.

    `landed` and `owed` are of the whole line.
    """
    cost = (rounded_unit_cost(landed, of_quantity) * quantity).quantize(Decimal("0.000001"))
    return ReturnedGoods(cost, to_minor(owed * quantity / of_quantity, digits))
