"""Bags: the body in two pieces or in one, and the strip that closes them."""

from fractions import Fraction

from catalogue.calc.flat_patterns.asking import THICKNESS, allowance, choice, following, size, tab
from catalogue.calc.flat_patterns.draft import FLAP, LID, TAB, Draft
from catalogue.calc.flat_patterns.hanging import draw_edge, edge_inputs, is_curved, say_edge
from catalogue.calc.flat_patterns.numbers import said
from catalogue.calc.flat_patterns.pattern import (
    ZERO,
    FlatPattern,
    Form,
    FormInput,
    Point,
    Sizes,
    StrokeKind,
)
from catalogue.calc.flat_patterns.tubes import (
    FOUR_WALLS,
    FOUR_WALLS_STEP,
    SIDES_FIRST,
    draw_flap,
    draw_glued_base,
    draw_walls,
    four_widths,
)
from catalogue.calc.flat_patterns.words import (
    CAUTIONS,
    CUT_AND_SCORE,
    DECORATE_FIRST,
    DRY,
    LOAD,
)

_DEPTH = size(
    "D",
    "depth",
    "no more than the width W, or the side flaps will meet the wall",
    most=lambda sizes: sizes["W"],
)
_FLAP = following(
    "B",
    "depth of the base flaps",
    lambda sizes: sizes["D"],
    "the depth D; D/2 and a lap when the sheet is too short, with a base card",
    "at least half the depth and at most the depth D: less leaves a hole, more hits the wall",
    least=lambda sizes: sizes["D"] / 2,
    most=lambda sizes: sizes["D"],
)
_HEM = allowance(
    "hem",
    "hem folded in at the top",
    0,
    0,
    "at most half the height",
    most=lambda sizes: sizes["H"] / 2,
    may_be_zero=True,
)
_TAB = tab("at most the width W, the panel it is glued behind", most=lambda sizes: sizes["W"])


def _hem_strip(sizes: Sizes) -> tuple[Fraction, ...]:
    return (sizes["hem"],) if sizes["hem"] else ()


def _draw_hem(draft: Draft, walls: tuple[str, ...]) -> None:
    if not draft.sizes["hem"]:
        return
    for column, wall in enumerate(walls):
        draw_flap(draft, f"{wall} hem", wall, column, 2, angle_deg=-180.0)
        draft.glue(f"{wall} hem", wall)


def _say_base(sizes: Sizes) -> list[str]:
    width, depth, flap, unit = sizes["W"], sizes["D"], sizes["B"], sizes.unit
    overlap = 2 * flap - width
    if overlap > 0:
        sides = f"Side flaps overlap by {said(overlap, unit)} in the middle."
    elif overlap == 0:
        sides = "Side flaps meet in the middle."
    else:
        sides = f"Side flaps leave {said(-overlap, unit)} between them, under the back flap."
    if flap == depth:
        return [sides, "The front flap covers the whole base, up to the back wall."]
    return [
        sides,
        f"Front and back flap lap by {said(2 * flap - depth, unit)}; "
        f"lay a base card {said(width, unit)} x {said(depth, unit)} inside.",
    ]


def _outside(sizes: Sizes) -> tuple[Fraction, Fraction, Fraction]:
    twice = 2 * sizes["t"]
    return sizes["W"] + twice, sizes["D"] + twice, sizes["H"] + sizes["t"]


def _two_piece_bag(sizes: Sizes) -> FlatPattern:
    width, depth, height, flap = sizes["W"], sizes["D"], sizes["H"], sizes["B"]
    draft = Draft(sizes)
    draft.lay(across=(width + sizes["t"], depth, sizes["g"]), up=(flap, height, *_hem_strip(sizes)))
    draw_walls(draft, ("front", "side"), 1, onto="bag half/front")
    for column, wall in enumerate(("front", "side")):
        draw_flap(draft, f"{wall} base", wall, column, 0)
    draft.glue("front base", "bag half/side base", bead=draft.x[1] + 2 * draft.y[1])
    _draw_hem(draft, ("front", "side"))
    return draft.finish(
        "bag half",
        count=2,
        grain="upright",
        details={"flap": flap},
        outside=_outside(sizes),
        volume=width * depth * height,
        checks=_say_base(sizes),
        steps=(
            *CUT_AND_SCORE,
            DECORATE_FIRST,
            "Glue each tab behind the front of the other half. Align the halves at the base score: "
            "you can trim an uneven top but not an uneven base.",
            DRY,
            "Base: fold in both side flaps, then the back, last the front, the one that shows.",
        ),
        cautions=(*CAUTIONS, LOAD),
    )


def _one_piece_bag(sizes: Sizes) -> FlatPattern:
    width, depth, height, flap = sizes["W"], sizes["D"], sizes["H"], sizes["B"]
    draft = Draft(sizes)
    draft.lay(
        across=four_widths(width, depth, sizes["g"], sizes["t"]),
        up=(flap, height, *_hem_strip(sizes)),
    )
    draw_walls(draft, FOUR_WALLS, 1)
    draw_glued_base(draft, 0, depth)
    _draw_hem(draft, FOUR_WALLS)
    x, y = draft.x, draft.y
    gussets = ((x[1] + x[2]) / 2, (x[3] + x[4]) / 2)
    if sizes["gusset"]:
        for at in gussets:
            draft.crease("gusset", StrokeKind.VALLEY, Point(at, y[1]), Point(at, y[-1]))
    return draft.finish(
        "bag",
        grain="upright",
        details={"flap": flap},
        marks={"gusset_scores": gussets} if sizes["gusset"] else {},
        outside=_outside(sizes),
        volume=width * depth * height,
        checks=(
            *_say_base(sizes),
            f"Stored flat, the gusset tips keep {said(width - depth, sizes.unit)} between them.",
        ),
        steps=(*CUT_AND_SCORE, DECORATE_FIRST, FOUR_WALLS_STEP, DRY, SIDES_FIRST),
        cautions=(*CAUTIONS, LOAD),
    )


def _bag_lid(sizes: Sizes) -> FlatPattern:
    draft = Draft(sizes)
    draft.lay(across=(sizes["W"],), up=(sizes["lap"], sizes["D"], sizes["drop"]))
    draft.panel("lap", TAB, draft.cell(0, 0))
    draft.panel("top", LID, draft.cell(0, 1))
    details = draw_edge(draft, "drop", FLAP, 0, 2, "top")
    draft.fold("top", "lap", -90.0)
    draft.fold("top", "drop", -90.0)
    draft.glue("lap", "bag/back")
    return draft.finish(
        "lid strip",
        grain="across",
        is_curved=is_curved(sizes),
        details=details,
        checks=(
            f"The lid covers a bag {said(sizes['D'], sizes.unit)} deep.",
            *say_edge(sizes, details),
        ),
        steps=(
            *CUT_AND_SCORE,
            "Glue the lap behind the back wall of the bag, its score level with the rim.",
            "Fold the lid over and let the drop hang in front; fix it with a dot or a ribbon.",
        ),
        cautions=CAUTIONS,
    )


TWO_PIECE_BAG = Form(
    "two_piece_bag",
    "Two-piece bag",
    "Two identical halves glued at the sides.",
    (size("W", "width"), _DEPTH, size("H", "height"), _TAB, _FLAP, _HEM, THICKNESS),
    _two_piece_bag,
)
ONE_PIECE_BAG = Form(
    "one_piece_bag",
    "One-piece bag",
    "Four walls, a tab and base flaps; sides can fold in to store flat.",
    (
        size("W", "width"),
        _DEPTH,
        size("H", "height"),
        _TAB,
        _FLAP,
        _HEM,
        choice("gusset", "middle score in the sides", default=True),
        THICKNESS,
    ),
    _one_piece_bag,
)
BAG_LID = Form(
    "bag_lid",
    "Bag flap",
    "A strip glued behind the back wall that folds over the top and down the front.",
    (
        size("W", "width", is_bound=True),
        size("D", "depth", is_bound=True),
        allowance("lap", "lap on the back wall", 12, Fraction(1, 2)),
        size(
            "drop",
            "drop in front",
            "at most the height H of the bag, or it hangs below the base",
            most=lambda sizes: sizes["H"] or sizes["drop"],
        ),
        FormInput(
            "H",
            "height of the bag",
            ZERO,
            ZERO,
            is_optional=True,
            may_be_zero=True,
            default_note="leave blank to skip the check of the drop",
        ),
        *edge_inputs("W", "drop"),
    ),
    _bag_lid,
)
FORMS = (TWO_PIECE_BAG, ONE_PIECE_BAG, BAG_LID)
