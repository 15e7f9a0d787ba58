"""How a form stands in the room while it is folded: which panel keeps still, which side is up."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from math import asin, atan2, hypot, sin

from catalogue.calc.flat_patterns.pattern import FlatPattern, FlatPiece, Panel, PanelKind
from catalogue.calc.folded.bending import Bend, bent_facets, cone_bend, flat_strips, pillow_bend
from catalogue.calc.folded.folding import flat_outline, flat_parts, folded_facets
from catalogue.calc.folded.space import (
    Facet,
    Pose,
    middle_of,
    turn_about,
)

# Ways a blank lies at first; rows of a turn from the sheet to the room.
UPRIGHT = Pose((1.0, 0.0, 0.0), (0.0, 0.0, -1.0), (0.0, 1.0, 0.0))
GOOD_SIDE_DOWN = Pose((1.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.0, 0.0, -1.0))
GOOD_SIDE_UP = Pose()
TURNED_TO_FRONT = Pose((-1.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.0, 0.0, 1.0))

# where the usual rule does not show a form as it is used
STANDS = {
    "bag_lid": ("top", TURNED_TO_FRONT),
    "sleeve": ("top", GOOD_SIDE_UP),
    "tray_lid": ("base", GOOD_SIDE_UP),
    "hex_lid": ("base", GOOD_SIDE_UP),
    "cup_base": ("base", GOOD_SIDE_UP),
}


# How many layers inside a panel lies where many meet; below zero is outside. A panel named here
# may be folded flat on another.
_SIDES, _NUMBERS = ("right", "left"), (1, 2)
DEPTHS: dict[str, dict[str, float]] = {
    "gable_box": {
        "front fin": -1.5,
        "back fin": -1.5,
        "fin tab": 0.8,
        "roof tab": 1.0,
        "back roof": 0.0,
        **{f"{side} side fin {number}": 0.5 for side in _SIDES for number in _NUMBERS},
        **{f"{side} side gusset {number}": -2.0 for side in _SIDES for number in _NUMBERS},
    },
    "tetra_pouch": {
        "front bottom seal": -0.7,
        "back bottom seal": 0.0,
        "top seal, middle": -0.7,
        "top seal, near half": 0.0,
        "top seal, far half": 0.0,
    },
    "wallet": {"left tab": -1.0, "right tab": -1.0, "front": -2.0, "flap": -3.0},
    "diagonal_envelope": {
        "left flap": -1.0,
        "right flap": -1.6,
        "bottom flap": -2.4,
        "top flap": -3.2,
    },
    "board_wrap": {
        "bottom turn-in": -1.0,
        "top turn-in": -1.0,
        "right turn-in": -3.0,
        "left turn-in": -3.0,
        **{f"{end} {side} ear": 2.0 for end in ("bottom", "top") for side in _SIDES},
    },
}
# a tab that lies round a corner inside, which a flat one cannot show
UNSEEN = {"tetra_pouch": {"tab"}}


def thing_facets(pattern: FlatPattern, share: float) -> list[Facet]:
    """Return the thing in space when `share` (0 to 1) of the folding is done."""
    return next(states_of(pattern, (share,)))


def states_of(pattern: FlatPattern, shares: Iterable[float]) -> Iterator[list[Facet]]:
    """Yield the thing in space for each share (0 to 1) of the folding."""
    piece = pattern.pieces[0]
    if pattern.form in BENDS:
        bend = BENDS[pattern.form](pattern)
        strips = flat_strips(piece, bend)
        for share in shares:
            yield laid(bent_facets(strips, bend, share), BENT_STANDS[pattern.form])
        return
    root, stands = standing(pattern.form, piece)
    parts = flat_parts(piece)
    for share in shares:
        yield laid(_folded(pattern, parts, root, share), stands)


def _folded(
    pattern: FlatPattern, parts: Mapping[str, Sequence[Facet]], root: str, share: float
) -> list[Facet]:
    piece = pattern.pieces[0]
    unseen = UNSEEN.get(pattern.form, set()) if share else set()
    shown = replace(piece, panels=tuple(p for p in piece.panels if p.name not in unseen))
    facets = folded_facets(shown, parts, root, share, depths=DEPTHS.get(pattern.form))
    if piece.count == 2 and piece.hinges:
        facets += second_half(pattern, facets, share)
    if pattern.form == "tetra_pouch":
        facets = laid(facets, _leaning_back(pattern, share))
    return facets


def laid(facets: list[Facet], stands: Pose) -> list[Facet]:
    """Turn facets from the sheet into the room."""
    return [facet.moved(stands) for facet in facets]


def standing(form: str, piece: FlatPiece) -> tuple[str, Pose]:
    """Return the panel that keeps still and how it lies: a base flat, a wall upright."""
    if form in STANDS:
        return STANDS[form]
    neighbours: dict[str, int] = {}
    for hinge in piece.hinges:
        for name in (hinge.first, hinge.second):
            neighbours[name] = neighbours.get(name, 0) + 1
    first: Panel = piece.panels[0]
    bases = [panel for panel in piece.panels if panel.kind is PanelKind.BASE]
    bases = [panel for panel in bases if neighbours.get(panel.name, 0) >= 3]
    if bases:
        return bases[0].name, GOOD_SIDE_DOWN
    walls = [panel for panel in piece.panels if panel.kind is PanelKind.WALL]
    if walls and piece.hinges:
        return walls[0].name, UPRIGHT
    return first.name, GOOD_SIDE_UP


def second_half(pattern: FlatPattern, facets: list[Facet], share: float) -> list[Facet]:
    """Return the equal half of a tube in two pieces: the first one turned half round.

    Until the tubes close, the second half stands off, so that both can be seen.
    """
    piece = pattern.pieces[0]
    width = float(piece.x_scores[0])
    depth = float(piece.x_scores[1] - piece.x_scores[0])
    # half a turn about an pipe | through the middle of the base; the wall that keeps still
    # lies in the plane of the sheet, and the depth goes away from the viewer
    turn = Pose((-1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, -1.0), (width, 0.0, -depth))
    away = (1 - share) * (float(piece.width) + depth) * 0.8
    turn = replace(turn, shift=(width, 0.0, -depth - away))
    return [_second_copy(facet) for facet in laid(facets, turn)]


def _second_copy(facet: Facet) -> Facet:
    return replace(facet, lie=facet.lie and replace(facet.lie, copy=1))


def _leaning_back(pattern: FlatPattern, share: float) -> Pose:
    """Return the turn that brings the far edge of a pouch above the middle of the near one."""
    inputs = {name: float(value) for name, value in pattern.inputs.items()}
    level = float(pattern.pieces[0].y_scores[0])
    lean = asin(min(1.0, inputs["w"] / 2 / inputs["h"])) * share
    return turn_about((0.0, level, 0.0), (1.0, level, 0.0), lean)


def _pillow(pattern: FlatPattern) -> Bend:
    piece = pattern.pieces[0]
    details = {name: float(value) for name, value in piece.details.items()}
    rise = details["rise"]
    return pillow_bend(
        radius=details["R"],
        alpha=details["alpha"],
        panel=float(piece.x_scores[0]),
        low=rise,
        high=float(piece.height) - rise,
    )


def _cone(pattern: FlatPattern) -> Bend:
    """Find the apex on the line of the tab's fold: most of the outline lies round it."""
    piece = pattern.pieces[0]
    details = {name: float(value) for name, value in piece.details.items()}
    sweep = details["theta"]
    outer, inner = details.get("R_outer", details["slant"]), details.get("R_inner", 0.0)
    wall, tab = (flat_outline(panel.outline) for panel in piece.panels)
    hinge = piece.hinges[0]
    (ax, ay), (bx, by) = flat_outline((hinge.start, hinge.end))
    length = hypot(bx - ax, by - ay)
    along = ((bx - ax) / length, (by - ay) / length)
    places = [
        (ax - along[0] * inner, ay - along[1] * inner),
        (bx + along[0] * inner, by + along[1] * inner),
    ]
    apex = max(
        places,
        key=lambda place: sum(
            abs(hypot(x - place[0], y - place[1]) - outer) < 1e-6 * outer for x, y in wall
        ),
    )
    fold = atan2((ay + by) / 2 - apex[1], (ax + bx) / 2 - apex[0])
    x, y = middle_of(tab)
    # the wall lies on the other side of the fold than the tab
    side = -1 if sin(atan2(y - apex[1], x - apex[0]) - fold) > 0 else 1
    return cone_bend(apex, fold + side * sweep / 2, sweep, details["tab"] / max(inner, outer / 3))


BENDS = {"pillow_box": _pillow, "cone": _cone, "frustum": _cone}
BENT_STANDS = {
    "pillow_box": Pose((0.0, 1.0, 0.0), (-1.0, 0.0, 0.0), (0.0, 0.0, 1.0)),
    "cone": GOOD_SIDE_DOWN,
    "frustum": GOOD_SIDE_DOWN,
}


def is_bent(pattern: FlatPattern) -> bool:
    """Whether panels of a form bend, not only turn."""
    return pattern.form in BENDS


def lies_flat(pattern: FlatPattern) -> bool:
    """Whether the finished thing has no height: nothing folds, or all of it folds right back."""
    if is_bent(pattern):
        return False
    return all(
        abs(hinge.angle_deg) < 1 or abs(hinge.angle_deg) > 150 for hinge in pattern.pieces[0].hinges
    )
