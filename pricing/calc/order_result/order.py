"""An order as plain values: what goes out when, minutes an item, and how the workshop works."""

import datetime
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from fractions import Fraction

from catalogue.calc.recipes.recipe import PackOffer
from catalogue.calc.supplies.packs import PacksToBuy, packs_to_buy
from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal
from pricing.calc.actuals.order_actuals import MaterialUse, WorkDone
from pricing.calc.invoicing.payments import Payment
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
    """What the order needs of a material, what is there, and what others reserved of that.

    `pack` is how it is sold; `for_this_order_only` means nobody else uses what is left over.
    """

    name: str
    need: Decimal
    in_stock: Decimal
    reserved: Decimal
    pack: PackOffer | None = None
    for_this_order_only: bool = False

    @property
    def short(self) -> Decimal:
        """Return what must be bought at least."""
        return max(Decimal(0), self.need - self.in_stock + self.reserved)

    @property
    def to_buy(self) -> PacksToBuy:
        """Return the packs to buy. Errors: NoPackKnown where something is short of no pack."""
        packs = [] if self.pack is None else [self.pack]
        return packs_to_buy(self.short, packs)


@dataclass(frozen=True, slots=True)
class Sale:
    """What the order is sold for, net; `names_setup` is charged once, with the first delivery."""

    tax_rate: Decimal
    price_each: Decimal
    price_of_name: Decimal
    discount_share: Decimal
    delivery: Decimal
    names_setup: Decimal
    deposit_share: Decimal
    deposit_step: Decimal
    fee_share: Decimal
    fee_fixed: Decimal
    payments: tuple[Payment, ...]


@dataclass(frozen=True, slots=True)
class Credit:
    """What is taken back of one invoice (counted from 1): items, and names on them."""

    invoice: int
    items: int
    names: int


@dataclass(frozen=True, slots=True)
class Actual:
    """What was made, and what it took."""

    made: int
    materials: tuple[MaterialUse, ...]
    work: WorkDone


@dataclass(frozen=True, slots=True)
class Order:
    """Everything the figures follow from: dates, and money where it was sold."""

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
    sale: Sale | None = None
    credit: Credit | None = None
    actual: Actual | None = None

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
            raise RackHoldsNothing("The rack can't dry a single item in a day.", where="rack")
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
