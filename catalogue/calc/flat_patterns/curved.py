"""Forms bent from a sheet: pillow box, cone and cup."""

import math
from fractions import Fraction

from catalogue.calc.flat_patterns.asking import following, size, smallest, tab
from catalogue.calc.flat_patterns.draft import BASE, FLAP, TAB, WALL, Draft, wedge_of
from catalogue.calc.flat_patterns.numbers import hypotenuse, said
from catalogue.calc.flat_patterns.outlines import arc, edge_tab, tapered
from catalogue.calc.flat_patterns.pattern import (
    ZERO,
    FlatPattern,
    Form,
    Outline,
    Point,
    Sizes,
    StrokeKind,
)
from catalogue.calc.flat_patterns.words import (
    CAUTIONS,
    CUT_AND_SCORE,
    DECORATE_FIRST,
    DRY,
    FOOD,
    SMALL_PARTS,
)

_PI = Fraction(math.pi)
_CURVE = "Trace the curved lines from the printed template: no ruler draws them."


def _pillow_box(sizes: Sizes) -> FlatPattern:
    chord, thick, length = sizes["chord"], sizes["T"], sizes["L"]
    radius = (chord**2 + thick**2) / (4 * thick)
    alpha = 2 * math.atan2(float(thick), float(chord))
    panel = 2 * radius * Fraction(alpha)
    draft = Draft(sizes)
    draft.lay(across=(panel, panel, sizes["g"]), up=(thick / 2, length, thick / 2))
    x = draft.x
    # the strip for the curves may have moved to a ruler's mark: they must still fill it
    moved = draft.y[1] / (thick / 2)
    dips = [(at, dip * moved) for at, dip in _dips(draft, radius, alpha)]
    for column, wall in enumerate(("front", "back")):
        places = [(x[column] + (x[1] - x[0]) * at, dip) for at, dip in dips]
        _draw_pillow_wall(draft, wall, places)
    draft.fold("front", "back", -_corner_turn(alpha))
    wedge = wedge_of(sizes, length)
    outline = tapered(draft.cell(2, 1), "right", wedge)
    draft.panel("tab", TAB, outline)
    draft.fold("back", "tab", -_corner_turn(alpha))
    draft.glue("tab", "front")
    a, sin, cos = alpha, math.sin(alpha), math.cos(alpha)
    ends = 2 * sin - 2 / 3 * sin**3 - 2 * cos * (a + sin * cos) + 2 * cos**2 * sin
    volume = radius**2 * Fraction(2 * a - math.sin(2 * a)) * length - 4 * radius**3 * Fraction(ends)
    return draft.finish(
        "pillow box",
        y_scores=(),
        grain="upright",
        is_curved=True,
        details={"panel": panel, "R": radius, "alpha": Fraction(alpha), "rise": thick / 2},
        outside=(chord, thick, length),
        volume=volume,
        checks=(
            "The end scores are cosine curves, so that both end flaps take one shape and nest.",
            f"The corners stand {said(thick / 2, sizes.unit)} from the ends of the blank.",
        ),
        steps=(
            _CURVE,
            *CUT_AND_SCORE,
            DECORATE_FIRST,
            "Glue the tab behind the front, corner on corner.",
            DRY,
            "Press the ends in along their curves: one flap, then the other over it.",
        ),
        cautions=(*CAUTIONS, SMALL_PARTS),
    )


def _corner_turn(alpha: float) -> float:
    """Return the fold at the long corner: two arcs meet there, each at the angle alpha."""
    return 180 - 2 * math.degrees(alpha)


def _dips(draft: Draft, radius: Fraction, alpha: float) -> list[tuple[Fraction, Fraction]]:
    """Return places across a panel (0 to 1) and how far the crease dips in from its corners."""
    # the cosine bends at most like a circle of this radius
    step = math.sqrt(8 * float(draft.chord_error / radius))
    count = 2 * max(2, math.ceil(alpha / step))
    places = []
    for at in range(count + 1):
        angle = alpha * (2 * at / count - 1)
        dip = radius * Fraction(math.cos(angle) - math.cos(alpha))
        places.append((Fraction(at, count), ZERO if at in (0, count) else dip))
    return places


def _draw_pillow_wall(draft: Draft, wall: str, places: list[tuple[Fraction, Fraction]]) -> None:
    foot, head = draft.y[1], draft.y[2]
    low_crease = [Point(x, foot + dip) for x, dip in places]
    low_rim = [Point(x, foot - dip) for x, dip in places]
    high_crease = [Point(x, head - dip) for x, dip in places]
    high_rim = [Point(x, head + dip) for x, dip in places]
    draft.panel(wall, WALL, (*low_crease, *reversed(high_crease)))
    # the crease is 90 degrees in the middle and opens towards the corners
    draft.panel(f"{wall} bottom flap", FLAP, (*low_rim, *reversed(low_crease[1:-1])))
    draft.fold(wall, f"{wall} bottom flap", -90.0)
    draft.panel(f"{wall} top flap", FLAP, (*high_crease, *reversed(high_rim[1:-1])))
    draft.fold(wall, f"{wall} top flap", -90.0)


def _ring(draft: Draft, outer: Fraction, inner: Fraction, theta: float) -> Outline:
    """Return a sector, or a ring cut to an angle, upright about the y axis."""
    centre = Point(ZERO, ZERO)
    start, end = math.pi / 2 - theta / 2, math.pi / 2 + theta / 2
    rim = arc(centre, outer, start, end, draft.chord_error)
    if not inner:
        return (centre, *rim)
    return (*rim, *arc(centre, inner, end, start, draft.chord_error))


def _finish_bent(
    draft: Draft,
    name: str,
    outline: Outline,
    edge: tuple[Point, Point],
    details: dict[str, Fraction],
    *,
    outside: tuple[Fraction, Fraction, Fraction],
    volume: Fraction,
    steps: tuple[str, ...],
    checks: tuple[str, ...],
) -> FlatPattern:
    depth = draft.sizes["g"]
    draft.panel(name, WALL, outline)
    draft.panel("tab", TAB, edge_tab(*edge, depth, depth, depth))
    draft.fold(name, "tab", 0.0, StrokeKind.GUIDE)
    draft.glue("tab", name)
    return draft.finish(
        name,
        blank=draft.shift_to_corner(),
        x_scores=(),
        y_scores=(),
        is_curved=True,
        details=details,
        outside=outside,
        volume=volume,
        checks=checks,
        steps=steps,
        cautions=(*CAUTIONS, FOOD),
    )


def _bend_steps(*last: str) -> tuple[str, ...]:
    return (
        "Cut the blank along the printed template; a hand compass rarely reaches so far.",
        DECORATE_FIRST,
        "Pull it over the edge of a table to curl it, the side that shows outside.",
        "Glue the tab behind the other straight edge, rims level.",
        DRY,
        *last,
    )


def _cone(sizes: Sizes) -> FlatPattern:
    radius, height, unit = sizes["r"], sizes["h"], sizes.unit
    slant = hypotenuse(radius, height)
    theta = 2 * math.pi * float(radius / slant)
    draft = Draft(sizes)
    outline = _ring(draft, slant, ZERO, theta)
    return _finish_bent(
        draft,
        "cone",
        outline,
        (outline[0], outline[1]),
        {
            "slant": slant,
            "angle_deg": 360 * radius / slant,
            "theta": Fraction(theta),
            "tab": sizes["g"],
        },
        outside=(2 * radius, 2 * radius, height),
        volume=_PI * radius**2 * height / 3,
        checks=(f"Compass radius {said(slant, unit)}.",),
        steps=_bend_steps("Stand or hang it so that the point carries no load."),
    )


def _frustum(sizes: Sizes) -> FlatPattern:
    wide, narrow, height, unit = sizes["r1"], sizes["r2"], sizes["h"], sizes.unit
    slant = hypotenuse(height, wide - narrow)
    outer = slant * wide / (wide - narrow)
    inner = outer - slant
    theta = 2 * math.pi * float((wide - narrow) / slant)
    draft = Draft(sizes)
    outline = _ring(draft, outer, inner, theta)
    return _finish_bent(
        draft,
        "cup wall",
        outline,
        (outline[-1], outline[0]),
        {
            "slant": slant,
            "R_outer": outer,
            "R_inner": inner,
            "angle_deg": 360 * (wide - narrow) / slant,
            "theta": Fraction(theta),
            "tab": sizes["g"],
        },
        outside=(2 * wide, 2 * wide, height),
        volume=_PI * height * (wide**2 + wide * narrow + narrow**2) / 3,
        checks=(
            f"Compass radii {said(outer, unit)} and {said(inner, unit)}.",
            "The base is cut apart, by the shape “Cup base”.",
        ),
        steps=_bend_steps("Set the base in from the wide end, its tabs down, and glue them."),
    )


# sides of a base: its corners touch the wall, its edges keep 2 % of the radius from it
_BASE_SIDES = 16


def _base_tab_most(sizes: Sizes) -> Fraction:
    slant = hypotenuse(sizes["h"], sizes["r1"] - sizes["r2"])
    return min(slant / 4, sizes["r2"] / 2)


def _cup_base(sizes: Sizes) -> FlatPattern:
    """Draw the base as it sits one tab up the wall, where the cup is a little wider.

    Its corners, and those of the tabs at the foot, lie on the wall; the sides between are straight.
    """
    narrow, depth, height = sizes["r2"], sizes["g"], sizes["h"]
    half = math.pi / _BASE_SIDES
    widens = sizes["r1"] - narrow
    leans = widens * Fraction(math.cos(half))  # what the middle of a side leans out on its way up
    radius = narrow + widens * depth / hypotenuse(height, leans)
    draft = Draft(sizes)
    # a quarter turned round: opposite sides are exactly level, upright and equal
    away = [radius * Fraction(math.cos((2 * at + 1) * half)) for at in range(_BASE_SIDES // 4)]
    quarter = list(zip(away, reversed(away), strict=True))
    corners = [Point(x, y) for x, y in quarter] + [Point(-y, x) for x, y in quarter]
    corners += [Point(-place.x, -place.y) for place in corners]
    draft.panel("base", BASE, tuple(corners))
    # a tab ends at the foot, where the sides are shorter
    back = (radius - narrow) * Fraction(math.sin(half))
    turn = 90 + math.degrees(math.atan2(float(leans), float(height)))
    for at, start in enumerate(corners):
        end = corners[(at + 1) % _BASE_SIDES]
        name = f"tab {at + 1}"
        draft.panel(name, TAB, edge_tab(start, end, depth, back, back))
        draft.fold("base", name, -turn)
        draft.glue(name, "cup/cup wall")
    return draft.finish(
        "cup base",
        blank=draft.shift_to_corner(),
        x_scores=(),
        y_scores=(),
        details={"radius": radius},
        checks=(
            f"A disc of radius {said(radius, sizes.unit)}, what the cup measures "
            f"{said(depth, sizes.unit)} up its wall; the base stands there, not at the very foot.",
        ),
        steps=(
            "Cut the blank along the printed template.",
            "Score every side of the disc right side up, then cut between the tabs.",
            "Fold all tabs down, spread them and set the base in from the mouth, tabs first, "
            "until they reach the foot.",
            DRY,
        ),
        cautions=(*CAUTIONS, FOOD),
    )


PILLOW_BOX = Form(
    "pillow_box",
    "Pillow box",
    "Two bent panels with curved ends that press in.",
    (
        size("chord", "finished width"),
        size(
            "T",
            "thickness in the middle",
            "at most the finished width: then it is round",
            most=lambda sizes: sizes["chord"],
        ),
        size(
            "L",
            "length from corner to corner",
            "more than the thickness T, or the end curves meet in the middle",
            least=lambda sizes: sizes["T"] + smallest(sizes.unit),
        ),
        tab("at most the finished width", most=lambda sizes: sizes["chord"]),
    ),
    _pillow_box,
)


def _tab_on_slant(sizes: Sizes) -> Fraction:
    return hypotenuse(sizes["r"], sizes["h"]) / 3


def _tab_on_cup(sizes: Sizes) -> Fraction:
    return min(sizes["r2"], hypotenuse(sizes["h"], sizes["r1"] - sizes["r2"]) / 3)


CONE = Form(
    "cone",
    "Cone",
    "A cone, for popcorn or sweets.",
    (
        size("r", "radius of the mouth"),
        size(
            "h",
            "height",
            "at least two thirds of the radius, or no room is left for the tab",
            least=lambda sizes: 2 * sizes["r"] / 3,
        ),
        following(
            "g",
            "glue tab",
            lambda sizes: min(sizes.either(10, Fraction(3, 8)), _tab_on_slant(sizes)),
            "10 mm or 3/8 in, less on a small cone",
            "at most a third of the slant",
            most=_tab_on_slant,
        ),
    ),
    _cone,
)
FRUSTUM = Form(
    "frustum",
    "Cup",
    "A tapered cup: wide at the top, narrow at the foot.",
    (
        size("r1", "radius of the mouth"),
        size(
            "r2",
            "radius of the foot",
            "at most 98% of the mouth: a straight cup is a plain strip",
            most=lambda sizes: sizes["r1"] * 49 / 50,
        ),
        size(
            "h",
            "height",
            "at least two thirds of what the radius loses, or no room is left for the tab",
            least=lambda sizes: 2 * (sizes["r1"] - sizes["r2"]) / 3,
        ),
        following(
            "g",
            "glue tab",
            lambda sizes: min(sizes.either(10, Fraction(3, 8)), _tab_on_cup(sizes)),
            "10 mm or 3/8 in, less on a small cup",
            "at most the radius of the foot and a third of the slant",
            most=_tab_on_cup,
        ),
    ),
    _frustum,
)
CUP_BASE = Form(
    "cup_base",
    "Cup base",
    "A disc with tabs that fold down inside the wall. Enter the cup's sizes.",
    (
        size("r1", "radius of the mouth", is_bound=True),
        size(
            "r2",
            "radius of the foot",
            "at most the radius of the mouth",
            most=lambda sizes: sizes["r1"],
            is_bound=True,
        ),
        size("h", "height of the cup", is_bound=True),
        following(
            "g",
            "tabs",
            lambda sizes: min(sizes.either(8, Fraction(5, 16)), _base_tab_most(sizes)),
            "8 mm or 5/16 in, less in a small cup",
            "at most a quarter of the slant and half the radius of the foot",
            most=_base_tab_most,
        ),
    ),
    _cup_base,
)
FORMS = (PILLOW_BOX, CONE, FRUSTUM, CUP_BASE)
