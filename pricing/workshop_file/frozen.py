"""Checks what a sent quote said, as a workshop file gives it: each key there, each of its kind.

Nothing of it is worked out again, so nothing else would notice a wrong value before a page does.
"""

import re
from collections.abc import Mapping
from typing import Any
from xml.etree import ElementTree

from babel import Locale

from maker.calc.currencies import LOCALES
from maker.calc.strict_json import (
    WrongJson,
    day,
    decimal,
    list_of,
    mapping_of,
    one_of,
    or_none,
    record,
    shown,
    text,
    whole,
    yes_no,
)

_LARGEST = 2_147_483_647
# what a drawing of pieces is made of; nothing that runs, opens or points anywhere
_DRAWN = {
    "svg", "g", "title", "rect", "path", "line", "circle", "polygon", "polyline", "text",
    "defs", "clipPath", "use",
}  # fmt: skip
_ATTRIBUTES = {
    "viewBox", "width", "height", "x", "y", "x1", "y1", "x2", "y2", "cx", "cy", "r", "rx", "ry",
    "d", "points", "fill", "stroke", "stroke-width", "stroke-dasharray", "font-size",
    "text-anchor", "transform", "id", "class", "role", "clip-path", "href", "fill-opacity",
    "stroke-opacity", "stroke-linecap", "stroke-linejoin",
}  # fmt: skip
# others of the same drawing
_HERE = {"href": re.compile(r"#[\w-]+"), "clip-path": re.compile(r"url\(#[\w-]+\)")}
_SVG = "{http://www.w3.org/2000/svg}"
_NUMBER, _COUNT = decimal(), whole(0, _LARGEST)


def _currency(raw: Any, path: str) -> None:
    if text(raw, path) not in Locale("en").currencies:
        raise WrongJson(f"{shown(raw)} is not known here.", where=path)


def _drawing(raw: Any, path: str) -> None:
    drawn = text(raw, path)
    if not drawn:
        return
    refused = WrongJson("This is not a drawing of pieces.", where=path)
    # declarations could grow without end when they are read
    if "<!" in drawn or "<?" in drawn:
        raise refused
    try:
        root = ElementTree.fromstring(drawn)  # noqa: S314 - declarations were refused
    except ElementTree.ParseError as error:
        raise refused from error
    for part in root.iter():
        name = part.tag.removeprefix(_SVG)
        if name not in _DRAWN or set(part.attrib) - _ATTRIBUTES:
            raise refused
        for key, value in part.attrib.items():
            known = _HERE.get(key)
            if known.fullmatch(value) is None if known else "url(" in value:
                raise refused
    # what is used again and again by what is used again and again would grow without end
    for defined in root.iter(f"{_SVG}defs"):
        if any(part.tag == f"{_SVG}use" for part in defined.iter()):
            raise refused
    known_ids = {part.get("id") for part in root.iterfind(f"{_SVG}defs/*")}
    for used in root.iter(f"{_SVG}use"):
        if used.get("href", "#").removeprefix("#") not in known_ids:
            raise refused


def _plain(raw: Any, path: str) -> None:
    """Pass whatever JSON holds but numbers with decimals, which databases write differently."""
    if isinstance(raw, dict):
        mapping_of(_plain)(raw, path)
    elif isinstance(raw, list):
        list_of(_plain)(raw, path)
    elif isinstance(raw, str):
        text(raw, path)
    elif raw is not None and not isinstance(raw, bool):
        whole(-_LARGEST, _LARGEST)(raw, path)


def _texts(*keys: str) -> dict[str, Any]:
    return dict.fromkeys(keys, text)


def _numbers(*keys: str) -> dict[str, Any]:
    return dict.fromkeys(keys, _NUMBER)


_EXTRA = {
    "reason": text,
    "is_discount": yes_no,
    "share": or_none(_NUMBER),
    "amount": _NUMBER,
}
_OTHER = {"quantity": _COUNT, **_numbers("price_each", "amount", "total")}
_LINE = {
    **_texts("design", "code", "description", "colourway", "finished_size", "caution"),
    **_numbers("price_each", "amount"),
    "choices": list_of(text),
    "names": list_of(text),
    "quantity": _COUNT,
    "drawing": _drawing,
    "others": list_of(record(_OTHER)),
}
_OWN_LINE = {
    **_numbers("cost", "floor_each", "minutes"),
    **dict.fromkeys(("target_each", "margin", "per_hour"), or_none(_NUMBER)),
}
# said only where there are any
_SAID_OF_LINES: dict[str, Any] = {"others": ()}
_SAID_OF_ALL: dict[str, Any] = {"extras": ()}
_PUBLIC = {
    **_numbers("net", "tax", "total", "deposit", "balance"),
    "lines": list_of(record(_LINE, _SAID_OF_LINES)),
    "extras": list_of(record(_EXTRA)),
    "delivery": or_none(_NUMBER),
    "rush": yes_no,
    "rates": list_of(record(_numbers("rate", "base", "tax"))),
}
_OWN = {
    **_numbers("cost", "floor", "profit", "fees", "minutes"),
    **dict.fromkeys(("margin", "per_hour"), or_none(_NUMBER)),
    "lines": list_of(record(_OWN_LINE)),
}
_DOCUMENT = {
    **_texts("number", "title", "intro", "terms", "tax_name"),
    **_numbers("tax_rate", "deposit_share"),
    **dict.fromkeys(("tax_registered", "prices_include_tax", "tax_per_line"), yes_no),
    "revision": _COUNT,
    "quoted_on": day,
    "valid_until": or_none(day),
    "needed_on": or_none(day),
    "customer": record(_texts("name", "contact", "address", "email")),
    "maker": record(_texts("name", "maker_name", "address", "email", "phone", "website")),
    "currency": _currency,
    "locale": one_of(*LOCALES),
    "unit": one_of("in", "mm"),
    "basis": _plain,
}
_DAYS_TOLD = dict.fromkeys(("yes_by", "earliest_on"), or_none(day))
_OWN_DAYS = dict.fromkeys(("ready_on", "earliest_on", "yes_by"), or_none(day))
_FROZEN = record(
    {
        **_DOCUMENT,
        "cancel": record(_numbers("before", "bought", "cut")),
        "public": record({**_PUBLIC, "dates": record(_DAYS_TOLD)}, _SAID_OF_ALL),
        "own": record({**_OWN, "dates": record({**_OWN_DAYS, "why": text})}),
    },
    # of quotes that were sent before cancelling had terms
    {"cancel": None},
)
# of quotes that were sent when days were counted instead of dates
_OLDER = record(
    {
        **_DOCUMENT,
        "public": record(_PUBLIC, _SAID_OF_ALL),
        "own": record({**_OWN, "ready_in_days": _COUNT}),
    }
)


def check_frozen(raw: Any, path: str) -> None:
    """Refuse what is not the document of a sent quote, with the path of the first thing wrong."""
    own = raw.get("own") if isinstance(raw, Mapping) else None
    is_older = isinstance(own, Mapping) and "ready_in_days" in own
    (_OLDER if is_older else _FROZEN)(raw, path)


def sorted_keys(value: Any) -> Any:
    """Return JSON values with keys in order: a database need not keep the order they came in."""
    if isinstance(value, dict):
        return {key: sorted_keys(value[key]) for key in sorted(value)}
    if isinstance(value, list):
        return [sorted_keys(part) for part in value]
    return value
