"""Jobs and plans as the JSON values that are kept in the database and in workshop files.

The keys are the names of the frozen values themselves; numbers with decimals are text. Reading is
as strict as writing: what does not make the very same value is refused.
"""

from __future__ import annotations

import hashlib
import json
import types
from collections.abc import Sequence
from dataclasses import dataclass, fields, is_dataclass
from decimal import Decimal, InvalidOperation
from functools import cache
from typing import Any, TypeAlias, TypeVar, Union, get_args, get_origin, get_type_hints

from catalogue.calc.cutting.check import WrongLayout, check_plan
from catalogue.calc.cutting.job import check_job
from catalogue.calc.cutting.planning import CuttingJob, SheetPlan
from catalogue.calc.reels.planning import ReelJob, ReelPlan, check_reel_job, check_reel_plan
from maker.calc.refusal import Refusal

Plan: TypeAlias = SheetPlan | ReelPlan
Value = TypeVar("Value")

SHEETS, REELS = "sheets", "reels"
# far above every count of a plan; a number of thousands of digits cannot even be written
LARGEST_INT = 10**12


class WrongPlan(Refusal):
    """This is no job or plan, or the plan does not do what the job says; `where` is the place."""


@dataclass(frozen=True, slots=True)
class Source:
    """What one kind of sheet or reel of a job is: a material of hers, or offcuts of one.

    `price` is what one costs her (None: not known), `on_hand` how many there were when asked.
    """

    name: str
    material: int
    material_name: str
    is_offcut: bool
    width_mm: Decimal
    height_mm: Decimal
    is_directional: bool
    price: Decimal | None
    on_hand: int


@dataclass(frozen=True, slots=True)
class JobGroup:
    """One job of a cutting plan: pieces that share sheets, or lengths that share reels.

    `is_money` says that the job's prices are money; else each whole sheet counts 1.
    """

    kind: str
    title: str
    unit: str
    is_money: bool
    sources: tuple[Source, ...]
    sheets: CuttingJob | None = None
    reels: ReelJob | None = None

    @property
    def job(self) -> CuttingJob | ReelJob:
        """What is planned."""
        job = self.sheets if self.kind == SHEETS else self.reels
        if job is None:
            raise WrongPlan("The job is missing.", where=self.title)
        return job

    def source(self, name: str) -> Source:
        """Return what a kind of sheet or reel is."""
        return next(source for source in self.sources if source.name == name)


@dataclass(frozen=True, slots=True)
class AskedDesign:
    """So many of a design, by name."""

    design: str
    version: int
    quantity: int
    colourway: str | None
    choices: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class AskedPiece:
    """Pieces or lengths that were typed in; a length has no height."""

    name: str
    material: str
    width_mm: Decimal
    height_mm: Decimal | None
    count: int
    may_turn: bool | None


@dataclass(frozen=True, slots=True)
class AskedSupply:
    """Where one material's sheets may come from, by name."""

    material: str
    only_shelf: bool
    also: tuple[str, ...]
    use_offcuts: bool


@dataclass(frozen=True, slots=True)
class AskedPlan:
    """What a plan was asked for, in her own words: it explains the plan and starts the next."""

    designs: tuple[AskedDesign, ...]
    pieces: tuple[AskedPiece, ...]
    supplies: tuple[AskedSupply, ...]
    gap_mm: Decimal
    rounds: int | None
    with_spares: bool


def read_asked(raw: Any, where: str = "asked") -> AskedPlan:
    """Return what was asked. Refuses what is none: WrongPlan."""
    asked: AskedPlan = _read(AskedPlan, raw, where)
    return asked


def written(value: Any) -> Any:
    """Return a frozen value as JSON values."""
    if is_dataclass(value):
        return {field.name: written(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, tuple):
        return [written(part) for part in value]
    if isinstance(value, Decimal):
        text = f"{value:f}"
        # 12.50 and 12.5 are one number, and the same jobs must look the same
        return text.rstrip("0").rstrip(".") if "." in text else text
    return value


def read_groups(raw: Any, where: str = "jobs") -> tuple[JobGroup, ...]:
    """Return the jobs of a cutting plan. Refuses what is none: WrongPlan."""
    groups: tuple[JobGroup, ...] = _read(tuple[JobGroup, ...], raw, where)
    for at, group in enumerate(groups):
        place = f"{where}[{at}]"
        if group.kind not in (SHEETS, REELS) or (group.sheets is None) == (group.reels is None):
            raise WrongPlan("A job is one of sheets or one of reels.", where=place)
        _check_group(group, place)
    return groups


def _check_group(group: JobGroup, place: str) -> None:
    job = group.job
    try:
        if isinstance(job, CuttingJob):
            check_job(job)
            names = [sheet.name for sheet in job.sheets]
        else:
            check_reel_job(job)
            names = [reel.name for reel in job.reels]
    except Refusal as refusal:
        raise WrongPlan(refusal.message, where=place) from refusal
    if [source.name for source in group.sources] != names:
        raise WrongPlan("Say for each kind of sheet what it is.", where=f"{place}.sources")


def read_plans(raw: Any, groups: Sequence[JobGroup], where: str = "plans") -> tuple[Plan, ...]:
    """Return the plans of these jobs, kept by the program itself. Refuses what is none."""
    if not isinstance(raw, list) or len(raw) != len(groups):
        raise WrongPlan("There must be one plan for each job.", where=where)
    return tuple(
        _read(SheetPlan if group.kind == SHEETS else ReelPlan, one, f"{where}[{at}]")
        for at, (group, one) in enumerate(zip(groups, raw, strict=True))
    )


def check_plans(plans: Sequence[Plan], groups: Sequence[JobGroup], where: str = "plans") -> None:
    """Refuse plans from outside that do not cut what is wanted from what is there."""
    for at, (plan, group) in enumerate(zip(plans, groups, strict=True)):
        job = group.job
        try:
            if isinstance(plan, SheetPlan) and isinstance(job, CuttingJob):
                _check_names(plan, job)
                check_plan(plan, job)
            elif isinstance(plan, ReelPlan) and isinstance(job, ReelJob):
                check_reel_plan(plan, job)
            else:
                raise WrongPlan("The plan is not of the kind of its job.", where=f"{where}[{at}]")
        except (WrongLayout, AssertionError, KeyError) as wrong:
            raise WrongPlan(f"The plan cannot be cut: {wrong}.", where=f"{where}[{at}]") from wrong


def _check_names(plan: SheetPlan, job: CuttingJob) -> None:
    sheets = {sheet.name for sheet in job.sheets}
    pieces = {piece.name for piece in job.pieces}
    for layout in plan.layouts:
        if layout.sheet not in sheets:
            raise KeyError(layout.sheet)
        for placed in layout.placements:
            if placed.piece not in pieces:
                raise KeyError(placed.piece)


def content_key(groups: Sequence[JobGroup]) -> str:
    """Return what tells these jobs from others: the same jobs have the same plans."""
    jobs = [written(group.job) for group in groups]
    text = json.dumps(jobs, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


@cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)


def _read(kind: Any, raw: Any, where: str) -> Any:
    """Make a value of a type out of JSON values, or say where that fails."""
    origin = get_origin(kind)
    if origin is tuple:
        return _read_tuple(get_args(kind), raw, where)
    if origin in (Union, types.UnionType):
        inner = next(one for one in get_args(kind) if one is not type(None))
        return None if raw is None else _read(inner, raw, where)
    if is_dataclass(kind):
        return _read_fields(kind, raw, where)
    if kind is Decimal:
        return _read_number(raw, where)
    if kind is float and isinstance(raw, int | float) and not isinstance(raw, bool):
        return float(raw)
    if type(raw) is not kind:
        raise WrongPlan(f"This must be of the kind {kind.__name__}.", where=where)
    if kind is int and abs(raw) > LARGEST_INT:
        raise WrongPlan("This number is too large.", where=where)
    return raw


def _read_tuple(inner: tuple[Any, ...], raw: Any, where: str) -> tuple[Any, ...]:
    if not isinstance(raw, list):
        raise WrongPlan("This must be a list.", where=where)
    if inner[-1] is Ellipsis:
        inner = (inner[0],) * len(raw)
    if len(inner) != len(raw):
        raise WrongPlan(f"This must have {len(inner)} parts.", where=where)
    return tuple(
        _read(kind, part, f"{where}[{at}]")
        for at, (kind, part) in enumerate(zip(inner, raw, strict=True))
    )


def _read_fields(kind: Any, raw: Any, where: str) -> Any:
    hints = _hints(kind)
    if not isinstance(raw, dict) or set(raw) != set(hints):
        raise WrongPlan(f"This must have the keys {', '.join(hints)}.", where=where)
    return kind(**{name: _read(hint, raw[name], f"{where}.{name}") for name, hint in hints.items()})


def _read_number(raw: Any, where: str) -> Decimal:
    try:
        value = Decimal(raw) if isinstance(raw, str) and len(raw) <= 60 else None
    except InvalidOperation:
        value = None
    if value is None or not value.is_finite() or abs(value.adjusted()) > 30:
        raise WrongPlan('This must be a number written as text, such as "12.5".', where=where)
    return value
