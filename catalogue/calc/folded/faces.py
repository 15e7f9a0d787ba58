"""The faces of a folded thing: where each lies in the room, and which way is right and up on it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from catalogue.calc.flat_patterns.pattern import FlatPattern, PanelKind
from catalogue.calc.folded.space import (
    Facet,
    Pose,
    Vector,
    added,
    cross,
    dot,
    scaled,
    taken,
    unit_vector,
)

# x to the right, y away from who looks, z up
SIDES: Mapping[str, Vector] = {
    "front": (0.0, -1.0, 0.0),
    "right": (1.0, 0.0, 0.0),
    "back": (0.0, 1.0, 0.0),
    "left": (-1.0, 0.0, 0.0),
    "top": (0.0, 0.0, 1.0),
    "base": (0.0, 0.0, -1.0),
}
# what a panel faces at least, to be called by a side: a wall of a hexagon is a side of it
FACING = 0.5
FLAPS = ("flap", "drop", "reach", "top tuck", "top flap")


@dataclass(frozen=True, slots=True)
class Face:
    """A rectangle round a panel, seen from outside: its lower left corner, right, up and out.

    `across` and `up` have length 1; `out` points away from the thing.
    """

    name: str
    origin: Vector
    across: Vector
    up: Vector
    out: Vector
    width: float
    height: float

    def point(self, x: float, y: float, out: float = 0.0) -> Vector:
        """Return the place so far right of the corner, so far above it, so far before the face."""
        there = added(scaled(self.across, x), scaled(self.up, y))
        return added(added(self.origin, there), scaled(self.out, out))

    @property
    def middle(self) -> Vector:
        """The place in its middle."""
        return self.point(self.width / 2, self.height / 2)

    def frame(self, x: float, y: float, out: float, turn: Pose) -> Pose:
        """Return what brings a thing that stands in the room before this face, its back on it.

        Its place (0, 0, 0) comes to x and y of the face; `turn` is done first.
        """
        columns = (self.across, scaled(self.out, -1.0), self.up)
        rows = [(columns[0][at], columns[1][at], columns[2][at]) for at in range(3)]
        return Pose(rows[0], rows[1], rows[2], self.point(x, y, out)).after(turn)


def upright_on(out: Vector) -> tuple[Vector, Vector]:
    """Return right and up of a plane seen from outside: up as far as it goes, else away."""
    for wanted in ((0.0, 0.0, 1.0), (0.0, 1.0, 0.0)):
        up = taken(wanted, scaled(out, dot(wanted, out)))
        if dot(up, up) > 0.01:
            up = unit_vector(up)
            return cross(up, out), up
    raise AssertionError("no direction lies along two that are at right angles")


def face_of(name: str, facets: Sequence[Facet]) -> Face:
    """Return the face of the facets of one panel, in the plane of the outermost of them."""
    out = unit_vector(_mean([facet.normal for facet in facets]))
    across, up = upright_on(out)
    points = [point for facet in facets for point in facet.points]
    rights, ups = [dot(across, p) for p in points], [dot(up, p) for p in points]
    level = max(dot(out, p) for p in points)
    origin = added(added(scaled(across, min(rights)), scaled(up, min(ups))), scaled(out, level))
    return Face(name, origin, across, up, out, max(rights) - min(rights), max(ups) - min(ups))


def _mean(vectors: Sequence[Vector]) -> Vector:
    total = (0.0, 0.0, 0.0)
    for vector in vectors:
        total = added(total, vector)
    # what closes round itself has no mean: the first will do
    return total if dot(total, total) > 1e-6 else vectors[0]


def faces_of(pattern: FlatPattern, facets: Iterable[Facet]) -> dict[str, Face]:
    """Return the faces of a folded thing by name: those of its panels, and the sides of it.

    A panel of the second half of a bag is called “front 2”. A side (front, right, back, left, top,
    base) is the largest panel that looks there and is not a tab; “flap” the panel that closes it.
    """
    kinds = {panel.name: panel.kind for panel in pattern.pieces[0].panels}
    by_panel: dict[tuple[str, int], list[Facet]] = {}
    for facet in facets:
        if facet.lie and not facet.is_hole:
            by_panel.setdefault((facet.lie.panel, facet.lie.copy), []).append(facet)
    found: dict[str, Face] = {}
    sides: list[Face] = []
    for (panel, copy), parts in by_panel.items():
        name = f"{panel} {copy + 1}" if copy else panel
        face = face_of(name, parts)
        found[name] = face
        if kinds.get(panel) is not PanelKind.TAB:
            sides += _strips(name, parts) if _is_bent(parts) else [face]
    for side, direction in SIDES.items():
        facing = [face for face in sides if dot(face.out, direction) >= FACING]
        if facing and side not in found:
            best = max(facing, key=lambda face: _rank(face, direction))
            found[side] = replace(best, name=side)
    for panel in FLAPS:
        if panel in found and "flap" not in found:
            found["flap"] = replace(found[panel], name="flap")
    return found


def _rank(face: Face, direction: Vector) -> tuple[float, float]:
    """A larger face first; of equal ones the outermost, which is the one that is seen."""
    size = round(face.width * face.height * dot(face.out, direction), 3)
    return size, dot(face.origin, direction)


def _is_bent(parts: Sequence[Facet]) -> bool:
    return any(dot(parts[0].normal, part.normal) < 0.999 for part in parts[1:])


def _strips(name: str, parts: Sequence[Facet]) -> list[Face]:
    return [face_of(name, [part]) for part in parts]
