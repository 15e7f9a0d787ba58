"""Folds a blank in space: rigid panels turn about their hinges, bent ones follow `bending`."""

from collections import deque
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import hypot, radians

from catalogue.calc.flat_patterns.pattern import (
    FlatPiece,
    Hinge,
    Panel,
    PanelKind,
    Point,
    StrokeKind,
)
from catalogue.calc.folded.space import (
    CUT,
    FOLD,
    INNER,
    Facet,
    Flat,
    Lie,
    Pose,
    Vector,
    added,
    dot,
    is_convex,
    middle_of,
    scaled,
    triangles_of,
    turn_about,
)

# A fold right back stays open a little, or two layers would lie in one plane.
MOST_DEG = 177.0
# of the longest side of the blank: how far an inner layer lies inside the outer one
LAYER = 0.0035
TABS_INSIDE = 3
SOLID = (PanelKind.WALL, PanelKind.BASE, PanelKind.TAB)


def flat_outline(outline: Sequence[Point]) -> tuple[Flat, ...]:
    """Return an outline of exact points as floats."""
    return tuple((float(point.x), float(point.y)) for point in outline)


@dataclass(frozen=True, slots=True)
class Joint:
    """A hinge as it is walked over: the known panel, the next, and how far along it turns."""

    hinge: Hinge
    known: str
    found: str
    depth: int


def joints_from(root: str, hinges: Sequence[Hinge]) -> list[Joint]:
    """Return the hinges that lead from the root to every other panel, nearest first."""
    by_panel: dict[str, list[tuple[Hinge, str]]] = {}
    for hinge in hinges:
        by_panel.setdefault(hinge.first, []).append((hinge, hinge.second))
        by_panel.setdefault(hinge.second, []).append((hinge, hinge.first))
    seen, waiting, joints = {root}, deque([(root, 0)]), []
    while waiting:
        known, depth = waiting.popleft()
        for hinge, other in by_panel.get(known, ()):
            if other not in seen:
                seen.add(other)
                waiting.append((other, depth + 1))
                joints.append(Joint(hinge, known, other, depth))
    return joints


def layers_of(piece: FlatPiece) -> dict[str, int]:
    """Return how many layers inside its outermost neighbour each panel lies.

    Tabs lie inside what they are glued to. Of flaps that close one end the widest are folded
    last, and the front one shows.
    """
    lengths: dict[str, float] = {}
    for hinge in piece.hinges:
        length = hypot(float(hinge.end.x - hinge.start.x), float(hinge.end.y - hinge.start.y))
        for name in (hinge.first, hinge.second):
            lengths[name] = max(lengths.get(name, 0.0), length)
    flaps = [panel.name for panel in piece.panels if panel.kind is PanelKind.FLAP]
    widest = max((lengths.get(name, 0.0) for name in flaps), default=0.0)
    layers = {}
    for panel in piece.panels:
        if panel.kind is PanelKind.TAB:
            layers[panel.name] = TABS_INSIDE
        elif panel.kind is PanelKind.FLAP:
            is_wide = lengths.get(panel.name, 0.0) >= widest * 0.999
            is_front = any(
                {hinge.first, hinge.second} == {piece.panels[0].name, panel.name}
                for hinge in piece.hinges
            )
            layers[panel.name] = 2 if not is_wide else 0 if is_front else 1
        else:
            layers[panel.name] = 0
    return layers


def turned_share(joint: Joint, kinds: Mapping[str, PanelKind], layer: int, share: float) -> float:
    """Return how much of a hinge's angle is folded when `share` of the work is done.

    Tabs are bent first, so that walls come up outside them; then the walls, then what closes the
    ends: the inner flaps before the outer ones.
    """
    if kinds[joint.found] is PanelKind.TAB:
        start, end = 0.0, 0.4
    elif kinds[joint.known] in SOLID and kinds[joint.found] in SOLID:
        start, end = 0.12, 0.75
    elif layer == 2:
        start, end = 0.25, 0.9
    else:
        start, end = 0.45, 1.0
    return min(max((share - start) / (end - start), 0.0), 1.0)


def placements(
    piece: FlatPiece, root: str, share: float, *, flat: Collection[str] = ()
) -> dict[str, Pose]:
    """Return where each panel lies when `share` (0 to 1) of the folding is done; the root stays.

    Only panels named in `flat` are folded right back, to be kept apart as layers.
    """
    kinds = {panel.name: panel.kind for panel in piece.panels}
    middles = {panel.name: middle_of(flat_outline(panel.outline)) for panel in piece.panels}
    layers = layers_of(piece)
    found = {root: Pose()}
    for joint in joints_from(root, piece.hinges):
        if joint.found not in kinds:
            continue
        hinge = joint.hinge
        start = (float(hinge.start.x), float(hinge.start.y), 0.0)
        end = (float(hinge.end.x), float(hinge.end.y), 0.0)
        x, y = middles[joint.found]
        # which side of the hinge the panel lies on says which way round it comes up
        side = (end[0] - start[0]) * (y - start[1]) - (end[1] - start[1]) * (x - start[0])
        most = 180.0 if joint.found in flat else MOST_DEG
        full = max(-most, min(most, hinge.angle_deg))
        done = turned_share(joint, kinds, layers[joint.found], share)
        angle = radians(full) * done * (1 if side > 0 else -1)
        found[joint.found] = found[joint.known].after(turn_about(start, end, angle))
    return found


def folded_facets(
    piece: FlatPiece,
    parts: Mapping[str, Sequence[Facet]],
    root: str,
    share: float,
    *,
    depths: Mapping[str, float] | None = None,
) -> list[Facet]:
    """Return the panels of a blank as facets in space.

    `parts` are those of each panel as it lies on the sheet (`flat_parts`). `depths` says how many
    layers inside (below zero: outside) a panel lies, where the rule fails.
    """
    places = placements(piece, root, share, flat=depths or ())
    layers: dict[str, float] = {**layers_of(piece)}
    # a panel that is folded right back is kept apart by its angle, one that stays flat by nothing
    for hinge in piece.hinges:
        if abs(hinge.angle_deg) > 150 or abs(hinge.angle_deg) < 1:
            layers |= {hinge.first: 0.0, hinge.second: 0.0}
    layers |= depths or {}
    thick = LAYER * float(max(piece.width, piece.height)) * share
    facets = []
    for panel in piece.panels:
        place = places.get(panel.name, Pose())
        normal = place.turned((0.0, 0.0, 1.0))
        shift = scaled(normal, -thick * layers[panel.name])
        shifted = replace(place, shift=added(place.shift, shift))
        lie = Lie(panel.name).moved(shifted)
        for flat in parts[panel.name]:
            points = tuple(shifted.point(point) for point in flat.points)
            facets.append(replace(flat, points=points, normal=normal, lie=lie))
            if flat.is_hole:
                facets[-1] = replace(facets[-1], points=_lifted(points, normal, thick / 3))
                facets.append(replace(facets[-1], points=_lifted(points, normal, -thick / 3)))
    return facets


def _lifted(points: Sequence[Vector], normal: Vector, by: float) -> tuple[Vector, ...]:
    return tuple(added(point, scaled(normal, by)) for point in points)


def flat_parts(piece: FlatPiece) -> dict[str, tuple[Facet, ...]]:
    """Return the parts of every panel as they lie on the sheet: the same in every state."""
    return {panel.name: tuple(flat_facets(panel, piece)) for panel in piece.panels}


def flat_facets(panel: Panel, piece: FlatPiece) -> Iterator[Facet]:
    """Return a panel as it lies on the sheet, in convex parts, and the openings in it."""
    outline = flat_outline(panel.outline)
    edges = edge_kinds(panel, piece)
    up = (0.0, 0.0, 1.0)
    if is_convex(outline):
        yield Facet(tuple((x, y, 0.0) for x, y in outline), edges, up)
    else:
        count = len(outline)
        for corners in triangles_of(outline):
            kinds = tuple(
                edges[here] if there == (here + 1) % count else INNER
                for here, there in zip(corners, (*corners[1:], corners[0]), strict=True)
            )
            yield Facet(tuple((*outline[at], 0.0) for at in corners), kinds, up)
    for hole in holes_of(panel, piece):
        yield Facet(tuple((x, y, 0.0) for x, y in hole), (CUT,) * len(hole), up, is_hole=True)


def holes_of(panel: Panel, piece: FlatPiece) -> list[tuple[Flat, ...]]:
    """Return the closed cuts that lie inside a panel."""
    outline = flat_outline(panel.outline)
    found = []
    for stroke in piece.strokes:
        points = flat_outline(stroke.points)
        is_closed = len(points) > 3 and points[0] == points[-1]
        if stroke.kind is not StrokeKind.CUT or not is_closed:
            continue
        if all(_is_within(point, outline) for point in points):
            found.append(points[:-1])
    return found


def edge_kinds(panel: Panel, piece: FlatPiece) -> tuple[int, ...]:
    """Return for each edge of a panel whether it is a fold or a cut."""
    outline = flat_outline(panel.outline)
    near = 1e-6 * float(max(piece.width, piece.height))
    paths = [flat_outline((hinge.start, hinge.end)) for hinge in piece.hinges]
    for stroke in piece.strokes:
        if stroke.kind in (StrokeKind.VALLEY, StrokeKind.MOUNTAIN):
            paths.append(flat_outline(stroke.points))
    lines = [line for path in paths for line in pairwise(path)]
    kinds = []
    for start, end in zip(outline, (*outline[1:], outline[0]), strict=True):
        is_fold = any(_lies_on(start, line, near) and _lies_on(end, line, near) for line in lines)
        kinds.append(FOLD if is_fold else CUT)
    return tuple(kinds)


def _lies_on(point: Flat, line: tuple[Flat, Flat], near: float) -> bool:
    (x1, y1), (x2, y2) = line
    length = hypot(x2 - x1, y2 - y1)
    if not length:
        return False
    away = ((x2 - x1) * (point[1] - y1) - (y2 - y1) * (point[0] - x1)) / length
    along = ((x2 - x1) * (point[0] - x1) + (y2 - y1) * (point[1] - y1)) / length
    return abs(away) < near and -near < along < length + near


def _is_within(point: Flat, outline: Sequence[Flat]) -> bool:
    """Whether a point lies strictly inside; one on the outline counts as outside."""
    x, y = point
    inside = False
    for (x1, y1), (x2, y2) in zip(outline, (*outline[1:], outline[0]), strict=True):
        if _lies_on(point, ((x1, y1), (x2, y2)), 1e-9):
            return False
        if (y1 > y) != (y2 > y) and x < (x2 - x1) * (y - y1) / (y2 - y1) + x1:
            inside = not inside
    return inside


def normal_of(points: Sequence[Vector]) -> Vector:
    """Return the direction a polygon faces, from all its corners (Newell)."""
    x = y = z = 0.0
    for a, b in zip(points, (*points[1:], points[0]), strict=True):
        x += (a[1] - b[1]) * (a[2] + b[2])
        y += (a[2] - b[2]) * (a[0] + b[0])
        z += (a[0] - b[0]) * (a[1] + b[1])
    length = dot((x, y, z), (x, y, z)) ** 0.5
    return (x / length, y / length, z / length) if length else (0.0, 0.0, 1.0)
