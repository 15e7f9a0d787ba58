"""Money: how many decimals a currency has, rounding in one place, sharing without losing a cent.

Minor units are those of ISO 4217 list one, as carried by the Unicode CLDR data in Babel.
"""

import re
from collections.abc import Callable, Sequence
from decimal import (
    ROUND_CEILING,
    ROUND_HALF_EVEN,
    ROUND_HALF_UP,
    Context,
    Decimal,
    getcontext,
    localcontext,
)
from functools import lru_cache, wraps
from typing import ParamSpec, TypeVar

from babel import Locale
from babel.core import get_global
from babel.numbers import format_currency, get_currency_symbol

from maker.calc.refusal import Refusal

# ISO 4217 list one where CLDR counts what is used in everyday prices instead.
# Source: ISO 4217 list one, as published by the maintenance agency (table_a1.xml, 2024-06-25).
_ISO_DIFFERS_FROM_CLDR: dict[str, int] = {
    "AFN": 2, "ALL": 2, "COP": 2, "HUF": 2, "IDR": 2, "IQD": 3, "IRR": 2, "KPW": 2,
    "LAK": 2, "LBP": 2, "MGA": 2, "MMK": 2, "MRU": 2, "PKR": 2, "RSD": 2, "SLE": 2,
    "SOS": 2, "SYP": 2, "TWD": 2, "UZS": 2, "YER": 2, "CLF": 4, "UYW": 4,
}  # fmt: skip


# 34 digits are those of IEEE 754 decimal128; sums never depend on the caller's settings.
_WORKING = Context(prec=34, rounding=ROUND_HALF_EVEN)
# what the last digits of a sum with thirds in it may be off by; no amount differs by so little
HAIR = Decimal("1e-20")
_Given = ParamSpec("_Given")
_Result = TypeVar("_Result")


def with_working_precision(function: Callable[_Given, _Result]) -> Callable[_Given, _Result]:
    """Make a calculation work with 34 digits, whatever the context it is called in."""

    @wraps(function)
    def working(*args: _Given.args, **options: _Given.kwargs) -> _Result:
        now = getcontext()
        # sums call sums: most are called where the digits are right already
        if now.prec == _WORKING.prec and now.rounding == _WORKING.rounding:
            return function(*args, **options)
        with localcontext(_WORKING):
            return function(*args, **options)

    return working


def minor_digits(currency: str) -> int:
    """Return how many decimals the currency has (ISO 4217): EUR 2, JPY 0, KWD 3."""
    if currency in _ISO_DIFFERS_FROM_CLDR:
        return _ISO_DIFFERS_FROM_CLDR[currency]
    fractions = get_global("currency_fractions")
    return int(fractions.get(currency, fractions["DEFAULT"])[0])


def cash_step(currency: str) -> Decimal:
    """Return the smallest difference that can be paid in coins: CHF 0.05, DKK 0.50, JPY 1.

    Source: `cashDigits` and `cashRounding` of the Unicode CLDR supplemental currency data.
    """
    fractions = get_global("currency_fractions")
    _, _, digits, step = fractions.get(currency, fractions["DEFAULT"])
    return Decimal(max(int(step), 1)).scaleb(-int(digits))


def to_minor(amount: Decimal, digits: int = 2) -> Decimal:
    """Round to the currency's decimals, halves away from zero."""
    return amount.quantize(minor_unit(digits), rounding=ROUND_HALF_UP)


@lru_cache
def minor_unit(digits: int) -> Decimal:
    """Return the smallest unit of a currency with so many decimals: 0.01 for 2."""
    return Decimal(1).scaleb(-digits)


def is_in_coins(amount: Decimal, currency: str) -> bool:
    """Whether an amount can be paid: it has no more decimals than the currency."""
    return amount == to_minor(amount, minor_digits(currency))


def exponent_of(amount: Decimal) -> int:
    """Return the power of ten of its last digit: -2 for 1.50."""
    exponent = amount.as_tuple().exponent
    return exponent if isinstance(exponent, int) else 0


def up_to_step(amount: Decimal, step: Decimal) -> Decimal:
    """Return the smallest multiple of `step` that is not below the amount; step 0 leaves it.

    An amount a hair above a multiple is that multiple: see `whole_up`.
    """
    if step <= 0:
        return amount
    return (whole_up(amount / step) * step).quantize(step)


def whole_up(number: Decimal) -> Decimal:
    """Return the smallest whole number that is not below this one by more than a hair.

    What is whole by hand may have a last digit too much after a division, and 602 steps must not
    become 603 by it.
    """
    nearest = number.to_integral_value(rounding=ROUND_HALF_EVEN)
    if abs(number - nearest) <= HAIR:
        return nearest
    return number.to_integral_value(rounding=ROUND_CEILING)


@with_working_precision
def share_out(total: Decimal, weights: Sequence[Decimal], digits: int = 2) -> list[Decimal]:
    """Share a total over weights in whole minor units, so that the shares add up to it.

    Largest remainder (Hamilton's method); ties go to the earlier line. With weights that
    are all zero the lines share equally. The total must have no more than `digits` decimals
    and no weight may be negative.
    """
    unit = minor_unit(digits)
    if total != total.quantize(unit):
        raise Refusal(f"{total} has more than {digits} decimals and cannot be shared exactly.")
    if any(weight < 0 for weight in weights):
        raise Refusal("A share cannot be worked out over a line below zero.")
    if not weights:
        if total:
            raise Refusal("There is no line to share this over.")
        return []
    whole = sum(weights, Decimal(0))
    if not whole:
        weights, whole = [Decimal(1)] * len(weights), Decimal(len(weights))
    units = int(abs(total) / unit)
    # exact: compare remainders as integers over the common whole
    scaled = [units * weight for weight in weights]
    floors = [int(part // whole) for part in scaled]
    remainders = [part - floor * whole for part, floor in zip(scaled, floors, strict=True)]
    order = sorted(range(len(weights)), key=lambda line: (-remainders[line], line))
    for line in order[: units - sum(floors)]:
        floors[line] += 1
    sign = -1 if total < 0 else 1
    return [sign * unit * part for part in floors]


def format_money(
    amount: Decimal,
    currency: str,
    locale: str = "en_GB",
    extra_digits: int = 0,
    *,
    in_column: bool = False,
) -> str:
    """Write an amount with the currency's sign and its own decimals, as the locale does.

    `extra_digits` shows up to that many decimals more, for the cost of one small unit; `in_column`
    shows all of them, so that the amounts of a column stand with their points below each other.
    """
    digits = minor_digits(currency)
    rounded = to_minor(amount, digits + extra_digits)
    # Babel rounds half to even and by CLDR's digits, so it gets the rounded number and a pattern.
    more = ("0" if in_column else "#") * extra_digits
    pattern = _money_pattern(currency, locale, "0" * digits + more)
    # equal keys are one text: all have the same decimals, and nothing owed is not written as less
    return _money_text(rounded or abs(rounded), currency, locale, pattern)


@lru_cache(maxsize=4096)  # Babel takes apart the pattern of each amount, and a page has hundreds
def _money_text(rounded: Decimal, currency: str, locale: str, pattern: str) -> str:
    text = format_currency(rounded, currency, format=pattern, locale=locale, currency_digits=False)
    return text.replace("-", "\N{MINUS SIGN}", 1) if rounded < 0 else text


@lru_cache(maxsize=256)
def _money_pattern(currency: str, locale: str, decimals: str) -> str:
    """Return the locale's own pattern with these decimals, a code apart from its number."""
    found: str = Locale.parse(locale).currency_formats["standard"].pattern
    pattern = found.replace("0.00", f"0.{decimals}" if decimals else "0")
    if get_currency_symbol(currency, locale)[-1:].isalpha():
        pattern = re.sub("¤(?=#)", "¤\N{NO-BREAK SPACE}", pattern)
    return pattern
