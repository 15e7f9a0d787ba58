"""A first guess of how many are asked for in a day, from three numbers.

Common practice (three-point estimate, triangular), no source.
"""

from fractions import Fraction

from maker.calc.refusal import Refusal
from pricing.calc.fairs.demand import Chances, chances_of


class BadGuess(Refusal):
    """Three numbers that are not in order."""


def spread_around(likely: int) -> tuple[int, int]:
    """Return a low and a high for a maker who says only what is likely: half of it and twice it.

    Wide on purpose, as nobody knows yet. Common practice, no source.
    """
    return likely // 2, likely * 2


def guessed(low: int, likely: int, high: int) -> Chances:
    """Return chances of every count from low to high, rising evenly to the likely one.

    The counts just outside would have none. Errors: BadGuess.
    """
    if not 0 <= low <= likely <= high:
        raise BadGuess("Enter them in order: low, likely, high.", where="likely")
    rise, fall = likely - low + 1, high - likely + 1
    weights = {
        count: Fraction(count - low + 1, rise)
        if count <= likely
        else Fraction(high - count + 1, fall)
        for count in range(low, high + 1)
    }
    return chances_of(weights)
