"""Lengths and numbers as a maker writes them, read exactly and written back.

1 in = 25.4 mm exactly (international yard and pound agreement, 1959; NIST Special
Publication 811, appendix B.8). A millimetre value with six decimals holds every 1/64 in
(0.396875 mm) exactly.
"""

import re
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from functools import lru_cache

from babel.numbers import format_decimal

from maker.calc.refusal import Refusal

MM_PER_INCH = Decimal("25.4")
_LENGTH_PLACES = Decimal("0.000001")
_VULGAR = {
    "½": Fraction(1, 2),
    "⅓": Fraction(1, 3),
    "⅔": Fraction(2, 3),
    "¼": Fraction(1, 4),
    "¾": Fraction(3, 4),
    "⅛": Fraction(1, 8),
    "⅜": Fraction(3, 8),
    "⅝": Fraction(5, 8),
    "⅞": Fraction(7, 8),
    "⅕": Fraction(1, 5),
    "⅖": Fraction(2, 5),
    "⅗": Fraction(3, 5),
    "⅘": Fraction(4, 5),
    "⅙": Fraction(1, 6),
    "⅚": Fraction(5, 6),
}
_UNIT_MM = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "in": Fraction(127, 5),
    "inch": Fraction(127, 5),
    "inches": Fraction(127, 5),
    '"': Fraction(127, 5),
    "″": Fraction(127, 5),
    "”": Fraction(127, 5),
    "''": Fraction(127, 5),
    "ft": Fraction(1524, 5),
    "'": Fraction(1524, 5),
    "′": Fraction(1524, 5),
    "yd": Fraction(4572, 5),
}
_NUMBER = re.compile(
    r"^(?:(?P<alone>\d{1,12}(?:[.,]\d{1,9})?|[.,]\d{1,9})"
    r"|(?:(?P<whole>\d{1,12}(?:[.,]\d{1,9})?)(?: ?- ?| ))?"
    r"(?P<top>\d{1,4}) ?[/⁄] ?(?P<bottom>\d{1,4}))$"
)
# "1,500" may be one and a half or fifteen hundred; "0,125" and "190,5" can only be decimals
_EITHER_WAY = re.compile(r"[1-9]\d{0,2},\d{3}")
_THOUSANDS = re.compile(
    r"[1-9]\d{0,2}(?:,\d{3})+(?:\.\d+)?"
    r"|[1-9]\d{0,2}(?:\.\d{3})+,\d+"
    r"|[1-9]\d{0,2}(?:\.\d{3}){2,}"
)
# what a keyboard for East Asian scripts types for the same signs
_FULL_WIDTH = {ord("／"): "/", ord("．"): ".", ord("，"): ",", ord("－"): "-"}


class UnreadableNumber(Refusal):
    """What was typed is no number or no length."""


def _plain_digits(text: str) -> str:
    """Return the text with vulgar fractions spelled `n/d` and odd spaces made plain."""
    text = text.translate(_FULL_WIDTH)
    for sign, value in _VULGAR.items():
        text = text.replace(sign, f" {value.numerator}/{value.denominator}")
    return re.sub(r"[\s\u00a0\u202f\u2009]+", " ", text).strip()


def parse_number(text: str) -> Fraction:
    """Read `7`, `7.5`, `7,5`, `7 1/2`, `7-1/2`, `7½` or `3/4` exactly.

    One comma or one point is a decimal mark, whichever it is. Thousands marks are refused, and so
    is `1,500`, because it could mean either. Errors: UnreadableNumber.
    """
    plain = _plain_digits(text)
    if _EITHER_WAY.fullmatch(plain):
        decimal = plain.replace(",", ".").rstrip("0").rstrip(".")
        raise UnreadableNumber(
            f"“{text}” can be read two ways. Type {decimal} or {plain.replace(',', '')}."
        )
    if _THOUSANDS.fullmatch(plain):
        raise UnreadableNumber(f"“{text}”: leave the thousands marks out, like 1500 or 1500.50.")
    found = _NUMBER.match(plain)
    if not found:
        raise UnreadableNumber(f"“{text}” is no number. Type it like 7.5 or 7 1/2.")
    whole, top, bottom = found["alone"] or found["whole"], found["top"], found["bottom"]
    if whole and top and ("." in whole or "," in whole):
        raise UnreadableNumber(f"“{text}” mixes a decimal and a fraction.")
    if bottom is not None and int(bottom) == 0:
        raise UnreadableNumber(f"“{text}” divides by zero.")
    value = Fraction(0)
    if whole:
        value += Fraction(whole.replace(",", "."))
    if top and bottom:
        value += Fraction(int(top), int(bottom))
    return value


def parse_length(text: str, unit: str) -> Decimal:
    """Read a length as typed and return millimetres with six decimals.

    `unit` ("in" or "mm") holds when none is typed. Understood: `7 1/2"`, `7½ in`, `7.5`,
    `190,5 mm`, `19 cm`, `2 ft`. A value finer than a millionth of a millimetre is rounded
    half up. Zero is a length (a gap may be none). Errors: UnreadableNumber, with what is wrong; a
    length below zero or over 100 m too.
    """
    if _plain_digits(text).startswith(("-", "−", "–")):
        raise UnreadableNumber(f"“{text}” is below zero. No length is.")
    value = parse_exact_length(text, unit)
    length = (Decimal(value.numerator) / Decimal(value.denominator)).quantize(
        _LENGTH_PLACES, rounding=ROUND_HALF_UP
    )
    if length > 100_000:
        raise UnreadableNumber(f"“{text}” is longer than 100 m. Is the unit right?")
    return length


def parse_exact_length(text: str, unit: str) -> Fraction:
    """Read a length as `parse_length` does, in millimetres exactly, whatever its size.

    Errors: UnreadableNumber, with what is wrong.
    """
    plain = _plain_digits(text).lower()
    found = re.fullmatch(r"(.*?)\s*(mm|cm|m|inches|inch|in|ft|yd|\"|″|”|''|'|′)?\.?", plain)
    number, mark = (found[1], found[2]) if found else (plain, None)
    try:
        return parse_number(number) * _UNIT_MM[mark or unit]
    except UnreadableNumber as problem:
        if "is no number" in problem.message:
            raise UnreadableNumber(
                f'“{text}” is no length. Type it like 7 1/2, 7.5" or 190 mm.'
            ) from None
        raise


def format_number(value: Decimal, locale: str = "en_GB", decimals: int = 6) -> str:
    """Write a number with the locale's decimal mark, without needless zeros or grouping."""
    pattern = "#0." + "#" * decimals if decimals else "#0"
    return format_decimal(value, format=pattern, locale=locale, decimal_quantization=True)


def inch_fraction(length_mm: Decimal, parts: int = 64) -> tuple[int, Fraction, bool]:
    """Return whole inches, the rest in `parts` of an inch, and whether that is exact."""
    inches = Fraction(length_mm) / Fraction(127, 5)
    steps = inches * parts
    nearest = int(steps + Fraction(1, 2))
    # six decimals of a millimetre hold every 1/64 in, but not every 1/3: allow for the rounding
    exact = abs(steps - nearest) * Fraction(127, 5) / parts <= Fraction(1, 1_000_000)
    whole, rest = divmod(nearest, parts)
    return whole, Fraction(rest, parts), exact


@lru_cache(maxsize=4096)  # a ladder of prices writes the same few sizes hundreds of times
def format_length(length_mm: Decimal, unit: str, locale: str = "en_GB") -> str:
    """Write millimetres in the wanted unit: `7 1/2 in` or `190.5 mm`.

    An inch length that is no 64th is written as a decimal, so that nothing is hidden.
    """
    if unit == "mm":
        return format_number(length_mm, locale, 3) + " mm"
    whole, rest, exact = inch_fraction(length_mm)
    if not exact:
        return format_number(length_mm / MM_PER_INCH, locale, 4) + " in"
    if not rest:
        return f"{whole} in"
    return f"{whole} {rest} in" if whole else f"{rest} in"
