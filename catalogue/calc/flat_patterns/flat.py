"""Flat things and strips: tag, band, covered board, small parts of bags and boxes."""

import math
from dataclasses import replace
from fractions import Fraction

from catalogue.calc.flat_patterns.asking import (
    CLEARANCE,
    THICKNESS,
    allowance,
    choice,
    size,
)
from catalogue.calc.flat_patterns.draft import BASE, FLAP, TAB, WALL, Draft
from catalogue.calc.flat_patterns.hanging import draw_edge, edge_inputs, is_curved, say_edge
from catalogue.calc.flat_patterns.numbers import root, said
from catalogue.calc.flat_patterns.outlines import arc
from catalogue.calc.flat_patterns.pattern import (
    ZERO,
    FlatPattern,
    Form,
    FormInput,
    Point,
    Sizes,
    StrokeKind,
)
from catalogue.calc.flat_patterns.tubes import draw_walls
from catalogue.calc.flat_patterns.words import (
    BLADE,
    CAUTIONS,
    CORD,
    CUT_AND_SCORE,
    DECORATE_FIRST,
    DRY,
    LOAD,
    SMALL_PARTS,
)


def _hole_margin(sizes: Sizes) -> Fraction:
    """Return how far a hole's centre keeps from the edge: its diameter and 3 mm or 1/8 in.

    Common practice, no source.
    """
    return sizes["hole"] + sizes.either(3, Fraction(1, 8))


def _hole_most(sizes: Sizes) -> Fraction:
    return min(sizes["w"], sizes["h"]) / 2 - sizes.either(3, Fraction(1, 8))


def _tag(sizes: Sizes) -> FlatPattern:
    is_folded = bool(sizes["folded"])
    draft = Draft(sizes)
    draft.lay(across=(sizes["w"],), up=(sizes["h"],) * (2 if is_folded else 1))
    draft.panel("front", WALL, draft.cell(0, 0))
    top = draft.y[1]
    if is_folded:
        draft.panel("back", WALL, draft.cell(0, 1))
        draft.fold("front", "back", -180.0)
    if sizes["hole"]:
        margin = _hole_margin(sizes)
        for y in (top - margin, top + margin)[: 2 if is_folded else 1]:
            centre = Point(draft.x[1] / 2, y)
            ring = arc(centre, sizes["hole"] / 2, 0.0, 2 * math.pi, draft.chord_error)
            draft.opening(tuple(ring[:-1]))
    checks = []
    if sizes["hole"]:
        checks.append(f"The hole's centre is {said(_hole_margin(sizes), sizes.unit)} from the top.")
    return draft.finish(
        "tag",
        checks=checks,
        steps=(
            "Cut the tag" + (", score it across the middle and fold it." if is_folded else "."),
            *(("Punch the hole before the ribbon goes on.",) if sizes["hole"] else ()),
        ),
        cautions=(BLADE, SMALL_PARTS, CORD),
    )


def _belly_band(sizes: Sizes) -> FlatPattern:
    wide, deep = sizes["W"] + sizes["t"], sizes["D"] + sizes["t"]
    draft = Draft(sizes)
    draft.lay(across=(wide, deep, wide, deep, sizes["lap"]), up=(sizes["height"],))
    draw_walls(draft, ("front", "right side", "back", "left side"), 0)
    return draft.finish(
        "band",
        grain="upright",
        details={"perimeter": draft.x[4]},
        outside=(wide + sizes["t"], deep + sizes["t"], sizes["height"]),
        checks=("W and D are the outside of what it goes round.",),
        steps=(
            *CUT_AND_SCORE,
            DECORATE_FIRST,
            "Wrap it around the item and glue the overlap at a corner fold.",
        ),
        cautions=CAUTIONS,
    )


def _board_wrap(sizes: Sizes) -> FlatPattern:
    board, turn = sizes["T"], sizes["turn"]
    draft = Draft(sizes)
    draft.lay(
        across=(board + turn, sizes["w"], board + turn), up=(board + turn, sizes["h"], board + turn)
    )
    # the corner is cut across, this far off the corner of the board (bookbinding practice, no
    # source)
    mitre = 3 * board / 2
    leg = mitre * root(Fraction(2))
    (x0, x1, x2, x3), (y0, y1, y2, y3) = draft.x, draft.y
    cut = x1 + y1 - leg
    draft.panel("face", BASE, draft.cell(1, 1))
    for name, edge, far, sign in (("bottom", y1, y0, 1), ("top", y2, y3, -1)):
        inner = edge - leg * sign
        outline = _places(
            (cut, far), (x3 - cut, far), (x2, inner), (x2, edge), (x1, edge), (x1, inner)
        )
        _turn_in(draft, name, outline[::sign])
    for name, edge, far, sign in (("right", x2, x3, 1), ("left", x1, x0, -1)):
        inner = edge + leg * sign
        outline = _places(
            (edge, y1), (inner, y1), (far, cut), (far, y3 - cut), (inner, y2), (edge, y2)
        )
        _turn_in(draft, name, outline[::sign])
        for other, level, up in (("bottom", y1, -leg), ("top", y2, leg)):
            ear = _places((edge, level), (edge, level + up), (inner, level))
            way = sign if other == "bottom" else -sign
            _tuck_ear(draft, name, other, ear[::way])
    draft.glue("face", "board", bead=2 * (x2 - x1 + y2 - y1))
    return draft.finish(
        "cover",
        x_scores=draft.x[1:-1],
        y_scores=draft.y[1:-1],
        details={"mitre_gap": mitre},
        outside=(sizes["w"], sizes["h"], board),
        checks=(f"Corners are cut across {said(mitre, sizes.unit)} off the board.",),
        steps=(
            "Spread the back, lay the board on it and rub it down from the middle.",
            "Cut the corners across, then turn in top and bottom and tuck the ears in.",
            "Turn in the sides, rub down and dry it under a weight.",
        ),
        cautions=(BLADE,),
    )


def _places(*places: tuple[Fraction, Fraction]) -> tuple[Point, ...]:
    return tuple(Point(x, y) for x, y in places)


def _turn_in(draft: Draft, side: str, outline: tuple[Point, ...]) -> None:
    draft.panel(f"{side} turn-in", FLAP, outline)
    draft.fold("face", f"{side} turn-in", -180.0)
    draft.glue(f"{side} turn-in", "board")


def _tuck_ear(draft: Draft, side: str, other: str, outline: tuple[Point, ...]) -> None:
    """Draw what is left at a corner: it goes in with top or bottom, then back under the side."""
    name = f"{other} {side} ear"
    draft.panel(name, TAB, outline)
    draft.fold(f"{side} turn-in", name, -180.0)
    draft.fold(f"{other} turn-in", name, 180.0)


def _decorative_panel(sizes: Sizes) -> FlatPattern:
    draft = Draft(sizes)
    border = sizes["border"]
    draft.lay(across=(sizes["w"] - 2 * border,), up=(sizes["h"] - 2 * border,))
    draft.panel("panel", WALL, draft.cell(0, 0))
    draft.glue("panel", "face", bead=2 * (draft.x[1] + draft.y[1]))
    return draft.finish(
        "panel",
        checks=(f"It leaves {said(border, sizes.unit)} of the face on every side.",),
        steps=("Cut it, decorate it, then glue it on before assembly.",),
        cautions=CAUTIONS,
    )


def _flap_extension(sizes: Sizes) -> FlatPattern:
    draft = Draft(sizes)
    draft.lay(across=(sizes["W"],), up=(sizes["reach"], sizes["tuck"]))
    details = draw_edge(draft, "reach", WALL, 0, 0, "bottom")
    draft.panel("glued part", TAB, draft.cell(0, 1))
    # one flat strip: the line between the two parts is not folded
    draft.fold("reach", "glued part", 0.0, StrokeKind.GUIDE)
    draft.glue("glued part", "box/top tuck", on_back=True)
    return draft.finish(
        "flap extension",
        y_scores=(),
        is_curved=is_curved(sizes),
        details=details,
        checks=(
            *say_edge(sizes, details),
            f"It covers a tuck of {said(sizes['tuck'], sizes.unit)}.",
        ),
        steps=(
            "Glue it over the tuck, edge on the score, so that the flap reaches down the front.",
        ),
        cautions=CAUTIONS,
    )


def _handle_strip(sizes: Sizes) -> FlatPattern:
    strips, lap = sizes["strips"], sizes["lap"]
    each = (sizes["length"] + (strips - 1) * lap) / strips
    draft = Draft(sizes)
    draft.lay(across=(each,), up=(sizes["width"],))
    draft.panel("strip", WALL, draft.cell(0, 0))
    if strips > 1:
        x, y = draft.x[1], draft.y[1]
        end = (Point(x - lap, ZERO), Point(x, ZERO), Point(x, y), Point(x - lap, y))
        draft.glue("strip", "handle strip/strip", outline=end, bead=y)
    joined = f"{strips} strips lapped by {said(lap, sizes.unit)}, joined in the middle."
    return draft.finish(
        "handle strip",
        count=int(strips),
        grain="across",
        checks=(joined if strips > 1 else "One strip without a join.",),
        steps=(
            *(("Lap the strips and glue them; trim both ends equally.", DRY) if strips > 1 else ()),
            "Fix both ends inside the walls, under a patch of card.",
        ),
        cautions=(*CAUTIONS, LOAD, CORD),
    )


def _base_card(sizes: Sizes) -> FlatPattern:
    draft = Draft(sizes)
    draft.lay(across=(sizes["W"] - 2 * sizes["c"],), up=(sizes["D"] - 2 * sizes["c"],))
    draft.panel("card", BASE, draft.cell(0, 0))
    return draft.finish(
        "base card",
        checks=(f"It keeps {said(sizes['c'], sizes.unit)} from every wall.",),
        steps=("Lay it on the folded base inside the bag.",),
        cautions=(BLADE,),
    )


TAG = Form(
    "tag",
    "Tag",
    "A card with a hole, single or folded across the top.",
    (
        size("w", "width"),
        size("h", "height"),
        choice("folded", "folded: two leaves"),
        allowance(
            "hole",
            "diameter of the hole",
            0,
            0,
            "so small that its centre keeps its diameter and 3 mm or 1/8 in from every edge",
            most=_hole_most,
            may_be_zero=True,
        ),
    ),
    _tag,
)
BELLY_BAND = Form(
    "belly_band",
    "Band",
    "A band around a finished box or bag.",
    (
        size("W", "outside width of what it goes round", is_bound=True),
        size("D", "outside depth of what it goes round", is_bound=True),
        size("height", "height of the band"),
        allowance(
            "lap",
            "lap where it closes",
            12,
            Fraction(1, 2),
            "at most the width W",
            most=lambda sizes: sizes["W"],
        ),
        THICKNESS,
    ),
    _belly_band,
)
BOARD_WRAP = Form(
    "board_wrap",
    "Board cover",
    "Paper glued on a board and turned in around its edges.",
    (
        size("w", "width of the board"),
        size("h", "height of the board"),
        size(
            "T",
            "thickness of the board",
            "at most a fifth of the shorter side",
            most=lambda sizes: min(sizes["w"], sizes["h"]) / 5,
            is_bound=True,
        ),
        allowance(
            "turn",
            "turn-in",
            15,
            Fraction(5, 8),
            "at least 1.2 times the board, and less than half the shorter side",
            least=lambda sizes: sizes["T"] * 6 / 5,
            most=lambda sizes: min(sizes["w"], sizes["h"]) / 2 - sizes["T"],
        ),
    ),
    _board_wrap,
)
DECORATIVE_PANEL = Form(
    "decorative_panel",
    "Face panel",
    "A decorated card with a border of the face around it.",
    (
        size("w", "width of the face", is_bound=True),
        size("h", "height of the face", is_bound=True),
        # 3 mm or 1/8 in on each side (common practice, no source)
        allowance(
            "border",
            "border on each side",
            3,
            Fraction(1, 8),
            "less than half the shorter side",
            most=lambda sizes: min(sizes["w"], sizes["h"]) * 2 / 5,
            may_be_zero=True,
        ),
    ),
    _decorative_panel,
)
FLAP_EXTENSION = Form(
    "flap_extension",
    "Flap extension",
    "A strip glued over a tuck, so the flap reaches down the front.",
    (
        size("W", "width", is_bound=True),
        size("tuck", "tuck it covers", is_bound=True),
        size("reach", "reach below the tuck"),
        *edge_inputs("W", "reach"),
    ),
    _flap_extension,
)
HANDLE_STRIP = Form(
    "handle_strip",
    "Handle strip",
    "A strip, joined in the middle if longer than the sheet.",
    (
        size("length", "length before trimming"),
        # what the hand holds: a narrower one cuts into it
        size("width", "width", is_bound=True),
        FormInput(
            "strips",
            "number of strips",
            Fraction(1),
            Fraction(1),
            is_optional=True,
            group="allowance",
            limit="a whole number from 1 to 100",
            is_count=True,
        ),
        allowance(
            "lap",
            "lap of a join",
            12,
            Fraction(1, 2),
            "at most a quarter of the length of one strip",
            most=lambda sizes: sizes["length"] / sizes["strips"] / 4,
        ),
    ),
    _handle_strip,
)
BASE_CARD = Form(
    "base_card",
    "Bag base card",
    "A card for the base, needed where base flaps only overlap.",
    (
        size("W", "inside width of the bag", is_bound=True),
        size("D", "inside depth of the bag", is_bound=True),
        replace(
            CLEARANCE,
            limit="less than half the shorter side",
            most=lambda sizes: min(sizes["W"], sizes["D"]) * 2 / 5,
        ),
    ),
    _base_card,
)
FORMS = (
    TAG,
    BELLY_BAND,
    BOARD_WRAP,
    DECORATIVE_PANEL,
    FLAP_EXTENSION,
    HANDLE_STRIP,
    BASE_CARD,
)
