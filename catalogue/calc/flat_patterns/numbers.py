"""Roots, angles and lengths in words for flat patterns."""

from collections.abc import Iterable
from decimal import Decimal, localcontext
from fractions import Fraction
from itertools import accumulate

from catalogue.calc.flat_patterns.pattern import ZERO
from maker.calc.units import format_length

_ROOT_DIGITS = 34
MM_PER = {"mm": Fraction(1), "in": Fraction(127, 5)}


def root(square: Fraction) -> Fraction:
    """Return the square root: exact when it is rational, else with 34 digits."""
    with localcontext() as context:
        context.prec = _ROOT_DIGITS
        found = Fraction((Decimal(square.numerator) / Decimal(square.denominator)).sqrt())
    # 2.5 x 2.5 is found exactly; thirds are not decimals, so their root is looked for again
    near = found.limit_denominator(10**12)
    return near if near * near == square else found


def hypotenuse(one: Fraction, other: Fraction) -> Fraction:
    """Return the long side of a right-angled triangle."""
    return root(one * one + other * other)


def running_sums(widths: Iterable[Fraction]) -> tuple[Fraction, ...]:
    """Return the edges between strips laid side by side, from 0 to the far edge."""
    return tuple(accumulate(widths, initial=ZERO))


def said(length: Fraction, unit: str) -> str:
    """Write a length as a maker says it: `7 1/2 in`, `40.333 mm`."""
    length_mm = length * MM_PER[unit]
    return format_length(Decimal(length_mm.numerator) / Decimal(length_mm.denominator), unit)


def to_ruler(length: Fraction, step: Fraction) -> Fraction:
    """Return the nearest mark of a ruler; half a step goes up."""
    return (length / step + Fraction(1, 2)).__floor__() * step
