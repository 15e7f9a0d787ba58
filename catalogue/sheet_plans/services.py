"""Cutting plans, remembered by their content so that a price answers at once.

A page must answer while she types, so planning has a time limit, and all plans of one answer
share another. A plan that is not proven when its time is up is a good one, not the last word.
"""

import hashlib
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from threading import Lock
from typing import Protocol

from django.core.cache import caches

from catalogue.calc.cutting.job import (
    CuttingJob,
    Layout,
    PieceKind,
    Placement,
    PlannedOffcut,
    SheetKind,
    SheetPlan,
)
from catalogue.calc.cutting.watch import planning_time

JOB_SECONDS = 2.0
ANSWER_SECONDS = 4.0
# what a plan gets when an answer's time is used up: enough for the quick plan it starts from
LEAST_SECONDS = 0.05
# an unproven plan may only have met a busy machine
TRY_AGAIN_SECONDS = 600.0
# about a hundred megabytes; the number of plans says little, one sheet may hold thousands of pieces
MOST_PLACEMENTS = 200_000
_AT_ONCE = 32

PlanSheets = Callable[[CuttingJob], SheetPlan]


class WatchedPlanner:
    """A planner that says whether all it planned is proven to be the best there is."""

    def __init__(self, plan_sheets: PlanSheets) -> None:
        self._plan_sheets = plan_sheets
        self.is_proven = True

    def __call__(self, job: CuttingJob) -> SheetPlan:
        """Plan a job."""
        plan = self._plan_sheets(job)
        self.is_proven = self.is_proven and plan.proven
        return plan


# what took less than this to plan is planned again rather than read from a disk
WORTH_KEEPING_SECONDS = 0.005


class PlanStore(Protocol):
    """Keeps proven plans beyond the life of a process."""

    def find(self, job: CuttingJob) -> SheetPlan | None:
        """Return the proven plan of a job, if it is there."""

    def keep(self, job: CuttingJob, plan: SheetPlan) -> None:
        """Keep a proven plan."""


class StoredPlans:
    """Proven plans in the data folder, shared by all processes of a machine.

    The name of an entry holds everything the job says and every field a plan has, so a plan of
    another job, or one written by another version of the app, is never found.
    """

    _SHAPE = ";".join(
        f"{kind.__module__}.{kind.__qualname__}:{','.join(field.name for field in fields(kind))}"
        for kind in (CuttingJob, SheetKind, PieceKind, SheetPlan, Layout, Placement, PlannedOffcut)
    )

    def find(self, job: CuttingJob) -> SheetPlan | None:
        """Return the proven plan of a job, if it is there."""
        plan = caches["plans"].get(self._name(job))
        return plan if isinstance(plan, SheetPlan) else None

    def keep(self, job: CuttingJob, plan: SheetPlan) -> None:
        """Keep a proven plan for good, or until there are too many."""
        caches["plans"].set(self._name(job), plan)

    def _name(self, job: CuttingJob) -> str:
        question = replace(job, time_limit_s=1.0)  # a proven plan is the same however long it took
        return hashlib.sha256(f"{self._SHAPE}|{question!r}".encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class _Kept:
    plan: SheetPlan
    tried_seconds: float
    at: float

    @property
    def size(self) -> int:
        """How much memory it takes, counted in pieces, offcuts and cuts of its drawings."""
        return 1 + sum(
            len(layout.placements) + len(layout.offcuts) + len(layout.cuts)
            for layout in self.plan.layouts
        )


class PlanMemory:
    """Plans by job, the ones asked for last; for all threads of a process.

    A job is a value made of numbers and names, so nothing that changes in the database can make
    a remembered plan wrong. A proven plan is the same in all processes and is shared through the
    `store`; unproven ones each process tries for itself.
    """

    def __init__(
        self,
        *,
        most: int = MOST_PLACEMENTS,
        clock: Callable[[], float] = time.monotonic,
        store: PlanStore | None = None,
    ) -> None:
        self.most, self.clock, self.store = most, clock, store
        self.size = 0
        self._kept: OrderedDict[CuttingJob, _Kept] = OrderedDict()
        self._guard = Lock()
        # by hash, so that two threads never plan the same job at once and others rarely wait
        self._planning = [Lock() for _ in range(_AT_ONCE)]

    def plan(self, job: CuttingJob, seconds: float) -> SheetPlan:
        """Return the plan kept for a job, or make one within the time.

        An unproven one is tried again after a while, or when there is twice the time; the plan
        that takes fewer sheets stays, the older one when they take the same.
        """
        with self._planning[hash(job) % _AT_ONCE]:
            kept = self._find(job)
            if kept and not self._may_be_better(kept, seconds):
                return kept.plan
            made = self._stored(job) or self._plan(job, seconds)
            if kept and not made.proven and made.cost >= kept.plan.cost:
                made = kept.plan
            self._keep(job, _Kept(made, seconds, self.clock()))
            return made

    def knows(self, job: CuttingJob, seconds: float) -> bool:
        """Say whether a job is answered from memory or from the store, without planning."""
        kept = self._find(job)
        if kept is None and (stored := self._stored(job)):
            kept = _Kept(stored, seconds, self.clock())
            self._keep(job, kept)
        return kept is not None and not self._may_be_better(kept, seconds)

    def _stored(self, job: CuttingJob) -> SheetPlan | None:
        return self.store.find(job) if self.store else None

    def _plan(self, job: CuttingJob, seconds: float) -> SheetPlan:
        # only now: most plans are remembered, and the planner is a tenth of a second to load
        from catalogue.calc.cutting.planning import plan_cuts

        made = plan_cuts(replace(job, time_limit_s=seconds))
        if self.store and made.proven and made.seconds >= WORTH_KEEPING_SECONDS:
            self.store.keep(job, made)
        return made

    def _find(self, job: CuttingJob) -> _Kept | None:
        with self._guard:
            kept = self._kept.get(job)
            if kept:
                self._kept.move_to_end(job)
            return kept

    def _may_be_better(self, kept: _Kept, seconds: float) -> bool:
        if kept.plan.proven:
            return False
        return seconds >= 2 * kept.tried_seconds or self.clock() - kept.at >= TRY_AGAIN_SECONDS

    def _keep(self, job: CuttingJob, kept: _Kept) -> None:
        with self._guard:
            before = self._kept.pop(job, None)
            self.size += kept.size - (before.size if before else 0)
            self._kept[job] = kept
            while self.size > self.most and len(self._kept) > 1:
                _, oldest = self._kept.popitem(last=False)
                self.size -= oldest.size


_MEMORY = PlanMemory(store=StoredPlans())


class MoreToPlan(Exception):
    """So many sheets have to be planned that a page should not wait for it."""


def planning_size(job: CuttingJob) -> int:
    """Return how much work a plan is: about 1 for each hundredth of a second on a small machine.

    Equal pieces are planned by a formula; with each kind more there are many more ways to mix them.
    """
    return len(job.pieces) ** 3


def sheet_planner(
    *,
    seconds: float = ANSWER_SECONDS,
    memory: PlanMemory = _MEMORY,
    most_new: int | None = None,
) -> PlanSheets:
    """Return what plans the sheets of one answer; its new plans share this time.

    With `most_new`, new plans of a larger `planning_size` in all raise MoreToPlan: counted, so that
    a slow machine says so for the same questions as a fast one.
    """
    until = planning_time() + seconds
    left_size = most_new

    def plan_sheets(job: CuttingJob) -> SheetPlan:
        nonlocal left_size
        allowed = min(JOB_SECONDS, max(LEAST_SECONDS, until - planning_time()))
        if left_size is not None and not memory.knows(job, allowed):
            left_size -= planning_size(job)
            if left_size < 0:
                raise MoreToPlan
        return memory.plan(job, allowed)

    return plan_sheets
