"""Jobs and plans as the JSON values that are kept in the database and in workshop files.

The keys are the names of the frozen values themselves; numbers with decimals are text. Reading is
strict: see `maker.calc.json_values`.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, TypeAlias

from catalogue.calc.cutting.check import WrongLayout, check_plan
from catalogue.calc.cutting.job import check_job
from catalogue.calc.cutting.planning import CuttingJob, SheetPlan
from catalogue.calc.reels.planning import ReelJob, ReelPlan, check_reel_job, check_reel_plan
from maker.calc.json_values import value_of, written
from maker.calc.refusal import Refusal
from maker.calc.strict_json import Reader, WrongJson, list_of, tuple_of

Plan: TypeAlias = SheetPlan | ReelPlan

SHEETS, REELS = "sheets", "reels"


class WrongPlan(WrongJson):
    """Not a job or plan, or the plan does not do what the job says; `where` is the place."""


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
    # material and lot: what is kept for the orders it was planned for
    lots: tuple[tuple[str, str], ...] = ()


_ASKED: Reader[AskedPlan] = value_of(AskedPlan)
_GROUPS: Reader[tuple[JobGroup, ...]] = list_of(value_of(JobGroup))
_PLAN_OF: dict[str, Reader[Plan]] = {SHEETS: value_of(SheetPlan), REELS: value_of(ReelPlan)}


def read_asked(raw: Any, where: str = "asked") -> AskedPlan:
    """Return what was asked. Errors: WrongJson."""
    return _ASKED(raw, where)


def read_groups(raw: Any, where: str = "jobs") -> tuple[JobGroup, ...]:
    """Return the jobs of a cutting plan. Errors: WrongJson; WrongPlan for a job that is wrong."""
    groups = _GROUPS(raw, where)
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
        raise WrongPlan("Give the source of each kind of sheet.", where=f"{place}.sources")


def read_plans(raw: Any, groups: Sequence[JobGroup], where: str = "plans") -> tuple[Plan, ...]:
    """Return the plans of these jobs, one for each. Errors: WrongJson."""
    return tuple_of(*(_PLAN_OF[group.kind] for group in groups))(raw, where)


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
