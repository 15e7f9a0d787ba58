"""A year of supplies as plain values, landed and replayed once for all figures."""

import datetime
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import IntEnum
from functools import cached_property

from catalogue.calc.supplies.foreign_receipts import at_home
from catalogue.calc.supplies.reorder import OrderCosts
from catalogue.calc.supplies.stock_value import Move, Replay, ValuedMove, replay
from catalogue.calc.supplies.unit_cost import (
    LandedLine,
    ReceiptLine,
    land_receipt,
    rounded_unit_cost,
)
from catalogue.calc.supplies.year_end import SlowLimits
from maker.calc.money import to_minor, with_working_precision

ZERO = Decimal(0)
OPENING = "opening"


class Kind(IntEnum):
    """What a movement is, in the order in which those of one date are taken."""

    RECEIPT = 0
    RETURN = 1
    SCRAP = 2
    USE = 3
    COUNT = 4


@dataclass(frozen=True, slots=True)
class Item:
    """A material: its group in the budget, what a unit would fetch at the year's end."""

    name: str
    group: str
    fetches_each: Decimal
    sold_above_cost: bool
    opening: Decimal
    opening_value: Decimal


@dataclass(frozen=True, slots=True)
class BoughtLine:
    """A line of a receipt. Damaged items were credited, or kept and scrapped the same day."""

    item: str
    quantity: Decimal
    price: Decimal
    damaged_credited: Decimal
    damaged_kept: Decimal

    @property
    def arrived(self) -> Decimal:
        """Return what was paid for."""
        return self.quantity - self.damaged_credited


@dataclass(frozen=True, slots=True)
class Receipt:
    """A receipt in its own currency; `rate` is what one unit of that costs at home."""

    number: str
    dated: datetime.date
    entered: datetime.date
    lines: tuple[BoughtLine, ...]
    postage: Decimal
    discount: Decimal
    rate: Decimal
    charged: Decimal | None


@dataclass(frozen=True, slots=True)
class SentBack:
    """Goods of a receipt that went back to the supplier."""

    receipt: str
    item: str
    quantity: Decimal
    on: datetime.date


@dataclass(frozen=True, slots=True)
class Noted:
    """A use, or a count of what is there."""

    on: datetime.date
    item: str
    quantity: Decimal


@dataclass(frozen=True, slots=True)
class Year:
    """Everything the figures of a year follow from."""

    number: int
    end: datetime.date
    items: Mapping[str, Item]
    receipts: tuple[Receipt, ...]
    returns: tuple[SentBack, ...]
    uses: tuple[Noted, ...]
    counts: tuple[Noted, ...]
    ledger_item: str
    weekly_use: tuple[Decimal, ...]
    lead_weeks: Decimal
    z: Decimal
    order_costs: OrderCosts
    budgets: Mapping[str, Decimal]
    slow: SlowLimits


@dataclass(frozen=True, slots=True)
class Landed:
    """A line of a receipt with what it cost in the house."""

    receipt: Receipt
    place: int
    bought: BoughtLine
    line: LandedLine

    @property
    def key(self) -> tuple[str, int]:
        """Return the receipt's number and the line's place, from 1."""
        return self.receipt.number, self.place

    @property
    @with_working_precision
    def refund_each(self) -> Decimal:
        """Return what the supplier pays back for one: price less discount, without postage."""
        return (self.line.amount - self.line.discount_share) / self.line.quantity


@dataclass(frozen=True, slots=True)
class Step:
    """A movement as it was valued by moving average and, in lots, by first in, first out."""

    on: datetime.date
    kind: Kind
    quantity: Decimal
    valued: ValuedMove
    in_lots: ValuedMove


@dataclass(frozen=True, slots=True)
class Ledger:
    """A material's year: its steps in order, and what there was and is.

    Lots hold units at their unit cost of six decimals, so that what came in can differ from what
    was paid by some millionths.
    """

    item: str
    steps: tuple[Step, ...]
    end: Replay
    opening: Decimal
    end_in_lots: Replay
    opening_in_lots: Decimal

    def moved(self, *kinds: Kind, fifo: bool = False) -> Decimal:
        """Return the value that movements of these kinds moved, below zero when it left."""
        return sum((value_of(step, fifo=fifo) for step in self.steps if step.kind in kinds), ZERO)

    def counted(self, *, over: bool, fifo: bool = False) -> Decimal:
        """Return what counts found more, or missing, as an amount above zero."""
        values = [value_of(step, fifo=fifo) for step in self.steps if step.kind is Kind.COUNT]
        return sum((abs(value) for value in values if (value > 0) is over), ZERO)

    def revalued(self, *, fifo: bool = False) -> Decimal:
        """Return what gaps and rounding changed in the value of what was there."""
        return sum(
            (step.in_lots.fifo_revalued if fifo else step.valued.revalued for step in self.steps),
            ZERO,
        )

    def value_at(self, last: datetime.date) -> Decimal:
        """Return what was in stock after a day, by moving average."""
        before = [step for step in self.steps if step.on <= last]
        return before[-1].valued.balance_value if before else self.opening


def value_of(step: Step, *, fifo: bool = False) -> Decimal:
    """Return the value a step moved."""
    return step.in_lots.fifo_value if fifo else step.valued.value


@dataclass(frozen=True)
class Worked:
    """A year with what several sections ask for."""

    year: Year

    @cached_property
    def landed(self) -> tuple[Landed, ...]:
        """Return every line of every receipt with its landed cost."""
        return tuple(line for receipt in self.year.receipts for line in _land(receipt))

    @cached_property
    def by_key(self) -> dict[tuple[str, int], Landed]:
        """Return landed lines by receipt and place."""
        return {line.key: line for line in self.landed}

    def line_of(self, back: SentBack) -> Landed:
        """Return the line goods were sent back of."""
        return next(
            line
            for line in self.landed
            if line.receipt.number == back.receipt and line.bought.item == back.item
        )

    @with_working_precision
    def refund_of(self, back: SentBack) -> tuple[Decimal, Decimal]:
        """Return what is paid back in whole coins, and what is lost."""
        line = self.line_of(back)
        refund = to_minor(back.quantity * line.refund_each)
        return refund, back.quantity * line.line.unit_cost - refund

    @cached_property
    def ledgers(self) -> dict[str, Ledger]:
        """Return the ledger of each material, by date."""
        return self._ledgers(by_entry=False)

    @cached_property
    def ledgers_as_entered(self) -> dict[str, Ledger]:
        """Return the ledgers as they were first booked: receipts on the day they were entered."""
        return self._ledgers(by_entry=True)

    @with_working_precision
    def _ledgers(self, *, by_entry: bool) -> dict[str, Ledger]:
        moves: dict[str, list[tuple[datetime.date, Kind, Decimal, Move]]] = {
            name: [] for name in self.year.items
        }
        for name, on, kind, quantity, move in self._moves(by_entry=by_entry):
            moves[name].append((on, kind, quantity, move))
        return {
            name: _replayed(item, sorted(moves[name], key=lambda each: each[:2]), name)
            for name, item in self.year.items.items()
        }

    def _moves(self, *, by_entry: bool) -> Iterable[tuple[str, datetime.date, Kind, Decimal, Move]]:
        for each in self.landed:
            on = each.receipt.entered if by_entry else each.receipt.dated
            came = Move(each.line.quantity, each.line.landed, each.key)
            yield each.bought.item, on, Kind.RECEIPT, each.line.quantity, came
            kept = each.bought.damaged_kept
            if kept:
                yield each.bought.item, on, Kind.SCRAP, kept, Move(-kept, lot=each.key)
        for back in self.year.returns:
            line = self.line_of(back)
            cost = back.quantity * line.line.unit_cost
            left = Move(-back.quantity, lot=line.key, cost_out=cost)
            yield back.item, back.on, Kind.RETURN, back.quantity, left
        for use in self.year.uses:
            if use.quantity:
                yield use.item, use.on, Kind.USE, use.quantity, Move(-use.quantity)
        for count in self.year.counts:
            found = Move(ZERO, counted=count.quantity)
            yield count.item, count.on, Kind.COUNT, count.quantity, found


def _replayed(
    item: Item, moves: list[tuple[datetime.date, Kind, Decimal, Move]], name: str
) -> Ledger:
    opening = [Move(item.opening, item.opening_value, OPENING)] if item.opening else []
    paid = [*opening, *(move for _, _, _, move in moves)]
    by_unit = [_at_unit_cost(move) for move in paid]
    found, in_lots = (replay(moved, rounds_values=False) for moved in (paid, by_unit))
    start = len(opening)
    steps = tuple(
        Step(on, kind, quantity, entry, lot_entry)
        for (on, kind, quantity, _), entry, lot_entry in zip(
            moves, found.entries[start:], in_lots.entries[start:], strict=True
        )
    )
    opening_in_lots = (by_unit[0].cost_in or ZERO) if opening else ZERO
    return Ledger(name, steps, found, item.opening_value, in_lots, opening_in_lots)


def _at_unit_cost(move: Move) -> Move:
    """Return goods that came in at so many times their unit cost of six decimals."""
    if move.cost_in is None:
        return move
    return replace(move, cost_in=move.change * rounded_unit_cost(move.cost_in, move.change))


def _land(receipt: Receipt) -> Iterable[Landed]:
    """Each amount is turned into her own currency before it is shared out."""
    found = land_receipt(
        [
            ReceiptLine(line.item, line.arrived, at_home(line.arrived * line.price, receipt.rate))
            for line in receipt.lines
        ],
        postage=at_home(receipt.postage, receipt.rate),
        discount=at_home(receipt.discount, receipt.rate),
    )
    for place, (bought, line) in enumerate(zip(receipt.lines, found.lines, strict=True), 1):
        yield Landed(receipt, place, bought, line)
