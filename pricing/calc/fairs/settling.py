"""What a shop owes for items it sold on commission."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from maker.calc.money import to_minor, with_working_precision

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class Settled:
    """What the shop took, what it keeps of that, and what is hers."""

    taken: Decimal
    kept: Decimal

    @property
    def due(self) -> Decimal:
        """Return what the shop pays her."""
        return self.taken - self.kept


@with_working_precision
def settle(sold: Iterable[tuple[int, Decimal]], kept_share: Decimal, digits: int = 2) -> Settled:
    """Return a settlement of counts at prices; the share is rounded once, cents half up."""
    taken = sum((count * price for count, price in sold), ZERO)
    return Settled(taken, to_minor(taken * kept_share, digits))
