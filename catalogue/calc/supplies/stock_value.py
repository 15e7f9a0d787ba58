"""What stock is worth: a replay of the ledger by moving average and by first in, first out.

Rules, in the order in which they matter:

* Goods that leave take the average (or, first in first out, the oldest lot's cost, which stays
  what its receipt says) with them.
  The last unit takes the rest of the value, so that an empty shelf is worth nothing.
* After each purchase the average is rounded to six decimals, halves up, and so is every value
  that moves: what the ledger stores is what the next step starts from.
* Goods that come in without a cost of their own (a count finds more) come in at the average or,
  by first in, first out, join the newest lot at what that cost.
* Goods that go back to the supplier leave with what their own receipt line cost, out of their own
  lot, and the average is worked out anew; what arrived damaged leaves out of its own lot too.
* Stock may go below zero: work goes on and the entry is flagged. What is missing is valued at the
  last known average. The next purchase closes the gap: the units used before they were bought
  cost what they turn out to cost, and the difference is shown as `revalued`.
* A count says what is there: it moves whatever is missing to that, so that an entry of an earlier
  day, told later, changes what was found missing and not what was counted.
* Stock that nobody knows a cost for is worth nothing until a cost is known, and then that cost.

So value after = value before + value moved + revalued, always.
"""

from collections import deque
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal

from catalogue.calc.supplies.unit_cost import rounded_unit_cost
from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal

ZERO = Decimal(0)
_VALUE_PLACES = Decimal("0.000001")
Rounded = Callable[[Decimal], Decimal]


class BadMove(Refusal):
    """A ledger entry that moves nothing, or whose cost cannot be meant."""


@dataclass(frozen=True, slots=True)
class Move:
    """One ledger entry. `change` is positive for goods coming in, with `cost_in` what they cost
    in all (None: not known). Entries that were taken back, and those that take them back, are
    left out by the caller: what never happened moves no average. A count has `counted`, what was
    there at its place in the ledger; its `change` follows from that. Goods that leave may be those
    of one `lot`, the key of the move they came in with, and take `cost_out` with them.
    """

    change: Decimal
    cost_in: Decimal | None = None
    key: Hashable = None
    counted: Decimal | None = None
    lot: Hashable = None
    cost_out: Decimal | None = None


@dataclass(frozen=True, slots=True)
class ValuedMove:
    """A move with its value (negative when goods leave) and what is on the shelf after it.

    `change` of a count is what it found more or, below zero, less than the ledger had.

    `unit_cost` is the average the goods left at, or what one unit cost coming in; None when
    nobody knows. The `fifo_` figures are the same by first in, first out.
    """

    key: Hashable
    change: Decimal
    unit_cost: Decimal | None
    value: Decimal
    revalued: Decimal
    balance: Decimal
    balance_value: Decimal
    average_cost: Decimal | None
    fifo_value: Decimal
    fifo_revalued: Decimal
    fifo_balance_value: Decimal
    is_below_zero: bool


@dataclass(frozen=True, slots=True)
class Replay:
    """The ledger replayed, and how things stand after its last entry.

    `fifo_cost` is the cost of the next unit to leave; `latest_cost` that of the latest purchase.
    """

    entries: tuple[ValuedMove, ...]
    on_hand: Decimal = ZERO
    value: Decimal = ZERO
    average_cost: Decimal | None = None
    fifo_value: Decimal = ZERO
    fifo_cost: Decimal | None = None
    latest_cost: Decimal | None = None
    went_below_zero: bool = False


def _to_ledger(value: Decimal) -> Decimal:
    return value.quantize(_VALUE_PLACES, rounding=ROUND_HALF_UP)


def _unrounded(value: Decimal) -> Decimal:
    return value


@with_working_precision
def replay(moves: Sequence[Move], *, rounds_values: bool = True) -> Replay:
    """Value every move of one material, in ledger order. See the module for the rules.

    The ledger keeps six decimals of a value; a sum by hand may keep them all. Unit costs have six.
    Refuses a move of zero, a cost below zero and a cost on goods that leave.
    """
    rounded = _to_ledger if rounds_values else _unrounded
    shelf, lots = _Shelf(rounded), _Lots(rounded)
    latest: Decimal | None = None
    entries: list[ValuedMove] = []
    for move in moves:
        _check(move)
        if move.cost_in is not None:
            latest = rounded_unit_cost(move.cost_in, move.change)
        change = move.change if move.counted is None else move.counted - shelf.balance
        given = move.cost_in if move.cost_out is None else -move.cost_out
        value, revalued = shelf.move(change, given)
        fifo_value, fifo_revalued = lots.move(move, change)
        entries.append(
            ValuedMove(
                key=move.key,
                change=change,
                unit_cost=shelf.unit_cost,
                value=value,
                revalued=revalued,
                balance=shelf.balance,
                balance_value=shelf.value,
                average_cost=shelf.average,
                fifo_value=fifo_value,
                fifo_revalued=fifo_revalued,
                fifo_balance_value=lots.value,
                is_below_zero=shelf.balance < 0,
            )
        )
    return Replay(
        entries=tuple(entries),
        on_hand=shelf.balance,
        value=shelf.value,
        average_cost=shelf.average,
        fifo_value=lots.value,
        fifo_cost=lots.next_cost(),
        latest_cost=latest,
        went_below_zero=any(entry.is_below_zero for entry in entries),
    )


def _check(move: Move) -> None:
    if move.counted is not None:
        if not move.counted.is_finite() or move.counted < 0 or move.cost_in is not None:
            raise BadMove("A count finds nothing or more, at the cost of what is there.")
        return
    if not move.change.is_finite() or not move.change:
        raise BadMove("Enter an amount other than 0.")
    if move.cost_out is not None and (
        not move.cost_out.is_finite() or move.cost_out < 0 or move.change > 0
    ):
        raise BadMove("Only goods that leave take a cost with them, and none below nothing.")
    if move.cost_in is None:
        return
    if not move.cost_in.is_finite() or move.cost_in < 0:
        raise BadMove("What came in cannot have cost less than nothing.")
    if move.change < 0:
        raise BadMove("Goods that leave take the cost of the stock; they have none of their own.")


@dataclass(slots=True)
class _Shelf:
    """Balance, value and moving average while the ledger is replayed."""

    rounded: Rounded
    balance: Decimal = ZERO
    value: Decimal = ZERO
    average: Decimal | None = None
    unit_cost: Decimal | None = None

    def move(self, change: Decimal, value: Decimal | None) -> tuple[Decimal, Decimal]:
        """Move goods with a value of their own, or at the average; return value and revaluation."""
        before, balance_before = self.value, self.balance
        if not change:  # a count that agrees
            self.unit_cost = self.average
            return ZERO, ZERO
        self.balance += change
        if value is None:
            moved = self._move_at_average(change, balance_before)
            if self.balance <= 0:
                self.value = self._at_average(self.balance)
            else:
                self.value = before + moved
        else:
            moved = self.rounded(value)
            self._move_with_value(change, moved, balance_before)
        return moved, self.value - before - moved

    def _move_at_average(self, change: Decimal, balance_before: Decimal) -> Decimal:
        self.unit_cost = self.average
        if change < 0 < balance_before and self.balance <= 0:
            # the last unit takes the rest; what is missing goes at the average
            return self._at_average(self.balance) - self.value
        moved = self._at_average(change)
        # a rounded average may not take more than there is
        return max(moved, -self.value) if change < 0 < self.balance else moved

    def _move_with_value(self, change: Decimal, moved: Decimal, balance_before: Decimal) -> None:
        self.unit_cost = rounded_unit_cost(moved, change)
        if change < 0:
            self._send_back(moved)
        elif balance_before < 0 or self.average is None:
            # the gap closes at, or stock of unknown cost takes, what this unit cost
            self.average = self.unit_cost
            if self.balance > 0:
                self.value = self.rounded(self.balance * moved / change)
            else:
                self.value = self._at_average(self.balance)
        else:
            self.value += moved
            self.average = rounded_unit_cost(self.value, self.balance)

    def _send_back(self, moved: Decimal) -> None:
        """Take out goods with a cost of their own; an empty shelf is worth nothing."""
        if self.balance > 0 and self.value + moved >= 0:
            self.value += moved
            self.average = rounded_unit_cost(self.value, self.balance)
        else:
            self.value = self._at_average(min(self.balance, ZERO))

    def _at_average(self, quantity: Decimal) -> Decimal:
        return self.rounded(quantity * self.average) if self.average is not None else ZERO


class _Lot:
    """What is left of one lot. Each unit costs what it came in at, however much has left since."""

    def __init__(
        self, quantity: Decimal, cost: Decimal, rounded: Rounded, key: Hashable = None
    ) -> None:
        self.quantity, self.rounded, self.key = quantity, rounded, key
        self.set_cost(cost)

    def set_cost(self, cost: Decimal) -> None:
        """Say what all that is there cost."""
        self.came_in = self.quantity
        self.value = self.cost = cost

    @property
    def unit_cost(self) -> Decimal:
        """What one unit of it costs, with six decimals."""
        return rounded_unit_cost(self.cost, self.came_in)

    def join(self, quantity: Decimal) -> Decimal:
        """Put goods to the lot that cost as much each, and return what they cost."""
        joined = self.rounded(quantity * self.unit_cost)
        self.quantity += quantity
        self.came_in += quantity
        self.value += joined
        self.cost += joined
        return joined

    def take(self, quantity: Decimal) -> Decimal:
        """Take goods out of the lot and return what they cost; the last one takes the rest."""
        if quantity == self.quantity:
            taken = self.value
        else:
            taken = min(self.rounded(self.cost * quantity / self.came_in), self.value)
        self.quantity -= quantity
        self.value -= taken
        return taken


@dataclass(slots=True)
class _Lots:
    """Lots in the order they came in, and what is missing, while the ledger is replayed."""

    rounded: Rounded
    lots: deque[_Lot] = field(default_factory=deque)
    missing: Decimal = ZERO
    last_cost: Decimal | None = None  # of one unit, of what left last or came when all was gone

    @property
    def value(self) -> Decimal:
        return sum((lot.value for lot in self.lots), ZERO) - self._at_last_cost(self.missing)

    def next_cost(self) -> Decimal | None:
        """Return what the next unit to leave costs, with six decimals."""
        if self.lots and self.last_cost is not None:
            return self.lots[0].unit_cost
        return self.last_cost

    def move(self, move: Move, change: Decimal) -> tuple[Decimal, Decimal]:
        """Move goods and return their value and the revaluation of what was there."""
        before, cost_in = self.value, move.cost_in
        if not change:
            return ZERO, ZERO
        if change < 0:
            moved = -self._take(-change, move.lot)
        elif cost_in is None:
            moved = self._find(change)
        else:
            moved = self.rounded(cost_in)
            if self.last_cost is None:
                for unknown in self.lots:
                    unknown.set_cost(self.rounded(unknown.quantity * moved / change))
            if self.last_cost is None or not self.lots:
                self.last_cost = rounded_unit_cost(moved, change)
            self._put(change, moved, move.key)
        return moved, self.value - before - moved

    def _take(self, quantity: Decimal, own: Hashable) -> Decimal:
        """Take goods of their own lot first, then from the oldest on."""
        taken, wanted = ZERO, quantity
        own_lots = [lot for lot in self.lots if own is not None and lot.key == own]
        while wanted and self.lots:
            lot = own_lots.pop() if own_lots else self.lots[0]
            some = min(wanted, lot.quantity)
            if self.last_cost is not None:
                self.last_cost = lot.unit_cost
            taken += lot.take(some)
            wanted -= some
            if not lot.quantity:
                self.lots.remove(lot)
        self.missing += wanted
        return taken + self._at_last_cost(wanted)

    def _find(self, quantity: Decimal) -> Decimal:
        """Take in goods without a cost of their own."""
        if self.lots and self.last_cost is not None:
            return self.lots[-1].join(quantity)
        found = self._at_last_cost(quantity)
        self._put(quantity, found)
        return found

    def _put(self, quantity: Decimal, value: Decimal, key: Hashable = None) -> None:
        lot = _Lot(quantity, value, self.rounded, key)
        closes = min(self.missing, quantity)
        if closes:
            lot.take(closes)
            self.missing -= closes
        if lot.quantity:
            self.lots.append(lot)

    def _at_last_cost(self, quantity: Decimal) -> Decimal:
        return self.rounded(quantity * self.last_cost) if self.last_cost is not None else ZERO
