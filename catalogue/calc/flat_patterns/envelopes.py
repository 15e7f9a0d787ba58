"""Envelopes: a straight wallet, and one folded from a square laid on its corner."""

from fractions import Fraction

from catalogue.calc.flat_patterns.asking import allowance, size, smallest, tab
from catalogue.calc.flat_patterns.draft import BASE, FLAP, LID, TAB, WALL, Draft, wedge_of
from catalogue.calc.flat_patterns.hanging import draw_edge, edge_inputs, is_curved, say_edge
from catalogue.calc.flat_patterns.numbers import root, said
from catalogue.calc.flat_patterns.outlines import rectangle, tapered
from catalogue.calc.flat_patterns.pattern import ZERO, FlatPattern, Form, Point, Sizes
from catalogue.calc.flat_patterns.words import CAUTIONS, CUT_AND_SCORE, DECORATE_FIRST, DRY


def _wallet(sizes: Sizes) -> FlatPattern:
    width, height, flap, depth = (sizes[name] for name in ("w", "h", "flap", "g"))
    draft = Draft(sizes)
    draft.lay(across=(depth, width, depth), up=(height, height, flap))
    draft.panel("back", BASE, draft.cell(1, 1))
    draft.panel("front", WALL, draft.cell(1, 0))
    draft.fold("back", "front", -180.0)
    details = draw_edge(draft, "flap", LID, 1, 2, "top")
    draft.fold("back", "flap", -180.0)
    wedge = wedge_of(sizes, height)
    for column, side in ((0, "left"), (2, "right")):
        draft.panel(f"{side} tab", TAB, tapered(draft.cell(column, 1), side, wedge))
        draft.fold("back", f"{side} tab", -180.0)
        draft.glue(f"{side} tab", "front")
    return draft.finish(
        "wallet",
        grain="across",
        is_curved=is_curved(sizes),
        details=details,
        checks=(
            *say_edge(sizes, details),
            f"The flap leaves {said(height - flap, sizes.unit)} of the front open to view.",
            "Something stiff inside needs room: make it 3 mm or 1/8 in wider than the card.",
        ),
        steps=(
            *CUT_AND_SCORE,
            DECORATE_FIRST,
            "Turn in the side tabs, spread them and fold the front up onto them.",
            DRY,
            "Fold the flap over; close it with a dot, a band or a slot.",
        ),
        cautions=CAUTIONS,
    )


def _diagonal_envelope(sizes: Sizes) -> FlatPattern:
    width, height, notch = sizes["w"], sizes["h"], sizes["a"]
    half_root = root(Fraction(1, 2))
    draft = Draft(sizes)
    # what every edge of the square is made of: one leg of a side flap, the notch, one leg of a
    # top or bottom flap
    edge = (height * half_root, notch, width * half_root)
    draft.lay(across=edge, up=edge)
    _, near, far, side = draft.x
    deep = far - near  # the notch, as laid
    notches = _draw_diagonal_flaps(draft, near, far, side)
    draft.panel("back", BASE, notches)
    for flap in ("left flap", "bottom flap", "right flap", "top flap"):
        draft.fold("back", flap, -180.0)
    strip = min(deep, sizes.mm(10), near)
    reach = min(far + near, side - strip)  # short of the strip round the corner
    draft.glue(
        "bottom flap",
        "left flap",
        outline=rectangle(far, ZERO, reach, strip),
        bead=reach - far,
    )
    draft.glue(
        "bottom flap",
        "right flap",
        outline=rectangle(side - strip, side - far - near, side, side - far),
        bead=near,
    )
    side_flap, top_flap = height / 2 + notch * half_root, width / 2 + notch * half_root
    overlap = width - height + 2 * notch * half_root
    return draft.finish(
        "envelope",
        x_scores=(),
        y_scores=(),
        details={
            "side": side,
            "side_flap": side_flap,
            "top_flap": top_flap,
            "meet_overlap": overlap,
        },
        marks={"edge_marks": (near, far)},
        checks=(
            f"Top and bottom flap overlap by {said(overlap, sizes.unit)}.",
            "The four flaps cover the pocket completely.",
        ),
        steps=(
            "Cut the square. On every edge make both marks, from the two corners that become "
            "the side flaps.",
            "Score from mark to mark, then cut out the notches between the marks.",
            DECORATE_FIRST,
            "Fold in the side flaps, spread both edges of the bottom flap, fold it up.",
            DRY,
            "Fold the top flap down; close it when it is filled.",
        ),
        cautions=CAUTIONS,
    )


def _draw_diagonal_flaps(
    draft: Draft, near: Fraction, far: Fraction, side: Fraction
) -> tuple[Point, Point, Point, Point]:
    """Draw the four corner flaps; return the points of the notches, corners of the pocket."""
    half = (far - near) / 2
    low = Point(far - half, half)
    right = Point(side - half, side - far + half)
    high = Point(side - far + half, side - half)
    left = Point(half, far - half)
    back_near, back_far = side - near, side - far
    draft.panel(
        "left flap",
        FLAP,
        (Point(ZERO, ZERO), Point(near, ZERO), low, left, Point(ZERO, near)),
    )
    draft.panel(
        "bottom flap",
        FLAP,
        (Point(far, ZERO), Point(side, ZERO), Point(side, back_far), right, low),
    )
    draft.panel(
        "right flap",
        FLAP,
        (Point(side, side), Point(back_near, side), high, right, Point(side, back_near)),
    )
    draft.panel(
        "top flap",
        LID,
        (Point(back_far, side), Point(ZERO, side), Point(ZERO, far), left, high),
    )
    return low, right, high, left


WALLET = Form(
    "wallet",
    "Pocket envelope",
    "A pocket with a flap, glued at two side tabs.",
    (
        size("w", "width"),
        size("h", "height"),
        size(
            "flap",
            "height of the flap",
            "less than the height h, or it hangs below the pocket",
            most=lambda sizes: sizes["h"] - smallest(sizes.unit),
        ),
        tab("at most half the width, or the tabs meet", most=lambda sizes: sizes["w"] / 2),
        *edge_inputs("w", "flap"),
    ),
    _wallet,
)
DIAGONAL_ENVELOPE = Form(
    "diagonal_envelope",
    "Square-fold envelope",
    "A square with its four corners folded to the middle.",
    (
        size("w", "width", "at least the height h: turn it", least=lambda sizes: sizes["h"]),
        size("h", "height"),
        allowance(
            "a",
            "notch between the flaps",
            20,
            Fraction(3, 4),
            "at most the height h",
            most=lambda sizes: sizes["h"],
        ),
    ),
    _diagonal_envelope,
)
FORMS = (WALLET, DIAGONAL_ENVELOPE)
