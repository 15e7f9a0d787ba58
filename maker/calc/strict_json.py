"""Reads JSON strictly: each value is asked for by name and kind, and a refusal says where it is.

`parse` refuses what JSON lets pass: a key given twice, NaN and Infinity, numbers beyond all reason,
nesting without end. Numbers stay exact: `int` or `Decimal`. Whole frozen values are read by
`maker.calc.json_values`.

A reader is a function of a value and its path that returns the value in a type of its own or
raises `WrongJson`; `Fields` asks an object for its keys with them. A path counts the places of a
list from 0: `materials[3].packs[0].price`.
"""

import datetime
import json
import re
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from types import MappingProxyType
from typing import Any, TypeAlias, TypeVar

from maker.calc.refusal import Refusal

LARGEST_FILE = 64 * 1024 * 1024
DEEPEST = 60  # lists and objects inside each other; what a quote was worked out from needs 27
LONGEST_NUMBER = 120
MOST_DIGITS = 60  # before the decimal point, and zeros behind it
LARGEST_INT = 10**12  # far above every count
WHOLE = "file"  # the path of everything
REQUIRED: Any = object()

_TYPED_NUMBER = re.compile(r"[-+]?([0-9]+\.?[0-9]*|\.[0-9]+)(e[-+]?[0-9]+)?", re.ASCII | re.I)
# what 34 digits can leave behind a small share
_EXACT_NUMBER = re.compile(r"-?[0-9]{1,30}(\.[0-9]{1,80})?", re.ASCII)
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", re.ASCII)
_NO_TEXT = re.compile("[\x00\ud800-\udfff]")

Value = TypeVar("Value")
Reader: TypeAlias = Callable[[Any, str], Value]
Limit: TypeAlias = Decimal | int | None


class WrongJson(Refusal):
    """This is not JSON, or something in it is not what it must be; `where` is its path."""


@dataclass(frozen=True, slots=True)
class _Wrong:
    """Stands where JSON lets something wrong pass, until its path is known."""

    message: str
    key: str | None = None


def parse(content: bytes | str) -> Any:
    """Return the values of a JSON file or text, its numbers exact.

    Errors: WrongJson for what is too large, not UTF-8, not JSON, too deep, or wrong anywhere.
    """
    if len(content) > LARGEST_FILE:
        megabytes = LARGEST_FILE // 1024 // 1024
        raise WrongJson(f"The file is larger than {megabytes} MB.", where=WHOLE)
    try:
        value = json.loads(
            content if isinstance(content, str) else content.decode("utf-8-sig"),
            parse_int=_exact,
            parse_float=_exact,
            parse_constant=lambda name: _Wrong(f"{name} is not a number that can be used."),
            object_pairs_hook=_without_doubles,
        )
    except UnicodeDecodeError as error:
        raise WrongJson("The file is not UTF-8 text.", where=f"byte {error.start}") from error
    except json.JSONDecodeError as error:
        place = f"line {error.lineno}, column {error.colno}"
        raise WrongJson(f"The file is not JSON: {error.msg}.", where=place) from error
    except RecursionError as error:
        raise WrongJson("The JSON is nested too deeply.", where=WHOLE) from error
    _refuse_wrong(value, "", 0)
    return value


def _exact(written: str) -> Decimal | int | _Wrong:
    value = _decimal_of(written)
    if value is None or not _is_reasonable(value):
        return _Wrong("This number is too large, too small or too long.")
    return int(value) if written.lstrip("-").isdigit() else value


def _decimal_of(written: str) -> Decimal | None:
    try:
        return Decimal(written) if len(written) <= LONGEST_NUMBER else None
    except InvalidOperation:  # an exponent that no number has
        return None


def _is_reasonable(value: Decimal) -> bool:
    return value.is_finite() and abs(value.adjusted()) <= MOST_DIGITS


def _without_doubles(pairs: list[tuple[str, Any]]) -> dict[str, Any] | _Wrong:
    found = dict(pairs)
    if len(found) == len(pairs):
        return found
    twice, _ = Counter([key for key, _ in pairs]).most_common(1)[0]
    return _Wrong(f"{shown(twice)} is given twice.", twice)


def _refuse_wrong(value: Any, path: str, depth: int) -> None:
    if isinstance(value, _Wrong):
        where = path if value.key is None else join(path, value.key)
        raise WrongJson(value.message, where=where or WHOLE)
    if depth > DEEPEST:
        raise WrongJson("The JSON is nested too deeply.", where=path[:200])
    # only what may hold something has its path written out: a file has a million plain values
    if isinstance(value, dict):
        for key, inner in value.items():
            if isinstance(inner, (dict, list, _Wrong)):
                _refuse_wrong(inner, join(path, key), depth + 1)
    elif isinstance(value, list):
        for at, inner in enumerate(value):
            if isinstance(inner, (dict, list, _Wrong)):
                _refuse_wrong(inner, f"{path}[{at}]", depth + 1)


def join(path: str, key: str) -> str:
    """Return the path of a key of an object, cut short where the key is absurd."""
    return f"{path}.{key[:80]}" if path else key[:80]


def shown(value: Any) -> str:
    """Name a value in a message, cut short."""
    if isinstance(value, dict):
        return "an object"
    if isinstance(value, list):
        return "a list"
    if value is None or isinstance(value, bool):
        return json.dumps(value)
    if isinstance(value, int) and abs(value) > 10**15:
        return "a number"  # one of thousands of digits cannot even be written out
    words = str(value)
    if isinstance(value, (int, float, Decimal)):
        return f"the number {words}" if len(words) <= 20 else "a number"
    return f"“{words[:40]}…”" if len(words) > 40 else f"“{words}”"


def _must_be(what: str, raw: Any, path: str) -> WrongJson:
    return WrongJson(f"This must be {what}, found {shown(raw)}.", where=path or WHOLE)


class Fields:
    """One object, asked key by key; `nothing_else` refuses what nobody asked for."""

    def __init__(self, raw: Any, path: str = "") -> None:
        if not isinstance(raw, dict):
            raise _must_be("an object in braces", raw, path)
        self.values: dict[str, Any] = raw
        self.path = path
        self._asked: set[str] = set()

    def at(self, key: str) -> str:
        """Return the path of a key."""
        return join(self.path, key)

    def has(self, key: str) -> bool:
        """Say whether the key is there; asked for in any case."""
        self._asked.add(key)
        return key in self.values

    def take(self, key: str, read: Reader[Value], default: Any = REQUIRED) -> Value:
        """Return the value of a key; one left out has its default, or is missing."""
        if self.has(key):
            return read(self.values[key], self.at(key))
        if default is REQUIRED:
            raise self.refuse(f"“{key}” is missing.", key)
        kept: Value = default
        return kept

    def rows(self, key: str) -> list["Fields"]:
        """Return the objects of a list; a list left out is empty."""
        return list(self.take(key, list_of(Fields), ()))

    def optional(self, key: str, read: Reader[Value]) -> Value | None:
        """Return the value of a key, or None where it is left out or null."""
        return self.take(key, or_none(read), None)

    def optional_text(self, key: str) -> str | None:
        """Return a text, or None where the key is left out or null."""
        return self.optional(key, text)

    def refuse(self, message: str, key: str = "") -> WrongJson:
        """Return a refusal about this object or one of its keys, to be raised."""
        return WrongJson(message, where=self.at(key) if key else self.path or WHOLE)

    def unknown(self) -> list[WrongJson]:
        """Return a refusal for each key nobody asked for."""
        return [
            self.refuse(f"{shown(key)} is not known here.", key)
            for key in self.values
            if key not in self._asked
        ]

    def nothing_else(self) -> None:
        """Refuse the first key nobody asked for."""
        for unknown in self.unknown():
            raise unknown


def anything(raw: Any, path: str) -> Any:
    """Return the value as it is, to be read elsewhere."""
    return raw


def text(raw: Any, path: str) -> str:
    """Return a text that every database can store."""
    if not isinstance(raw, str):
        raise _must_be("text", raw, path)
    if _NO_TEXT.search(raw):
        raise WrongJson("The text holds a character that isn't text.", where=path)
    return raw


def one_of(*words: str) -> Reader[str]:
    """Return a reader of one of a few words."""

    def read(raw: Any, path: str) -> str:
        if not isinstance(raw, str) or raw not in words:
            raise _must_be(f"one of {', '.join(map(shown, words))}", raw, path)
        return raw

    return read


def yes_no(raw: Any, path: str) -> bool:
    """Return true or false."""
    if not isinstance(raw, bool):
        raise _must_be("true or false", raw, path)
    return raw


def _in_limits(value: Decimal, path: str, least: Limit, most: Limit) -> None:
    if least is not None and value < least:
        raise WrongJson(f"This must be at least {least:,}.", where=path)
    if most is not None and value > most:
        raise WrongJson(f"This must be at most {most:,}.", where=path)


def whole(least: int = -LARGEST_INT, most: int = LARGEST_INT) -> Reader[int]:
    """Return a reader of a whole number in its limits, written as a number."""

    def read(raw: Any, path: str) -> int:
        if isinstance(raw, bool) or not isinstance(raw, int):
            raise _must_be("a whole number", raw, path)
        _in_limits(Decimal(raw), path, least, most)
        return raw

    return read


def decimal(
    least: Limit = None, most: Limit = None, *, places: int | None = None
) -> Reader[Decimal]:
    """Return a reader of an exact number, written as text by a program: "12.5"."""

    def read(raw: Any, path: str) -> Decimal:
        if not isinstance(raw, str) or not _EXACT_NUMBER.fullmatch(raw):
            raise _must_be('a number written as text, such as "12.5"', raw, path)
        return _limited(Decimal(raw), path, least, most, places)

    return read


def number(
    least: Limit = None, most: Limit = None, *, places: int | None = None
) -> Reader[Decimal]:
    """Return a reader of a number as people write it: 12.5, "12.5", 1e3."""

    def read(raw: Any, path: str) -> Decimal:
        value = None
        if isinstance(raw, (int, Decimal)) and not isinstance(raw, bool):
            value = Decimal(raw)
        elif isinstance(raw, str) and _TYPED_NUMBER.fullmatch(raw.strip()):
            value = _decimal_of(raw.strip())
        if value is None or not _is_reasonable(value):
            raise _must_be("a number", raw, path)
        return _limited(value, path, least, most, places)

    return read


def count(least: Limit = 0, most: Limit = LARGEST_INT) -> Reader[int]:
    """Return a reader of a whole number as people write it: 12, "12", 12.0."""
    inner = number()

    def read(raw: Any, path: str) -> int:
        value = inner(raw, path)
        if value != value.to_integral_value():
            raise _must_be("a whole number", raw, path)
        _in_limits(value, path, least, most)
        return int(value)

    return read


def _limited(value: Decimal, path: str, least: Limit, most: Limit, places: int | None) -> Decimal:
    _in_limits(value, path, least, most)
    if places is not None and len(f"{value:f}".partition(".")[2].rstrip("0")) > places:
        raise WrongJson(f"At most {places} decimals are kept.", where=path)
    return value


def day(raw: Any, path: str) -> datetime.date:
    """Return a day of the calendar, as ISO 8601 writes it."""
    if isinstance(raw, str) and _DAY.fullmatch(raw):
        try:
            return datetime.date.fromisoformat(raw)
        except ValueError:
            pass
    raise _must_be('a day such as "2026-03-31"', raw, path)


def or_none(read: Reader[Value]) -> Reader[Value | None]:
    """Return a reader that takes null too."""
    return lambda raw, path: None if raw is None else read(raw, path)


def list_of(read: Reader[Value], most: int | None = None) -> Reader[tuple[Value, ...]]:
    """Return a reader of a list of one kind."""

    def read_list(raw: Any, path: str) -> tuple[Value, ...]:
        if not isinstance(raw, list):
            raise _must_be("a list", raw, path)
        if most is not None and len(raw) > most:
            raise WrongJson(f"At most {most} fit; these are {len(raw)}.", where=path)
        return tuple(read(part, f"{path}[{at}]") for at, part in enumerate(raw))

    return read_list


def tuple_of(*readers: Reader[Any]) -> Reader[tuple[Any, ...]]:
    """Return a reader of a list with one value for each reader."""

    def read(raw: Any, path: str) -> tuple[Any, ...]:
        values = list_of(anything)(raw, path)
        if len(values) != len(readers):
            raise WrongJson(f"This must have {len(readers)} parts.", where=path)
        return tuple(
            inner(part, f"{path}[{at}]")
            for at, (inner, part) in enumerate(zip(readers, values, strict=True))
        )

    return read


def mapping_of(read: Reader[Value]) -> Reader[dict[str, Value]]:
    """Return a reader of an object that may have any keys, all of one kind."""

    def read_mapping(raw: Any, path: str) -> dict[str, Value]:
        found = Fields(raw, path)
        return {text(key, path): found.take(key, read) for key in found.values}

    return read_mapping


def record(
    readers: Mapping[str, Reader[Any]], defaults: Mapping[str, Any] = MappingProxyType({})
) -> Reader[dict[str, Any]]:
    """Return a reader of an object with just these keys; those with a default may be left out."""

    def read(raw: Any, path: str) -> dict[str, Any]:
        found = Fields(raw, path)
        values = {
            key: found.take(key, inner, defaults.get(key, REQUIRED))
            for key, inner in readers.items()
        }
        found.nothing_else()
        return values

    return read
