"""What sheets and finished things of paper weigh."""

from decimal import Decimal

from catalogue.calc.flat_patterns.numbers import MM_PER
from catalogue.calc.flat_patterns.outlines import area_of
from catalogue.calc.flat_patterns.pattern import FlatPattern
from maker.calc.money import with_working_precision

_MM2_PER_M2 = Decimal(1_000_000)


@with_working_precision
def sheet_weight_g(width_mm: Decimal, height_mm: Decimal, grammage: Decimal) -> Decimal:
    """Return what a sheet or piece weighs: area x grammage (ISO 536: grams per square metre)."""
    return width_mm * height_mm / _MM2_PER_M2 * grammage


@with_working_precision
def pattern_weight_g(pattern: FlatPattern, grammage: Decimal) -> Decimal:
    """Return what the blanks of one finished thing weigh, what is cut away left out."""
    area = sum(
        piece.count * (piece.width * piece.height - sum(map(area_of, piece.removed)))
        for piece in pattern.pieces
    )
    square_mm = area * MM_PER[pattern.unit] ** 2
    return sheet_weight_g(
        Decimal(square_mm.numerator) / Decimal(square_mm.denominator), Decimal(1), grammage
    )
