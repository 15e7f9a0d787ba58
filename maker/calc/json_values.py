"""Frozen values written as JSON values, and read back as strictly, by their annotations."""

from collections.abc import Callable, Mapping
from dataclasses import MISSING, fields, is_dataclass
from decimal import Decimal
from enum import StrEnum
from types import NoneType, UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

from maker.calc.strict_json import (
    Reader,
    decimal,
    list_of,
    number,
    one_of,
    or_none,
    record,
    text,
    tuple_of,
    whole,
    yes_no,
)
from maker.calc.sums import plain_text


def written(value: Any, write: Callable[[Decimal], str] = plain_text) -> Any:
    """Return a frozen value as JSON values: its fields by name, numbers with decimals as text.

    12.50 and 12.5 are one number and are written alike, unless `write` writes them otherwise.
    """
    if isinstance(value, Decimal):
        return write(value)
    if is_dataclass(value):
        return {field.name: written(getattr(value, field.name), write) for field in fields(value)}
    if isinstance(value, (tuple, list)):
        return [written(part, write) for part in value]
    return value


def _seconds(raw: Any, path: str) -> float:
    # JSON that a database read for itself has no exact numbers
    return float(number()(Decimal(raw) if isinstance(raw, float) else raw, path))


PLAIN: Mapping[Any, Reader[Any]] = {
    str: text,
    bool: yes_no,
    int: whole(),
    Decimal: decimal(),
    float: _seconds,
}


def value_of(
    kind: Any, plain: Mapping[Any, Reader[Any]] = PLAIN, **readers: Reader[Any]
) -> Reader[Any]:
    """Return a reader of a kind of frozen value, and of all that it is made of.

    `plain` reads the plain types instead, `readers` fields of the value itself. A field with a
    default may be left out: it is newer than the file.
    """
    inner, origin = get_args(kind), get_origin(kind)
    if is_dataclass(kind) and isinstance(kind, type):
        hints = get_type_hints(kind)
        columns = {name: readers.get(name) or value_of(hint, plain) for name, hint in hints.items()}
        defaults = {one.name: one.default for one in fields(kind) if one.default is not MISSING}
        read, make = record(columns, defaults), kind
        return lambda raw, path: make(**read(raw, path))
    if origin is tuple:
        if inner[-1] is Ellipsis:
            return list_of(value_of(inner[0], plain))
        return tuple_of(*(value_of(one, plain) for one in inner))
    if origin in (Union, UnionType):
        return or_none(value_of(next(one for one in inner if one is not NoneType), plain))
    if isinstance(kind, type) and issubclass(kind, StrEnum):
        word, words = one_of(*kind), kind
        return lambda raw, path: words(word(raw, path))
    return plain[kind]
