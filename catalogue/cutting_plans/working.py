"""Works on cutting plans that wait: claims one, tells how far it is, keeps the best that was found.

The queue sees to it that one worker has a plan, and that the next one takes it up when that worker
is killed. What a worker that was only thought dead still finds is not kept: `started_at` says whose
the plan is.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import TypeVar

from django.db import InterfaceError, OperationalError, connection
from django.utils import timezone

from catalogue.calc.cutting.planning import NOT_REACHED, CuttingJob, PlanCancelled, Watch, plan_cuts
from catalogue.calc.cutting.watch import planning_time
from catalogue.calc.reels.planning import plan_reels
from catalogue.cutting_plans.models import CuttingPlan
from catalogue.cutting_plans.stored import JobGroup, Plan, read_groups, read_plans
from catalogue.sheet_plans.services import sheet_planner
from maker.calc.json_values import written
from maker.calc.money import format_money
from maker.calc.refusal import Refusal
from maker.calc.units import format_number

State = CuttingPlan.State
Answer = TypeVar("Answer")

# a plan this near to its bound is not worth waiting for
GOOD_SHARE = Decimal("0.01")
LEAST_SECONDS = 0.05
BEAT_EVERY_S = 0.5
# a database that is started anew is back by then
DATABASE_PATIENCE_S = 60.0


def patiently(ask: Callable[[], Answer]) -> Answer:
    """Ask the database again until it answers, for a minute.

    A database that is started anew, locked or full for a while must not cost what was found.
    """
    until = time.monotonic() + DATABASE_PATIENCE_S
    while True:
        try:
            return ask()
        except (OperationalError, InterfaceError):
            if time.monotonic() > until:
                raise
            connection.close()
            time.sleep(BEAT_EVERY_S)


def claim(plan: CuttingPlan) -> bool:
    """Make a plan that is still wanted this worker's own; False when it is over or gone."""
    taken = (
        CuttingPlan.objects.filter(pk=plan.pk)
        .under_way()
        .update(state=State.WORKING, started_at=timezone.now())
    )
    if taken:
        plan.refresh_from_db()
    return bool(taken)


def give_up(plan_id: int) -> None:
    """Say at a plan that the work on it went wrong, and what she can do."""
    CuttingPlan.objects.filter(pk=plan_id).under_way().update(
        state=State.REFUSED,
        refusal="Something went wrong while working on it. Try again with fewer pieces at once.",
        finished_at=timezone.now(),
        percent=100,
        stage="",
    )


def is_good(plan: Plan) -> bool:
    """Say whether it is not worth waiting for a better one.

    Where all sheets are of one kind each counts 1, so that the cost is their number.
    """
    return plan.proven or plan.cost - plan.lower_bound <= GOOD_SHARE * plan.cost


def plan_group(group: JobGroup, seconds: float, watch: Watch | None = None) -> Plan:
    """Plan one job of a cutting plan."""
    job = group.job
    limited = max(seconds, LEAST_SECONDS)
    if isinstance(job, CuttingJob):
        return plan_cuts(replace(job, time_limit_s=limited), watch=watch)
    return plan_reels(replace(job, time_limit_s=limited), watch=watch)


def plan_at_once(groups: Sequence[JobGroup], seconds: float) -> list[Plan]:
    """Plan all jobs within a page's time; plans of sheets are remembered by this process."""
    until = planning_time() + seconds
    plan_sheets = sheet_planner(seconds=seconds)
    plans: list[Plan] = []
    for group in groups:
        job = group.job
        if isinstance(job, CuttingJob):
            plans.append(plan_sheets(job))
        else:
            plans.append(plan_group(group, until - planning_time()))
    return plans


class Progress:
    """Watches the planning of one plan and tells the database; `tick` is called now and then."""

    def __init__(self, plan: CuttingPlan) -> None:
        self.plan = plan
        self.begun = time.monotonic()
        self.title, self.is_money = "", False
        self.stage = plan.stage
        self.is_lost = False
        self.is_hurried = False

    def begin(self, group: JobGroup) -> None:
        """Say which job comes now."""
        self.title, self.is_money = group.title, group.is_money
        self.stage = group.title

    def report(self, stage: str, value: Decimal | None, bound: Decimal | None) -> None:
        """Keep the words until the next tick."""
        words = [f"{self.title}: {stage[:1].lower()}{stage[1:]}"]
        if value is not None:
            words.append(f"{self._amount(value)} so far")
        if bound:
            words.append(f"at least {self._amount(bound)}")
        self.stage = "; ".join(words)[:200]

    def _amount(self, value: Decimal) -> str:
        workshop = self.plan.workshop
        if self.is_money:
            return format_money(value, workshop.currency, workshop.locale)
        return f"{format_number(value, workshop.locale, 0)} sheets"

    def is_cancelled(self) -> bool:
        """Stop at once when somebody else has the plan now."""
        return self.is_lost

    def is_enough(self) -> bool:
        """End with the best so far when she does not want to wait."""
        return self.is_hurried

    @property
    def percent(self) -> int:
        """How much of the allowed time is over."""
        share = (time.monotonic() - self.begun) / max(self.plan.seconds_allowed, 1)
        return min(99, int(100 * share))

    def tick(self) -> None:
        """Say that the work goes on, and hear whether it is still wanted (two queries)."""
        mine = CuttingPlan.objects.filter(
            pk=self.plan.pk, state=State.WORKING, started_at=self.plan.started_at
        )
        told = mine.update(stage=self.stage, percent=self.percent)
        if not told:
            self.is_lost = True
        elif mine.filter(cancel_asked=True).exists():
            self.is_hurried = True


class _Heart(threading.Thread):
    """Ticks while the planning thread is busy with sums; has a connection of its own."""

    def __init__(self, progress: Progress) -> None:
        super().__init__(name="cutting plan progress", daemon=True)
        self.progress, self.ended = progress, threading.Event()

    def run(self) -> None:
        try:
            while not self.ended.wait(BEAT_EVERY_S) and not self.progress.is_lost:
                try:
                    self.progress.tick()
                except (OperationalError, InterfaceError):
                    # the database is gone for a moment; the work needs it only at its end
                    connection.close()
        finally:
            connection.close()

    def __enter__(self) -> None:
        self.progress.tick()
        self.start()

    def __exit__(self, *unused: object) -> None:
        self.ended.set()
        self.join()


def work_on(plan: CuttingPlan) -> None:
    """Work a claimed plan out in the time it is allowed, and keep the best.

    A plan that was already found is only replaced by a better one; a proven one is not tried again.
    """
    groups = read_groups(plan.jobs)
    known = list(read_plans(plan.plans, groups)) if plan.plans else [None] * len(groups)
    progress = Progress(plan)
    until = planning_time() + plan.seconds_allowed
    found: list[Plan] = []
    try:
        with _Heart(progress):
            for at, (group, before) in enumerate(zip(groups, known, strict=True)):
                progress.begin(group)
                if before is not None and before.proven:
                    found.append(before)
                    continue
                share = (until - planning_time()) / (len(groups) - at)
                made = plan_group(group, share, progress)
                found.append(better_of(made, before))
    except PlanCancelled:
        return
    except Refusal as refusal:
        said = f"{progress.title}: {refusal.message}"
        patiently(lambda: settle(plan, None, refusal=said))
    else:
        is_short = progress.is_hurried and not all(is_good(one) for one in found)
        patiently(lambda: settle(plan, found, is_stopped=is_short))


def better_of(made: Plan, before: Plan | None) -> Plan:
    """Return the cheaper of two plans of one job, with the higher of their bounds."""
    if before is None:
        return made
    best = made if made.proven or made.cost <= before.cost else before
    firm = made if made.lower_bound >= before.lower_bound else before
    if firm.lower_bound <= best.lower_bound:
        return best
    proven = firm.lower_bound >= best.cost
    reason = firm.reason.removesuffix(NOT_REACHED) if proven else firm.reason
    return replace(best, lower_bound=firm.lower_bound, reason=reason, proven=proven)


def settle(
    plan: CuttingPlan,
    plans: Sequence[Plan] | None,
    *,
    refusal: str = "",
    is_stopped: bool = False,
) -> bool:
    """Keep how the work ended, unless somebody else has the plan now; say whether it was kept."""
    values: dict[str, object] = {
        "state": State.DONE,
        "finished_at": timezone.now(),
        "percent": 100,
        "stage": "",
        "refusal": refusal,
        "cancel_asked": False,
    }
    if refusal:
        values["state"] = State.REFUSED
    elif is_stopped:
        values["state"] = State.CANCELLED
    if plans is not None:
        values["plans"] = [written(one) for one in plans]
    mine = CuttingPlan.objects.filter(pk=plan.pk, state=State.WORKING, started_at=plan.started_at)
    return bool(mine.update(**values))
