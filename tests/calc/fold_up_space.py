"""Folds any blank over its hinges and measures what meets, lies flat, closes and stays clear."""

import math
from itertools import pairwise

from catalogue.calc.flat_patterns.pattern import FlatPattern, FlatPiece, PanelKind
from tests.calc.fold_up_sheet import LOOSE_THINGS, Laid
from tests.calc.folding import (
    Flat,
    Frame,
    Joint,
    Polygon,
    Segment,
    Vector,
    along,
    closed_volume,
    differ,
    dot,
    edges,
    flat,
    fold,
    from_line,
    minus,
    outside_by,
    to_segment,
)


def folded(piece: FlatPiece) -> dict[str, Frame]:
    """Where the hinges take every panel of a blank."""
    return fold(piece.panels[0].name, Laid(piece).joints())


def faults_when_folded(piece: FlatPiece, thickness: float) -> list[str]:
    """What does not meet, lie flat or stay clear once every hinge is turned to its angle."""
    laid = Laid(piece)
    joints = laid.joints()
    frames = fold(piece.panels[0].name, joints)
    lost = [name for name in laid.panels if name not in frames]
    if lost:
        return [f"{name} hangs on no hinge" for name in lost]
    found = []
    for joint in joints:
        turned = frames[joint.first].folded(joint.start, joint.end, joint.angle)
        if differ(turned, frames[joint.second], (joint.start, joint.end)) > 100 * laid.near:
            found.append(f"the hinge {joint.first}-{joint.second} does not close")
    found += _glued(laid, frames, joints, thickness)
    if not thickness:
        found += _crossings(laid, frames)
    return found


def _glued(
    laid: Laid, frames: dict[str, Frame], joints: list[Joint], thickness: float
) -> list[str]:
    """Glued places touch what they are glued onto, and a tab's fold runs along its edge."""
    found = []
    loose = thickness + 100 * laid.near
    for glue in laid.piece.glue_areas:
        if glue.onto not in frames:
            if "/" not in glue.onto and glue.onto not in LOOSE_THINGS:
                found.append(f"{glue.panel} is glued onto {glue.onto}, which is not there")
            continue
        name = f"{glue.panel} glued onto {glue.onto}"
        spread = flat(glue.outline)
        if laid.kinds[glue.panel] is PanelKind.TAB:
            spread = spread + list(laid.panels[glue.panel])
        places = [frames[glue.panel].at(p) for p in spread]
        onto = frames[glue.onto]
        found += lies_on(name, places, onto, laid.panels[glue.onto], thickness, laid.near)
        found += _wrong_side(name, glue.on_back, frames[glue.panel], onto, places, laid.near)
        if laid.kinds[glue.panel] is PanelKind.TAB:
            found += _seams(laid, frames, joints, glue.panel, glue.onto, loose)
    return found


def _wrong_side(
    name: str, on_back: bool, frame: Frame, onto: Frame, places: list[Vector], near: float
) -> list[str]:
    """Whether glue is on the side that is pressed on, the good side of a wall being outside.

    Two panels back to back touch with their backs; one that lies a sheet inside another touches
    it with its good side, one that lies outside with its back.
    """
    if dot(frame.z, onto.z) < 0:
        touches_with_back = True
    else:
        height = sum(onto.seen_from(place)[2] for place in places) / len(places)
        if abs(height) < 100 * near:
            return []
        touches_with_back = height > 0
    return [] if on_back is touches_with_back else [f"{name} is spread on the wrong side"]


def lies_on(
    name: str,
    places: list[Vector],
    onto: Frame,
    outline: Polygon,
    thickness: float,
    near: float,
) -> list[str]:
    """Whether places in space lie flat on a panel, in its sheet or one sheet off, inside it."""
    found = []
    seen = [onto.seen_from(place) for place in places]
    gaps = [abs(height) for _, _, height in seen]
    if max(gaps) - min(gaps) > 100 * near:
        found.append(f"{name} does not lie flat")
    elif all(abs(gaps[0] - level) > 100 * near for level in (0.0, thickness)):
        found.append(f"{name} is {gaps[0]:.6g} away")
    if max(outside_by((x, y), outline) for x, y, _ in seen) > thickness + 100 * near:
        found.append(f"{name} sticks out")
    return found


def _seams(
    laid: Laid,
    frames: dict[str, Frame],
    joints: list[Joint],
    tab: str,
    onto: str,
    loose: float,
) -> list[str]:
    fault = f"the seam of {tab} meets no edge of {onto}"
    for joint in joints:
        if tab not in (joint.first, joint.second):
            continue
        parent = frames[joint.first if joint.second == tab else joint.second]
        ends = [frames[onto].seen_from(parent.at(p))[:2] for p in (joint.start, joint.end)]
        for side in edges(laid.panels[onto]):
            if max(to_segment(end, side) for end in ends) <= loose:
                if abs(math.dist(*side) - math.dist(*ends)) <= 2 * loose:
                    return []
                fault = f"the seam of {tab} is not as long as the edge of {onto}"
    return [fault]


def _crossings(laid: Laid, frames: dict[str, Frame]) -> list[str]:
    """Pairs of panels that pass through each other (sheets without thickness)."""
    return [
        f"{one} passes through {other}"
        for one in laid.panels
        for other in laid.panels
        if one != other
        and _passes_through(
            laid.panels[one], frames[one], laid.panels[other], frames[other], 1e3 * laid.near
        )
    ]


def _passes_through(
    outline: Polygon, frame: Frame, wall: Polygon, wall_frame: Frame, near: float
) -> bool:
    seen = [wall_frame.seen_from(frame.at(p)) for p in outline]
    if min(z for _, _, z in seen) > -near or max(z for _, _, z in seen) < near:
        return False
    if abs(dot(frame.z, wall_frame.z)) > 1 - 1e-12:
        return False
    trace = _trace(seen)
    for part in zip(trace[::2], trace[1::2], strict=False):
        stops = sorted({0.0, 1.0, *(_meet(part, side) for side in edges(wall))})
        for before, after in pairwise(stops):
            place = along(part, (before + after) / 2)
            is_inside = not outside_by(place, wall)
            is_inside &= all(to_segment(place, side) > near for side in edges(wall))
            if is_inside and (after - before) * math.dist(*part) > near:
                return True
    return False


def _trace(corners: list[Vector]) -> list[Flat]:
    """Where an outline in space goes through the ground, in order along the line it cuts."""
    found = []
    for a, b in zip(corners, [*corners[1:], corners[0]], strict=True):
        if (a[2] > 0) != (b[2] > 0):
            share = a[2] / (a[2] - b[2])
            found.append((a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])))
    return sorted(found)


def _meet(line: Segment, other: Segment) -> float:
    """The share of the line at which it crosses another; 0 when it does not."""
    (x0, y0), (x1, y1) = line
    (x2, y2), (x3, y3) = other
    across = (x1 - x0) * (y3 - y2) - (y1 - y0) * (x3 - x2)
    if abs(across) < 1e-12:
        return 0.0
    share = ((x2 - x0) * (y3 - y2) - (y2 - y0) * (x3 - x2)) / across
    return min(1.0, max(0.0, share))


def shows_inside(piece: FlatPiece) -> list[str]:
    """Walls whose printed side has got inside: it must look away from the middle of them all."""
    laid, frames = Laid(piece), folded(piece)
    kinds = (PanelKind.WALL, PanelKind.BASE, PanelKind.LID)
    names = [name for name in frames if laid.kinds[name] in kinds]
    places = {n: [frames[n].at(p) for p in laid.panels[n]] for n in names}
    corners = [place for each in places.values() for place in each]
    middle = tuple(sum(p[i] for p in corners) / len(corners) for i in range(3))
    return [
        f"the inside of {name} shows"
        for name in names
        if dot(minus(places[name][0], middle), frames[name].z) < -laid.near
    ]


def faults_of_the_volume(pattern: FlatPattern) -> list[str]:
    """Whether the folded walls, their openings closed flat, hold what the pattern says."""
    piece = pattern.pieces[0]
    if pattern.volume is None or piece.count > 1 or pattern.inputs.get("t"):
        return []  # the middles of thick sheets hold more than their insides
    laid, frames = Laid(piece), folded(piece)
    faces = [
        [frames[name].at(p) for p in outline]
        for name, outline in laid.panels.items()
        if laid.kinds[name] in (PanelKind.WALL, PanelKind.BASE, PanelKind.LID) or "gusset" in name
    ]
    found = closed_volume(faces, 1e3 * laid.near)
    if abs(found - float(pattern.volume)) > 1e-6 * found:
        return [f"the folded walls hold {found:.8g}, not {float(pattern.volume):.8g}"]
    return []


# how far the panels of a form may be turned out of the flat, by what the finished thing is
RIGHT_ANGLES = (
    "two_piece_bag",
    "one_piece_bag",
    "bag_lid",
    "pocket_box",
    "tuck_box",
    "tray",
    "drawer",
    "tray_lid",
    "sleeve",
    "belly_band",
)
FLAT = (
    "wallet",
    "diagonal_envelope",
    "board_wrap",
    "tag",
    "decorative_panel",
    "base_card",
    "hex_base",
    "flap_extension",
    "handle_strip",
)


def faults_of_the_angles(pattern: FlatPattern) -> list[str]:
    """Panels that end up aslant in a thing that has only right angles, or sixths of a circle."""
    found = []
    for piece in pattern.pieces:
        turned = folded(piece)
        home = turned[piece.panels[0].name]
        for name, frame in turned.items():
            across, tall, out = (dot(frame.z, axis) for axis in (home.x, home.y, home.z))
            steep = math.degrees(math.atan2(across, out))
            if pattern.form in FLAT:
                aslant = 1 - abs(out)
            elif pattern.form in RIGHT_ANGLES:
                aslant = 1 - max(abs(across), abs(tall), abs(out))
            elif pattern.form == "cup_base" and name != "base":
                # its free corners come down on the rim of the foot
                outline = [home.seen_from(frame.at(p)) for p in Laid(piece).panels[name]]
                middle = (float(piece.width) / 2, float(piece.height) / 2)
                foot = min(math.dist(place[:2], middle) for place in outline)
                aslant = abs(foot / float(pattern.inputs["r2"]) - 1)
            elif pattern.form == "hex_tube":
                # walls face a sixth of a circle apart, feet face along the tube
                wall = abs(tall) + abs(steep / 60 - round(steep / 60))
                aslant = min(1 - abs(tall), wall)
            else:
                continue
            if aslant > 1e-7:
                found.append(f"{name} stands aslant")
    return found


def faults_of_the_tabs(pattern: FlatPattern) -> list[str]:
    """Tabs that are not as deep, measured from a fold of theirs, as was asked."""
    if "g" not in pattern.inputs:
        return []
    depth, found = float(pattern.inputs["g"]), []
    for piece in pattern.pieces:
        laid = Laid(piece)
        for name in (n for n, kind in laid.kinds.items() if kind is PanelKind.TAB):
            seams = [j for j in laid.joints() if name in (j.first, j.second)]
            depths = [
                max(from_line(p, (seam.start, seam.end)) for p in laid.panels[name])
                for seam in seams
            ]
            if min(abs(each - depth) for each in depths) > 10 * laid.near:
                found.append(f"{name} is not {depth:.6g} deep")
    return found
