"""The entries of a recipe document: what each may hold and what it is when left out."""

import re
from collections.abc import Mapping
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from maker.calc.strict_json import (
    REQUIRED,
    Reader,
    WrongJson,
    decimal,
    mapping_of,
    one_of,
    or_none,
    text,
    whole,
    yes_no,
)
from maker.calc.sums import plain_text
from maker.calc.units import LENGTH_UNITS

_KEY = re.compile(r"[-\w]{1,40}", re.ASCII)
EMPTY: Mapping[str, Any] = MappingProxyType({})
MOST_SIZES = 30


def line(most: int, *, needed: bool = True) -> Reader[str]:
    """Return a reader of a name or the like: one line, without spaces at its ends."""

    def read(raw: Any, path: str) -> str:
        value = text(raw, path)
        wrong = ""
        if not value.isprintable():
            wrong = "Keep this on one line, without control characters."
        elif value != value.strip():
            wrong = "Remove the space at the start or end."
        elif needed and not value:
            wrong = "Enter a name."
        elif len(value) > most:
            wrong = f"At most {most} characters fit; these are {len(value)}."
        if wrong:
            raise WrongJson(wrong, where=path)
        return value

    return read


def _key(raw: Any, path: str) -> str:
    if not isinstance(raw, str) or not _KEY.fullmatch(raw):
        raise WrongJson("A key is 1 to 40 letters a-z, digits, - or _.", where=path)
    return raw


def _decimal(least: str, most: str, places: int) -> Reader[str]:
    inner = decimal(Decimal(least), Decimal(most), places=places)
    return lambda raw, path: plain_text(inner(raw, path))


def _above_zero(most: str, places: int) -> Reader[str]:
    inner = _decimal("0", most, places)

    def read(raw: Any, path: str) -> str:
        value = inner(raw, path)
        if value == "0":
            raise WrongJson("This must be more than 0.", where=path)
        return value

    return read


def _sizes(raw: Any, path: str) -> dict[str, str]:
    """Read sizes by name, in the order of the alphabet: a database need not keep another."""
    sizes = mapping_of(_SIZE)(raw, path)
    if len(sizes) > MOST_SIZES:
        raise WrongJson(f"At most {MOST_SIZES} sizes fit.", where=path)
    return {_key(name, path): sizes[name] for name in sorted(sizes)}


_ROLE = line(80)
_PRICE = _decimal("0", "999999999", 6)
_MINUTES = _decimal("0", "100000", 4)
_LENGTH = _above_zero("100000", 6)
_AMOUNT = _decimal("0", "999999999", 6)
_SIZE = _decimal("0", "100000", 6)
_QUANTITY = whole(1, 1_000_000)
_SMALL = whole(1, 10_000)
_NAME: tuple[Reader[Any], Any] = (line(120), REQUIRED)

# key -> (reader, value when left out)
Columns = Mapping[str, tuple[Reader[Any], Any]]

HEAD: Columns = {
    "name": (line(120, needed=False), ""),
    "finished_size": (line(80, needed=False), ""),
    "reject_share": (_decimal("0", "0.99", 6), "0"),
    "rejects_from": (_QUANTITY, 1),
    "learning": (one_of("none", "cumulative", "per_unit"), "none"),
    "learning_rate": (_decimal("0.5", "1", 4), "1"),
    "learning_floor": (_decimal("0", "1", 4), "0"),
    "learning_reference": (_QUANTITY, 1),
    "learning_made": (whole(0, 1_000_000), 0),
}
ROWS: Mapping[str, Columns] = {
    "roles": {"name": (_ROLE, REQUIRED), "material": (line(120), REQUIRED)},
    "pieces": {
        "name": _NAME,
        "role": (_ROLE, REQUIRED),
        "shape": (one_of("rectangle", "die", "form"), "rectangle"),
        "width_mm": (_LENGTH, REQUIRED),
        "height_mm": (_LENGTH, REQUIRED),
        "form": (line(40, needed=False), ""),
        "form_inputs": (_sizes, EMPTY),
        "die_margin_mm": (_decimal("0", "1000", 6), "0"),
        "count": (_SMALL, 1),
        "layers": (_SMALL, 1),
        "turning": (one_of("material", "free", "fixed"), "material"),
    },
    "fixings": {
        "name": _NAME,
        "role": (_ROLE, REQUIRED),
        "basis": (one_of("made", "good", "job", "carton", "name"), "made"),
        "measure": (
            one_of("amount", "bead", "area", "form_bead", "form_area", "cut"),
            "amount",
        ),
        "amount": (_AMOUNT, REQUIRED),
        "typed_in": (one_of("", *LENGTH_UNITS), ""),
        "rate": (or_none(_AMOUNT), None),
        "waste_share": (or_none(_decimal("0", "1", 6)), None),
    },
    "steps": {
        "name": _NAME,
        "basis": (
            one_of(
                "made", "job", "batch", "sheet", "pass", "good", "carton", "name", "rack", "night"
            ),
            "made",
        ),
        "role": (or_none(_ROLE), None),
        "minutes": (_MINUTES, "0"),
        "minutes_low": (or_none(_MINUTES), None),
        "minutes_high": (or_none(_MINUTES), None),
        "per": (_QUANTITY, 1),
        "times": (_SMALL, 1),
        "window_minutes": (or_none(whole(1, 1440)), None),
        "learns": (yes_no, False),
        "caution": (
            one_of("", "blade", "hot_glue", "small_parts", "magnet", "cord", "food", "load"),
            "",
        ),
    },
    "wears": {
        "name": _NAME,
        "basis": (one_of("sheet", "pass", "made"), "sheet"),
        "role": (or_none(_ROLE), None),
        "price": (_PRICE, REQUIRED),
        "life": (_above_zero("999999999", 6), "1"),
    },
    "packings": {
        "name": _NAME,
        "kind": (one_of("sleeve", "mailer", "carton"), "sleeve"),
        "holds": (_QUANTITY, 1),
        "role": (or_none(_ROLE), None),
        "cost_each": (or_none(_PRICE), None),
    },
}
OPTION: Columns = {"key": (_key, REQUIRED), "name": (line(80), REQUIRED)}
CHOICE: Columns = {
    "key": (_key, REQUIRED),
    "name": (line(80), REQUIRED),
    "is_default": (yes_no, False),
    "caution": (line(200, needed=False), ""),
}
WHEN: Columns = {
    "from_quantity": (or_none(_QUANTITY), None),
    "to_quantity": (or_none(_QUANTITY), None),
    "only_with": (or_none(line(81)), None),
    "not_with": (or_none(line(81)), None),
}
