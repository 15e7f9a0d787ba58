"""Reads an order from JSON text: what stands under `inputs`, as the values its figures need."""

import datetime
import json
from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from typing import Any

from maker.calc.refusal import Refusal
from pricing.calc.order_result.order import Material, Minutes, Order, Part, Rack
from pricing.calc.schedule.calendar import (
    MINUTES_OF_A_DAY,
    MONDAY_TO_FRIDAY,
    MONDAY_TO_SATURDAY,
    CountedDays,
    WorkCalendar,
)
from pricing.calc.schedule.job import Promise

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
LARGEST_COUNT = 1_000_000
MOST_DAYS = 365
MOST_ROWS = 1000
MOST_DELIVERIES = 50
FIRST_DATE, LAST_DATE = datetime.date(1970, 1, 1), datetime.date(2200, 1, 1)


class UnreadableOrder(Refusal):
    """The text is not an order; `where` is the path to the place, such as drops[1].due."""


def read_order(text: str) -> Order:
    """Return the order of a JSON text, or refuse it and say where it is wrong.

    Keys that these figures do not need are left alone.
    """
    fields = _Fields(_parse(text), "").inner("inputs")
    minutes = fields.inner("minutes")
    weekdays = fields.inner("minutes_per_weekday")
    parts = tuple(_read_part(row) for row in fields.rows("drops"))
    if not 1 <= len(parts) <= MOST_DELIVERIES:
        raise UnreadableOrder(
            f"Give 1 to {MOST_DELIVERIES} deliveries.", where=fields.path("drops")
        )
    return Order(
        today=fields.date("today"),
        late_yes_on=fields.date("late_yes"),
        spare_share=fields.number("reject", most=1),
        per_carton=fields.count("per_carton", least=1),
        parts=parts,
        minutes=Minutes(
            **{
                key: minutes.count(key)
                for key in ("setup", "make", "finish", "name", "carton", "simple_saves")
            }
        ),
        calendar=WorkCalendar(
            tuple(weekdays.count(day, most=MINUTES_OF_A_DAY) for day in WEEKDAYS),
            frozenset(fields.dates("days_off")),
            fields.inner("short_days").minutes_by_date() if fields.has("short_days") else {},
        ),
        promises=tuple(_read_promise(row) for row in fields.one_or_more("promised")),
        rack=_read_rack(fields.inner("rack")) if fields.has("rack") else None,
        transit_days=fields.count("transit_days", most=MOST_DAYS),
        carrier_days=CountedDays(MONDAY_TO_SATURDAY, frozenset(fields.dates("carrier_holidays"))),
        supplier_days=CountedDays(MONDAY_TO_FRIDAY, frozenset(fields.dates("supplier_holidays"))),
        buffer_days=fields.count("buffer_days", most=MOST_DAYS),
        lead_days=fields.count("lead_days", most=MOST_DAYS),
        proof_days=fields.count("proof_days", most=MOST_DAYS),
        evening_minutes=fields.count("evening", most=MINUTES_OF_A_DAY),
        materials=tuple(_read_material(row) for row in fields.rows("materials")),
    )


def _read_part(row: "_Fields") -> Part:
    items = row.inner("pieces").counts()
    part = Part(row.date("due"), items, row.count("named"))
    if part.count < 1:
        raise UnreadableOrder("A delivery needs at least one item.", where=row.path("pieces"))
    if part.named > part.count:
        raise UnreadableOrder(
            f"{part.named} names are more than {part.count} items.", where=row.path("named")
        )
    return part


def _read_promise(row: "_Fields") -> Promise:
    return Promise(row.text("what", "promised work"), row.count("minutes"), row.date("due"))


def _read_rack(row: "_Fields") -> Rack:
    return Rack(
        row.count("boxes_per_load", least=1),
        row.count("loads_per_day", least=1),
        row.count("dryings", least=1),
    )


def _read_material(row: "_Fields") -> Material:
    return Material(
        row.text("name"), row.number("need"), row.number("on_hand"), row.number("reserved")
    )


def _parse(text: str) -> Any:
    try:
        return json.loads(
            text,
            parse_float=Decimal,
            parse_int=Decimal,
            parse_constant=_refuse_constant,
            object_pairs_hook=_without_doubles,
        )
    except json.JSONDecodeError as error:
        raise UnreadableOrder(
            f"This is not JSON: {error.msg}.", where=f"line {error.lineno}, column {error.colno}"
        ) from error
    except InvalidOperation as error:
        raise UnreadableOrder("A number is too long to read.", where="file") from error
    except RecursionError as error:
        raise UnreadableOrder("The JSON is nested too deeply.", where="file") from error


def _refuse_constant(name: str) -> None:
    raise UnreadableOrder(f"{name} is not a number that can be used.", where=name)


def _without_doubles(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in pairs:
        if key in found:
            raise UnreadableOrder(f"“{key}” is given twice.", where=key)
        found[key] = value
    return found


class _Fields:
    """One JSON object, read field by field."""

    def __init__(self, values: Any, place: str) -> None:
        if not isinstance(values, Mapping):
            raise UnreadableOrder("Expected an object in braces.", where=place or "file")
        self._values, self._place = values, place

    def path(self, key: str) -> str:
        return f"{self._place}.{key}" if self._place else key

    def has(self, key: str) -> bool:
        return self._values.get(key) is not None

    def _take(self, key: str) -> Any:
        if key not in self._values:
            raise UnreadableOrder(f"“{key}” is missing.", where=self.path(key))
        return self._values[key]

    def _refuse(self, key: str, what: str) -> UnreadableOrder:
        return UnreadableOrder(f"“{key}” must be {what}.", where=self.path(key))

    def inner(self, key: str) -> "_Fields":
        return _Fields(self._take(key), self.path(key))

    def rows(self, key: str) -> list["_Fields"]:
        return [_Fields(row, f"{self.path(key)}[{at}]") for at, row in enumerate(self._list(key))]

    def one_or_more(self, key: str) -> list["_Fields"]:
        """Return the rows of a list, of a single object, or none at all."""
        if not self.has(key):
            return []
        return self.rows(key) if isinstance(self._values[key], list) else [self.inner(key)]

    def _list(self, key: str) -> list[Any]:
        values = self._values.get(key, [])
        if not isinstance(values, list):
            raise self._refuse(key, "a list")
        if len(values) > MOST_ROWS:
            raise self._refuse(key, f"a list of at most {MOST_ROWS}")
        return values

    def text(self, key: str, default: str = "") -> str:
        value = self._values.get(key, default)
        if not isinstance(value, str) or any("\ud800" <= letter <= "\udfff" for letter in value):
            raise self._refuse(key, "text")
        return value

    def date(self, key: str) -> datetime.date:
        return self._date(self._take(key), key)

    def dates(self, key: str) -> list[datetime.date]:
        return [self._date(value, f"{key}[{at}]") for at, value in enumerate(self._list(key))]

    def _date(self, value: Any, key: str) -> datetime.date:
        try:
            on = datetime.date.fromisoformat(value)
        except (TypeError, ValueError):
            raise self._refuse(key, "a date like 2026-10-16") from None
        if not FIRST_DATE <= on <= LAST_DATE:
            raise self._refuse(key, f"a date from {FIRST_DATE} to {LAST_DATE}")
        return on

    def count(self, key: str, *, least: int = 0, most: int = LARGEST_COUNT) -> int:
        number = self.number(key, most=most)
        if number != number.to_integral_value() or number < least:
            raise self._refuse(key, f"a whole number from {least} to {most}")
        return int(number)

    def number(self, key: str, *, most: int = LARGEST_COUNT) -> Decimal:
        value = self._take(key)
        if isinstance(value, str) and len(value) <= 40:
            try:
                value = Decimal(value.strip())
            except InvalidOperation:
                value = None
        if not isinstance(value, Decimal) or not value.is_finite():
            raise self._refuse(key, "a number")
        if not 0 <= value <= most or -value.as_tuple().exponent > 12:  # type: ignore[operator] # it is finite
            raise self._refuse(key, f"a number from 0 to {most} with at most 12 decimals")
        return value

    def counts(self) -> tuple[tuple[str, int], ...]:
        """Return every key with its whole number."""
        return tuple((key, self.count(key)) for key in self._values)

    def minutes_by_date(self) -> dict[datetime.date, int]:
        return {
            self._date(key, key): self.count(key, most=MINUTES_OF_A_DAY) for key in self._values
        }
