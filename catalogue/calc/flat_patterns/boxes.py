"""Boxes that are tubes: with a pocket flap, with tucks, with a gable roof."""

import math
from dataclasses import replace
from fractions import Fraction

from catalogue.calc.flat_patterns.asking import (
    THICKNESS,
    allowance,
    choice,
    following,
    size,
    tab,
)
from catalogue.calc.flat_patterns.draft import FLAP, LID, TAB, Draft, wedge_of
from catalogue.calc.flat_patterns.numbers import hypotenuse, said
from catalogue.calc.flat_patterns.outlines import rectangle, tapered
from catalogue.calc.flat_patterns.pattern import ZERO, FlatPattern, Form, Point, Sizes
from catalogue.calc.flat_patterns.tubes import (
    FOUR_WALLS,
    FOUR_WALLS_STEP,
    SIDES_FIRST,
    draw_flap,
    draw_glued_base,
    draw_tuck_end,
    draw_walls,
    four_widths,
)
from catalogue.calc.flat_patterns.words import (
    CAUTIONS,
    CUT_AND_SCORE,
    DECORATE_FIRST,
    DRY,
    FOOD,
)

_TAB = tab("at most the width W, the panel it is glued behind", most=lambda sizes: sizes["W"])


def _outside(sizes: Sizes, depth: str) -> tuple[Fraction, Fraction, Fraction]:
    twice = 2 * sizes["t"]
    return sizes["W"] + twice, sizes[depth] + twice, sizes["H"] + twice


def _pocket_box(sizes: Sizes) -> FlatPattern:
    width, depth, height, thickness = sizes["W"], sizes["d"], sizes["H"], sizes["t"]
    draft = Draft(sizes)
    draft.lay(
        across=four_widths(width, depth, sizes["g"], thickness),
        up=(depth, height + thickness, depth, sizes["tuck"]),
    )
    draw_walls(draft, FOUR_WALLS, 1)
    draw_glued_base(draft, 0, depth)
    draw_tuck_end(draft, "back", 2, (2, 3), "top")
    _draw_dust_flaps(draft, 1, has_bottom=False)
    return draft.finish(
        "pocket box",
        grain="upright",
        outside=_outside(sizes, "d"),
        volume=width * depth * height,
        checks=(
            _say_dust_flaps(sizes),
            "The base flaps are as deep as the box: each covers the whole base.",
        ),
        steps=(
            *CUT_AND_SCORE,
            DECORATE_FIRST,
            FOUR_WALLS_STEP,
            DRY,
            SIDES_FIRST,
            "Close it: dust flaps in, closure over, tuck behind the front or glued to a flap.",
        ),
        cautions=CAUTIONS,
    )


def dust_flap_max(sizes: Sizes) -> Fraction:
    """Return how long dust flaps may be: to the middle, and no longer than closure and tuck."""
    depth = sizes["d"] if "d" in sizes else sizes["D"]
    return min(sizes["W"] / 2, depth + sizes["tuck"])


def _say_dust_flaps(sizes: Sizes) -> str:
    left = sizes["W"] - 2 * sizes["dust"]
    between = f"leave {said(left, sizes.unit)} between them" if left else "meet in the middle"
    return f"Dust flaps of {said(sizes['dust'], sizes.unit)} {between}."


def _tuck_box(sizes: Sizes) -> FlatPattern:
    width, depth, height, tuck = sizes["W"], sizes["D"], sizes["H"], sizes["tuck"]
    has_glued_base = bool(sizes["glued_base"])
    below = (depth,) if has_glued_base else (tuck, depth)
    draft = Draft(sizes)
    draft.lay(
        across=four_widths(width, depth, sizes["g"], sizes["t"]),
        up=(*below, height + sizes["t"], depth, tuck),
    )
    body = len(below)
    draw_walls(draft, FOUR_WALLS, body)
    draw_tuck_end(draft, "back", 2, (body + 1, body + 2), "top")
    if has_glued_base:
        draw_glued_base(draft, 0, depth)
    elif sizes["reverse"]:
        draw_tuck_end(draft, "front", 0, (1, 0), "bottom")
    else:
        draw_tuck_end(draft, "back", 2, (1, 0), "bottom")
    _draw_dust_flaps(draft, body, has_bottom=not has_glued_base)
    closing = "Close it: dust flaps in, closure over, tuck behind the opposite wall."
    return draft.finish(
        "tuck box",
        grain="upright",
        details={"dust_flap_max": dust_flap_max(sizes)},
        outside=_outside(sizes, "D"),
        volume=width * depth * height,
        checks=(_say_dust_flaps(sizes),),
        steps=(
            *CUT_AND_SCORE,
            DECORATE_FIRST,
            FOUR_WALLS_STEP,
            DRY,
            *((SIDES_FIRST,) if has_glued_base else ()),
            closing,
        ),
        cautions=CAUTIONS,
    )


def _draw_dust_flaps(draft: Draft, body: int, *, has_bottom: bool) -> None:
    dust = draft.on_ruler(draft.sizes["dust"])
    x, low, high = draft.x, draft.y[body], draft.y[body + 1]
    for column in (1, 3):
        wall = FOUR_WALLS[column]
        name = f"{wall} dust flap"
        draft.panel(name, FLAP, rectangle(x[column], high, x[column + 1], high + dust))
        draft.fold(wall, name, -90.0)
        if has_bottom:
            name = f"{wall} bottom dust flap"
            draft.panel(name, FLAP, rectangle(x[column], low - dust, x[column + 1], low))
            draft.fold(wall, name, -90.0)


def _gable_box(sizes: Sizes) -> FlatPattern:
    width, depth, height, rise = sizes["W"], sizes["D"], sizes["H"], sizes["G"]
    half = (depth + sizes["t"]) / 2
    slope = hypotenuse(half, rise)
    draft = Draft(sizes)
    draft.lay(
        across=four_widths(width, depth, sizes["g"], sizes["t"]),
        up=(depth, height, slope, sizes["fin"]),
    )
    draw_walls(draft, FOUR_WALLS, 1)
    draw_glued_base(draft, 0, depth)
    lean = math.degrees(math.atan2(float(half), float(rise)))
    for column in (0, 2):
        wall = FOUR_WALLS[column]
        draw_flap(draft, f"{wall} roof", wall, column, 2, kind=LID, angle_deg=-lean)
        draw_flap(draft, f"{wall} fin", f"{wall} roof", column, 3, angle_deg=lean)
    tips = [_draw_gable(draft, column, lean) for column in (1, 3)]
    _draw_roof_tab(draft, lean)
    draft.glue("front fin", "back fin")
    return draft.finish(
        "gable box",
        grain="upright",
        x_scores=draft.x[1:-1],
        details={"slope": slope},
        spots={"vee_apex": tuple(tips)},
        outside=(
            width + 2 * sizes["t"],
            depth + 2 * sizes["t"],
            height + rise + sizes["fin"] + sizes["t"],
        ),
        volume=width * depth * height + depth * rise * (3 * width - depth) / 6,
        checks=(
            f"The ridge keeps {said(width - depth, sizes.unit)} between the gusset tips.",
            "The tip of each V is half the depth in from both corners, at the top of the roof.",
            *_say_roof(sizes),
        ),
        steps=(
            *CUT_AND_SCORE,
            DECORATE_FIRST,
            f"{FOUR_WALLS_STEP[:-1]}, all the way up roof and fin.",
            DRY,
            SIDES_FIRST,
            "Push the side gables in along their V and bring the fins together; glue or tie them.",
        ),
        cautions=(*CAUTIONS, FOOD),
    )


def _say_roof(sizes: Sizes) -> tuple[str, ...]:
    """Say what the V, laid out for a sheet without thickness, leaves open in a thicker one."""
    thickness = sizes["t"]
    if not thickness:
        return ()
    return (
        f"The folds of the roof meet to within one sheet, {said(thickness, sizes.unit)}: the V is "
        "laid out for a thin one. Press the fins together while the glue sets.",
    )


def _draw_gable(draft: Draft, column: int, lean: float) -> Point:
    """Draw the V of one side: its middle leans in, its outer parts lie under the roof."""
    wall, before, after = (FOUR_WALLS[at % 4] for at in (column, column - 1, column + 1))
    left, right = draft.x[column], draft.x[column + 1]
    low, high, top = draft.y[2], draft.y[3], draft.y[4]
    tip = Point((left + right) / 2, high)
    corner, other = Point(left, low), Point(right, low)
    draft.panel(f"{wall} gable", LID, (corner, other, tip))
    draft.panel(f"{wall} gusset 1", FLAP, (corner, tip, Point(left, high)))
    draft.panel(f"{wall} gusset 2", FLAP, (other, Point(right, high), tip))
    draft.panel(f"{wall} fin 1", FLAP, rectangle(left, high, tip.x, top))
    draft.panel(f"{wall} fin 2", FLAP, rectangle(tip.x, high, right, top))
    draft.fold(wall, f"{wall} gable", -lean)
    turn = _vee_turn(draft.sizes)
    for side in ("1", "2"):
        draft.fold(f"{wall} gable", f"{wall} gusset {side}", turn)
        draft.fold(f"{wall} gusset {side}", f"{wall} fin {side}", -lean)
    draft.fold(f"{wall} fin 1", f"{wall} fin 2", 180.0)
    draft.fold(f"{before} roof", f"{wall} gusset 1", -180.0)
    draft.fold(f"{before} fin", f"{wall} fin 1", -180.0)
    if column == 1:
        draft.fold(f"{wall} gusset 2", f"{after} roof", -180.0)
        draft.fold(f"{wall} fin 2", f"{after} fin", -180.0)
    return tip


def _draw_roof_tab(draft: Draft, lean: float) -> None:
    """Carry the tab up roof and fin, so that the last corner is closed too."""
    last = FOUR_WALLS[-1]
    wedge = wedge_of(draft.sizes, draft.sizes["fin"])
    foot = wedge_of(draft.sizes, draft.sizes["H"])
    draft.panel("tab", TAB, tapered(draft.cell(4, 1), "right", foot, ZERO))
    draft.panel("roof tab", TAB, draft.cell(4, 2))
    draft.panel("fin tab", TAB, tapered(draft.cell(4, 3), "right", ZERO, wedge))
    draft.fold("tab", "roof tab", -lean)
    draft.fold("roof tab", "fin tab", lean)
    draft.fold(f"{last} gusset 2", "roof tab", -180.0)
    draft.fold(f"{last} fin 2", "fin tab", -180.0)
    for part in ("roof", "fin"):
        along = draft.y[3] - draft.y[2] if part == "roof" else draft.y[4] - draft.y[3]
        draft.glue(f"{part} tab", f"front {part}", bead=along)


def _vee_turn(sizes: Sizes) -> float:
    """Return how far a gusset is folded back on the gable, along an arm of the V."""
    half, rise = float(sizes["D"] + sizes["t"]) / 2, float(sizes["G"])
    arm = (half, half, rise)
    under_the_roof = _across((0.0, half, rise), arm)
    on_the_gable = _across((0.0, 2 * half, 0.0), arm)
    cosine = _dot(under_the_roof, on_the_gable) / (
        math.sqrt(_dot(under_the_roof, under_the_roof) * _dot(on_the_gable, on_the_gable))
    )
    return 180 - math.degrees(math.acos(max(-1.0, min(1.0, cosine))))


Vector = tuple[float, float, float]


def _dot(one: Vector, other: Vector) -> float:
    return sum(a * b for a, b in zip(one, other, strict=True))


def _across(vector: Vector, line: Vector) -> Vector:
    share = _dot(vector, line) / _dot(line, line)
    x, y, z = (a - share * b for a, b in zip(vector, line, strict=True))
    return x, y, z


POCKET_BOX = Form(
    "pocket_box",
    "Flat box",
    "A shallow box with dust flaps that closes at the back.",
    (
        size("W", "width"),
        size(
            "d",
            "depth",
            "at most the width W, or the base flaps of the sides hit the opposite wall",
            most=lambda sizes: sizes["W"],
        ),
        size("H", "height"),
        _TAB,
        allowance(
            "tuck",
            "tuck of the closure",
            12,
            Fraction(1, 2),
            "at most the height H",
            most=lambda sizes: sizes["H"],
        ),
        following(
            "dust",
            "length of the dust flaps",
            lambda sizes: min(sizes["d"], dust_flap_max(sizes)),
            "the depth d, at most half the width",
            "at most half the width and at most depth and tuck, or they meet",
            most=dust_flap_max,
        ),
        THICKNESS,
    ),
    _pocket_box,
)
TUCK_BOX = Form(
    "tuck_box",
    "Tuck box",
    "Four walls with closures that tuck in, or with a glued base.",
    (
        size("W", "width"),
        size(
            "D",
            "depth",
            "at most the width W with a glued base, or its side flaps hit the opposite wall",
            most=lambda sizes: sizes["W"] if sizes["glued_base"] else sizes["D"],
        ),
        size("H", "height"),
        _TAB,
        allowance(
            "tuck",
            "tuck of the closures",
            12,
            Fraction(1, 2),
            "at most half the height H, or the two tucks meet",
            most=lambda sizes: sizes["H"] / 2,
        ),
        following(
            "dust",
            "length of the dust flaps",
            dust_flap_max,
            "half the width, at most depth and tuck",
            "at most half the width and at most depth and tuck, or they meet",
            most=dust_flap_max,
        ),
        choice("glued_base", "base glued instead of tucked"),
        choice("reverse", "bottom closure on the front"),
        THICKNESS,
    ),
    _tuck_box,
)
GABLE_BOX = Form(
    "gable_box",
    "Gable box",
    "A carton with a pitched roof and a fin along the ridge.",
    (
        size("W", "width"),
        size(
            "D",
            "depth",
            "at most the width W, or the gusset tips meet under the ridge",
            most=lambda sizes: sizes["W"],
        ),
        size("H", "height"),
        size("G", "rise of the roof"),
        allowance("fin", "fin along the ridge", 15, Fraction(5, 8)),
        _TAB,
        replace(
            THICKNESS,
            limit="at most 1 mm: the roof lies in three layers, too stiff in thicker board",
            most=lambda sizes: sizes.mm(1),
        ),
    ),
    _gable_box,
)
FORMS = (POCKET_BOX, TUCK_BOX, GABLE_BOX)
