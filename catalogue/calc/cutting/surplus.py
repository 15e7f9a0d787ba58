"""Takes off a plan what it makes too many of, and says what a plan leaves to be made."""

from __future__ import annotations

from dataclasses import replace

from catalogue.calc.cutting.integers import CuttingProblem, Filling, count_kinds, take_out
from catalogue.calc.cutting.start import Use


def drop_surplus(plan: list[Use], problem: CuttingProblem) -> list[Use]:
    """Return the plan with exactly the pieces wanted: what is too many is taken off some sheets.

    Taken off few sheets it leaves large offcuts; taken evenly off all sheets alike it may need
    fewer different layouts. The way with fewer layouts is chosen, else large offcuts.
    """
    made = [0] * len(problem.counts)
    for filling, times in plan:
        for kind, many in enumerate(filling.counts):
            made[kind] += many * times
    if tuple(made) == problem.counts:
        return merge_alike(plan)
    return min((_off_few(plan, problem), _off_all(plan, problem)), key=len)


def _off_few(plan: list[Use], problem: CuttingProblem) -> list[Use]:
    uses = list(plan)
    for kind, count in enumerate(problem.counts):
        surplus = sum(filling.counts[kind] * times for filling, times in uses) - count
        # sheets that are one of a kind already come first, so that few layouts are added
        for at in sorted(range(len(uses)), key=lambda at: (uses[at][1], at)):
            filling, times = uses[at]
            held = filling.counts[kind]
            if surplus == 0 or held == 0:
                continue
            bare = min(times, surplus // held)
            surplus -= bare * held
            changed = [(without(filling, kind, held, problem), bare)]
            if surplus and bare < times:
                changed.append((without(filling, kind, surplus, problem), 1))
                bare += 1
                surplus = 0
            uses[at] = (filling, times - bare)
            uses.extend(changed)
        uses = [use for use in uses if use[1] and any(use[0].counts)]
    return merge_alike(uses)


def _off_all(plan: list[Use], problem: CuttingProblem) -> list[Use]:
    uses = list(plan)
    for kind, count in enumerate(problem.counts):
        surplus = sum(filling.counts[kind] * times for filling, times in uses) - count
        at = len(uses) - 1
        while surplus > 0:
            filling, times = uses[at]
            held = filling.counts[kind]
            each = min(held, surplus // times)
            if each:
                filling = without(filling, kind, each, problem)
                uses[at] = (filling, times)
                surplus -= each * times
                held -= each
            if 0 < surplus < times and held:
                uses[at] = (filling, times - surplus)
                uses.append((without(filling, kind, 1, problem), surplus))
                surplus = 0
            at -= 1
    return merge_alike([use for use in uses if any(use[0].counts)])


def without(filling: Filling, kind: int, many: int, problem: CuttingProblem) -> Filling:
    """Return the filling with `many` pieces of a kind taken off."""
    tree, _ = take_out(filling.tree, kind, many, problem.variants)
    counts = count_kinds(tree, problem.variants, len(problem.counts))
    return Filling(filling.sheet, filling.first, tree, counts)


def rest_of(problem: CuttingProblem, base: list[Use]) -> CuttingProblem | None:
    """Return what is still to be cut after the base, None when the base uses too many sheets."""
    counts = list(problem.counts)
    used = [0] * len(problem.sheets)
    for filling, times in base:
        used[filling.sheet] += times
        for kind, many in enumerate(filling.counts):
            counts[kind] = max(0, counts[kind] - many * times)
    sheets = []
    for sheet, times in zip(problem.sheets, used, strict=True):
        left = None if sheet.available is None else sheet.available - times
        if left is not None and left < 0:
            return None
        variants = tuple(v for v in sheet.variants if counts[problem.variants[v].kind])
        sheets.append(replace(sheet, available=left, variants=variants))
    return replace(problem, sheets=tuple(sheets), counts=tuple(counts))


def merge_alike(uses: list[Use]) -> list[Use]:
    """Add up uses of fillings with the same pieces on the same kind of sheet."""
    merged: dict[tuple[int, tuple[int, ...]], Use] = {}
    for filling, times in uses:
        key = (filling.sheet, filling.counts)
        known = merged.get(key)
        merged[key] = (filling, times) if known is None else (known[0], known[1] + times)
    return list(merged.values())
