"""Pointed forms: tent box, pyramid and four-sided pouch."""

import math
from fractions import Fraction

from catalogue.calc.flat_patterns.asking import following, size
from catalogue.calc.flat_patterns.draft import BASE, FLAP, TAB, WALL, Draft, wedge_of
from catalogue.calc.flat_patterns.numbers import hypotenuse, root, said
from catalogue.calc.flat_patterns.outlines import edge_tab, rectangle, tapered
from catalogue.calc.flat_patterns.pattern import FlatPattern, Form, Point, Sizes, StrokeKind
from catalogue.calc.flat_patterns.words import (
    CAUTIONS,
    CUT_AND_SCORE,
    DECORATE_FIRST,
    DRY,
    FOOD,
    SMALL_PARTS,
)


def _degrees(rise: Fraction, run: Fraction) -> float:
    return math.degrees(math.atan2(float(rise), float(run)))


def _tent_box(sizes: Sizes) -> FlatPattern:
    draft = Draft(sizes)
    # the slope follows from these, so that the ends keep the same edge as the roof
    base, height, length, depth = (draft.on_ruler(sizes[name]) for name in ("B", "Ht", "L", "g"))
    slope = hypotenuse(base / 2, height)
    angle = _degrees(height, base / 2)
    draft.lay_exactly(across=(slope, base, slope, depth), up=(height, length, height))
    for column, name in enumerate(("left slope", "base", "right slope")):
        draft.panel(name, BASE if name == "base" else WALL, draft.cell(column, 1))
    draft.fold("left slope", "base", angle - 180)
    draft.fold("base", "right slope", angle - 180)
    wedge = wedge_of(sizes, length)
    draft.panel("ridge tab", TAB, tapered(draft.cell(3, 1), "right", wedge))
    draft.fold("right slope", "ridge tab", -2 * angle)
    draft.glue("ridge tab", "left slope")
    _draw_tent_ends(draft, base, height)
    return draft.finish(
        "tent box",
        x_scores=draft.x[1:-1],
        details={"slope": slope, "base_angle": Fraction(angle)},
        outside=(base, length, height),
        volume=base * height * length / 2,
        checks=(f"Each slope is {said(slope, sizes.unit)}, the edge of the end triangles.",),
        steps=(
            *CUT_AND_SCORE,
            DECORATE_FIRST,
            "Glue the ridge tab behind the left slope.",
            DRY,
            "Fold the ends up and glue their tabs inside the slopes; fill it before the last end.",
        ),
        cautions=CAUTIONS,
    )


def _tent_tab_back(base: Fraction, height: Fraction, depth: Fraction) -> Fraction:
    """Return how far a tab keeps from the point, so that it stays on the blank."""
    return depth * max(Fraction(1), base / (2 * height))


def _draw_tent_ends(draft: Draft, base: Fraction, height: Fraction) -> None:
    x, y, depth = draft.x, draft.y, draft.sizes["g"]
    back = _tent_tab_back(base, height, depth)
    middle = (x[1] + x[2]) / 2
    ends = (
        ("front end", Point(x[2], y[1]), Point(x[1], y[1]), Point(middle, y[0])),
        ("back end", Point(x[1], y[2]), Point(x[2], y[2]), Point(middle, y[3])),
    )
    for name, start, end, tip in ends:
        draft.panel(name, WALL, (start, end, tip))
        draft.fold("base", name, -90.0)
        first = "right" if end.x > start.x else "left"
        second = "left" if first == "right" else "right"
        draft.panel(f"{name} {first} tab", TAB, edge_tab(end, tip, depth, depth, back))
        draft.panel(f"{name} {second} tab", TAB, edge_tab(tip, start, depth, back, depth))
        for side in (first, second):
            draft.fold(name, f"{name} {side} tab", -90.0)
            draft.glue(f"{name} {side} tab", f"{side} slope")


def _tent_tab_most(sizes: Sizes) -> Fraction:
    slope = hypotenuse(sizes["B"] / 2, sizes["Ht"])
    spread = 1 + _tent_tab_back(sizes["B"], sizes["Ht"], Fraction(1))
    return min(slope / spread, sizes["L"] / 2)


def _pyramid(sizes: Sizes) -> FlatPattern:
    base, height, depth = sizes["a"], sizes["Ht"], sizes["g"]
    slant = hypotenuse(base / 2, height)
    draft = Draft(sizes)
    draft.lay(across=(slant, base, slant), up=(slant, base, slant))
    x, y = draft.x, draft.y
    draft.panel("base", BASE, draft.cell(1, 1))
    middle_x, middle_y = (x[1] + x[2]) / 2, (y[1] + y[2]) / 2
    corners = (Point(x[1], y[1]), Point(x[2], y[1]), Point(x[2], y[2]), Point(x[1], y[2]))
    tips = (
        Point(middle_x, y[0]),
        Point(x[3], middle_y),
        Point(middle_x, y[3]),
        Point(x[0], middle_y),
    )
    names = ("front", "right", "back", "left")
    back = depth * _pyramid_tip_back(base, slant)
    # the turn between two faces, from the angle of what stands upright on them
    turn = math.degrees(math.acos(float((base / 2) ** 2 / slant**2)))
    for at, name in enumerate(names):
        start, end, tip = corners[at], corners[(at + 1) % 4], tips[at]
        draft.panel(name, WALL, (end, start, tip))
        draft.fold("base", name, _degrees(height, base / 2) - 180)
        following = names[(at + 1) % 4]
        draft.panel(f"{name} tab", TAB, edge_tab(tip, end, depth, back, depth))
        draft.fold(name, f"{name} tab", -turn)
        draft.glue(f"{name} tab", following)
    return draft.finish(
        "pyramid",
        x_scores=x[1:-1],
        y_scores=y[1:-1],
        details={"slant": slant},
        outside=(base, base, height),
        volume=base**2 * height / 3,
        checks=("Tabs lie in the corners of the blank and do not enlarge it.",),
        steps=(
            *CUT_AND_SCORE,
            DECORATE_FIRST,
            "Glue three tabs behind the face that follows, from the base up.",
            DRY,
            "Leave the last face open to fill it; close it with glue, a dot or a ribbon.",
        ),
        cautions=CAUTIONS,
    )


def _pyramid_tip_back(base: Fraction, slant: Fraction) -> Fraction:
    """Return how far a tab keeps from the point for each unit of its depth.

    The face it is glued behind is narrow there: its angle at the point is the limit.
    """
    return max(Fraction(1), slant / base - base / (4 * slant))


def _pyramid_tab_most(sizes: Sizes) -> Fraction:
    slant = hypotenuse(sizes["a"] / 2, sizes["Ht"])
    edge = hypotenuse(slant, sizes["a"] / 2)
    return edge / (1 + _pyramid_tip_back(sizes["a"], slant))


def _tetra_pouch(sizes: Sizes) -> FlatPattern:
    draft = Draft(sizes)
    width, height, seal = sizes["w"], sizes["h"], sizes["seal"]
    draft.lay(across=(width, width, sizes["g"]), up=(seal, height, seal))
    x, y = draft.x, draft.y
    width, height = x[1], y[2] - y[1]
    tall = root(height**2 - width**2 / 4)
    foot = [Point(at, y[1]) for at in x[:3]]
    head = [Point(at, y[2]) for at in (x[0], x[1] / 2, x[1], (x[1] + x[2]) / 2, x[2])]
    draft.panel("front", WALL, (foot[0], foot[1], head[1]))
    draft.panel("right", WALL, (foot[1], head[3], head[2], head[1]))
    draft.panel("back", WALL, (foot[1], foot[2], head[3]))
    draft.panel("left, near half", WALL, (foot[0], head[1], head[0]))
    draft.panel("left, far half", WALL, (foot[2], head[4], head[3]))
    # any two faces of the pouch meet at one of two angles
    side, edge = _tetra_turns(width, tall)
    draft.fold("front", "right", -side)
    draft.fold("right", "back", -side)
    draft.fold("front", "left, near half", -side)
    draft.fold("back", "left, far half", -side)
    for name, left, right in (("front", x[0], x[1]), ("back", x[1], x[2])):
        draft.panel(f"{name} bottom seal", FLAP, rectangle(left, y[0], right, y[1]))
        draft.fold(name, f"{name} bottom seal", edge)
    draft.fold("front bottom seal", "back bottom seal", -180.0)
    draft.glue("front bottom seal", "back bottom seal")
    _draw_top_seal(draft, head, edge)
    wedge = wedge_of(sizes, height)
    # the half face it is glued behind starts as a point at the bottom
    foot_back = max(wedge, (x[3] - x[2]) * 2 * height / width)
    draft.panel("tab", TAB, tapered(draft.cell(2, 1), "right", foot_back, wedge))
    draft.fold("left, far half", "tab", 0.0, StrokeKind.MOUNTAIN)
    draft.glue("tab", "left, near half")
    draft.crease("side", StrokeKind.MOUNTAIN, foot[1], head[2])
    return draft.finish(
        "tetra pouch",
        x_scores=x[1:-1],
        grain="upright",
        outside=(width, width, tall),
        volume=width**2 * tall / 6,
        checks=(
            "The seals lie at right angles to each other.",
            f"It is regular when h is {said(root(width**2 * 3 / 4), sizes.unit)}.",
        ),
        steps=(
            *CUT_AND_SCORE,
            DECORATE_FIRST,
            "Glue the tab behind the other edge: a flat tube.",
            "Press the bottom flat and glue or tape its seal.",
            "Fill it, press the top flat at right angles to the bottom, and close its seal.",
        ),
        cautions=(*CAUTIONS, FOOD, SMALL_PARTS),
    )


def _draw_top_seal(draft: Draft, head: list[Point], edge: float) -> None:
    """Draw the seal across the top: the halves beside the seam are pressed on the middle."""
    top = draft.y[3]
    parts = (
        ("top seal, near half", "left, near half", head[0], head[1]),
        ("top seal, middle", "right", head[1], head[3]),
        ("top seal, far half", "left, far half", head[3], head[4]),
    )
    for name, onto, left, right in parts:
        draft.panel(name, FLAP, rectangle(left.x, left.y, right.x, top))
        draft.fold(onto, name, edge)
    draft.fold("top seal, middle", "top seal, near half", -180.0)
    draft.fold("top seal, middle", "top seal, far half", -180.0)
    for side, left, right in (("near", head[1], head[2]), ("far", head[2], head[3])):
        half = rectangle(left.x, left.y, right.x, top)
        draft.glue(
            "top seal, middle", f"top seal, {side} half", outline=half, bead=right.x - left.x
        )


def _tetra_turns(width: Fraction, tall: Fraction) -> tuple[float, float]:
    """Return the folds between faces that share a slanting edge, and at a seal."""
    half, rise = float(width) / 2, float(tall)
    # faces lean by half / rise: their outward directions are (0, +-rise, half), (+-rise, 0, -half)
    cosine = -(half**2) / (rise**2 + half**2)
    return math.degrees(math.acos(cosine)), math.degrees(math.atan2(half, rise))


TENT_BOX = Form(
    "tent_box",
    "Tent box",
    "A triangular prism: base, two slopes, two end triangles.",
    (
        size("B", "width of the base"),
        size("Ht", "height of the ridge"),
        size("L", "length"),
        following(
            "g",
            "glue tabs",
            lambda sizes: min(sizes.either(10, Fraction(3, 8)), _tent_tab_most(sizes)),
            "10 mm or 3/8 in, less on a small box",
            "at most half the length and what the edge of the end leaves room for",
            most=_tent_tab_most,
        ),
    ),
    _tent_box,
)
PYRAMID = Form(
    "pyramid",
    "Pyramid",
    "A square base and four faces that meet in a point.",
    (
        size("a", "side of the base"),
        size("Ht", "height"),
        following(
            "g",
            "glue tabs",
            lambda sizes: min(sizes.either(8, Fraction(5, 16)), _pyramid_tab_most(sizes)),
            "8 mm or 5/16 in, less on a small pyramid",
            "at most what the edge of a face leaves room for",
            most=_pyramid_tab_most,
        ),
    ),
    _pyramid,
)
TETRA_POUCH = Form(
    "tetra_pouch",
    "Crossed-seal pouch",
    "A tube whose top seal runs across its bottom seal.",
    (
        size("w", "width of the flat tube"),
        size(
            "h",
            "height between the seals",
            "more than half the width w, or the pouch has no depth",
            least=lambda sizes: sizes["w"] * 51 / 100,
        ),
        following(
            "g",
            "glue tab",
            lambda sizes: min(sizes.either(10, Fraction(3, 8)), sizes["w"] / 4),
            "10 mm or 3/8 in, less on a small pouch",
            "at most a quarter of the width, the half face it is glued behind",
            most=lambda sizes: sizes["w"] / 4,
        ),
        following(
            "seal",
            "depth of the seals",
            lambda sizes: min(sizes.either(10, Fraction(3, 8)), sizes["h"]),
            "10 mm or 3/8 in",
            "at most the height h",
            most=lambda sizes: sizes["h"],
        ),
    ),
    _tetra_pouch,
)
FORMS = (TENT_BOX, PYRAMID, TETRA_POUCH)
