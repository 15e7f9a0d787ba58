"""Sheets of one material that several lists of pieces are cut from: together, or apart.

One order may have many designs, colourways and choices in the same card. Their pieces can lie on
one sheet, so they are planned as one job; where a joint plan is hard and comes out worse than the
plans made apart, those are kept.
"""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from catalogue.calc.cutting.job import MOST_COPIES, MOST_KINDS
from catalogue.calc.recipes.parts_list import CutCount
from catalogue.calc.sheets.use import MaterialPlan, PlanSheets, cutting_job, kept_offcuts
from maker.calc.money import with_working_precision

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class CutList:
    """Pieces of one material that are cut alike; lists of one `group` belong to one design."""

    group: Hashable
    cuts: tuple[CutCount, ...]


@dataclass(frozen=True, slots=True)
class SharedPlan:
    """One cutting plan and the lists (by their place) whose pieces lie on its sheets."""

    plan: MaterialPlan
    lists: tuple[int, ...]

    @property
    def sheets(self) -> int:
        """Whole sheets."""
        return self.plan.plan.sheet_count


@with_working_precision
def plans_for(
    lists: Sequence[CutList],
    *,
    gap_mm: Decimal,
    plan_sheets: PlanSheets,
    unit: str = "mm",
    offcut_least_mm: Decimal | None = None,
) -> tuple[SharedPlan, ...]:
    """Return the plans of one material for all lists: one for all, or several where they are less.

    A proven joint plan takes no more sheets than any plans made apart. One that is not proven is
    laid beside those of each design, and a design's beside those of each of its lists; it is kept
    when it takes no more sheets and, where offcuts are credited (`offcut_least_mm`), leaves no less
    of worth. Refuses what the planner refuses.
    """
    return _plans(lists, tuple(range(len(lists))), gap_mm, plan_sheets, unit, offcut_least_mm)


def _plans(
    lists: Sequence[CutList],
    chosen: tuple[int, ...],
    gap_mm: Decimal,
    plan_sheets: PlanSheets,
    unit: str,
    least_mm: Decimal | None,
) -> tuple[SharedPlan, ...]:
    joint = _together([lists[place] for place in chosen])
    made: SharedPlan | None = None
    if joint is not None:
        job = cutting_job(joint, gap_mm, unit)
        roles = tuple(
            dict.fromkeys(cut.piece.role for place in chosen for cut in lists[place].cuts)
        )
        made = SharedPlan(
            MaterialPlan(joint[0].material, roles, job, plan_sheets(job)), tuple(sorted(chosen))
        )
        if len(chosen) == 1 or (made.plan.plan.proven and least_mm is None):
            return (made,)
    groups: dict[Hashable, list[int]] = {}
    for place in chosen:
        groups.setdefault(lists[place].group, []).append(place)
    parts = list(groups.values()) if len(groups) > 1 else [[place] for place in chosen]
    apart = tuple(
        plan
        for part in parts
        for plan in _plans(lists, tuple(part), gap_mm, plan_sheets, unit, least_mm)
    )
    if made is None or not _is_no_worse((made,), apart, least_mm):
        return apart
    return (made,)


def _is_no_worse(
    one: Sequence[SharedPlan], other: Sequence[SharedPlan], least_mm: Decimal | None
) -> bool:
    def sheets(plans: Sequence[SharedPlan]) -> int:
        return sum(plan.sheets for plan in plans)

    def kept(plans: Sequence[SharedPlan]) -> Decimal:
        if least_mm is None:
            return ZERO
        return sum((kept_offcuts(plan.plan, least_mm).sheets for plan in plans), ZERO)

    if sheets(one) > sheets(other):
        return False
    return sheets(one) - kept(one) <= sheets(other) - kept(other)


def _together(lists: Sequence[CutList]) -> tuple[CutCount, ...] | None:
    """Return the cuts of one job; None when they are too many for one.

    Pieces of one size that turn alike are one kind, whatever they are called, in an order that
    does not hang on the order of the lists: what is split or moved is planned as before.
    """
    if len(lists) == 1:
        return lists[0].cuts
    kinds: dict[tuple[Decimal, Decimal, bool], CutCount] = {}
    for cuts in lists:
        for cut in cuts.cuts:
            may_turn = cut.piece.may_turn
            if may_turn is None:
                may_turn = not cut.material.is_directional
            size = (cut.piece.width_mm, cut.piece.height_mm, may_turn)
            before = kinds.get(size)
            if before is None:
                kinds[size] = replace(cut, piece=replace(cut.piece, may_turn=may_turn))
                continue
            name = min(before.piece.name, cut.piece.name)
            kinds[size] = replace(
                before, piece=replace(before.piece, name=name), count=before.count + cut.count
            )
    if len(kinds) > MOST_KINDS or any(cut.count > MOST_COPIES for cut in kinds.values()):
        return None
    order = sorted(kinds, key=lambda size: (-size[0] * size[1], size))
    return tuple(kinds[size] for size in order)
