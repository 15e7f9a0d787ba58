"""A material's ledger as it was booked: what comes late counts when it was entered.

The ledger as dated puts each entry on its own day. As booked, an entry for a month that was closed
counts on the day it was entered, so that the figures of closed months never change. Both ledgers
have the same quantity at their end; their values differ by what averages (or lots) were there.

* What was undone before its month was closed never happened. What was undone later leaves (or
  comes back) on the day it was undone, with the value it came (or left) with.
* A count says what is there. An entry for a day up to such a count, told after it, moves nothing
  as dated; as booked it comes in and the same amount goes at once as a count's correction.
* A count told late moves what it found missing or more on the day it was entered.
"""

import datetime
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from catalogue.calc.supplies.stock_value import Move, ValuedMove, replay

ZERO = Decimal(0)
COUNTED = "counted"


@dataclass(frozen=True, slots=True)
class Entry:
    """A ledger entry: its own day, the day it is booked on, and whether that is late.

    `undoes` is the number of the entry it takes back. `number` orders entries of a day.
    """

    number: int
    kind: str
    dated: datetime.date
    booked: datetime.date
    is_late: bool
    change: Decimal
    cost_in: Decimal | None = None
    counted: Decimal | None = None
    change_at_count: Decimal | None = None
    lot: Hashable = None
    cost_out: Decimal | None = None
    undoes: int | None = None


@dataclass(frozen=True, slots=True)
class Booked:
    """A movement as booked, and the entry it comes from."""

    entry: Entry
    kind: str
    valued: ValuedMove
    cost_in: Decimal | None


def as_booked(entries: Sequence[Entry], *, by_lots: bool = False) -> tuple[Booked, ...]:
    """Return every movement of a material in the order it was booked, valued both ways.

    What is undone late moves the value it moved by average or, `by_lots`, first in, first out.
    """
    by_number = {entry.number: entry for entry in entries}
    undone_by = {entry.undoes: entry for entry in entries if entry.undoes is not None}
    # undone while its month was open: neither ever happened
    gone = {
        number
        for undone, back in undone_by.items()
        if undone is not None and not back.is_late
        for number in (undone, back.number)
    }
    kept = sorted(
        (entry for entry in entries if entry.number not in gone),
        key=lambda entry: (entry.booked, entry.number),
    )
    counts = [entry for entry in entries if entry.counted is not None]
    moves: list[Move] = []
    meant: list[tuple[Entry, str]] = []
    for entry in kept:
        if entry.undoes is None:
            own = _own(entry)
            kind = entry.kind
        else:
            undone = by_number[entry.undoes]
            own = _back(entry, undone, moves, meant, by_lots=by_lots)
            kind = undone.kind
        if own is None:
            continue
        moves.append(own)
        meant.append((entry, kind))
        if entry.is_late and any(
            _stands_after(count, entry, undone_by.get(count.number)) for count in counts
        ):
            moves.append(Move(change=-own.change))
            meant.append((entry, COUNTED))
    valued = replay(moves).entries
    return tuple(
        Booked(entry, kind, one, entry.cost_in if kind == entry.kind else None)
        for (entry, kind), one in zip(meant, valued, strict=True)
    )


def _stands_after(count: Entry, entry: Entry, undone: Entry | None) -> bool:
    """Return whether a count after an entry, as dated, was known when that was booked."""
    dated = (entry.dated, entry.number if entry.undoes is None else entry.undoes)
    if not dated < (count.dated, count.number):
        return False
    booked = (entry.booked, entry.number)
    if undone is not None and (not undone.is_late or (undone.booked, undone.number) <= booked):
        return False
    return (count.booked, count.number) < booked


def _own(entry: Entry) -> Move | None:
    if entry.counted is not None and entry.is_late:
        change = entry.change_at_count or ZERO
        return Move(change=change) if change else None
    return Move(
        change=entry.change,
        cost_in=entry.cost_in,
        key=entry.lot if entry.change > 0 else None,
        counted=entry.counted,
        lot=entry.lot if entry.change < 0 else None,
        cost_out=entry.cost_out,
    )


def _back(
    entry: Entry,
    undone: Entry,
    moves: Sequence[Move],
    meant: Sequence[tuple[Entry, str]],
    *,
    by_lots: bool,
) -> Move | None:
    """Return what takes an entry back, with the value it moved when it was booked."""
    place = next(
        (place for place, (one, _) in enumerate(meant) if one.number == undone.number), None
    )
    if undone.counted is not None:
        # what the count found as dated when it was undone
        return Move(change=entry.change) if entry.change else None
    if place is None:
        return None
    moved = replay(moves[: place + 1]).entries[place]
    if not moved.change:
        return None
    if moved.unit_cost is None:
        return Move(change=-moved.change)
    value = abs(moved.fifo_value if by_lots else moved.value)
    if moved.change > 0:
        return Move(change=-moved.change, cost_out=value, lot=undone.lot)
    return Move(change=-moved.change, cost_in=value)
