"""What is left of each lot of a material: sheets of one print run, ribbon of one dye lot.

The ledger is walked in its order, by these rules:

* What comes in with a lot's name goes into that lot, what comes in without one into no lot.
* What leaves with a lot's name leaves that lot. What leaves without one leaves the stock of no lot
  first, and then the oldest lot: the one that came in first. So does what its own lot has not.
* What leaves beyond all that is missing. The next goods that come in make up for it first, in a
  lot or not.
* A count that finds less is goods that leave, one that finds more is goods that come in; the lot
  named with it is the one the difference is in.

So the lots and what is in no lot always add up to the stock, which may be below nothing: then every
lot is empty. Which lot sheets came from changes nothing in what they cost.
"""

import datetime
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class LotMove:
    """A movement that counts; `change` is positive for goods coming in. `lot` empty: none named."""

    change: Decimal
    on: datetime.date
    lot: str = ""


@dataclass(frozen=True, slots=True)
class LotLeft:
    """A lot, since when it is there, and what is left of it."""

    name: str
    left: Decimal
    came_on: datetime.date


@dataclass(frozen=True, slots=True)
class LotsLeft:
    """The lots of a material, the oldest first, and what is in no lot (below zero: missing)."""

    lots: tuple[LotLeft, ...] = ()
    in_no_lot: Decimal = ZERO

    @property
    def on_hand(self) -> Decimal:
        """Return what is in stock in all."""
        return sum((lot.left for lot in self.lots), self.in_no_lot)

    @property
    def there(self) -> tuple[LotLeft, ...]:
        """Return the lots of which something is left."""
        return tuple(lot for lot in self.lots if lot.left)

    def named(self, name: str) -> LotLeft | None:
        """Return the lot of a name, or None."""
        wanted = lot_key(name)
        return next((lot for lot in self.lots if lot_key(lot.name) == wanted), None)

    def left_of(self, name: str) -> Decimal:
        """Return what is left of a lot; nothing of one that never came."""
        lot = self.named(name)
        return lot.left if lot else ZERO


def lot_key(name: str) -> str:
    """Return what tells lots apart: the name without regard to capitals and spaces."""
    return "".join(name.split()).casefold()


def lots_left(moves: Iterable[LotMove]) -> LotsLeft:
    """Return what is left of each lot after movements in ledger order. The rules are above."""
    left: dict[str, Decimal] = {"": ZERO}
    names: dict[str, tuple[str, datetime.date]] = {}
    for move in moves:
        key = lot_key(move.lot)
        if move.change > 0:
            if key and key not in names:
                names[key] = (move.lot, move.on)
                left[key] = ZERO
            makes_up = min(move.change, max(-left[""], ZERO))
            left[""] += makes_up
            left[key] += move.change - makes_up
        else:
            _take(left, key, -move.change)
    rows = tuple(LotLeft(name, left[key], on) for key, (name, on) in names.items())
    return LotsLeft(rows, left[""])


def _take(left: dict[str, Decimal], named: str, amount: Decimal) -> None:
    """Take from the named lot, from no lot, from the oldest on; the rest is missing."""
    for key in (named, "", *left) if named in left else tuple(left):
        some = min(amount, max(left[key], ZERO))
        left[key] -= some
        amount -= some
    left[""] -= amount


@dataclass(frozen=True, slots=True)
class FreeLot:
    """A lot as an order sees it: what is left, and what of that no other order keeps."""

    name: str
    left: Decimal
    free: Decimal
    came_on: datetime.date


def free_lots(lots: LotsLeft, kept: Mapping[str, Decimal]) -> tuple[FreeLot, ...]:
    """Return the lots of which something is left; `kept`: lot -> what others keep of it."""
    taken: dict[str, Decimal] = {}
    for name, amount in kept.items():
        taken[lot_key(name)] = taken.get(lot_key(name), ZERO) + amount
    return tuple(
        FreeLot(
            lot.name,
            lot.left,
            max(lot.left - taken.get(lot_key(lot.name), ZERO), ZERO),
            lot.came_on,
        )
        for lot in lots.there
    )


@dataclass(frozen=True, slots=True)
class OneLot:
    """Whether one lot is enough: those that are, and else the largest and what it is short of."""

    enough: tuple[FreeLot, ...]
    largest: FreeLot | None
    more_of_largest: Decimal


def one_lot_for(amount: Decimal, lots: Sequence[FreeLot]) -> OneLot:
    """Return which lots are enough by themselves for an amount, the oldest first."""
    enough = tuple(lot for lot in lots if lot.free >= amount)
    some = [lot for lot in lots if lot.free > 0]
    largest = max(some, key=lambda lot: lot.free) if some else None
    more = amount - largest.free if largest else amount
    return OneLot(enough, largest, max(more, ZERO))


def lot_to_take(amount: Decimal, lots: LotsLeft, free: Sequence[FreeLot], *, kept: str = "") -> str:
    """Return which lot to name when an amount leaves: the kept one, else the oldest that is enough.

    None (empty) where what is in no lot is enough, or where no lot that is free is enough.
    """
    if kept:
        return kept
    if lots.in_no_lot >= amount:
        return ""
    return next((lot.name for lot in free if lot.free >= amount > 0), "")
