"""Reads a cutting job from JSON text and writes a cutting plan as JSON values."""

from __future__ import annotations

import json
from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from typing import Any

from catalogue.calc.cutting.planning import CuttingJob, Layout, PieceKind, SheetKind, SheetPlan
from maker.calc.refusal import Refusal

UNITS = ("in", "mm")
DEFAULT_UNIT = "mm"
LONGEST_NUMBER = 60


class UnreadableJob(Refusal):
    """The text is not a cutting job; `where` is the path to the place, such as pieces[2].count."""


def read_job(text: str) -> tuple[CuttingJob, str]:
    """Return the job and its unit of length, or refuse the text and say where it is wrong."""
    whole = _Fields(_parse(text), "")
    unit = whole.text("unit", DEFAULT_UNIT)
    if unit not in UNITS:
        raise UnreadableJob(f"The unit must be one of: {', '.join(UNITS)}.", where="unit")
    job = CuttingJob(
        gap=whole.number("gap", Decimal(0)),
        rounds=whole.count("rounds", 3),
        time_limit_s=float(whole.number("time_limit_s", Decimal(5))),
        sheets=tuple(_read_sheet(fields) for fields in whole.rows("sheets")),
        pieces=tuple(_read_piece(fields) for fields in whole.rows("pieces")),
    )
    whole.refuse_unknown()
    return job, unit


def write_plan(plan: SheetPlan, job: CuttingJob) -> dict[str, Any]:
    """Return the plan as JSON values: lengths and money are strings, counts are integers."""
    one_kind = len(job.sheets) == 1
    return {
        "sheet_count": plan.sheet_count,
        "cost": _plain(plan.cost),
        "lower_bound": int(plan.lower_bound) if one_kind else _plain(plan.lower_bound),
        "proven": plan.proven,
        "reason": plan.reason,
        "seconds": round(plan.seconds, 3),
        "layouts": [_write_layout(layout) for layout in plan.layouts],
        "cut_count": plan.cut_count,
    }


def _write_layout(layout: Layout) -> dict[str, Any]:
    return {
        "sheet": layout.sheet,
        "times": layout.times,
        "placements": [
            {
                "piece": placed.piece,
                "x": _plain(placed.x),
                "y": _plain(placed.y),
                "width": _plain(placed.width),
                "height": _plain(placed.height),
                "turned": placed.turned,
            }
            for placed in layout.placements
        ],
        "offcuts": [
            {
                "x": _plain(offcut.x),
                "y": _plain(offcut.y),
                "width": _plain(offcut.width),
                "height": _plain(offcut.height),
            }
            for offcut in layout.offcuts
        ],
        "slack": _plain(layout.slack),
        "cuts": [
            {
                "round": cut.round,
                "is_vertical": cut.is_vertical,
                "at": _plain(cut.at),
                "x": _plain(cut.x),
                "y": _plain(cut.y),
                "width": _plain(cut.width),
                "height": _plain(cut.height),
                "is_trim": cut.is_trim,
            }
            for cut in layout.cuts
        ],
    }


def _plain(value: Decimal) -> str:
    return f"{value:f}"


def _read_sheet(fields: _Fields) -> SheetKind:
    sheet = SheetKind(
        name=fields.text("name"),
        width=fields.number("width"),
        height=fields.number("height"),
        price=fields.number("price", Decimal(0)),
        available=fields.count("available", None),
        trim=fields.number("trim", Decimal(0)),
    )
    fields.refuse_unknown()
    return sheet


def _read_piece(fields: _Fields) -> PieceKind:
    count = fields.count("count")
    if count is None:
        raise UnreadableJob("Give the count as a whole number.", where=fields.path("count"))
    piece = PieceKind(
        name=fields.text("name"),
        width=fields.number("width"),
        height=fields.number("height"),
        count=count,
        may_turn=fields.truth("may_turn", False),
        sheet=fields.optional_text("sheet"),
    )
    fields.refuse_unknown()
    return piece


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
        raise UnreadableJob(
            f"This is not JSON: {error.msg}.", where=f"line {error.lineno}, column {error.colno}"
        ) from error
    except InvalidOperation as error:
        # an exponent that no number has
        raise UnreadableJob("A number is too long to read.", where="job") from error
    except RecursionError as error:
        raise UnreadableJob("The JSON is nested too deeply.", where="job") from error


def _refuse_constant(name: str) -> None:
    raise UnreadableJob(f"{name} is not a number that can be used.", where=name)


def _without_doubles(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in pairs:
        if key in found:
            raise UnreadableJob(f"“{key}” is given twice.", where=key)
        found[key] = value
    return found


_MISSING: Any = object()


class _Fields:
    """One JSON object, read field by field; what was not asked for is unknown."""

    def __init__(self, values: Any, place: str) -> None:
        if not isinstance(values, Mapping):
            raise UnreadableJob("Expected an object in braces.", where=place or "job")
        self._values = values
        self._place = place
        self._asked: set[str] = set()

    def path(self, key: str) -> str:
        return f"{self._place}.{key}" if self._place else key

    def _take(self, key: str, default: Any = _MISSING) -> Any:
        self._asked.add(key)
        value = self._values.get(key, default)
        if value is _MISSING:
            raise UnreadableJob(f"“{key}” is missing.", where=self.path(key))
        return value

    def text(self, key: str, default: Any = _MISSING) -> str:
        value = self._take(key, default)
        if not isinstance(value, str):
            raise UnreadableJob(f"“{key}” must be text.", where=self.path(key))
        if any("\ud800" <= letter <= "\udfff" for letter in value):
            raise UnreadableJob(f"“{key}” holds half a character.", where=self.path(key))
        return value

    def optional_text(self, key: str) -> str | None:
        return None if self._take(key, None) is None else self.text(key)

    def truth(self, key: str, default: Any = _MISSING) -> bool:
        value = self._take(key, default)
        if not isinstance(value, bool):
            raise UnreadableJob(f"“{key}” must be true or false.", where=self.path(key))
        return value

    def number(self, key: str, default: Any = _MISSING) -> Decimal:
        value = self._take(key, default)
        if isinstance(value, str) and len(value) <= LONGEST_NUMBER:
            try:
                value = Decimal(value.strip())
            except InvalidOperation:
                value = None
        if not isinstance(value, Decimal) or not value.is_finite() or abs(value.adjusted()) > 60:
            raise UnreadableJob(f"“{key}” must be a number.", where=self.path(key))
        return value

    def count(self, key: str, default: Any = _MISSING) -> int | None:
        """Return a whole number, or None where null is given."""
        value = self._take(key, default)
        if value is None or (isinstance(value, int) and not isinstance(value, bool)):
            return value
        if isinstance(value, bool):
            raise UnreadableJob(f"“{key}” must be a whole number.", where=self.path(key))
        number = self.number(key)
        if number != number.to_integral_value():
            raise UnreadableJob(f"“{key}” must be a whole number.", where=self.path(key))
        return int(number)

    def rows(self, key: str) -> list[_Fields]:
        values = self._take(key)
        if not isinstance(values, list):
            raise UnreadableJob(f"“{key}” must be a list.", where=self.path(key))
        return [_Fields(row, f"{self.path(key)}[{at}]") for at, row in enumerate(values)]

    def refuse_unknown(self) -> None:
        for key in self._values:
            if key not in self._asked:
                raise UnreadableJob(f"“{key}” is not known here.", where=self.path(key))
