"""What it costs to take a quote to its places: carriers, or her own time and way."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from maker.calc.money import to_minor, with_working_precision
from maker.workshop.models import Workshop

ZERO = Decimal(0)
MINUTES = 60  # of an hour


def distance_unit(workshop: Workshop) -> str:
    """Return what ways are counted in where lengths are counted like this."""
    return "mi" if workshop.unit == "in" else "km"


@dataclass(frozen=True, slots=True)
class DropInput:
    """A place as typed; what was not said is None."""

    address: str = ""
    quantity: int | None = None
    carrier: Decimal | None = None
    minutes: int | None = None
    distance: Decimal | None = None


@with_working_precision
def cost_of_drop(
    drop: DropInput, hour: Decimal, distance_cost: Decimal | None, digits: int
) -> Decimal:
    """Return what one place costs, net: carrier + minutes of her hour + way, halves up.

    `hour` is wage and overhead of an hour.
    """
    own = Decimal(drop.minutes or 0) * hour / MINUTES
    way = (drop.distance or ZERO) * (distance_cost or ZERO)
    return to_minor((drop.carrier or ZERO) + own + way, digits)


def cost_of_drops(
    drops: Iterable[DropInput], hour: Decimal, distance_cost: Decimal | None, digits: int
) -> Decimal:
    """Return what all places cost: the delivery of a quote."""
    return sum((cost_of_drop(drop, hour, distance_cost, digits) for drop in drops), ZERO)
