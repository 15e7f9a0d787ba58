"""What is said of a plan: how many sheets, whether that is proved, what it costs, what to buy."""

from __future__ import annotations

from decimal import Decimal

from catalogue.calc.cutting.planning import CuttingJob, SheetPlan
from catalogue.calc.reels.planning import ReelPlan
from catalogue.cutting_plans.stored import JobGroup, Plan, Source
from maker.calc.units import format_number
from maker.web.words import money
from maker.workshop.models import Workshop

ZERO = Decimal(0)
# scarce paper is cut last: then the hand has found its way
FEW_LEFT = 1


def uses_of(group: JobGroup, plan: Plan) -> list[tuple[Source, int]]:
    """Return how many of each kind of sheet or reel are cut, those that are used."""
    used = []
    for source in group.sources:
        count = (
            plan.reels_of(source.name)
            if isinstance(plan, ReelPlan)
            else plan.sheets_of(source.name)
        )
        if count:
            used.append((source, count))
    return used


def count_text(group: JobGroup, plan: Plan) -> str:
    """Say how many sheets, offcuts or reels are cut: `10 sheets and 2 offcuts`."""
    if isinstance(plan, ReelPlan):
        return many_of(plan.reel_count, "reel")
    uses = uses_of(group, plan)
    whole = sum(count for source, count in uses if not source.is_offcut)
    kept = sum(count for source, count in uses if source.is_offcut)
    parts = [many_of(whole, "sheet")] if whole or not kept else []
    if kept:
        parts.append(many_of(kept, "offcut"))
    return " and ".join(parts)


def headline(group: JobGroup, plan: Plan, workshop: Workshop, *, is_stopped: bool = False) -> str:
    """Say how good the plan is: proved, or at most so much above what is possible."""
    count = count_text(group, plan)
    what = "reels" if isinstance(plan, ReelPlan) else "sheets"
    several = len(group.sources) > 1
    if several:
        what = f"whole {what}"
    if group.is_money:
        count += f" for {money(plan.cost, workshop)}"
    if plan.proven:
        best = "the cheapest possible" if group.is_money else _fewest(what, several)
        return f"{count}: {best}."
    begin = "stopped: " if is_stopped else ""
    found = f"{count}: {begin}best found{' so far' if is_stopped else ''}"
    if not plan.lower_bound:
        return f"{found}; how near to the best it is, is not known."
    above = plan.cost - plan.lower_bound
    if group.is_money:
        more = f"{money(above, workshop)} above the cheapest possible"
    else:
        more = f"{format_number(above, workshop.locale)} above the fewest possible"
    return f"{found}, at most {more}."


def _fewest(what: str, several: bool) -> str:
    return f"the fewest {what} possible" if several else "the fewest possible"


def class_text(group: JobGroup) -> str:
    """Say among which layouts that holds."""
    job = group.job
    if not isinstance(job, CuttingJob):
        return ""
    if job.rounds is None:
        return "Among all layouts that are cut edge to edge."
    rounds = {1: "one round", 2: "two rounds", 3: "three rounds"}.get(
        job.rounds, f"{job.rounds} rounds"
    )
    return f"Among all layouts that are cut edge to edge in {rounds}, then trimmed."


def cost_of(group: JobGroup, plan: Plan) -> Decimal | None:
    """Return what the sheets cost at the prices of the day it was asked; None: not known."""
    total = ZERO
    for source, count in uses_of(group, plan):
        if source.price is None:
            return None
        total += source.price * count
    return total


def share_used(group: JobGroup, plan: Plan) -> Decimal | None:
    """Return how much of the sheets becomes pieces."""
    job = group.job
    if not isinstance(plan, SheetPlan) or not isinstance(job, CuttingJob):
        return None
    sheets = {sheet.name: sheet.width * sheet.height for sheet in job.sheets}
    whole = sum((sheets[layout.sheet] * layout.times for layout in plan.layouts), ZERO)
    pieces = sum((piece.width * piece.height * piece.count for piece in job.pieces), ZERO)
    return pieces / whole if whole else None


def scarce_kinds(group: JobGroup, plan: Plan) -> set[str]:
    """Return the kinds of sheet of which all, or nearly all, on the shelf is cut."""
    return {
        source.name
        for source, count in uses_of(group, plan)
        if not source.is_offcut and 0 <= source.on_hand - count <= FEW_LEFT
    }


def is_scarce(group: JobGroup, plan: Plan) -> bool:
    """Say whether a job is better done last."""
    return bool(scarce_kinds(group, plan))


def missing_of(group: JobGroup, plan: Plan) -> list[tuple[Source, int]]:
    """Return how many sheets of which kind must be bought first."""
    if isinstance(plan, ReelPlan):
        return []
    return [
        (source, count - source.on_hand)
        for source, count in uses_of(group, plan)
        if not source.is_offcut and count > source.on_hand
    ]


def buy_notes(group: JobGroup, plan: Plan) -> list[str]:
    """Say what must be bought."""
    notes = []
    for source, missing in missing_of(group, plan):
        there = f"you have {source.on_hand}" if source.on_hand else "none in stock"
        notes.append(f"“{source.material_name}”: {there}, buy {many_of(missing, 'sheet')}.")
    return notes


def care_notes(group: JobGroup, plan: Plan) -> list[str]:
    """Say what is nearly used up."""
    if isinstance(plan, ReelPlan):
        return []
    notes, scarce = [], scarce_kinds(group, plan)
    for source, count in uses_of(group, plan):
        if source.name in scarce:
            missing = source.on_hand - count
            left = "all you have" if not missing else f"all but {missing} of what you have"
            notes.append(f"“{source.material_name}” takes {left}: cut it last, and measure twice.")
    return notes


def many_of(count: int, word: str) -> str:
    """Say how many: `1 sheet`, `12 sheets`."""
    return f"{count:,} {word}{'' if count == 1 else 's'}"
