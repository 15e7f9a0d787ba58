"""The entries of a recipe document: what each may hold and what it is when left out."""

import re
from collections.abc import Callable, Mapping
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from maker.calc.units import LENGTH_UNITS, format_number

Reader = Callable[[Any], Any]

_DECIMAL = re.compile(r"\d{1,16}(\.\d{1,12})?", re.ASCII)
_KEY = re.compile(r"[-\w]{1,40}", re.ASCII)


class WrongValue(Exception):
    """A value that a reader does not take."""


REQUIRED = object()
EMPTY: Mapping[str, Any] = MappingProxyType({})
MOST_SIZES = 30


def text(most: int, *, needed: bool = True) -> Reader:
    def read(value: Any) -> str:
        if not isinstance(value, str):
            raise WrongValue("This is a text.")
        if not all(sign.isprintable() for sign in value):
            raise WrongValue("Keep this on one line, without control characters.")
        if value != value.strip():
            raise WrongValue("There is a space at an end.")
        if needed and not value:
            raise WrongValue("Type a name.")
        if len(value) > most:
            raise WrongValue(f"At most {most} characters fit; these are {len(value)}.")
        return value

    return read


def _key(value: Any) -> str:
    if not isinstance(value, str) or not _KEY.fullmatch(value):
        raise WrongValue("A key is 1 to 40 letters a-z, digits, - or _.")
    return value


def plain_decimal(value: Decimal) -> str:
    """Write a number the one way a document has it: no exponent, no needless zeros."""
    text = format(value, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def _decimal(least: str, most: str, places: int, *, above: bool = False) -> Reader:
    lower, upper = Decimal(least), Decimal(most)

    def read(value: Any) -> str:
        if not isinstance(value, str) or not _DECIMAL.fullmatch(value):
            raise WrongValue('This is a number in quotes, like "7.5", not below 0.')
        number = Decimal(value)
        plain = plain_decimal(number)
        if "." in plain and len(plain.split(".")[1]) > places:
            raise WrongValue(f"At most {places} decimals are kept.")
        if number > upper:
            raise WrongValue(f"The most is {format_number(upper)}.")
        if number < lower or (above and number == lower):
            word = "This is more than" if above else "The least is"
            raise WrongValue(f"{word} {format_number(lower)}.")
        return plain

    return read


def _count(least: int, most: int) -> Reader:
    def read(value: Any) -> int:
        if not isinstance(value, int) or isinstance(value, bool):
            raise WrongValue("This is a whole number.")
        if not least <= value <= most:
            raise WrongValue(f"This is {least} to {most}.")
        return value

    return read


def _one_of(*words: str) -> Reader:
    def read(value: Any) -> str:
        if not isinstance(value, str) or value not in words:
            raise WrongValue("This is one of: " + ", ".join(repr(word) for word in words) + ".")
        return value

    return read


def _yes_no(value: Any) -> bool:
    if not isinstance(value, bool):
        raise WrongValue("This is true or false.")
    return value


def _sizes(value: Any) -> dict[str, str]:
    """Read sizes by name, in the order of the alphabet: a database need not keep another."""
    if not isinstance(value, dict) or len(value) > MOST_SIZES:
        raise WrongValue('These are sizes in braces, like {"W": "190.5"}.')
    for name in value:
        if not isinstance(name, str) or not _KEY.fullmatch(name):
            raise WrongValue("The name of a size is 1 to 40 letters a-z, digits, - or _.")
    read = {}
    for name in sorted(value):
        try:
            read[name] = _SIZE(value[name])
        except WrongValue as wrong:
            raise WrongValue(f"{name}: {wrong}") from wrong
    return read


def _or_none(reader: Reader) -> Reader:
    return lambda value: None if value is None else reader(value)


_ROLE = text(80)
_PRICE = _decimal("0", "999999999", 6)
_MINUTES = _decimal("0", "100000", 4)
_LENGTH = _decimal("0", "100000", 6, above=True)
_AMOUNT = _decimal("0", "999999999", 6)
_SIZE = _decimal("0", "100000", 6)
_QUANTITY = _count(1, 1_000_000)
_SMALL = _count(1, 10_000)
_NAME: tuple[Reader, Any] = (text(120), REQUIRED)

# key -> (reader, value when left out)
Columns = Mapping[str, tuple[Reader, Any]]

HEAD: Columns = {
    "name": (text(120, needed=False), ""),
    "finished_size": (text(80, needed=False), ""),
    "reject_share": (_decimal("0", "0.99", 6), "0"),
    "rejects_from": (_QUANTITY, 1),
    "learning": (_one_of("none", "cumulative", "per_unit"), "none"),
    "learning_rate": (_decimal("0.5", "1", 4), "1"),
    "learning_floor": (_decimal("0", "1", 4), "0"),
    "learning_reference": (_QUANTITY, 1),
    "learning_made": (_count(0, 1_000_000), 0),
}
ROWS: Mapping[str, Columns] = {
    "roles": {"name": (_ROLE, REQUIRED), "material": (text(120), REQUIRED)},
    "pieces": {
        "name": _NAME,
        "role": (_ROLE, REQUIRED),
        "shape": (_one_of("rectangle", "die", "form"), "rectangle"),
        "width_mm": (_LENGTH, REQUIRED),
        "height_mm": (_LENGTH, REQUIRED),
        "form": (text(40, needed=False), ""),
        "form_inputs": (_sizes, EMPTY),
        "die_margin_mm": (_decimal("0", "1000", 6), "0"),
        "count": (_SMALL, 1),
        "layers": (_SMALL, 1),
        "turning": (_one_of("material", "free", "fixed"), "material"),
    },
    "fixings": {
        "name": _NAME,
        "role": (_ROLE, REQUIRED),
        "basis": (_one_of("made", "good", "job", "carton", "name"), "made"),
        "measure": (
            _one_of("amount", "bead", "area", "form_bead", "form_area", "cut"),
            "amount",
        ),
        "amount": (_AMOUNT, REQUIRED),
        "typed_in": (_one_of("", *LENGTH_UNITS), ""),
        "rate": (_or_none(_AMOUNT), None),
        "waste_share": (_or_none(_decimal("0", "1", 6)), None),
    },
    "steps": {
        "name": _NAME,
        "basis": (
            _one_of(
                "made", "job", "batch", "sheet", "pass", "good", "carton", "name", "rack", "night"
            ),
            "made",
        ),
        "role": (_or_none(_ROLE), None),
        "minutes": (_MINUTES, "0"),
        "minutes_low": (_or_none(_MINUTES), None),
        "minutes_high": (_or_none(_MINUTES), None),
        "per": (_QUANTITY, 1),
        "times": (_SMALL, 1),
        "window_minutes": (_or_none(_count(1, 1440)), None),
        "learns": (_yes_no, False),
        "caution": (
            _one_of("", "blade", "hot_glue", "small_parts", "magnet", "cord", "food", "load"),
            "",
        ),
    },
    "wears": {
        "name": _NAME,
        "basis": (_one_of("sheet", "pass", "made"), "sheet"),
        "role": (_or_none(_ROLE), None),
        "price": (_PRICE, REQUIRED),
        "life": (_decimal("0", "999999999", 6, above=True), "1"),
    },
    "packings": {
        "name": _NAME,
        "kind": (_one_of("sleeve", "mailer", "carton"), "sleeve"),
        "holds": (_QUANTITY, 1),
        "role": (_or_none(_ROLE), None),
        "cost_each": (_or_none(_PRICE), None),
    },
}
OPTION: Columns = {"key": (_key, REQUIRED), "name": (text(80), REQUIRED)}
CHOICE: Columns = {
    "key": (_key, REQUIRED),
    "name": (text(80), REQUIRED),
    "is_default": (_yes_no, False),
    "caution": (text(200, needed=False), ""),
}
WHEN: Columns = {
    "from_quantity": (_or_none(_QUANTITY), None),
    "to_quantity": (_or_none(_QUANTITY), None),
    "only_with": (_or_none(text(81)), None),
    "not_with": (_or_none(text(81)), None),
}
