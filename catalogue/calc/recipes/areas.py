"""Areas to spread glue on, as a maker says them: `8 x 5`, `8 x 5 in`, `40 cm²`, `6 sq in`.

1 in = 25.4 mm exactly, so 1 sq in = 645.16 mm².
"""

import re
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from maker.calc.units import UnreadableNumber, format_number, parse_length, parse_number

_PLACES = Decimal("0.000001")
_MOST = 1_000_000_000
SQUARE_MM_PER_SQUARE_INCH = Decimal("645.16")
_SQUARE_MM = {
    **dict.fromkeys(("mm²", "mm2", "sq mm"), Fraction(1)),
    **dict.fromkeys(("cm²", "cm2", "sq cm"), Fraction(100)),
    **dict.fromkeys(("m²", "m2", "sq m"), Fraction(1_000_000)),
    **dict.fromkeys(("in²", "in2", "sq in"), Fraction(SQUARE_MM_PER_SQUARE_INCH)),
}
_UNIT = re.compile(r"\s*(" + "|".join(map(re.escape, _SQUARE_MM)) + r")$")
_LENGTH_UNIT = re.compile(r"(mm|cm|m|inches|inch|in|ft|\"|″|”|')\.?$")


def parse_area(text: str, unit: str, locale: str | None = None) -> Decimal:
    """Read an area and return square millimetres with six decimals, half up.

    Sides without a unit are in `unit` ("in" or "mm"); a unit after the second side holds for
    both. Errors: UnreadableNumber.
    """
    plain = " ".join(text.replace("×", "x").lower().split())
    sides = re.split(r"(?<=[\d\"″½¼¾⅛⅜⅝⅞ a-z])\s*[x*]\s*(?=[\d.,½¼¾⅛⅜⅝⅞])", plain)
    if len(sides) == 2:
        last = _LENGTH_UNIT.search(sides[1])
        if last and not _LENGTH_UNIT.search(sides[0]):
            sides[0] += f" {last[1]}"
        width, height = (parse_length(side, unit, locale) for side in sides)
        area = Fraction(width) * Fraction(height)
        if not area:
            raise UnreadableNumber(f"“{text}” has a side of 0. Enter two sides above 0.")
    else:
        found = _UNIT.search(plain)
        if not found:
            raise UnreadableNumber(
                f"“{text}” isn't an area. Enter two sides like 8 x 5, or 40 cm² or 6 sq in."
            )
        area = parse_number(plain[: found.start()].strip(), locale) * _SQUARE_MM[found[1]]
    if area > _MOST:
        raise UnreadableNumber(f"“{text}” is more than 1000 m². Check the unit.")
    rounded = (Decimal(area.numerator) / Decimal(area.denominator)).quantize(
        _PLACES, rounding=ROUND_HALF_UP
    )
    return rounded


def format_area(square_mm: Decimal, unit: str, locale: str = "en_GB") -> str:
    """Write an area so that reading it gives the same: `31 sq in` or `200 cm²`."""
    if unit == "in":
        inches = square_mm / SQUARE_MM_PER_SQUARE_INCH
        short = inches.quantize(Decimal("0.0001"), rounding=ROUND_HALF_UP)
        if (short * SQUARE_MM_PER_SQUARE_INCH).quantize(_PLACES) == square_mm.quantize(_PLACES):
            return f"{format_number(short, locale)} sq in"
    return f"{format_number(square_mm / 100, locale, 8)} cm²"
