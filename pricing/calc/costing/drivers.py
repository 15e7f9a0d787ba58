"""What drives a cost: the share of each kind, the largest first."""

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from maker.calc import sums
from maker.calc.explanation import Line
from maker.calc.money import with_working_precision
from pricing.calc.costing.cost import JobCost

_FOUR_PLACES = Decimal("0.0001")


@dataclass(frozen=True, slots=True)
class Driver:
    """One kind of cost and its share of the whole, 0 to 1, with four decimals."""

    key: str
    label: str
    cost: Decimal
    share: Decimal
    line: Line


@with_working_precision
def drivers_of(job_cost: JobCost) -> tuple[Driver, ...]:
    """Return the six kinds of cost, the largest first; shares are zero when nothing costs."""
    kinds = (
        ("labour", "labour", job_cost.labour_cost),
        ("overhead", "overhead", job_cost.overhead_cost),
        ("sheets", "sheets", job_cost.sheets_cost),
        ("other", "other materials", job_cost.other_cost),
        ("wear", "wear of tools", job_cost.wear_cost),
        ("packing", "packing", job_cost.packing_cost),
    )
    drivers = []
    for key, label, cost in kinds:
        share = cost / job_cost.cost if job_cost.cost else Decimal(0)
        share = share.quantize(_FOUR_PLACES, rounding=ROUND_HALF_UP)
        how = (sums.money(cost) / sums.money(job_cost.cost)).then("4 decimals")
        line = Line(f"{label}: share of the cost", share, "share", how, f"d.{key}")
        drivers.append(Driver(key, label, cost, share, line))
    return tuple(sorted(drivers, key=lambda driver: -driver.cost))
