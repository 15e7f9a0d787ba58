"""Cutting plans and offcuts of a workshop file: written by name, read and checked like new ones.

A plan is kept as the program keeps it (`catalogue.cutting_plans.stored`); only the materials of its
sheets are named instead of numbered. A plan that does not cut what its job says is refused.
"""

from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any

from django.db import models

from catalogue.cutting_plans.models import CuttingPlan
from catalogue.cutting_plans.stored import (
    JobGroup,
    Plan,
    check_plans,
    content_key,
    read_asked,
    read_groups,
    read_plans,
)
from catalogue.cutting_plans.tasks import work_on_plan
from catalogue.offcuts.models import Offcut, OffcutEntry
from catalogue.offcuts.services import MOST, check_size, replay_counts
from maker.calc.json_values import written
from maker.calc.refusal import Refusal
from maker.calc.strict_json import Fields, list_of, shown
from maker.workshop.models import Workshop
from pricing.workshop_file import schema
from pricing.workshop_file.frozen import sorted_keys
from pricing.workshop_file.writing import Registry, create, read_columns

Values = dict[str, Any]
State = CuttingPlan.State


def cutting_values(workshop: Workshop) -> Values:
    """Return the plans and the offcuts with their ledgers (four queries)."""
    names = dict(workshop.materials.values_list("pk", "name"))
    sizes = list(
        Offcut.objects.of(workshop)
        .select_related("material")
        .prefetch_related(models.Prefetch("entries", OffcutEntry.objects.order_by("pk")))
        .order_by("pk")
    )
    named = {entry.plan_id for size in sizes for entry in size.entries.all() if entry.plan_id}
    keys: dict[int, str] = {}
    plans = []
    for row in CuttingPlan.objects.of(workshop).order_by("pk"):
        plan: Values = {}
        if row.pk in named:
            keys[row.pk] = f"plan {len(keys) + 1}"
            plan["key"] = keys[row.pk]
        plan |= schema.CUTTING_PLAN.written(row)
        if row.state == State.WORKING:
            # nobody works on a file
            plan["state"] = str(State.WAITING)
        plan["asked"] = sorted_keys(row.asked)
        plan["jobs"] = [sorted_keys(_named(group, names)) for group in row.jobs]
        plan["plans"] = None if row.plans is None else [sorted_keys(one) for one in row.plans]
        plans.append(plan)
    return {
        "cutting_plans": plans,
        "offcuts": [
            {"material": size.material.name}
            | schema.OFFCUT.written(size)
            | {"entries": _entries(size, keys)}
            for size in sizes
        ],
    }


def _named(group: Values, names: Mapping[int, str]) -> Values:
    sources = [
        source | {"material": names.get(source["material"], source["material_name"])}
        for source in group["sources"]
    ]
    return group | {"sources": sources}


def _entries(size: Offcut, plans: Mapping[int, str]) -> list[Values]:
    rows = list(size.entries.all())
    taken_back = {row.takes_back_id for row in rows if row.takes_back_id}
    keys: dict[int, str] = {}
    entries = []
    for row in rows:
        entry: Values = {}
        if row.pk in taken_back:
            keys[row.pk] = f"entry {len(keys) + 1}"
            entry["key"] = keys[row.pk]
        entry |= schema.OFFCUT_ENTRY.written(row)
        entry["plan"] = plans[row.plan_id] if row.plan_id else None
        if row.takes_back_id:
            entry["takes_back"] = keys[row.takes_back_id]
        entries.append(entry)
    return entries


def write_cutting_plans(workshop: Workshop, rows: list[Fields], materials: Registry) -> Registry:
    """Store plans; return them by the keys that offcuts name."""
    plans = Registry("cutting plan")
    made = []
    for row in rows:
        key = row.optional_text("key")
        asked = row.take("asked", read_asked)
        groups = row.take("jobs", partial(_read_jobs, materials))
        plans_of_groups = row.optional("plans", partial(_read_plans, groups))
        plan = CuttingPlan(workshop=workshop, **read_columns(schema.CUTTING_PLAN, row))
        if plan.state == State.WORKING:
            plan.state = State.WAITING
        _check_state(plan, plans_of_groups, row)
        plan.asked, plan.jobs = written(asked), written(groups)
        plan.plans = None if plans_of_groups is None else written(plans_of_groups)
        plan.content_key = content_key(groups)
        made.append(plan)
        if key is not None:
            plans.add(key, plan, row, "key")
    create(CuttingPlan, made)
    for plan in made:
        if plan.state == State.WAITING:
            work_on_plan.enqueue(plan.pk)
    return plans


def _check_state(plan: CuttingPlan, plans: Any, row: Fields) -> None:
    if plan.state == State.DONE and plans is None:
        raise row.refuse("A plan that is ready has its layouts.", "plans")
    if plan.cut_on is not None and plans is None:
        raise row.refuse("A plan without layouts cannot have been cut.", "cut_on")
    if (plan.state == State.REFUSED) != bool(plan.refusal):
        raise row.refuse("A plan says why it is not possible when it is not.", "refusal")


def _read_jobs(materials: Registry, raw: Any, path: str) -> tuple[JobGroup, ...]:
    """Read jobs as the program keeps them, once each named material has its number."""
    numbered = []
    for job in list_of(Fields)(raw, path):
        sources = [
            source.values | {"material": materials.of(source, "material").pk}
            for source in job.rows("sources")
        ]
        numbered.append(job.values | {"sources": sources})
    return read_groups(numbered, path)


def _read_plans(groups: Sequence[JobGroup], raw: Any, path: str) -> tuple[Plan, ...]:
    plans = read_plans(raw, groups, path)
    check_plans(plans, groups, path)
    return plans


def write_offcuts(rows: list[Fields], materials: Registry, plans: Registry) -> None:
    """Store offcuts with their ledgers; the counts follow from these and are never below none."""
    sizes = Registry("offcut")
    entries = []
    for row in rows:
        material = materials.of(row, "material")
        size = Offcut(material=material, **read_columns(schema.OFFCUT, row, "entries"))
        try:
            check_size(material, size.width_mm, size.height_mm)
        except Refusal as refusal:
            raise row.refuse(refusal.message, "width_mm") from refusal
        place = (material.name, size.width_mm, size.height_mm)
        sizes.add(place, size, row, "width_mm")
        own = _read_entries(size, row, plans)
        undone = {id(entry.takes_back) for entry in own if entry.takes_back}
        standing = [one for one in own if one.takes_back is None and id(one) not in undone]
        # a sort keeps the order of entry within a day
        size.count, _ = replay_counts(sorted(standing, key=lambda one: one.moved_on))
        if not 0 <= size.count <= MOST:
            raise row.refuse(f"The entries add up to {size.count} in stock.", "entries")
        entries += own
    create(Offcut, sizes.rows.values())
    create(OffcutEntry, entries, also=("takes_back",))


def _read_entries(size: Offcut, row: Fields, plans: Registry) -> list[OffcutEntry]:
    keyed = Registry("entry before this one")
    taken_back = set()
    entries: list[OffcutEntry] = []
    for inner in row.rows("entries"):
        key = inner.optional_text("key")
        plan = plans.optional(inner, "plan")
        back = keyed.optional(inner, "takes_back")
        entry = OffcutEntry(
            offcut=size, plan=plan, takes_back=back, **read_columns(schema.OFFCUT_ENTRY, inner)
        )
        kind = OffcutEntry.Kind
        if entry.kind == kind.COUNTED and entry.counted is None:
            # a file of an older version: the box was counted against all entered so far
            there = sum(before.change for before in entries) + entry.change
            entry.counted, entry.change_at_count = max(there, 0), entry.change
        if entry.counted is not None and (
            entry.kind != kind.COUNTED or entry.change_at_count is None
        ):
            raise inner.refuse("Only a count says what was there, and what it found.", "counted")
        if entry.change == 0 and entry.kind not in (kind.COUNTED, kind.REVERSED):
            raise inner.refuse("An entry moves something.", "change")
        if (entry.kind == OffcutEntry.Kind.REVERSED) != (back is not None):
            raise inner.refuse("An undone entry is named by the one that undoes it.", "kind")
        if back is not None:
            if back.change != -entry.change or id(back) in taken_back:
                raise inner.refuse("An entry is undone once, and whole.", "takes_back")
            taken_back.add(id(back))
        if key is not None:
            keyed.add(key, entry, inner, "key")
        entries.append(entry)
    if not entries:
        raise row.refuse(f"{shown(str(size))} never moved.", "entries")
    return entries
