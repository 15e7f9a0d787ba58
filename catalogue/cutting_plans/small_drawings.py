"""The layouts of a plan drawn small: a strip on its page, and beside the offcuts they leave."""

from __future__ import annotations

from django.utils.safestring import SafeString, mark_safe

from catalogue.calc.cutting.planning import SheetPlan
from catalogue.calc.reels.planning import ReelPlan
from catalogue.cutting_plans.cut_words import in_bench_order
from catalogue.cutting_plans.drawing import PlanPages
from catalogue.cutting_plans.usage import Size, to_mm
from catalogue.sheet_plans.small_drawing import draw_small, draw_small_reel


def small_layout(pages: PlanPages, number: int, mark: Size | None = None) -> SafeString:
    """Draw one layout small; `mark` is the offcut (material, sides in mm) that stands out."""
    group, plan, index = pages.made[number - 1]
    numbers = pages.numbers[number - 1]
    if isinstance(plan, ReelPlan):
        if group.reels is None:
            raise ValueError("A layout of reels belongs to a job of reels.")
        svg = draw_small_reel(plan.layouts[index], group.reels, numbers)
        return mark_safe(svg)  # noqa: S308  # numbers alone are written into it
    if group.sheets is None:
        raise ValueError("A layout of sheets belongs to a job of sheets.")
    layout = in_bench_order(plan.layouts[index], group.sheets.gap)
    sheet = next(sheet for sheet in group.sheets.sheets if sheet.name == layout.sheet)
    sides = next(
        (
            (offcut.width, offcut.height)
            for offcut in layout.offcuts
            if mark
            and mark[1:] == (to_mm(offcut.width, group.unit), to_mm(offcut.height, group.unit))
        ),
        None,
    )
    return mark_safe(draw_small(layout, sheet, numbers, sides))  # noqa: S308  # numbers alone


def layouts_leaving(pages: PlanPages) -> dict[Size, list[int]]:
    """Return the numbers of the layouts that leave each size of offcut."""
    found: dict[Size, list[int]] = {}
    for number, (group, plan, index) in enumerate(pages.made, start=1):
        if not isinstance(plan, SheetPlan):
            continue
        layout = plan.layouts[index]
        material = group.source(layout.sheet).material
        for offcut in layout.offcuts:
            size = (material, to_mm(offcut.width, group.unit), to_mm(offcut.height, group.unit))
            numbers = found.setdefault(size, [])
            if number not in numbers:
                numbers.append(number)
    return found
