"""Paper by numbers: sheet sizes of ISO 216, grammage, what a sheet weighs."""

from decimal import Decimal

from catalogue.calc.flat_patterns.numbers import MM_PER
from catalogue.calc.flat_patterns.outlines import area_of
from catalogue.calc.flat_patterns.pattern import FlatPattern
from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal

# A0; each next size halves the longer side, whole millimetres, rounded down.
# Source: ISO 216 as tabled by WeasyPrint 70 (css/computed_values.py, PAGE_SIZES).
_A0_MM = (841, 1189)
# exact, international yard and pound agreement, 1959 (NIST Special Publication 811, B.8)
_GRAMS_PER_POUND = Decimal("453.59237")
_METRES_PER_INCH = Decimal("0.0254")
_MM2_PER_M2 = Decimal(1_000_000)
SHEETS_OF_A_REAM = 500


class UnknownSheetSize(Refusal):
    """No standard size has this name."""


def a_size_mm(name: str) -> tuple[int, int]:
    """Return width and height of A0 to A10, upright, in millimetres."""
    number = name.strip().upper().removeprefix("A")
    if name.strip()[:1] not in ("A", "a") or number not in {str(size) for size in range(11)}:
        raise UnknownSheetSize(f"“{name}” is no sheet size. Type one of A0 to A10, or the lengths.")
    width, height = _A0_MM
    for _ in range(int(number)):
        width, height = height // 2, width
    return width, height


@with_working_precision
def sheet_weight_g(width_mm: Decimal, height_mm: Decimal, grammage: Decimal) -> Decimal:
    """Return what a sheet or piece weighs: area x grammage (ISO 536: grams per square metre)."""
    return width_mm * height_mm / _MM2_PER_M2 * grammage


@with_working_precision
def grammage_of(pounds: Decimal, area_m2: Decimal) -> Decimal:
    """Return the grams per square metre of paper that weighs so many pounds over an area."""
    if area_m2 <= 0:
        raise Refusal("The area must be more than zero.", where="area_m2")
    return pounds * _GRAMS_PER_POUND / area_m2


@with_working_precision
def ream_area_m2(width_in: Decimal, height_in: Decimal, sheets: int = SHEETS_OF_A_REAM) -> Decimal:
    """Return the area of a ream of sheets in square metres."""
    return sheets * width_in * height_in * _METRES_PER_INCH**2


def grammage_of_basis_weight(pounds: Decimal, width_in: Decimal, height_in: Decimal) -> Decimal:
    """Turn a US basis weight (pounds of a ream of its basic size) into grams per square metre."""
    return grammage_of(pounds, ream_area_m2(width_in, height_in))


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
