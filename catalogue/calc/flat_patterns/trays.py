"""Trays with corner tabs, their lids, and the sleeve a tray slides in."""

from dataclasses import replace
from fractions import Fraction

from catalogue.calc.flat_patterns.asking import CLEARANCE, THICKNESS, following, size, tab
from catalogue.calc.flat_patterns.draft import BASE, TAB, WALL, Draft, is_thick, wedge_of
from catalogue.calc.flat_patterns.numbers import said
from catalogue.calc.flat_patterns.outlines import rectangle, tapered
from catalogue.calc.flat_patterns.pattern import ZERO, FlatPattern, Form, Sizes
from catalogue.calc.flat_patterns.tubes import draw_walls
from catalogue.calc.flat_patterns.words import CAUTIONS, CUT_AND_SCORE, DECORATE_FIRST, DRY

_STEPS = (
    *CUT_AND_SCORE,
    DECORATE_FIRST,
    "Fold up the front and back wall and turn their corner tabs in.",
    "Glue each corner tab inside the end wall, edges level at the base score.",
    DRY,
)


def _draw_tray(sizes: Sizes, length: Fraction, width: Fraction, wall: Fraction) -> Draft:
    """Draw a base, four walls and a tab at each corner; lengths are score to score."""
    draft = Draft(sizes)
    draft.lay(across=(wall, length, wall), up=(wall, width, wall))
    x, y = draft.x, draft.y
    draft.panel("base", BASE, draft.cell(1, 1))
    # the tabs lie inside the end walls, so on board the walls that carry them end sooner
    inset = sizes["t"] if is_thick(sizes) else ZERO
    # two tabs share an end wall: neither may reach past its middle
    reach = min(x[1], (y[2] - y[1]) / 2)
    wedge = wedge_of(sizes, min(x[1], reach))
    for column, name in ((0, "left end"), (2, "right end")):
        draft.panel(name, WALL, draft.cell(column, 1))
        draft.fold("base", name, -90.0)
    for row, name in ((0, "front"), (2, "back")):
        low, high = y[row], y[row + 1]
        left, right = x[1] + inset, x[2] - inset
        draft.panel(name, WALL, rectangle(left, low, right, high))
        draft.fold("base", name, -90.0)
        for side, start, end in (
            ("left", left - reach, left),
            ("right", right, right + reach),
        ):
            corner = f"{name} {side} tab"
            draft.panel(corner, TAB, tapered(rectangle(start, low, end, high), side, wedge))
            draft.fold(name, corner, -90.0)
            draft.glue(corner, f"{side} end")
    return draft


def _finish_tray(
    draft: Draft, name: str, inside: tuple[Fraction, Fraction, Fraction], checks: tuple[str, ...]
) -> FlatPattern:
    thickness, unit = draft.sizes["t"], draft.sizes.unit
    x, y = draft.x, draft.y
    reach = min(x[1], (y[2] - y[1]) / 2)
    if reach < x[1]:
        checks += (f"Corner tabs are cut back to {said(reach, unit)}, the middle of the end wall.",)
    else:
        checks += (f"Corner tabs reach {said(reach, unit)} into the end walls and do not meet.",)
    if is_thick(draft.sizes):
        checks += (
            f"Front and back wall end {said(thickness, unit)} sooner on each side, because the "
            "tabs lie inside the end walls.",
        )
    return draft.finish(
        name,
        x_scores=x[1:-1],
        y_scores=y[1:-1],
        outside=(
            inside[0] + 2 * thickness,
            inside[1] + 2 * thickness,
            inside[2] + thickness,
        ),
        volume=inside[0] * inside[1] * inside[2],
        checks=checks,
        steps=_STEPS,
        cautions=CAUTIONS,
    )


def _tray(sizes: Sizes) -> FlatPattern:
    length, width, height, thickness = sizes["L"], sizes["W"], sizes["H"], sizes["t"]
    draft = _draw_tray(sizes, length + thickness, width + thickness, height)
    return _finish_tray(draft, sizes.form, (length, width, height), ())


def _tray_lid(sizes: Sizes) -> FlatPattern:
    clearance, unit = sizes["c"], sizes.unit
    more = 2 * (sizes["t"] + clearance)
    length, width, height = sizes["L"], sizes["W"], sizes["Hl"]
    draft = _draw_tray(sizes, length + sizes["t"] + more, width + sizes["t"] + more, height)
    inside = (length + more, width + more, height)
    gap = f"The lid keeps {said(clearance, unit)} on each side of a tray of the same sheet."
    return _finish_tray(draft, "tray lid", inside, (gap,))


def _sleeve(sizes: Sizes) -> FlatPattern:
    thickness, clearance = sizes["t"], sizes["c"]
    width = sizes["Wd"] + 3 * thickness + 2 * clearance
    height = sizes["Hd"] + 3 * thickness / 2 + 2 * clearance
    length = sizes["Ld"] + 2 * thickness
    draft = Draft(sizes)
    draft.lay(across=(width, height, width, height - thickness, sizes["g"]), up=(length,))
    draw_walls(draft, ("top", "right side", "bottom", "left side"), 0)
    return draft.finish(
        "sleeve",
        grain="upright",
        details={"Sw": width, "Sh": height},
        outside=(width + thickness, length, height + thickness),
        volume=(width - thickness) * (height - thickness) * length,
        checks=(
            f"The drawer keeps {said(clearance, sizes.unit)} on each side; it has a bottom "
            "sheet but no top sheet.",
        ),
        steps=(
            *CUT_AND_SCORE,
            DECORATE_FIRST,
            "Glue the tab behind the top, the open ends level.",
            DRY,
            "Slide the drawer in when the glue holds, not before.",
        ),
        cautions=CAUTIONS,
    )


_TRAY_INPUTS = (
    size(
        "L",
        "inside length",
        "at least twice the sheet, or nothing is left of the walls with tabs",
        least=lambda sizes: 2 * sizes["t"],
    ),
    size("W", "inside width"),
    size("H", "wall height"),
    THICKNESS,
)
TRAY = Form(
    "tray",
    "Tray",
    "A base with four walls, held by a tab at each corner.",
    _TRAY_INPUTS,
    _tray,
)
TRAY_LID = Form(
    "tray_lid",
    "Tray lid",
    "A lid that slips over a tray. Enter the tray's sizes.",
    (
        size("L", "inside length of the tray", is_bound=True),
        size("W", "inside width of the tray", is_bound=True),
        size(
            "Hl",
            "height of the lid",
            "at most the height H of the tray, or it stands on the table",
            most=lambda sizes: sizes["H"],
        ),
        replace(
            following(
                "H",
                "wall height of the tray",
                lambda sizes: sizes["Hl"],
                "the height of the lid: a lid all the way down",
                group="size",
            ),
            is_bound=True,
        ),
        THICKNESS,
        CLEARANCE,
    ),
    _tray_lid,
)
DRAWER = Form(
    "drawer",
    "Sleeve drawer",
    "A tray that slides into a sleeve.",
    _TRAY_INPUTS,
    _tray,
)
SLEEVE = Form(
    "sleeve",
    "Drawer sleeve",
    "A flat tube, open at both ends. Enter the drawer's sizes.",
    (
        size("Wd", "inside width of the drawer", is_bound=True),
        size("Hd", "wall height of the drawer", is_bound=True),
        size("Ld", "inside length of the drawer", is_bound=True),
        tab(
            "at most the width of the drawer, the panel it is glued behind",
            most=lambda sizes: sizes["Wd"],
        ),
        THICKNESS,
        CLEARANCE,
    ),
    _sleeve,
)
FORMS = (TRAY, TRAY_LID, DRAWER, SLEEVE)
