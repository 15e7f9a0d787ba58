"""Lengths and numbers as a maker writes them, read exactly and written back.

1 in = 25.4 mm exactly (international yard and pound agreement, 1959; NIST Special
Publication 811, appendix B.8). A millimetre value with six decimals holds every 1/64 in
(0.396875 mm) exactly.
"""

import re
from collections.abc import Iterator
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from functools import lru_cache

from babel import Locale
from babel.numbers import format_decimal, get_decimal_symbol

from maker.calc.refusal import Refusal

MM_PER_INCH = Decimal("25.4")
_FOOT_MM = 12 * MM_PER_INCH
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
    "ft": Fraction(1524, 5),
    "yd": Fraction(4572, 5),
}
# every way to write a unit -> its short name
_LENGTH_WORDS = {
    **dict.fromkeys(("mm", "millimetre", "millimetres", "millimeter", "millimeters"), "mm"),
    **dict.fromkeys(("cm", "centimetre", "centimetres", "centimeter", "centimeters"), "cm"),
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), "m"),
    **dict.fromkeys(("in", "ins", "inch", "inches", '"', "″", "”", "“", "''", "’’", "′′"), "in"),
    **dict.fromkeys(("ft", "foot", "feet", "'", "′", "’"), "ft"),
    **dict.fromkeys(("yd", "yds", "yard", "yards"), "yd"),
}
LENGTH_UNITS = (*_UNIT_MM, "ft in")
_FINEST_FRACTION = 64
# units that may follow each other in one length, the larger first
_SYSTEMS = (("yd", "ft", "in"), ("m", "cm", "mm"))
FEET_AND_INCHES = "ft in"
_PART = re.compile(
    r"\s*(?P<number>[\d.,/⁄ -]*\d|\d)\s*(?P<unit>"
    + "|".join(sorted(map(re.escape, _LENGTH_WORDS), key=len, reverse=True))
    + r")(?![a-z])\.?"
)
_NUMBER = re.compile(
    r"^(?:(?P<alone>\d{1,12}(?:\.\d{1,9})?|\.\d{1,9})"
    r"|(?:(?P<whole>\d{1,12}(?:\.\d{1,9})?)(?: ?- ?| ))?"
    r"(?P<top>\d{1,4}) ?[/⁄] ?(?P<bottom>\d{1,4}))$"
)
# "1,500" may be one and a half or fifteen hundred; "0,125" and "190,5" can only be decimals
_EITHER_WAY = re.compile(r"(?<![\d.,])[1-9]\d{0,2}([.,])\d{3}(?![\d.,])")
# thousands (and lakhs) marked so that only one reading is left
_GROUPED = tuple(
    (re.compile(pattern), marks)
    for pattern, marks in (
        (r"[1-9]\d{0,2}(?:,\d{2,3})*,\d{3}\.\d+|[1-9]\d{0,2}(?:,\d{2,3})+,\d{3}", ","),
        (r"[1-9]\d{0,2}(?:\.\d{3})+,\d+|[1-9]\d{0,2}(?:\.\d{3}){2,}", "."),
        (r"[1-9]\d{0,2}(?: \d{3})+(?:[.,]\d+)?", " "),
        (r"[1-9]\d{0,2}(?:['’]\d{3})+(?:[.,]\d+)?", "'’"),
    )
)
_SHOWN = 40  # characters of what was typed that an error repeats
# what a keyboard for East Asian scripts types for the same signs
_FULL_WIDTH = {ord("／"): "/", ord("．"): ".", ord("，"): ",", ord("－"): "-"}


class UnreadableNumber(Refusal):
    """What was typed cannot be read as a number, a length, an amount or money."""


class NotANumber(UnreadableNumber):
    """What was typed is not a number at all, or not the kind of thing that was asked for."""


def plain_digits(text: str) -> str:
    """Return the text with vulgar fractions spelled `n/d` and odd spaces made plain."""
    text = text.translate(_FULL_WIDTH)
    for sign, value in _VULGAR.items():
        text = text.replace(sign, f" {value.numerator}/{value.denominator}")
    return re.sub(r"[\s\u00a0\u202f\u2009]+", " ", text).strip()


def said(text: str) -> str:
    """Return what was typed as an error repeats it: in quotes, cut where it is very long."""
    return f"“{text[:_SHOWN]}…”" if len(text) > _SHOWN else f"“{text}”"


@lru_cache(maxsize=64)
def decimal_mark(locale: str) -> str:
    """Return the sign before the decimals: a comma or a point."""
    return "," if get_decimal_symbol(locale) == "," else "."


def _with_point(plain: str, text: str, locale: str | None) -> str:
    """Return the number without thousands marks and with a point for its decimals."""
    if either := _EITHER_WAY.fullmatch(plain):
        mark = either[1]
        if locale is None and mark == ",":
            decimal = plain.replace(",", ".").rstrip("0").rstrip(".")
            whole = plain.replace(",", "")
            raise UnreadableNumber(
                f"{said(text)} can be read two ways. Enter {decimal} or {whole}."
            )
        if locale is not None and mark != decimal_mark(locale):
            return plain.replace(mark, "")
        return plain.replace(",", ".")
    for grouped, marks in _GROUPED:
        if grouped.fullmatch(plain):
            for mark in marks:
                plain = plain.replace(mark, "")
            break
    return plain.replace(",", ".")


def read_two_ways(text: str, locale: str) -> str:
    """Say how a number was read whose mark the locale takes for thousands; else nothing.

    The locale's own decimal mark leaves no doubt: an eighth is typed 1.125.
    """
    for found in _EITHER_WAY.finditer(plain_digits(text)):
        if found[1] != decimal_mark(locale):
            return f"“{found[0]}” was read as {found[0].replace(found[1], '')}."
    return ""


def parse_number(text: str, locale: str | None = None) -> Fraction:
    """Read `7`, `7.5`, `7,5`, `7 1/2`, `7-1/2`, `7½`, `3/4`, `1,234.50` or `1 234,50` exactly.

    One comma or one point is a decimal mark, whichever it is; of two kinds of marks the last is.
    What can be read two ways (`1,234`, `1.234`) is read as the locale writes numbers
    (`read_two_ways` says how); without a locale a point is a decimal mark and `1,234` is refused.
    At most 12 digits before and 9 after the mark. Errors: UnreadableNumber.
    """
    plain = plain_digits(text)
    if re.fullmatch(r"[+-]?[\d.,]+[ex][+-]?\d+", plain.lower()):
        raise UnreadableNumber(
            f"{said(text)} isn't a number we can read. Enter one like 1500 or 0.015."
        )
    plain = _with_point(plain, text, locale)
    found = _NUMBER.match(plain)
    if not found:
        if re.fullmatch(r"\d+(?:\.\d+)?", plain):
            raise UnreadableNumber(
                f"{said(text)} has too many digits. At most 12, and 9 decimals, can be kept."
            )
        raise NotANumber(f"{said(text)} isn't a number. Enter one like 7.5 or 7 1/2.")
    whole, top, bottom = found["alone"] or found["whole"], found["top"], found["bottom"]
    if whole and top and "." in whole:
        raise UnreadableNumber(f"{said(text)} mixes a decimal and a fraction.")
    if bottom is not None and int(bottom) == 0:
        raise UnreadableNumber(f"{said(text)} divides by zero.")
    value = Fraction(0)
    if whole:
        value += Fraction(whole)
    if top and bottom:
        value += Fraction(int(top), int(bottom))
    return value


def parse_length(text: str, unit: str, locale: str | None = None) -> Decimal:
    """Read a length as typed and return millimetres with six decimals.

    `unit` ("in" or "mm") holds when none is typed. Understood: `7 1/2"`, `7½ in`, `7.5`,
    `190,5 mm`, `19 cm`, `2 ft`, `1' 6"`, `3 yd`. A value finer than a millionth of a millimetre is
    rounded half up. Zero is a length (a gap may be none). Errors: UnreadableNumber, with what is
    wrong; a length below zero or over 100 m too.
    """
    if plain_digits(text).startswith(("-", "−", "–")):
        raise UnreadableNumber(f"{said(text)} is below zero. Enter a length above zero.")
    value = parse_exact_length(text, unit, locale)
    length = (Decimal(value.numerator) / Decimal(value.denominator)).quantize(
        _LENGTH_PLACES, rounding=ROUND_HALF_UP
    )
    if length > 100_000:
        raise UnreadableNumber(f"{said(text)} is longer than 100 m. Check the unit.")
    return length


def parse_exact_length(text: str, unit: str, locale: str | None = None) -> Fraction:
    """Read a length as `parse_length` does, in millimetres exactly, whatever its size.

    Errors: UnreadableNumber, with what is wrong.
    """
    value, typed = length_as_typed(text, locale)
    return value * _UNIT_MM[typed_base(typed) if typed else unit]


def typed_base(unit: str) -> str:
    """Return the unit a typed length is counted in: `1 ft 6 in` is counted in inches."""
    return "in" if unit == FEET_AND_INCHES else unit


def length_as_typed(text: str, locale: str | None = None) -> tuple[Fraction, str]:
    """Read a length as a number and the unit it was typed in; "" when none was.

    The units are mm, cm, m, in, ft, yd, and `ft in` for feet and inches together, whose number is
    inches. Others typed together (`1 yd 1 ft`, `1 m 20 cm`) come in the smallest of them.
    Errors: UnreadableNumber.
    """
    plain = plain_digits(text).lower()
    parts: list[tuple[str, str]] = []
    place = 0
    while found := _PART.match(plain, place):
        parts.append((found["number"], _LENGTH_WORDS[found["unit"]]))
        place = found.end()
    rest = plain[place:].strip()
    if rest and parts and parts[-1][1] == "ft":
        parts.append((rest, "in"))
    elif rest and parts:
        raise _no_length(text)
    if not parts:
        return _number_of_length(plain, text, locale), ""
    if len(parts) == 1:
        number, unit = parts[0]
        return _number_of_length(number, text, locale), unit
    units = [unit for _, unit in parts]
    system = next((one for one in _SYSTEMS if units[0] in one), ())
    if any(unit not in system for unit in units) or units != sorted(set(units), key=system.index):
        raise _no_length(text)
    smallest = units[-1]
    value = sum(
        (
            _number_of_length(number.lstrip("- "), text, locale) * _UNIT_MM[unit]
            for number, unit in parts
        ),
        Fraction(0),
    )
    return value / _UNIT_MM[smallest], FEET_AND_INCHES if units == ["ft", "in"] else smallest


def _number_of_length(number: str, text: str, locale: str | None) -> Fraction:
    try:
        return parse_number(number, locale)
    except NotANumber:
        raise _no_length(text) from None


def _no_length(text: str) -> NotANumber:
    return NotANumber(
        f"{said(text)} isn't a length. Enter one like 7 1/2, 7.5\", 1' 6\" or 190 mm."
    )


def format_number(value: Decimal, locale: str = "en_GB", decimals: int = 6) -> str:
    """Write a number with the locale's decimal mark, without needless zeros or grouping."""
    return _number_text(value or Decimal(0), locale, decimals)


@lru_cache(maxsize=4096)  # Babel takes apart the pattern of each number, and a page has hundreds
def _number_text(value: Decimal, locale: str, decimals: int) -> str:
    pattern = "#0." + "#" * decimals if decimals else "#0"
    return format_decimal(value, format=pattern, locale=locale, decimal_quantization=True)


@lru_cache(maxsize=4096)  # as for numbers
def format_percent(share: Decimal, locale: str = "en_GB", decimals: int = 1) -> str:
    """Write a share from 0 to 1 in percent, the sign where and how the locale has it.

    At most so many decimals, none that say nothing, and a minus that is one: `28.2%`, in German
    `28,2 %` with a space that does not break (CLDR, by Babel).
    """
    pattern: str = Locale.parse(locale).percent_formats[None].pattern
    places = "#0." + "#" * decimals if decimals else "#0"
    pattern = pattern.replace("#,##,##0", places).replace("#,##0", places)
    shown = round(share, decimals + 2) or Decimal(0)  # no minus before nothing
    text = format_decimal(shown, format=pattern, locale=locale)
    return text.replace("-", "\N{MINUS SIGN}")


def inch_fraction(length_mm: Decimal, parts: int = 64) -> tuple[int, Fraction, bool]:
    """Return whole inches, the rest in `parts` of an inch, and whether that is exact."""
    inches = Fraction(length_mm) / Fraction(127, 5)
    steps = inches * parts
    nearest = int(steps + Fraction(1, 2))
    # six decimals of a millimetre hold every 1/64 in, but not every 1/3: allow for the rounding
    exact = abs(steps - nearest) * Fraction(127, 5) / parts <= Fraction(1, 1_000_000)
    whole, rest = divmod(nearest, parts)
    return whole, Fraction(rest, parts), exact


@lru_cache(maxsize=4096)  # a list of prices writes the same few sizes hundreds of times
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


def length_number(length_mm: Decimal, unit: str) -> Decimal:
    """Return millimetres as a mere number of the unit ("in" or "mm"), to a millionth."""
    return round(length_mm / MM_PER_INCH, 6) if unit == "in" else length_mm


def format_length_in(
    length_mm: Decimal, unit: str, locale: str = "en_GB", step_mm: Decimal = _LENGTH_PLACES
) -> str:
    """Write millimetres in the unit they were typed in: `2 ft`, `1/3 yd`, `1 ft 6 in`, `35 cm`.

    Units as `length_as_typed` gives them. Empty where reading it would not give the same length
    again, to `step_mm`: then another unit has to be found.
    """
    for text in _written_in(length_mm, unit, locale):
        value = parse_exact_length(text, unit, locale)
        read = (Decimal(value.numerator) / Decimal(value.denominator)).quantize(
            step_mm, rounding=ROUND_HALF_UP
        )
        if read == length_mm:
            return text
    return ""


def _written_in(length_mm: Decimal, unit: str, locale: str) -> Iterator[str]:
    if unit == "in":
        yield format_length(length_mm, "in", locale)
        return
    if unit == FEET_AND_INCHES:
        feet = int(length_mm / _FOOT_MM)
        yield f"{feet} ft {format_length(length_mm - feet * _FOOT_MM, 'in', locale)}"
        return
    exact = Fraction(length_mm) / _UNIT_MM[unit]
    number = Decimal(exact.numerator) / Decimal(exact.denominator)
    yield f"{format_number(number, locale, 3)} {unit}"
    # a third of a yard is not a decimal
    whole, rest = divmod(exact.limit_denominator(_FINEST_FRACTION), 1)
    if rest:
        yield f"{whole} {rest} {unit}" if whole else f"{rest} {unit}"
    yield f"{format_number(number, locale)} {unit}"
