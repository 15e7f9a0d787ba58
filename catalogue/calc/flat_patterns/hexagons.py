"""Six-sided forms: tray, lid and tube."""

from dataclasses import replace
from fractions import Fraction

from catalogue.calc.flat_patterns.asking import (
    CLEARANCE,
    THICKNESS,
    allowance,
    following,
    size,
    tab,
)
from catalogue.calc.flat_patterns.draft import BASE, FLAP, TAB, WALL, Draft
from catalogue.calc.flat_patterns.numbers import root, said
from catalogue.calc.flat_patterns.outlines import edge_tab, tapered
from catalogue.calc.flat_patterns.pattern import ZERO, FlatPattern, Form, Point, Sizes
from catalogue.calc.flat_patterns.tubes import draw_walls
from catalogue.calc.flat_patterns.words import BLADE, CAUTIONS, CUT_AND_SCORE, DECORATE_FIRST, DRY

_ROOT_3 = root(Fraction(3))
_WALLS = tuple(f"wall {number}" for number in range(1, 7))
# corners of a hexagon of side 1 about its middle, and the way its sides face, both in turn
_CORNERS = (
    (Fraction(1), ZERO),
    (Fraction(1, 2), _ROOT_3 / 2),
    (Fraction(-1, 2), _ROOT_3 / 2),
    (Fraction(-1), ZERO),
    (Fraction(-1, 2), -_ROOT_3 / 2),
    (Fraction(1, 2), -_ROOT_3 / 2),
)
_FACING = (
    (_ROOT_3 / 2, Fraction(1, 2)),
    (ZERO, Fraction(1)),
    (-_ROOT_3 / 2, Fraction(1, 2)),
    (-_ROOT_3 / 2, Fraction(-1, 2)),
    (ZERO, Fraction(-1)),
    (_ROOT_3 / 2, Fraction(-1, 2)),
)


def _outside(
    side: Fraction, thickness: Fraction, height: Fraction
) -> tuple[Fraction, Fraction, Fraction]:
    """Return the size corner to corner and flat to flat: half a sheet beyond the folds."""
    outer = side + thickness / _ROOT_3 if thickness else side
    return 2 * outer, _ROOT_3 * outer, height


def _hexagon_tray(
    sizes: Sizes,
    name: str,
    side: Fraction,
    wall: Fraction,
    checks: tuple[str, ...],
    thickness: Fraction = ZERO,
) -> FlatPattern:
    draft = Draft(sizes)
    side, wall, depth = (draft.on_ruler(each) for each in (side, wall, sizes["g"]))
    middle = Point(side + wall * _ROOT_3 / 2, side * _ROOT_3 / 2 + wall)
    corners = [Point(middle.x + side * x, middle.y + side * y) for x, y in _CORNERS]
    draft.panel("base", BASE, tuple(corners))
    for at, wall_name in enumerate(_WALLS):
        start, end, (x, y) = corners[at], corners[(at + 1) % 6], _FACING[at]
        outer = Point(start.x + wall * x, start.y + wall * y)
        far = Point(end.x + wall * x, end.y + wall * y)
        draft.panel(wall_name, WALL, (start, outer, far, end))
        draft.fold("base", wall_name, -90.0)
        tab_name = f"tab {at + 1}"
        draft.panel(tab_name, TAB, edge_tab(far, end, depth, depth, depth))
        draft.fold(wall_name, tab_name, -60.0)
        draft.glue(tab_name, _WALLS[(at + 1) % 6])
    box = Point(2 * side + _ROOT_3 * wall, _ROOT_3 * side + 2 * wall)
    return draft.finish(
        name,
        blank=box,
        x_scores=(),
        details={"side": side},
        marks={"blank_with_tabs": (box.x, box.y)},
        outside=_outside(side, thickness, wall + thickness),
        volume=3 * _ROOT_3 / 2 * (side - thickness / _ROOT_3) ** 2 * wall,
        checks=("The tabs lie in the gaps between the walls and do not enlarge it.", *checks),
        steps=(
            *CUT_AND_SCORE,
            DECORATE_FIRST,
            "Fold up all walls; glue each tab inside the next wall, edges level at the base score.",
            DRY,
        ),
        cautions=CAUTIONS,
    )


def _hex_tray(sizes: Sizes) -> FlatPattern:
    return _hexagon_tray(sizes, "hexagon tray", sizes["a"], sizes["H"], ())


def _hex_lid(sizes: Sizes) -> FlatPattern:
    side = sizes["a"] + 2 * (sizes["t"] + sizes["c"]) / _ROOT_3
    gap = f"The lid keeps {said(sizes['c'], sizes.unit)} on each side of a tray of the same sheet."
    return _hexagon_tray(sizes, "hexagon lid", side, sizes["Hl"], (gap,), sizes["t"])


def _hex_tube(sizes: Sizes) -> FlatPattern:
    side, height, foot, thickness = sizes["a"], sizes["H"], sizes["foot"], sizes["t"]
    wide = last = side
    if thickness:
        # flat to flat the folds stand one sheet further apart than the inside; the tab lies one
        # sheet further in, where the walls meet at 120 degrees
        wide = side + thickness / _ROOT_3
        last = wide - 2 * thickness / _ROOT_3
    draft = Draft(sizes)
    draft.lay(across=(*(wide for _ in range(5)), last, sizes["g"]), up=(foot, height))
    draw_walls(draft, _WALLS, 1, angle_deg=-60.0)
    # cut back at 30 degrees from upright, neighbours meet without a lap when they are folded in
    cut_back = (draft.y[1] - draft.y[0]) / _ROOT_3
    for column, wall in enumerate(_WALLS):
        name = f"foot {column + 1}"
        draft.panel(name, FLAP, tapered(draft.cell(column, 0), "bottom", cut_back))
        draft.fold(wall, name, -90.0)
        draft.glue(name, "base card")
    return draft.finish(
        "hexagon tube",
        grain="upright",
        outside=_outside(wide, thickness, height),
        volume=3 * _ROOT_3 / 2 * side**2 * height,
        checks=("The base is cut apart, by the shape “Hexagon base card”.",),
        steps=(
            *CUT_AND_SCORE,
            DECORATE_FIRST,
            "Glue the tab behind the first wall, edges level at the foot score.",
            DRY,
            "Fold the feet in, spread them from inside and drop the base card onto them.",
        ),
        cautions=CAUTIONS,
    )


def _hex_base(sizes: Sizes) -> FlatPattern:
    clearance = sizes["c"]
    draft = Draft(sizes)
    side = draft.on_ruler(sizes["a"] - 2 * clearance / _ROOT_3 if clearance else sizes["a"])
    middle = Point(side, side * _ROOT_3 / 2)
    corners = tuple(Point(middle.x + side * x, middle.y + side * y) for x, y in _CORNERS)
    draft.panel("card", BASE, corners)
    return draft.finish(
        "hexagon base card",
        blank=Point(2 * side, side * _ROOT_3),
        details={"side": side},
        checks=(f"It keeps {said(clearance, sizes.unit)} from every wall.",),
        steps=("Cut it and drop it onto the spread feet inside the tube, right side up.",),
        cautions=(BLADE,),
    )


def _foot_most(sizes: Sizes) -> Fraction:
    return (sizes["a"] - sizes["t"]) * 4 / 5


HEX_TRAY = Form(
    "hex_tray",
    "Hexagon tray",
    "Six walls round a hexagon, each with a tab on one end.",
    (
        size("a", "side of the hexagon"),
        size("H", "wall height"),
        following(
            "g",
            "glue tabs",
            lambda sizes: min(sizes.either(9, Fraction(3, 8)), sizes["H"] / 2, sizes["a"]),
            "9 mm or 3/8 in, less on a low wall",
            "at most half the wall H and at most the side a, to stay inside the gap",
            most=lambda sizes: min(sizes["H"] / 2, sizes["a"]),
        ),
    ),
    _hex_tray,
)
HEX_LID = Form(
    "hex_lid",
    "Hexagon tray lid",
    "A lid that slips over a hexagon tray. Enter the tray's side.",
    (
        size("a", "side of the tray", is_bound=True),
        allowance("Hl", "height of the lid", 20, Fraction(3, 4)),
        following(
            "g",
            "glue tabs",
            lambda sizes: min(sizes.either(9, Fraction(3, 8)), sizes["Hl"] / 2, sizes["a"]),
            "9 mm or 3/8 in, less on a low wall",
            "at most half the wall Hl and at most the side a, to stay inside the gap",
            most=lambda sizes: min(sizes["Hl"] / 2, sizes["a"]),
        ),
        THICKNESS,
        CLEARANCE,
    ),
    _hex_lid,
)
HEX_TUBE = Form(
    "hex_tube",
    "Hexagon tube",
    "Six walls in a row with feet for a base card.",
    (
        size(
            "a",
            "side of the hexagon",
            "at least twice the sheet",
            least=lambda sizes: 2 * sizes["t"],
        ),
        size("H", "height"),
        THICKNESS,
        tab("at most the side a, the wall it is glued behind", most=lambda sizes: sizes["a"]),
        following(
            "foot",
            "foot flaps",
            lambda sizes: min(sizes.either(15, Fraction(5, 8)), _foot_most(sizes)),
            "15 mm or 5/8 in, less on a narrow tube",
            "at most four fifths of the side a less the sheet, or the feet meet in the middle",
            most=_foot_most,
        ),
    ),
    _hex_tube,
)
HEX_BASE = Form(
    "hex_base",
    "Hexagon base card",
    "A hexagon that lies on the feet in the tube. Enter the tube's side.",
    (
        size("a", "side of the tube, inside", is_bound=True),
        replace(
            CLEARANCE, limit="at most a quarter of the side a", most=lambda sizes: sizes["a"] / 4
        ),
    ),
    _hex_base,
)
FORMS = (HEX_TRAY, HEX_LID, HEX_TUBE, HEX_BASE)
