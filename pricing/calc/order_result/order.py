"""An order as plain values: what goes out when, minutes an item, and how the workshop works."""

import datetime
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from fractions import Fraction

from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal
from pricing.calc.schedule.calendar import CountedDays, WorkCalendar
from pricing.calc.schedule.job import Bench, Block, Cap, Delivery, Job, Promise, Supply

# what is made by colourway, in their order
Items = tuple[tuple[str, int], ...]


class RackHoldsNothing(Refusal):
    """Not one item dries on the rack in a day."""


@dataclass(frozen=True, slots=True)
class Minutes:
    """Whole minutes. `carton`: to pack one; `simple_saves`: by a ready-cut closing, an item."""

    setup: int
    make: int
    finish: int
    name: int
    carton: int
    simple_saves: int


@dataclass(frozen=True, slots=True)
class Rack:
    """Items dry `dryings` times each, `per_load` together, so many loads a day."""

    per_load: int
    loads_per_day: int
    dryings: int

    @property
    def items_per_day(self) -> int:
        """Return how many items are dried in a day, whole ones."""
        return self.loads_per_day * self.per_load // self.dryings


@dataclass(frozen=True, slots=True)
class Part:
    """What goes out in one delivery; `named` of the items carry a name."""

    due_on: datetime.date
    items: Items
    named: int

    @property
    def count(self) -> int:
        """Return the items to deliver."""
        return sum(count for _, count in self.items)


@dataclass(frozen=True, slots=True)
class Material:
    """What the order needs of a material, and what is there that nobody else is to have."""

    name: str
    need: Decimal
    in_stock: Decimal
    reserved: Decimal

    @property
    def short(self) -> Decimal:
        """Return what must be bought at least."""
        return max(Decimal(0), self.need - self.in_stock + self.reserved)


@dataclass(frozen=True, slots=True)
class Order:
    """Everything the dates of an order follow from."""

    today: datetime.date
    late_yes_on: datetime.date
    spare_share: Decimal
    per_carton: int
    parts: tuple[Part, ...]
    minutes: Minutes
    calendar: WorkCalendar
    promises: tuple[Promise, ...]
    rack: Rack | None
    transit_days: int
    carrier_days: CountedDays
    supplier_days: CountedDays
    buffer_days: int
    lead_days: int
    proof_days: int
    evening_minutes: int
    materials: tuple[Material, ...]

    @property
    def bench(self) -> Bench:
        """Return how the workshop works."""
        return Bench(self.calendar, self.carrier_days, self.buffer_days)


@dataclass(frozen=True, slots=True)
class PartMinutes:
    """Counts and minutes of one delivery; `spares` are counted up for each colourway."""

    count: int
    spares: int
    made: int
    make_minutes: int
    setup_minutes: int
    finish_minutes: int


@with_working_precision
def minutes_of(order: Order) -> tuple[PartMinutes, ...]:
    """Return counts and minutes by delivery; the first one carries the set-up."""
    each = order.minutes
    found = []
    for place, part in enumerate(order.parts):
        spares = sum(
            int((count * order.spare_share).to_integral_value(rounding=ROUND_CEILING))
            for _, count in part.items
        )
        cartons = -(-part.count // order.per_carton)
        found.append(
            PartMinutes(
                count=part.count,
                spares=spares,
                made=part.count + spares,
                make_minutes=(part.count + spares) * each.make,
                setup_minutes=each.setup if place == 0 else 0,
                finish_minutes=part.count * each.finish
                + part.named * each.name
                + cartons * each.carton,
            )
        )
    return tuple(found)


def job_of(order: Order) -> Job:
    """Return the blocks of each delivery: made, dried over a night, finished and packed.

    Only what is short is bought. Only a delivery with names waits for the proof.
    """
    caps: tuple[Cap, ...] = ()
    if order.rack is not None:
        if order.rack.items_per_day <= 0:
            raise RackHoldsNothing("The rack dries no item in a day.", where="rack")
        if order.minutes.make:
            share = Fraction(1, order.rack.items_per_day * order.minutes.make)
            caps = (Cap("rack", share),)
    deliveries = []
    for number, (part, minutes) in enumerate(zip(order.parts, minutes_of(order), strict=True), 1):
        make = Block("make", minutes.make_minutes, minutes.setup_minutes, caps)
        finish = Block("finish", minutes.finish_minutes, nights=0, after_proof=part.named > 0)
        deliveries.append(
            Delivery(f"delivery {number}", (make, finish), part.due_on, order.transit_days)
        )
    supplies = tuple(
        Supply(material.name, order.lead_days, days=order.supplier_days)
        for material in order.materials
        if material.short
    )
    return Job(tuple(deliveries), supplies, order.proof_days)
