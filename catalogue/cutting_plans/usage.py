"""What a plan takes from the shelf and the box, and what it leaves over."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from catalogue.calc.cutting.planning import SheetPlan
from catalogue.calc.reels.planning import ReelJob, ReelPlan
from catalogue.cutting_plans.stored import JobGroup, Plan, Source
from maker.calc.units import MM_PER_INCH

ZERO = Decimal(0)
MM_PER_M = Decimal(1000)
PLACES = Decimal("0.000001")
# an offcut narrower than this is waste, whatever she keeps otherwise
SLIVER_MM = Decimal(10)

# material, width and height in mm
Size = tuple[int, Decimal, Decimal]


@dataclass
class Usage:
    """Amounts in the units of the materials, and offcuts by size."""

    amounts: dict[int, Decimal] = field(default_factory=dict)
    offcuts: dict[Size, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Left:
    """Offcuts of one size and material that a plan leaves over."""

    source: Source
    width_mm: Decimal
    height_mm: Decimal
    count: int

    @property
    def shorter_mm(self) -> Decimal:
        """The side that decides whether it is worth keeping."""
        return min(self.width_mm, self.height_mm)


def usage_of(groups: Sequence[JobGroup], plans: Sequence[Plan]) -> Usage:
    """Return what the plans take: whole sheets, metres of reels, offcuts by size."""
    usage = Usage()
    for group, plan in zip(groups, plans, strict=True):
        if isinstance(plan, ReelPlan):
            _add_reels(usage, group, plan)
            continue
        for source in group.sources:
            count = plan.sheets_of(source.name)
            if not count:
                continue
            if source.is_offcut:
                size = (source.material, source.width_mm, source.height_mm)
                usage.offcuts[size] = usage.offcuts.get(size, 0) + count
            else:
                before = usage.amounts.get(source.material, ZERO)
                usage.amounts[source.material] = before + count
    return usage


def _add_reels(usage: Usage, group: JobGroup, plan: ReelPlan) -> None:
    job = group.job
    if not isinstance(job, ReelJob):
        return
    cut_mm = sum((length.length_mm + job.cut_loss_mm) * length.count for length in job.lengths)
    key = group.sources[0].material
    metres = (Decimal(cut_mm) / MM_PER_M).quantize(PLACES)
    usage.amounts[key] = usage.amounts.get(key, ZERO) + metres


def to_mm(length: Decimal, unit: str) -> Decimal:
    """Return a length of a job in millimetres, exactly."""
    return (length * MM_PER_INCH if unit == "in" else length).quantize(PLACES)


def left_over(groups: Sequence[JobGroup], plans: Sequence[Plan]) -> list[Left]:
    """Return what is left of the sheets by size, the largest of each material first."""
    counts: dict[tuple[int, Decimal, Decimal], int] = {}
    sources: dict[int, Source] = {}
    for group, plan in zip(groups, plans, strict=True):
        if not isinstance(plan, SheetPlan):
            continue
        for layout in plan.layouts:
            source = group.source(layout.sheet)
            sources.setdefault(source.material, source)
            for offcut in layout.offcuts:
                size = (
                    source.material,
                    to_mm(offcut.width, group.unit),
                    to_mm(offcut.height, group.unit),
                )
                counts[size] = counts.get(size, 0) + layout.times
    left = [
        Left(sources[key], width, height, count) for (key, width, height), count in counts.items()
    ]
    order = {key: at for at, key in enumerate(sources)}
    return sorted(
        left,
        key=lambda one: (order[one.source.material], -one.width_mm * one.height_mm, one.width_mm),
    )
