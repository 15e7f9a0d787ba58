"""How much is left of what was opened: full packs and a part of one, or a bottle on the scales."""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal

# what an eye can tell of a pack or a reel
PARTS = {
    "0": Fraction(0),
    "1/4": Fraction(1, 4),
    "1/3": Fraction(1, 3),
    "1/2": Fraction(1, 2),
    "2/3": Fraction(2, 3),
    "3/4": Fraction(3, 4),
}
PLACES = Decimal("0.000001")


class BadWeight(Refusal):
    """A bottle that weighs less than when it is empty."""


@dataclass(frozen=True, slots=True)
class Weighed:
    """Grams with what is in it and empty, and what one unit of the material weighs."""

    grams: Decimal
    empty_grams: Decimal
    grams_per_unit: Decimal = Decimal(1)


@with_working_precision
def in_packs(full: int, part: Fraction, pack: Decimal) -> Decimal:
    """Return what is in full packs and a part of one, in the unit of the pack's quantity."""
    amount = Fraction(pack) * (full + part)
    return (Decimal(amount.numerator) / amount.denominator).quantize(PLACES)


@with_working_precision
def on_the_scales(weighed: Weighed) -> Decimal:
    """Return what is in a bottle, in the material's unit. Errors: BadWeight."""
    if weighed.grams < weighed.empty_grams:
        raise BadWeight("It weighs less than when it is empty.", where="grams")
    if weighed.grams_per_unit <= 0:
        raise BadWeight("Enter what one unit weighs.", where="grams_per_unit")
    return ((weighed.grams - weighed.empty_grams) / weighed.grams_per_unit).quantize(PLACES)
