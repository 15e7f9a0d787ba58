"""What finished items cost, in three parts that are never mixed.

Materials are what was spent. Her own wage is not: it must never enter what was spent or used, so
it is kept apart, and so is the overhead of the hours.
"""

from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal

ZERO = Decimal(0)
PLACES = Decimal("0.000001")


@dataclass(frozen=True, slots=True)
class Worth:
    """Money in three parts; may be below zero, as a movement out is."""

    material: Decimal = ZERO
    wage: Decimal = ZERO
    overhead: Decimal = ZERO

    @property
    def total(self) -> Decimal:
        """All three together."""
        return self.material + self.wage + self.overhead

    def __add__(self, other: "Worth") -> "Worth":
        return Worth(
            self.material + other.material,
            self.wage + other.wage,
            self.overhead + other.overhead,
        )

    def __sub__(self, other: "Worth") -> "Worth":
        return self + -other

    def __neg__(self) -> "Worth":
        return Worth(-self.material, -self.wage, -self.overhead)

    def part(self, count: int, of: int) -> "Worth":
        """Return the share of `count` out of `of`, each part to six decimals; all of it is all."""
        if count == of:
            return self

        def share(amount: Decimal) -> Decimal:
            return (amount * count / of).quantize(PLACES, ROUND_HALF_EVEN)

        return Worth(share(self.material), share(self.wage), share(self.overhead))


NOTHING = Worth()
