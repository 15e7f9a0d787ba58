"""What stock is worth: a replay of the ledger by moving average and by first in, first out.

Rules, in the order in which they matter:

* Goods that leave take the average (or, first in first out, the oldest lot's cost) with them.
  The last unit takes the rest of the value, so that an empty shelf is worth nothing.
* After each purchase the average is rounded to six decimals, halves up, and so is every value
  that moves: what the ledger stores is what the next step starts from.
* Goods that come in without a cost of their own (a count finds more) come in at the average, or
  at what the last goods that left had cost by first in, first out.
* An entry that takes an earlier one back moves the value that one moved; by first in, first out a
  purchase taken back takes its own lot with it, as far as that is still there.
* Stock may go below zero: work goes on and the entry is flagged. What is missing is valued at the
  last known average. The next purchase closes the gap: the units used before they were bought
  cost what they turn out to cost, and the difference is shown as `revalued`.
* Stock that nobody knows a cost for is worth nothing until a cost is known, and then that cost.

So value after = value before + value moved + revalued, always.
"""

from collections import deque
from collections.abc import Hashable, Sequence
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal

from catalogue.calc.unit_cost import rounded_unit_cost
from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal

ZERO = Decimal(0)
_VALUE_PLACES = Decimal("0.000001")


class BadMove(Refusal):
    """A ledger entry that moves nothing, or whose cost cannot be meant."""


@dataclass(frozen=True, slots=True)
class Move:
    """One ledger entry. `change` is positive for goods coming in, with `cost_in` what they cost
    in all (None: not known). `takes_back` is the key of the earlier move this one undoes.
    """

    change: Decimal
    cost_in: Decimal | None = None
    key: Hashable = None
    takes_back: Hashable = None


@dataclass(frozen=True, slots=True)
class ValuedMove:
    """A move with its value (negative when goods leave) and what is on the shelf after it.

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


@with_working_precision
def replay(moves: Sequence[Move]) -> Replay:
    """Value every move of one material, in ledger order. See the module for the rules.

    Refuses a move of zero, a cost below zero, a cost on goods that leave, and an entry that
    takes back one that was not before it or was taken back already.
    """
    shelf, lots = _Shelf(), _Lots()
    moved: dict[Hashable, tuple[Decimal, Decimal | None, Decimal | None]] = {}
    latest: dict[Hashable, Decimal] = {}
    entries: list[ValuedMove] = []
    for number, move in enumerate(moves):
        _check(move)
        value, fifo_value = move.cost_in, move.cost_in
        undone: Hashable = None
        if move.takes_back is not None:
            if move.takes_back not in moved:
                raise BadMove(f"Entry {move.takes_back} is not there to be taken back.")
            change, value, fifo_value = moved.pop(move.takes_back)
            if change != -move.change:
                raise BadMove(f"Entry {move.takes_back} moved {change}, not {-move.change}.")
            undone = move.takes_back
            latest.pop(move.takes_back, None)
        elif move.change > 0 and move.cost_in is not None:
            latest[move.key if move.key is not None else ("move", number)] = rounded_unit_cost(
                move.cost_in, move.change
            )
        moved_value, revalued = shelf.move(move.change, value)
        fifo_moved, fifo_revalued = lots.move(move.change, fifo_value, move.key, undone)
        if not latest and not shelf.balance:
            shelf.average = lots.last_cost = None
        if move.key is not None:
            known = shelf.unit_cost is not None
            moved[move.key] = (
                move.change,
                -moved_value if known else None,
                -fifo_moved if known else None,
            )
        entries.append(
            ValuedMove(
                key=move.key,
                change=move.change,
                unit_cost=shelf.unit_cost,
                value=moved_value,
                revalued=revalued,
                balance=shelf.balance,
                balance_value=shelf.value,
                average_cost=shelf.average,
                fifo_value=fifo_moved,
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
        latest_cost=list(latest.values())[-1] if latest else None,
        went_below_zero=any(entry.is_below_zero for entry in entries),
    )


def _check(move: Move) -> None:
    if not move.change.is_finite() or not move.change:
        raise BadMove("An entry must move something.")
    if move.cost_in is None:
        return
    if not move.cost_in.is_finite() or move.cost_in < 0:
        raise BadMove("What came in cannot have cost less than nothing.")
    if move.change < 0:
        raise BadMove("Goods that leave take the cost of the stock; they have none of their own.")


@dataclass(slots=True)
class _Shelf:
    """Balance, value and moving average while the ledger is replayed."""

    balance: Decimal = ZERO
    value: Decimal = ZERO
    average: Decimal | None = None
    unit_cost: Decimal | None = None

    def move(self, change: Decimal, value: Decimal | None) -> tuple[Decimal, Decimal]:
        """Move goods with a value of their own, or at the average; return value and revaluation."""
        before, balance_before = self.value, self.balance
        self.balance += change
        if value is None:
            moved = self._move_at_average(change, balance_before)
            if self.balance <= 0:
                self.value = self._at_average(self.balance)
            else:
                self.value = before + moved
        else:
            moved = _to_ledger(value)
            self._move_with_value(change, moved, balance_before)
        return moved, self.value - before - moved

    def _move_at_average(self, change: Decimal, balance_before: Decimal) -> Decimal:
        self.unit_cost = self.average
        if change < 0 < balance_before and self.balance <= 0:
            # the last unit takes the rest; what is missing goes at the average
            return self._at_average(self.balance) - self.value
        return self._at_average(change)

    def _move_with_value(self, change: Decimal, moved: Decimal, balance_before: Decimal) -> None:
        self.unit_cost = rounded_unit_cost(moved, change)
        comes_in = change > 0
        if comes_in and (balance_before < 0 or self.average is None):
            # the gap closes at, or stock of unknown cost takes, what this unit cost
            self.average = self.unit_cost
            whole = max(self.balance, ZERO) * moved / change
            self.value = _to_ledger(whole) if self.balance > 0 else self._at_average(self.balance)
            return
        left = self.value + moved
        if self.balance > 0 and left >= 0:
            self.value = left
            self.average = rounded_unit_cost(left, self.balance)
        else:
            self.value = self._at_average(self.balance)

    def _at_average(self, quantity: Decimal) -> Decimal:
        return _to_ledger(quantity * self.average) if self.average is not None else ZERO


@dataclass(slots=True)
class _Lot:
    key: Hashable
    quantity: Decimal
    value: Decimal

    def take(self, quantity: Decimal) -> Decimal:
        """Take goods out of the lot and return what they cost; the last one takes the rest."""
        taken = (
            self.value
            if quantity == self.quantity
            else _to_ledger(self.value * quantity / self.quantity)
        )
        self.quantity -= quantity
        self.value -= taken
        return taken


@dataclass(slots=True)
class _Lots:
    """Lots in the order they came in, and what is missing, while the ledger is replayed."""

    lots: deque[_Lot] = field(default_factory=deque)
    missing: Decimal = ZERO
    last_cost: Decimal | None = None  # of one unit, of what left or came last

    @property
    def value(self) -> Decimal:
        return sum((lot.value for lot in self.lots), ZERO) - self._at_last_cost(self.missing)

    def next_cost(self) -> Decimal | None:
        """Return what the next unit to leave costs, with six decimals."""
        if self.lots:
            return rounded_unit_cost(self.lots[0].value, self.lots[0].quantity)
        return self.last_cost

    def move(
        self, change: Decimal, value: Decimal | None, key: Hashable, undone: Hashable
    ) -> tuple[Decimal, Decimal]:
        """Move goods and return their value and the revaluation of what was there."""
        before = self.value
        if change < 0:
            moved = -self._take(-change, undone)
        else:
            moved = _to_ledger(value) if value is not None else self._at_last_cost(change)
            self._put(change, moved, key, comes_back=value is None or undone is not None)
        return moved, self.value - before - moved

    def _take(self, quantity: Decimal, undone: Hashable) -> Decimal:
        taken, wanted = ZERO, quantity
        if undone is not None:
            # a purchase taken back takes its own lot, as far as it is still there
            self.lots = deque(sorted(self.lots, key=lambda lot: lot.key != undone))
        while wanted and self.lots:
            lot = self.lots[0]
            some = min(wanted, lot.quantity)
            self.last_cost = rounded_unit_cost(lot.value, lot.quantity)
            taken += lot.take(some)
            wanted -= some
            if not lot.quantity:
                self.lots.popleft()
        self.missing += wanted
        return taken + self._at_last_cost(wanted)

    def _put(self, quantity: Decimal, value: Decimal, key: Hashable, *, comes_back: bool) -> None:
        cost = rounded_unit_cost(value, quantity)
        closes = min(self.missing, quantity)
        lot = _Lot(key, quantity, value)
        if closes:
            lot.take(closes)
            self.missing -= closes
        if not comes_back:
            if self.last_cost is None:
                for unknown in self.lots:
                    unknown.value = _to_ledger(unknown.quantity * value / quantity)
            if self.last_cost is None or not self.lots:
                self.last_cost = cost
        if lot.quantity and comes_back:
            self.lots.appendleft(lot)
        elif lot.quantity:
            self.lots.append(lot)

    def _at_last_cost(self, quantity: Decimal) -> Decimal:
        return _to_ledger(quantity * self.last_cost) if self.last_cost is not None else ZERO
