"""Checks what a sent quote said, as a workshop file gives it: each key there, each of its kind.

Nothing of it is worked out again, so nothing else would notice a wrong value before a page does.
"""

import re
from collections.abc import Callable, Mapping
from typing import Any
from xml.etree import ElementTree

from babel import Locale

from maker.calc.currencies import LOCALES
from pricing.workshop_file.reading import (
    Fields,
    WorkshopFileRefused,
    join,
    shown,
    text_value,
)
from pricing.workshop_file.schema import day_value, whole_number

_NUMBER = re.compile(r"-?[0-9]{1,30}(\.[0-9]{1,40})?", re.ASCII)
_LARGEST = 2_147_483_647
# what a drawing of pieces is made of; nothing that runs, opens or points anywhere
_DRAWN = {"svg", "g", "title", "rect", "path", "line", "circle", "polygon", "polyline", "text"}
_ATTRIBUTES = {
    "viewBox", "width", "height", "x", "y", "x1", "y1", "x2", "y2", "cx", "cy", "r", "rx", "ry",
    "d", "points", "fill", "stroke", "stroke-width", "stroke-dasharray", "font-size",
    "text-anchor", "transform",
}  # fmt: skip

Check = Callable[[Any, str], object]


def _number(raw: Any, path: str) -> None:
    if not isinstance(raw, str) or not _NUMBER.fullmatch(raw):
        raise WorkshopFileRefused(
            f'This must be a number written as text, such as "12.5", found {shown(raw)}.',
            where=path,
        )


def _count(raw: Any, path: str) -> None:
    whole_number(raw, path, largest=_LARGEST)


def yes_or_no(raw: Any, path: str) -> None:
    """Pass true and false."""
    if not isinstance(raw, bool):
        raise WorkshopFileRefused(f"This must be true or false, found {shown(raw)}.", where=path)


def one_of(allowed: Callable[[], Any]) -> Check:
    """Return a check that passes the texts allowed."""

    def check(raw: Any, path: str) -> None:
        if text_value(raw, path) not in allowed():
            raise WorkshopFileRefused(f"{shown(raw)} is not known here.", where=path)

    return check


def _or_nothing(check: Check) -> Check:
    def optional(raw: Any, path: str) -> None:
        if raw is not None:
            check(raw, path)

    return optional


def _drawing(raw: Any, path: str) -> None:
    text = text_value(raw, path)
    if not text:
        return
    refused = WorkshopFileRefused("This is no drawing of pieces.", where=path)
    # declarations could grow without end when they are read
    if "<!" in text or "<?" in text:
        raise refused
    try:
        root = ElementTree.fromstring(text)  # noqa: S314 - declarations were refused
    except ElementTree.ParseError as error:
        raise refused from error
    for part in root.iter():
        name = part.tag.removeprefix("{http://www.w3.org/2000/svg}")
        values = " ".join(part.attrib.values())
        if name not in _DRAWN or set(part.attrib) - _ATTRIBUTES or "url(" in values:
            raise refused


def _plain(raw: Any, path: str) -> None:
    """Pass whatever JSON holds but numbers with decimals, which databases write differently."""
    if isinstance(raw, dict):
        for key, part in raw.items():
            _plain(text_value(key, path), path)
            _plain(part, join(path, key))
    elif isinstance(raw, list):
        for place, part in enumerate(raw):
            _plain(part, f"{path}[{place}]")
    elif isinstance(raw, str):
        text_value(raw, path)
    elif isinstance(raw, int) and not isinstance(raw, bool):
        whole_number(raw, path, smallest=-_LARGEST, largest=_LARGEST)
    elif not (raw is None or isinstance(raw, bool)):
        raise WorkshopFileRefused(f"{shown(raw)} must be written as text.", where=path)


def _texts(*keys: str) -> dict[str, Any]:
    return dict.fromkeys(keys, text_value)


def _numbers(*keys: str) -> dict[str, Any]:
    return dict.fromkeys(keys, _number)


_LINE = {
    **_texts("design", "code", "description", "colourway", "finished_size", "caution"),
    **_numbers("price_each", "amount"),
    "choices": [text_value],
    "names": [text_value],
    "quantity": _count,
    "drawing": _drawing,
}
_OWN_LINE = {
    **_numbers("cost", "floor_each", "minutes"),
    **dict.fromkeys(("target_each", "margin", "per_hour"), _or_nothing(_number)),
}
DOCUMENT: Mapping[str, Any] = {
    **_texts("number", "title", "intro", "terms", "tax_name"),
    **_numbers("tax_rate", "deposit_share"),
    **dict.fromkeys(("tax_registered", "prices_include_tax", "tax_per_line"), yes_or_no),
    "revision": _count,
    "quoted_on": day_value,
    "valid_until": _or_nothing(day_value),
    "needed_on": _or_nothing(day_value),
    "customer": _texts("name", "contact", "address", "email"),
    "maker": _texts("name", "maker_name", "address", "email", "phone", "website"),
    "currency": one_of(lambda: Locale("en").currencies),
    "locale": one_of(lambda: LOCALES),
    "unit": one_of(lambda: ("in", "mm")),
    "public": {
        **_numbers("net", "tax", "total", "deposit", "balance"),
        "lines": [_LINE],
        "delivery": _or_nothing(_number),
        "rush": yes_or_no,
        "rates": [_numbers("rate", "base", "tax")],
        "dates": dict.fromkeys(("yes_by", "earliest_on"), _or_nothing(day_value)),
    },
    "own": {
        **_numbers("cost", "floor", "profit", "fees", "minutes"),
        **dict.fromkeys(("margin", "per_hour"), _or_nothing(_number)),
        "dates": {
            **dict.fromkeys(("ready_on", "earliest_on", "yes_by"), _or_nothing(day_value)),
            "why": text_value,
        },
        "lines": [_OWN_LINE],
    },
    "basis": _plain,
}
# of quotes that were sent when days were counted instead of dates
OLDER: Mapping[str, Any] = {
    **DOCUMENT,
    "public": {key: check for key, check in DOCUMENT["public"].items() if key != "dates"},
    "own": {
        **{key: check for key, check in DOCUMENT["own"].items() if key != "dates"},
        "ready_in_days": _count,
    },
}


def check_frozen(raw: Any, path: str) -> None:
    """Refuse what is not the document of a sent quote, with the path of the first thing wrong."""
    own = raw.get("own") if isinstance(raw, Mapping) else None
    is_older = isinstance(own, Mapping) and "ready_in_days" in own
    check_shape(raw, OLDER if is_older else DOCUMENT, path)


def check_shape(raw: Any, shape: Any, path: str) -> None:
    """Refuse what is not of a shape: an object by keys, a list of one kind, or a check."""
    if isinstance(shape, Mapping):
        fields = Fields(raw, path)
        for key, inner in shape.items():
            check_shape(fields.take(key), inner, fields.at(key))
        fields.nothing_else()
    elif isinstance(shape, list):
        if not isinstance(raw, list):
            raise WorkshopFileRefused(f"This must be a list, found {shown(raw)}.", where=path)
        for place, part in enumerate(raw):
            check_shape(part, shape[0], f"{path}[{place}]")
    else:
        shape(raw, path)


def sorted_keys(value: Any) -> Any:
    """Return JSON values with keys in order: a database need not keep the order they came in."""
    if isinstance(value, dict):
        return {key: sorted_keys(value[key]) for key in sorted(value)}
    if isinstance(value, list):
        return [sorted_keys(part) for part in value]
    return value
