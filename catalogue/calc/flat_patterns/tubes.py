"""What every tube-like form shares: panels left to right, the tab last, glued behind panel 1."""

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

from catalogue.calc.flat_patterns.draft import FLAP, TAB, WALL, Draft, wedge_of
from catalogue.calc.flat_patterns.outlines import rectangle, tapered
from catalogue.calc.flat_patterns.pattern import ZERO, PanelKind

FOUR_WALLS = ("front", "right side", "back", "left side")
FOUR_WALLS_STEP = "Glue the tab behind the front, edges level at the base score."
SIDES_FIRST = "Base: fold in the side flaps, then the back flap, last the front flap, which shows."


def four_widths(
    width: Fraction, depth: Fraction, tab: Fraction, thickness: Fraction
) -> tuple[Fraction, ...]:
    """Return the panel widths of a tube W | D | W | D | tab.

    Score to score is the inside size and one thickness; the last panel is one thickness shorter
    than its twin, because the tab lies one sheet further in.
    """
    return width + thickness, depth + thickness, width + thickness, depth, tab


def draw_walls(
    draft: Draft, names: Sequence[str], row: int, *, angle_deg: float = -90.0, onto: str = ""
) -> None:
    """Draw the walls of one row and the tab after the last, glued behind the first."""
    for column, name in enumerate(names):
        draft.panel(name, WALL, draft.cell(column, row))
    for name, following in pairwise(names):
        draft.fold(name, following, angle_deg)
    outline = draft.cell(len(names), row)
    wedge = wedge_of(draft.sizes, draft.y[row + 1] - draft.y[row])
    draft.panel("tab", TAB, tapered(outline, "right", wedge))
    draft.fold(names[-1], "tab", angle_deg)
    draft.glue("tab", onto or names[0])


def draw_flap(
    draft: Draft,
    name: str,
    onto: str,
    column: int,
    row: int,
    *,
    kind: PanelKind = FLAP,
    angle_deg: float = -90.0,
) -> None:
    """Draw a flap that fills its cell and folds on the panel beside it."""
    draft.panel(name, kind, draft.cell(column, row))
    draft.fold(onto, name, angle_deg)


def draw_glued_base(draft: Draft, row: int, depth: Fraction) -> None:
    """Draw a flap under each of four walls, glued over each other: sides, back, front."""
    for column, wall in enumerate(FOUR_WALLS):
        draw_flap(draft, f"{wall} base", wall, column, row)
    low, high = draft.y[row], draft.y[row + 1]
    flap = high - low
    # a flap as deep as the box covers it whole, also when both have moved to a ruler's mark
    lap = max(2 * flap - draft.on_ruler(depth), ZERO)
    _glue_on_sides(draft, 2, low, high)
    if lap >= flap:
        width = draft.x[1] - draft.x[0]
        draft.glue("front base", "back base", bead=width + 2 * flap)
        return
    _glue_on_sides(draft, 0, low + lap, high)
    left, right = draft.x[0], draft.x[1]
    strip = rectangle(left, low, right, low + lap)
    draft.glue("front base", "back base", outline=strip, bead=right - left)


def _glue_on_sides(draft: Draft, column: int, low: Fraction, high: Fraction) -> None:
    """Glue the flap under the front or back onto both side flaps: along its edge and its end."""
    left, right = draft.x[column], draft.x[column + 1]
    reach = min(draft.y[1] - draft.y[0], (right - left) / 2)
    flap = f"{FOUR_WALLS[column]} base"
    for side, start, end in (
        (FOUR_WALLS[(column + 3) % 4], left, left + reach),
        (FOUR_WALLS[(column + 1) % 4], right - reach, right),
    ):
        strip = rectangle(start, low, end, high)
        draft.glue(flap, f"{side} base", outline=strip, bead=reach + high - low)


def draw_tuck_end(draft: Draft, wall: str, column: int, rows: tuple[int, int], end: str) -> None:
    """Draw a closure on a wall and the tuck that slips behind the opposite one."""
    closure, tuck = f"{end} closure", f"{end} tuck"
    draw_flap(draft, closure, wall, column, rows[0])
    outline = draft.cell(column, rows[1])
    wedge = wedge_of(draft.sizes, min(outline[2].y - outline[0].y, outline[2].x - outline[0].x))
    draft.panel(tuck, FLAP, tapered(outline, end, wedge))
    draft.fold(closure, tuck, -90.0)
