"""How a ledger was valued when counts began to stay: all that migration 0009 needs of it.

A migration calls no code of the program, which goes on while the tables it finds do not. So this
never changes; how a ledger is valued today is in `catalogue/calc/supplies/stock_value.py`.
"""

from collections import deque
from decimal import ROUND_HALF_UP, Context, Decimal, localcontext

ZERO = Decimal(0)
SIX_PLACES = Decimal("0.000001")


def _rounded(value):
    return value.quantize(SIX_PLACES, rounding=ROUND_HALF_UP)


def value_ledger(entries, by_lots):
    """Write change, unit cost, balance and value on entries given in ledger order.

    Returns the figures that are kept with the material, by the names of its fields. What was taken
    back, and what takes it back, moves nothing; a count moves the ledger to what was counted.
    """
    with localcontext(Context(prec=34)):
        return _value_ledger(entries, by_lots)


def _value_ledger(entries, by_lots):
    undone = {entry.takes_back_id for entry in entries if entry.takes_back_id is not None}
    shelf, lots = _Shelf(), _Lots()
    balance, value, priced = ZERO, ZERO, None
    for entry in entries:
        entry.unit_cost = None
        if entry.takes_back_id is None and entry.pk not in undone:
            if entry.counted is not None:
                entry.change = entry.counted - shelf.balance
            shelf.move(entry.change, entry.cost_in)
            by_fifo = lots.move(entry.change, entry.cost_in)
            entry.unit_cost = shelf.unit_cost
            if by_lots and shelf.unit_cost is not None and entry.change:
                entry.unit_cost = _rounded(by_fifo / entry.change)
            balance, value = shelf.balance, lots.value if by_lots else shelf.value
            if entry.cost_in is not None and entry.change > 0:
                priced = entry
        entry.balance, entry.balance_value = balance, value
    return {
        "on_hand": shelf.balance,
        "stock_value": lots.value if by_lots else shelf.value,
        "average_cost": shelf.average,
        "fifo_cost": lots.next_cost(),
        "latest_cost": _rounded(priced.cost_in / priced.change) if priced else None,
        "latest_line_id": priced.purchase_line_id if priced else None,
    }


class _Shelf:
    """Balance, value and moving average."""

    def __init__(self):
        self.balance = self.value = ZERO
        self.average = self.unit_cost = None

    def move(self, change, cost_in):
        before, balance_before = self.value, self.balance
        self.unit_cost = self.average
        if not change:  # a count that agrees
            return
        self.balance += change
        if cost_in is not None:
            self._come_in(change, _rounded(cost_in), balance_before)
        elif self.balance <= 0:
            self.value = self._at_average(self.balance)
        else:
            moved = self._at_average(change)
            # a rounded average may not take more than there is
            self.value = before + (max(moved, -before) if change < 0 else moved)

    def _come_in(self, change, cost, balance_before):
        self.unit_cost = _rounded(cost / change)
        if balance_before < 0 or self.average is None:
            # the gap closes at, or stock of unknown cost takes, what this unit cost
            self.average = self.unit_cost
            if self.balance > 0:
                self.value = _rounded(self.balance * cost / change)
            else:
                self.value = self._at_average(self.balance)
        else:
            self.value += cost
            self.average = _rounded(self.value / self.balance)

    def _at_average(self, quantity):
        return ZERO if self.average is None else _rounded(quantity * self.average)


class _Lot:
    """What is left of one lot. Each unit costs what it came in at, however much has left since."""

    def __init__(self, quantity, cost):
        self.quantity = quantity
        self.set_cost(cost)

    def set_cost(self, cost):
        self.came_in = self.quantity
        self.value = self.cost = cost

    @property
    def unit_cost(self):
        return _rounded(self.cost / self.came_in)

    def join(self, quantity):
        joined = _rounded(quantity * self.unit_cost)
        self.quantity += quantity
        self.came_in += quantity
        self.value += joined
        self.cost += joined
        return joined

    def take(self, quantity):
        taken = self.value
        if quantity != self.quantity:
            taken = min(_rounded(self.cost * quantity / self.came_in), self.value)
        self.quantity -= quantity
        self.value -= taken
        return taken


class _Lots:
    """Lots in the order they came in, and what is missing."""

    def __init__(self):
        self.lots = deque()
        self.missing = ZERO
        self.last_cost = None  # of one unit, of what left last or came when all was gone

    @property
    def value(self):
        return sum((lot.value for lot in self.lots), ZERO) - self._at_last_cost(self.missing)

    def next_cost(self):
        if self.lots and self.last_cost is not None:
            return self.lots[0].unit_cost
        return self.last_cost

    def move(self, change, cost_in):
        """Move goods and return their value, below zero when they leave."""
        if not change:
            return ZERO
        if change < 0:
            return -self._take(-change)
        if cost_in is None:
            return self._find(change)
        cost = _rounded(cost_in)
        if self.last_cost is None:
            for unknown in self.lots:
                unknown.set_cost(_rounded(unknown.quantity * cost / change))
        if self.last_cost is None or not self.lots:
            self.last_cost = _rounded(cost / change)
        self._put(change, cost)
        return cost

    def _take(self, quantity):
        taken, wanted = ZERO, quantity
        while wanted and self.lots:
            lot = self.lots[0]
            some = min(wanted, lot.quantity)
            if self.last_cost is not None:
                self.last_cost = lot.unit_cost
            taken += lot.take(some)
            wanted -= some
            if not lot.quantity:
                self.lots.popleft()
        self.missing += wanted
        return taken + self._at_last_cost(wanted)

    def _find(self, quantity):
        if self.lots and self.last_cost is not None:
            return self.lots[-1].join(quantity)
        found = self._at_last_cost(quantity)
        self._put(quantity, found)
        return found

    def _put(self, quantity, value):
        lot = _Lot(quantity, value)
        closes = min(self.missing, quantity)
        if closes:
            lot.take(closes)
            self.missing -= closes
        if lot.quantity:
            self.lots.append(lot)

    def _at_last_cost(self, quantity):
        return ZERO if self.last_cost is None else _rounded(quantity * self.last_cost)
