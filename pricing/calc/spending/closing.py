"""What a month came to: as it was first closed, or as it is known now."""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from decimal import Decimal

from maker.calc.money import with_working_precision
from pricing.calc.spending.spend import Moves

ZERO = Decimal(0)
NOTHING = Moves()


@dataclass(frozen=True, slots=True)
class MonthFigures:
    """Opening stock, what the ledger moved, what came late for closed months, closing stock.

    Late entries count in the month they were entered and are in `late`, never in `moves`, so
    opening + moves.change + late.change = closing. Expenses stand beside stock in the same way.
    """

    opening: Decimal = ZERO
    moves: Moves = NOTHING
    late: Moves = NOTHING
    closing: Decimal = ZERO
    expenses: Decimal = ZERO
    late_expenses: Decimal = ZERO

    @property
    def unexplained(self) -> Decimal:
        """Return what is left when all lines are taken together; nothing, or the books are off."""
        return self.opening + self.moves.change + self.late.change - self.closing


def to_json(figures: MonthFigures) -> dict[str, str]:
    """Return the figures as plain text, for keeping."""
    values = {
        f"{part}.{one.name}": getattr(getattr(figures, part), one.name)
        for part in ("moves", "late")
        for one in fields(Moves)
    }
    names = ("opening", "closing", "expenses", "late_expenses")
    values |= {name: getattr(figures, name) for name in names}
    return {name: f"{value.normalize():f}" for name, value in values.items()}


def from_json(kept: Mapping[str, str]) -> MonthFigures:
    """Return figures that were kept; one a later version added is nothing."""

    def moves(part: str) -> Moves:
        return Moves(*(Decimal(kept.get(f"{part}.{one.name}", "0")) for one in fields(Moves)))

    names = ("opening", "closing", "expenses", "late_expenses")
    return MonthFigures(
        moves=moves("moves"),
        late=moves("late"),
        **{name: Decimal(kept.get(name, "0")) for name in names},
    )


@dataclass(frozen=True, slots=True)
class Compared:
    """A figure as first closed, as known now, and what it differs by."""

    key: str
    first: Decimal
    now: Decimal

    @property
    def more(self) -> Decimal:
        """Return how much more is known now; below zero less."""
        return self.now - self.first


@with_working_precision
def compared(first: MonthFigures, now: MonthFigures) -> tuple[Compared, ...]:
    """Set the figures of a month side by side."""
    rows = [Compared("opening", first.opening, now.opening)]
    rows += [
        Compared(one.name, getattr(first.moves, one.name), getattr(now.moves, one.name))
        for one in fields(Moves)
    ]
    rows += [
        Compared("late", first.late.change, now.late.change),
        Compared("closing", first.closing, now.closing),
        Compared("expenses", first.expenses, now.expenses),
        Compared("late_expenses", first.late_expenses, now.late_expenses),
    ]
    return tuple(rows)
