"""Amounts of material as a maker writes them (`24`, `50 m`, `25 yd`, `250 ml`), read exactly.

Exact factors: 1 yd = 0.9144 m and 1 lb = 0.45359237 kg (international yard and pound
agreement, 1959; NIST Special Publication 811, appendix B.8), 1 oz = 1/16 lb.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from maker.calc.refusal import Refusal
from maker.calc.units import (
    FEET_AND_INCHES,
    NotANumber,
    UnreadableNumber,
    format_length,
    format_length_in,
    format_number,
    inch_fraction,
    length_as_typed,
    parse_number,
    said,
)

M_PER_YARD, M_PER_INCH = Decimal("0.9144"), Decimal("0.0254")
_HUNDREDTH = Decimal("0.01")
PLACES = Decimal("0.000001")
# how finely metres are kept, in mm
_STEP_MM = Decimal("0.001")
MOST = Decimal(1_000_000_000)
# decimals that a number is read with
READ_PLACES = 9


def _litres(short: str, before: str) -> tuple[str, ...]:
    return (short, *(f"{before}{word}" for word in ("litre", "litres", "liter", "liters")))


_OUNCE_G = Fraction(45359237, 100000) / 16
# recipe unit -> what it may be typed in, and how much of the recipe unit that is
_TYPED: dict[str, dict[str, Fraction]] = {
    "sheet": dict.fromkeys(("sheet", "sheets"), Fraction(1)),
    "piece": dict.fromkeys(("piece", "pieces", "pc", "pcs"), Fraction(1)),
    "pair": dict.fromkeys(("pair", "pairs", "pr", "prs"), Fraction(1)),
    "m": {
        "m": Fraction(1),
        "cm": Fraction(1, 100),
        "mm": Fraction(1, 1000),
        "in": Fraction(254, 10000),
        FEET_AND_INCHES: Fraction(254, 10000),
        "ft": Fraction(3048, 10000),
        "yd": Fraction(9144, 10000),
    },
    "ml": {
        **dict.fromkeys(_litres("ml", "milli"), Fraction(1)),
        **dict.fromkeys(_litres("cl", "centi"), Fraction(10)),
        **dict.fromkeys(_litres("dl", "deci"), Fraction(100)),
        **dict.fromkeys(_litres("l", ""), Fraction(1000)),
    },
    "g": {
        **dict.fromkeys(("g", "gr", "gram", "grams", "gramme", "grammes"), Fraction(1)),
        **dict.fromkeys(
            ("kg", "kgs", "kilo", "kilos", "kilogram", "kilograms", "kilogramme", "kilogrammes"),
            Fraction(1000),
        ),
        **dict.fromkeys(("mg", "milligram", "milligrams"), Fraction(1, 1000)),
        **dict.fromkeys(("oz", "ounce", "ounces"), _OUNCE_G),
        **dict.fromkeys(("lb", "lbs", "pound", "pounds"), _OUNCE_G * 16),
    },
}
# lengths have a reader of their own
_FAMILY = {typed for unit, ways in _TYPED.items() if unit != "m" for typed in ways}
_COUNTED_IN = {
    "sheet": "in sheets",
    "piece": "by the piece",
    "pair": "in pairs",
    "m": "by length",
    "ml": "by volume",
    "g": "by weight",
}
_SHAPE = re.compile(r"^(?P<number>[^a-z]*?)\s*(?P<unit>[a-z]+)\.?$")


class WrongUnit(Refusal):
    """The unit typed does not measure this material."""


@dataclass(frozen=True, slots=True)
class Amount:
    """What was typed: a number and, if one was typed, a unit."""

    value: Fraction
    unit: str = ""

    def in_unit(self, unit: str, bare_length: str = "m") -> Decimal:
        """Return the amount in a recipe unit (sheet, piece, pair, m, ml, g), six decimals half up.

        A bare number is in that unit already, a bare length in `bare_length`. Errors: WrongUnit,
        and UnreadableNumber for an amount too large or too small to be kept.
        """
        if self.unit and self.unit not in _TYPED[unit]:
            raise WrongUnit(
                f"“{self.unit}” doesn't fit: this material is counted {_COUNTED_IN[unit]}"
                + (f", in {unit}." if unit in ("m", "ml", "g") else ".")
            )
        typed = self.unit or (bare_length if unit == "m" else "")
        exact = self.value * (_TYPED[unit][typed] if typed else 1)
        if exact > MOST:
            raise UnreadableNumber(f"The most is {format_number(MOST)} {unit}. Check the unit.")
        rounded = (Decimal(exact.numerator) / Decimal(exact.denominator)).quantize(
            PLACES, rounding=ROUND_HALF_UP
        )
        if exact and not rounded:
            raise UnreadableNumber(f"That is less than a millionth of one {unit}.")
        return rounded.normalize() + Decimal(0)


def read_amount(text: str, locale: str | None = None) -> Amount:
    """Read `24`, `7 1/2`, `50 m`, `25 yd`, `1' 6"`, `250 ml`, `1/2 l`, `1,5 kg`.

    Numbers as `parse_number` reads them. Errors: UnreadableNumber.
    """
    plain = " ".join(text.split()).lower()
    if plain.startswith(("-", "−", "–")):
        raise UnreadableNumber(f"{said(text)} is below zero. Enter it without the minus.")
    if re.search(r"fl\.? ?oz|fluid ounce", plain):
        raise UnreadableNumber(
            "A fluid ounce differs between countries. Enter the millilitres from the label."
        )
    found = _SHAPE.match(plain)
    try:
        if found and found["unit"] in _FAMILY:
            return Amount(parse_number(found["number"], locale), found["unit"])
        return Amount(*length_as_typed(text, locale))
    except NotANumber:
        raise NotANumber(
            f"{said(text)} isn't an amount. Enter one like 24, 50 m, 25 yd, 250 ml or 1 kg."
        ) from None


def format_amount(
    value: Decimal,
    unit: str,
    locale: str = "en_GB",
    lengths: str = "mm",
    typed_in: str = "",
) -> str:
    """Write an amount with its unit, in the plural where the word has one: `24 sheets`.

    Where `lengths` are measured in inches, metres are written in inches or yards (`18 in`,
    `25 yd`), but for a neat number of metres or centimetres, as a reel of 50 m is sold.
    A length that was `typed_in` a unit is written in that.
    """
    if as_typed := _as_typed(value, unit, locale, typed_in):
        return as_typed
    if unit == "m" and lengths == "in":
        exact = typed_amount(value, unit, locale, lengths)
        # bought by the metre: a reel of 50 m
        if not exact.endswith(" m") or value == value.quantize(_HUNDREDTH):
            return exact
        if abs(value) < 2 * M_PER_YARD:
            return f"{format_number(value / M_PER_INCH, locale, 2)} in"
        return f"{format_number(value / M_PER_YARD, locale, 2)} yd"
    number = format_number(value, locale, 3)
    return f"{number} {unit_word(unit, value)}"


def _as_typed(value: Decimal, unit: str, locale: str, typed_in: str) -> str:
    """Write a length in the unit it was typed in; empty for all else, and if that would round."""
    if unit != "m" or not typed_in:
        return ""
    text = format_length_in(abs(value) * 1000, typed_in, locale, _STEP_MM)
    return f"-{text}" if text and value < 0 else text


def unit_to_keep(value: Decimal, unit: str, typed_in: str, lengths: str) -> str:
    """Return the unit a length was typed in, to be kept beside it.

    Empty where the amount is written in that unit anyway, so that a row shown and saved
    unchanged stays as it is.
    """
    text = _as_typed(value, unit, "en_GB", typed_in)
    return typed_in if text and text != typed_amount(value, unit, lengths=lengths) else ""


def typed_amount(
    value: Decimal,
    unit: str,
    locale: str = "en_GB",
    lengths: str = "mm",
    typed_in: str = "",
) -> str:
    """Write an amount so that typing it gives exactly the same again, with m, ml and g.

    Where `lengths` are measured in inches: `18 in` or `7 1/2 in` below two yards, `25 yd` from
    there, metres only for what is neither to 1/64 in nor to a hundredth of a yard. A length
    that was `typed_in` a unit is written in that.
    """
    if as_typed := _as_typed(value, unit, locale, typed_in):
        return as_typed
    number = format_number(value, locale)
    if unit == "m" and lengths == "in":
        if not value:
            return "0 yd"
        yards = value / M_PER_YARD
        if abs(yards) >= 2 and yards == yards.quantize(_HUNDREDTH):
            return f"{format_number(yards, locale)} yd"
        if inch_fraction(abs(value) * 1000)[2]:
            sign = "-" if value < 0 else ""
            return sign + format_length(abs(value) * 1000, "in", locale)
    return f"{number} {unit}" if unit in ("m", "ml", "g") else number


def stock_unit(unit: str, lengths: str) -> str:
    """Return the unit amounts and unit costs are told in: yards for metres in an inch workshop."""
    return "yd" if unit == "m" and lengths == "in" else unit


def unit_cost_in(value: Decimal, unit: str, lengths: str) -> tuple[Decimal, str]:
    """Return a cost of one recipe unit as that of one unit it is told in, and which that is."""
    told = stock_unit(unit, lengths)
    return (value * M_PER_YARD if told != unit else value), told


def told_amount(value: Decimal, unit: str, lengths: str) -> Decimal:
    """Return an amount in the unit it is told in, with as few decimals as give it back exactly.

    So 50 m are 54.680665 yd in an inch workshop: to be read again, not to be looked at.
    """
    if stock_unit(unit, lengths) == unit:
        return value

    def gives_it_back(yards: Decimal) -> bool:
        return (yards * M_PER_YARD).quantize(PLACES, rounding=ROUND_HALF_UP) == value

    return fewest_decimals(value / M_PER_YARD, gives_it_back)


def fewest_decimals(value: Decimal, gives_it_back: Callable[[Decimal], bool]) -> Decimal:
    """Return the value with as few decimals as will do, at most as many as are read."""
    for places in range(READ_PLACES):
        if gives_it_back(told := round(value, places)):
            return told
    return round(value, READ_PLACES)


def told_unit_cost(value: Decimal, unit: str, lengths: str) -> Decimal:
    """Return a cost of one recipe unit as that of one unit it is told in, to six decimals."""
    return round(unit_cost_in(value, unit, lengths)[0], 6)


_PLURALS = {
    "sheet": "sheets",
    "piece": "pieces",
    "pair": "pairs",
    "pass": "passes",
    "load": "loads",
    "night": "nights",
    "day": "days",
    "working day": "working days",
    "drying day": "drying days",
}


def unit_word(unit: str, value: Decimal | None = None) -> str:
    """Return the unit as it stands beside a number: `sheet` for 1, else `sheets`; `m` always."""
    return unit if value == 1 else _PLURALS.get(unit, unit)
