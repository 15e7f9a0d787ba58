"""What a whole plan comes to: sheets, what to buy, cost, time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from catalogue.calc.cutting.planning import SheetPlan
from catalogue.calc.reels.planning import ReelPlan
from catalogue.cutting_plans.headlines import cost_of, many_of, missing_of, uses_of
from catalogue.cutting_plans.stored import AskedPlan, JobGroup, Plan
from catalogue.recipes.models import Step
from maker.calc.units import format_number
from maker.web.words import money
from maker.workshop.models import Workshop

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class PlanFigure:
    """One figure of the plan's headline."""

    label: str
    value_text: str
    unit: str = ""
    note: str = ""
    main: bool = False


def plan_figures(
    groups: Sequence[JobGroup],
    plans: Sequence[Plan],
    workshop: Workshop,
    minutes: Mapping[str, Decimal],
) -> list[PlanFigure]:
    """Return sheets, what to buy, cost and time of a plan; `minutes` are those per sheet."""
    pairs = list(zip(groups, plans, strict=True))
    whole = offcuts = reels = buy = 0
    for group, plan in pairs:
        buy += sum(missing for _, missing in missing_of(group, plan))
        for source, count in uses_of(group, plan):
            if isinstance(plan, ReelPlan):
                reels += count
            elif source.is_offcut:
                offcuts += count
            else:
                whole += count
    besides = [many_of(offcuts, "offcut")] if offcuts else []
    besides += [many_of(reels, "reel")] if reels else []
    figures = [
        PlanFigure(
            "Sheets",
            f"{whole:,}",
            note=f"and {' and '.join(besides)}" if besides else "",
            main=True,
        ),
        PlanFigure("To buy", f"{buy:,}", note="sheets" if buy else "you have enough"),
    ]
    costs = [cost_of(group, plan) for group, plan in pairs]
    known = [cost for cost in costs if cost is not None]
    if known:
        missing = len(costs) - len(known)
        note = f"without {many_of(missing, 'material')}" if missing else "of what is cut"
        figures.append(PlanFigure("Cost", money(sum(known, ZERO), workshop), note=note))
    figures += _time(pairs, workshop, minutes)
    cuts = sum(plan.cut_count for _, plan in pairs if isinstance(plan, SheetPlan))
    layouts = sum(len(plan.layouts) for _, plan in pairs)
    figures.append(PlanFigure("Cuts", f"{cuts:,}", note=f"in {many_of(layouts, 'layout')}"))
    return figures


def _time(
    pairs: Sequence[tuple[JobGroup, Plan]], workshop: Workshop, minutes: Mapping[str, Decimal]
) -> list[PlanFigure]:
    """Return the cutting time, where the recipes say how long a sheet takes."""
    total, untimed = ZERO, 0
    for group, plan in pairs:
        if not isinstance(plan, SheetPlan):
            continue
        each = minutes.get(group.title)
        if each is None:
            untimed += 1
        else:
            total += each * sum(count for _, count in uses_of(group, plan))
    if not total:
        return []
    note = f"without {many_of(untimed, 'material')}" if untimed else "at your minutes per sheet"
    return [
        PlanFigure("Cutting time", format_number(round(total, 0), workshop.locale), "min", note)
    ]


def minutes_per_sheet(workshop: Workshop, asked: AskedPlan) -> dict[str, Decimal]:
    """Return how long a sheet of each material takes to cut, by the recipes (one query).

    Designs that share sheets may differ: then it is the longest of theirs. Recipes are found by
    the names the plan keeps, so one that was renamed meanwhile says nothing.
    """
    wanted = {(one.design, one.version) for one in asked.designs}
    steps = (
        Step.objects.filter(
            version__design__workshop=workshop,
            version__design__name__in={name for name, _ in wanted},
            basis=Step.Basis.SHEET,
            role__isnull=False,
        )
        .select_related("version__design", "role__material")
        .order_by("pk")
    )
    of_roles: dict[tuple[int, str], Decimal] = {}
    for step in steps:
        if step.role is None or (step.version.design.name, step.version.number) not in wanted:
            continue
        key = (step.role.pk, step.role.material.name)
        of_roles[key] = of_roles.get(key, ZERO) + step.minutes
    found: dict[str, Decimal] = {}
    for (_, material), minutes in of_roles.items():
        found[material] = max(found.get(material, ZERO), minutes)
    return found
