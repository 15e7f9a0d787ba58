"""Reads a cutting job from JSON text and writes a cutting plan as JSON values."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from catalogue.calc.cutting.planning import CuttingJob, PieceKind, SheetKind, SheetPlan
from maker.calc.json_values import written
from maker.calc.strict_json import (
    Fields,
    count,
    list_of,
    number,
    one_of,
    or_none,
    parse,
    text,
    yes_no,
)

UNITS = ("in", "mm")
DEFAULT_UNIT = "mm"
# the planner says which counts make no sense
_ANY_COUNT = count(least=None, most=None)


def read_job(content: bytes | str) -> tuple[CuttingJob, str]:
    """Return the job and its unit of length. Errors: WrongJson."""
    fields = Fields(parse(content))
    unit = fields.take("unit", one_of(*UNITS), DEFAULT_UNIT)
    job = CuttingJob(
        gap=fields.take("gap", number(), Decimal(0)),
        rounds=fields.take("rounds", or_none(_ANY_COUNT), 3),
        time_limit_s=float(fields.take("time_limit_s", number(), Decimal(5))),
        sheets=fields.take("sheets", list_of(_read_sheet)),
        pieces=fields.take("pieces", list_of(_read_piece)),
    )
    fields.nothing_else()
    return job, unit


def write_plan(plan: SheetPlan, job: CuttingJob) -> dict[str, Any]:
    """Return the plan as JSON values: lengths and money are strings, counts are integers."""
    one_kind = len(job.sheets) == 1
    return {
        "sheet_count": plan.sheet_count,
        "cost": _digits(plan.cost),
        "lower_bound": int(plan.lower_bound) if one_kind else _digits(plan.lower_bound),
        "proven": plan.proven,
        "reason": plan.reason,
        "seconds": round(plan.seconds, 3),
        "layouts": written(plan.layouts, _digits),
        "cut_count": plan.cut_count,
    }


def _digits(value: Decimal) -> str:
    """Write a number with the zeros that it came with: a price of 0.10 has two decimals."""
    return f"{value:f}"


def _read_sheet(raw: Any, path: str) -> SheetKind:
    fields = Fields(raw, path)
    sheet = SheetKind(
        name=fields.take("name", text),
        width=fields.take("width", number()),
        height=fields.take("height", number()),
        price=fields.take("price", number(), Decimal(0)),
        available=fields.optional("available", _ANY_COUNT),
        trim=fields.take("trim", number(), Decimal(0)),
    )
    fields.nothing_else()
    return sheet


def _read_piece(raw: Any, path: str) -> PieceKind:
    fields = Fields(raw, path)
    piece = PieceKind(
        name=fields.take("name", text),
        width=fields.take("width", number()),
        height=fields.take("height", number()),
        count=fields.take("count", _ANY_COUNT),
        may_turn=fields.take("may_turn", yes_no, False),
        sheet=fields.optional_text("sheet"),
    )
    fields.nothing_else()
    return piece
