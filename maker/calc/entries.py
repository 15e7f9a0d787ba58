"""Money and time as a maker writes them: `$9.60`, `9,60 €`, `1h 30`, `1:30`, `90 min`, `45s`."""

import re
import unicodedata
from fractions import Fraction
from functools import cache

from babel import Locale
from babel.numbers import get_currency_name, get_currency_symbol

from maker.calc.refusal import Refusal
from maker.calc.units import NotANumber, parse_number, plain_digits, said

# what a currency is called in everyday prices, by the last word of its English name
_SIGNS_OF_NAME = {
    "dollar": ("$",),
    "peso": ("$",),
    "pound": ("£",),
    "yen": ("¥", "円"),
    "yuan": ("¥", "元", "rmb"),
    "won": ("₩",),
    "rupee": ("₹", "rs"),
    "franc": ("fr", "sfr"),
    "krona": ("kr",),
    "króna": ("kr",),
    "krone": ("kr",),
    "zloty": ("zł", "zl"),
    "koruna": ("kč", "kc"),
    "forint": ("ft",),
    "leu": ("lei",),
    "lev": ("лв",),
    "lira": ("₺", "tl"),
    "hryvnia": ("₴",),
    "real": ("r$",),
    "rand": ("r",),
}
# "9.-", "9,-", "9/-": nothing after the mark
_EVEN = re.compile(r"(?<=\d)(?:[.,][-–—]{1,2}|/-)")
# "Fr.50" is fifty francs; "$.50" is half a dollar
_SHORT_WITH_POINT = ("fr", "sfr", "rs", "kr", "r")
_MONEY = re.compile(r"(?P<before>\D*?)(?P<number>[.,]?\d(?:.*\d)?)(?P<after>\D*)", re.DOTALL)

_TIME_UNITS = {
    **dict.fromkeys(("h", "hr", "hrs", "hour", "hours"), Fraction(60)),
    **dict.fromkeys(("m", "min", "mins", "minute", "minutes", "'", "′", "’"), Fraction(1)),
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds", '"', "″", "”"), Fraction(1, 60)),
}
_TIME_PART = re.compile(
    r"\s*(?P<number>[\d.,/⁄ -]*[\d])\s*(?P<unit>"
    + "|".join(sorted(map(re.escape, _TIME_UNITS), key=len, reverse=True))
    + r")(?![a-z])\.?"
)
_CLOCK = re.compile(r"(\d{1,5}):([0-5]\d)(?::([0-5]\d))?")
# after hours come minutes, after minutes seconds, when no unit is typed
_NEXT = {Fraction(60): Fraction(1), Fraction(1): Fraction(1, 60)}


class OtherCurrency(Refusal):
    """Money in a currency that is not the workshop's."""


def parse_money(text: str, currency: str, locale: str | None = None) -> Fraction:
    """Read an amount of money in the workshop's currency exactly, with or without its sign.

    Understood: `9.60`, `$9.60`, `9,60 €`, `EUR 9.60`, `9 euros`, `1.234,56`, `9.-`; numbers as
    `parse_number` reads them. Errors: OtherCurrency for the sign of another one;
    UnreadableNumber. A sign of minus is left to the caller.
    """
    found = _MONEY.fullmatch(_EVEN.sub("", plain_digits(text)))
    if not found:
        raise _no_money(text)
    before, number, after = found["before"], found["number"], found["after"]
    if before.casefold() in _SHORT_WITH_POINT:
        number = number.removeprefix(".")
    for sign in (before, after):
        sign = sign.strip().rstrip(".").casefold()
        own = _own_signs(currency, locale or "en_GB")
        if sign and sign not in own:
            foreign = any(unicodedata.category(c) == "Sc" and c not in own for c in sign)
            if sign in _signs_of_all() or foreign:
                raise OtherCurrency(
                    f"{said(text)} isn't in {currency}, this workshop's currency. Enter it in "
                    f"{currency}."
                )
            raise _no_money(text)
    try:
        return parse_number(number, locale)
    except NotANumber:
        raise _no_money(text) from None


def _no_money(text: str) -> NotANumber:
    return NotANumber(f"{said(text)} isn't an amount of money. Enter one like 9.60.")


@cache
def _own_signs(currency: str, locale: str) -> frozenset[str]:
    """Return how a currency may be written: code, signs and names, in small letters."""
    written = {currency, get_currency_symbol(currency, locale), get_currency_symbol(currency, "en")}
    for language in (locale, "en"):
        names = [get_currency_name(currency, count, language) for count in (1, 2, 5)]
        written |= {*names, *(name.split()[-1] for name in names)}
    english = get_currency_name(currency, 1, "en").split()[-1].casefold()
    # "US$" is what other countries write for their neighbour's dollar
    written |= {
        sign + "$" for sign in (currency[:2], currency[:1]) if english in ("dollar", "peso")
    }
    signs = {*written, *_SIGNS_OF_NAME.get(english, ())}
    return frozenset(sign.strip().rstrip(".").casefold() for sign in signs)


@cache
def _signs_of_all() -> frozenset[str]:
    english = Locale("en")
    return frozenset[str]().union(*(_own_signs(code, "en") for code in english.currencies))


def parse_minutes(text: str, bare: str = "min", locale: str | None = None) -> Fraction:
    """Read a time of work and return minutes, exactly.

    Understood: `90`, `90 min`, `1h 30`, `1 h 30 min`, `1:30` (hours and minutes), `1.5 h`, `45s`,
    `2 min 30`. A bare number is in `bare` ("min" or "h"). Errors: UnreadableNumber.
    """
    plain = plain_digits(text).lower()
    if clock := _CLOCK.fullmatch(plain):
        hours, minutes, seconds = (int(part or 0) for part in clock.groups())
        return Fraction(hours * 60 + minutes) + Fraction(seconds, 60)
    try:
        return _minutes_of_parts(plain, bare, locale)
    except NotANumber:
        like = "3.5, 3 h 30 or 3:30" if bare == "h" else "90, 1 h 30 or 1:30"
        raise NotANumber(f"{said(text)} isn't a time. Enter one like {like}.") from None


def _minutes_of_parts(plain: str, bare: str, locale: str | None) -> Fraction:
    total, smallest, place = Fraction(0), Fraction(0), 0
    while found := _TIME_PART.match(plain, place):
        unit = _TIME_UNITS[found["unit"]]
        if smallest and unit >= smallest:
            raise NotANumber("Units of time go from large to small.")
        total += parse_number(found["number"], locale) * unit
        smallest, place = unit, found.end()
    rest = plain[place:].strip()
    if not smallest:
        return parse_number(rest, locale) * _TIME_UNITS[bare]
    if rest:
        if smallest not in _NEXT:
            raise NotANumber("Nothing comes after seconds.")
        total += parse_number(rest, locale) * _NEXT[smallest]
    return total
