"""Cutting plans: asked for, stopped, gone on with, cut from the shelf, their offcuts kept."""

from __future__ import annotations

import datetime
import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType

from django.db import IntegrityError, transaction
from django.utils import timezone

from catalogue.calc.cutting.integers import split_into_problems
from catalogue.calc.cutting.job import check_job
from catalogue.calc.cutting.planning import CuttingJob
from catalogue.calc.reels.planning import check_reel_job
from catalogue.cutting_plans.asks import PlanAsk, asked_of
from catalogue.cutting_plans.inputs import groups_for
from catalogue.cutting_plans.models import CuttingPlan
from catalogue.cutting_plans.stored import (
    JobGroup,
    content_key,
    read_groups,
    read_plans,
)
from catalogue.cutting_plans.tasks import work_on_plan
from catalogue.cutting_plans.usage import usage_of
from catalogue.cutting_plans.working import is_good, plan_at_once
from catalogue.materials.models import Material
from catalogue.offcuts.models import Offcut, OffcutEntry, OffcutEntryQuerySet
from catalogue.offcuts.services import keep_offcuts, reverse_offcut_entry, take_offcuts
from catalogue.stock.models import StockEntry
from catalogue.stock.services import lock_materials, move_stock, replay_ledger, take_back
from maker.accounts.models import User
from maker.calc.json_values import written
from maker.calc.refusal import Refusal
from maker.slow_work.services import unqueue
from maker.workshop.models import Workshop

State = CuttingPlan.State

AT_ONCE_SECONDS = 1.0
# a job of more different pieces takes more than a second
MOST_KINDS_AT_ONCE = 80


class AlreadyAsked(Refusal):
    """The same form was sent before; `plan` is what it made then."""

    def __init__(self, plan: CuttingPlan) -> None:
        super().__init__("This plan was already started.")
        self.plan = plan


class NotReady(Refusal):
    """There is no plan yet."""


class AlreadyCut(Refusal):
    """Its sheets were taken from stock already."""


class AlreadyKept(Refusal):
    """Its offcuts are in the box already."""


class NothingToTakeBack(Refusal):
    """Nothing of this plan is left to take back."""


def ask_plan(
    *,
    workshop: Workshop,
    ask: PlanAsk,
    name: str,
    seconds: int,
    by: User | None,
    form_key: uuid.UUID,
) -> CuttingPlan:
    """Store what is asked and work it out for about a second; what is not good by then goes on.

    The same jobs were planned before: their plan is taken. Refuses what makes no sense before
    anything is stored; the same `form_key` a second time raises AlreadyAsked.
    """
    groups = groups_for(ask, workshop)
    for group in groups:
        _check(group)
    if before := CuttingPlan.objects.of(workshop).filter(form_key=form_key).first():
        raise AlreadyAsked(before)
    plan = CuttingPlan(
        workshop=workshop,
        name=name,
        asked=written(asked_of(ask)),
        jobs=[written(group) for group in groups],
        content_key=content_key(groups),
        seconds_allowed=seconds,
        asked_by=by,
        form_key=form_key,
    )
    if not _take_from_before(plan):
        _try_at_once(plan, groups)
    try:
        with transaction.atomic():
            plan.save()
            if plan.state == State.WAITING:
                work_on_plan.enqueue(plan.pk)
    except IntegrityError:
        # the same form was sent a second time while the first was planned
        raced = CuttingPlan.objects.of(workshop).filter(form_key=form_key).first()
        if raced is None:
            raise
        raise AlreadyAsked(raced) from None
    return plan


def _check(group: JobGroup) -> None:
    """Refuse a job that no time could plan, in the words of whoever would plan it."""
    job = group.job
    if isinstance(job, CuttingJob):
        check_job(job)
        split_into_problems(job)
    else:
        check_reel_job(job)


def _take_from_before(plan: CuttingPlan) -> bool:
    """Take the plans of the same jobs, when they were given as much time or are proven."""
    before = (
        CuttingPlan.objects.of(plan.workshop)
        .filter(content_key=plan.content_key, state=State.DONE)
        .newest_first()
        .first()
    )
    if before is None or before.plans is None:
        return False
    proven = all(one["proven"] for one in before.plans)
    if proven or before.seconds_allowed >= plan.seconds_allowed:
        _end(plan, State.DONE, before.plans)
        return True
    return False


def _try_at_once(plan: CuttingPlan, groups: Sequence[JobGroup]) -> None:
    """Plan for about a second; what is not good by then waits for a worker."""
    kinds = sum(
        len(group.job.pieces if isinstance(group.job, CuttingJob) else group.job.lengths)
        for group in groups
    )
    if kinds > MOST_KINDS_AT_ONCE:
        return
    try:
        plans = plan_at_once(groups, AT_ONCE_SECONDS)
    except Refusal as refusal:
        plan.refusal = refusal.message
        _end(plan, State.REFUSED, None)
        return
    plan.plans = [written(one) for one in plans]
    if all(is_good(one) for one in plans):
        _end(plan, State.DONE, plan.plans)


def _end(plan: CuttingPlan, state: State, plans: list[object] | None) -> None:
    plan.state, plan.plans = state, plans
    plan.started_at = plan.finished_at = timezone.now()
    plan.percent = 100


@transaction.atomic
def stop_plan(*, plan: CuttingPlan) -> None:
    """Stop the work on a plan; the best that was found is kept. Refuses one that is over."""
    waiting = CuttingPlan.objects.filter(pk=plan.pk, state=State.WAITING)
    with transaction.atomic():
        if waiting.update(state=State.CANCELLED, finished_at=timezone.now(), stage=""):
            unqueue(work_on_plan, plan.pk)
            return
    working = CuttingPlan.objects.filter(pk=plan.pk, state=State.WORKING)
    if not working.update(cancel_asked=True):
        raise NotReady("This plan is finished.")


def work_longer(*, plan: CuttingPlan, seconds: int) -> None:
    """Let a plan that is not proven be worked on again. Refused once it was cut or kept from."""
    with transaction.atomic():
        locked = _locked(plan)
        if locked.state in (State.WAITING, State.WORKING):
            raise NotReady("This plan is still running.")
        if locked.cut_on or _kept(locked).exists():
            raise AlreadyCut("It was already cut, so it can't be changed.")
        CuttingPlan.objects.filter(pk=plan.pk).update(
            state=State.WAITING,
            seconds_allowed=seconds,
            refusal="",
            stage="",
            percent=0,
            cancel_asked=False,
            finished_at=None,
        )
        unqueue(work_on_plan, plan.pk)
        work_on_plan.enqueue(plan.pk)


@transaction.atomic
def cut_plan(
    *,
    plan: CuttingPlan,
    cut_on: datetime.date,
    today: datetime.date,
    form_key: uuid.UUID,
    lots: Mapping[int, str] = MappingProxyType({}),
    by: User | None = None,
) -> list[StockEntry]:
    """Take the sheets, reels and offcuts of a plan from stock, once; return what left it.

    `lots` names the lot of a material.

    Sheets may go below nothing, as everywhere in the ledger; offcuts that are not in the box are
    refused, with everything.
    """
    locked = _locked(plan)
    _refuse_unready(locked)
    if locked.cut_on:
        raise AlreadyCut("This plan's sheets were already taken from stock.")
    groups = read_groups(locked.jobs)
    usage = usage_of(groups, read_plans(locked.plans, groups))
    materials = lock_materials(usage.amounts)
    reason = f"cutting plan: {locked.name}"[:200]
    entries = []
    for key, material in materials.items():
        material.workshop = locked.workshop
        entry = move_stock(
            material=material,
            kind=StockEntry.Kind.USED,
            amount=usage.amounts[key],
            moved_on=cut_on,
            today=today,
            by=by,
            reason=reason,
            lot=lots.get(key, ""),
            form_key=_key_of(form_key, key),
        )
        entries.append(entry)
    _take_from_box(locked, usage.offcuts, cut_on, today, by)
    locked.cut_on, locked.cut_key = cut_on, form_key
    locked.save(update_fields=["cut_on", "cut_key"])
    return entries


def _take_from_box(
    plan: CuttingPlan,
    counts: dict[tuple[int, Decimal, Decimal], int],
    cut_on: datetime.date,
    today: datetime.date,
    by: User | None,
) -> None:
    keys = {material for material, _, _ in counts}
    rows = {
        (row.material_id, row.width_mm, row.height_mm): row
        for row in Offcut.objects.of(plan.workshop).filter(material__in=keys).order_by("pk")
    }
    for size, row in rows.items():
        if size in counts:
            take_offcuts(
                offcut=row,
                count=counts[size],
                kind=OffcutEntry.Kind.USED,
                moved_on=cut_on,
                today=today,
                by=by,
                plan_id=plan.pk,
            )
    if missing := set(counts) - set(rows):
        raise NotReady(f"{len(missing)} sizes of offcuts of this plan are no longer in stock.")


@transaction.atomic
def uncut_plan(*, plan: CuttingPlan, by: User | None = None) -> list[StockEntry]:
    """Take back what cutting a plan took from stock and the box; return what came into stock."""
    locked = _locked(plan)
    if locked.cut_on is None:
        raise NothingToTakeBack("Nothing was taken from stock for this plan.")
    of_workshop = Material.objects.of(locked.workshop).values_list("pk", flat=True)
    keys = [_key_of(locked.cut_key, key) for key in of_workshop] if locked.cut_key else []
    entries = StockEntry.objects.of(locked.workshop).filter(form_key__in=keys).standing()
    used = locked.offcut_entries.filter(kind=OffcutEntry.Kind.USED).standing()
    if not entries.exists() and not used.exists():
        raise NothingToTakeBack(
            "Its stock movements are no longer known here: undo them at each material."
        )
    materials = lock_materials(entries.values_list("material_id", flat=True))
    backs = []
    for entry in list(entries.order_by("pk")):
        backs.append(take_back(entry, by=by, reason="cutting plan undone"))
        material = materials[entry.material_id]
        material.workshop = locked.workshop
        replay_ledger(material)
    for used_entry in list(used.select_related("offcut").order_by("offcut_id", "pk")):
        reverse_offcut_entry(entry=used_entry, by=by, reason="cutting plan undone")
    locked.cut_on = locked.cut_key = None
    locked.save(update_fields=["cut_on", "cut_key"])
    return backs


@dataclass(frozen=True)
class Keeping:
    """Offcuts of one size that go into the box."""

    material: Material
    width_mm: Decimal
    height_mm: Decimal
    count: int


@transaction.atomic
def keep_plan_offcuts(
    *,
    plan: CuttingPlan,
    keep: Iterable[Keeping],
    kept_on: datetime.date,
    today: datetime.date,
    by: User | None = None,
) -> int:
    """Put what a plan leaves over into the box, once; return how many."""
    locked = _locked(plan)
    _refuse_unready(locked)
    if _kept(locked).exists():
        raise AlreadyKept("This plan's offcuts are already in stock.")
    counts: dict[tuple[int, Decimal, Decimal], int] = {}
    materials: dict[int, Material] = {}
    for one in keep:
        size = (one.material.pk, one.width_mm, one.height_mm)
        counts[size] = counts.get(size, 0) + one.count
        materials[one.material.pk] = one.material
    if not counts:
        raise NotReady("Tick the offcuts you keep.")
    for (key, width, height), count in sorted(counts.items()):
        keep_offcuts(
            material=materials[key],
            width_mm=width,
            height_mm=height,
            count=count,
            moved_on=kept_on,
            today=today,
            by=by,
            plan_id=locked.pk,
        )
    return sum(counts.values())


@transaction.atomic
def unkeep_plan_offcuts(*, plan: CuttingPlan, by: User | None = None) -> None:
    """Take the offcuts of a plan out of the box again. Refused when one was used since."""
    locked = _locked(plan)
    entries = list(_kept(locked).select_related("offcut").order_by("offcut_id", "pk"))
    if not entries:
        raise NothingToTakeBack("No offcut of this plan is in stock.")
    for entry in entries:
        reverse_offcut_entry(entry=entry, by=by, reason="offcuts of a plan undone")


def _kept(plan: CuttingPlan) -> OffcutEntryQuerySet:
    return plan.offcut_entries.filter(kind=OffcutEntry.Kind.KEPT).standing()


def _locked(plan: CuttingPlan) -> CuttingPlan:
    return CuttingPlan.objects.select_for_update(no_key=True).get(pk=plan.pk)


def _refuse_unready(plan: CuttingPlan) -> None:
    is_over = plan.state in (State.DONE, State.CANCELLED)
    if not is_over or plan.plans is None:
        raise NotReady("There is no plan yet.")


def _key_of(form_key: uuid.UUID, material_key: int) -> uuid.UUID:
    """Return the key of one movement of a cut: the same for the same form and material."""
    return uuid.uuid5(form_key, str(material_key))
