"""Takes pieces a little too large, so that exact tables of a job with many odd sizes stay small.

A layout that holds the larger pieces holds the real ones as well. A bound for them says nothing.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from catalogue.calc.cutting.integers import CuttingProblem

FINE, COARSE = 240, 100
MANY_KINDS = 100


def coarsened(problem: CuttingProblem) -> CuttingProblem | None:
    """Return the job in coarse units, None when a piece taken larger would fit nowhere."""
    parts = FINE if len(problem.counts) <= MANY_KINDS else COARSE
    wide = Fraction(max(sheet.width for sheet in problem.sheets), parts)
    high = Fraction(max(sheet.height for sheet in problem.sheets), parts)
    variants = tuple(
        replace(
            variant,
            width=-int(-variant.width // wide),
            height=-int(-variant.height // high),
        )
        for variant in problem.variants
    )
    sheets = []
    for sheet in problem.sheets:
        width, height = int(sheet.width // wide), int(sheet.height // high)
        fitting = tuple(
            index
            for index in sheet.variants
            if variants[index].width <= width and variants[index].height <= height
        )
        sheets.append(replace(sheet, width=width, height=height, variants=fitting))
    held = {variants[index].kind for sheet in sheets for index in sheet.variants}
    if any(count and kind not in held for kind, count in enumerate(problem.counts)):
        return None
    return replace(problem, sheets=tuple(sheets), variants=variants)
