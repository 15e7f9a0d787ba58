"""The whole item in one room: every piece folded and brought to its place."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import radians

from catalogue.calc.flat_patterns.pattern import FlatPattern
from catalogue.calc.folded.assembly import is_bent, lies_flat, thing_facets
from catalogue.calc.folded.cords import Cord, cord_facets
from catalogue.calc.folded.faces import Face, face_of, faces_of
from catalogue.calc.folded.flat_cards import card_facets, pattern_facets
from catalogue.calc.folded.places import (
    How,
    ItemPiece,
    Outline,
    Place,
    main_piece,
    places_of,
)
from catalogue.calc.folded.space import Facet, Pose, Vector, dot, turn_about
from catalogue.calc.folded.strips import Box, bow_line, strip_facets

# of the item's longest side: how far one layer lies before the next
LAYER = 0.004
# of its own length: how far a drawer stands out
PULLED_OUT = 0.42
# of the height of a box: how much of it is seen below its lid at least
SEEN_BELOW_LID = 0.5
HALF_TURN = Pose((-1.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.0, 0.0, 1.0))
QUARTER_TURN = Pose((0.0, -1.0, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0))


@dataclass(frozen=True, slots=True)
class Seat:
    """A copy of a piece in its place: what it sits on, and how."""

    piece: int
    copy: int
    place: Place
    is_drawn: bool


@dataclass(frozen=True, slots=True)
class Whole:
    """An item in the room: x to the right, y away, z up; what it stands on has z 0.

    A facet's `lie.piece` is the number of its piece; cords come after the pieces. `is_flat` says
    that it lies flat as a whole and is looked at from straight before it.
    """

    facets: tuple[Facet, ...]
    seats: tuple[Seat, ...]
    faces: tuple[dict[str, Face], ...]
    is_flat: bool
    lies_flat: bool
    bent: frozenset[int]


def at_home(pattern: FlatPattern) -> list[Facet]:
    """Return a folded thing with its front to the front, over (0, 0), standing on z 0."""
    facets = thing_facets(pattern, 1.0)
    front = [facet for facet in facets if facet.lie and facet.lie.panel == "front"]
    if front and sum(dot(facet.normal, (0.0, 1.0, 0.0)) for facet in front) > 0.5 * len(front):
        facets = [facet.moved(HALF_TURN) for facet in facets]
    box = Box.around(facets)
    x, y, _ = box.middle
    shift = Pose(shift=(-x, -y, -box.low[2]))
    return [facet.moved(shift) for facet in facets]


def whole_item(pieces: Sequence[ItemPiece], cords: Sequence[Cord] = ()) -> Whole:
    """Return every piece of an item in its place, and its cords."""
    if not pieces:
        return Whole((), (), (), is_flat=True, lies_flat=True, bent=frozenset())
    return _Putting(pieces).done(cords)


class _Putting:
    """Puts pieces in their places, what others sit on before them."""

    def __init__(self, pieces: Sequence[ItemPiece]) -> None:
        self.pieces = pieces
        self.places = places_of(pieces)
        self.main = main_piece(pieces)
        self.is_flat = not pieces[self.main].folds
        self.put: dict[int, list[Facet]] = {}
        self.faces: dict[int, dict[str, Face]] = {}
        self.seats: list[Seat] = []
        self.size = 1.0
        self.right = 0.0

    def done(self, cords: Sequence[Cord]) -> Whole:
        for at in self._in_order():
            self._put(at)
        facets = [facet for at in sorted(self.put) for facet in self.put[at]]
        covered = any(seat.place.how is How.OVER for seat in self.seats)
        is_open = "top" not in self.faces.get(self.main, {}) and not covered
        for number, cord in enumerate(() if self.is_flat else cords):
            main = self.put[self.main]
            drawn = cord_facets(cord, main, facets, LAYER * self.size, is_open=is_open)
            facets += [_marked(facet, len(self.pieces) + number, 0) for facet in drawn]
        pattern = self.pieces[self.main].pattern
        return Whole(
            facets=tuple(facets),
            seats=tuple(sorted(self.seats, key=lambda seat: (seat.piece, seat.copy))),
            faces=tuple(self.faces.get(at, {}) for at in range(len(self.pieces))),
            is_flat=self.is_flat,
            lies_flat=bool(pattern and self.pieces[self.main].folds and lies_flat(pattern)),
            bent=frozenset(
                at for at, one in enumerate(self.pieces) if one.pattern and is_bent(one.pattern)
            ),
        )

    def _in_order(self) -> list[int]:
        """Return what sits on nothing first; what would sit on itself comes where it can."""
        order = [self.main]
        left = [at for at in range(len(self.pieces)) if at != self.main]
        while left:
            ready = [at for at in left if all(one.on in order for one in self.places[at])]
            chosen = ready or left[:1]
            order += chosen
            left = [at for at in left if at not in chosen]
        return order

    def _put(self, at: int) -> None:
        piece = self.pieces[at]
        alone = self._alone(at)
        for copy, place in enumerate(self.places[at]):
            on = self.put.get(place.on)
            if at == self.main or (not on and place.how is not How.INSIDE):
                place = replace(place, how=How.ROOM if at == self.main else How.BESIDE)
            facets = [] if place.how is How.INSIDE else self._placed(at, alone, place)
            self.seats.append(Seat(at, copy, place, bool(facets)))
            if not facets:
                continue
            marked = [_marked(facet, at, copy) for facet in facets]
            self.put.setdefault(at, []).extend(marked)
            self.right = max(self.right, Box.around(marked).high[0])
            if at == self.main:
                self.size = Box.around(marked).largest
            faces = self._faces(piece, marked)
            known = self.faces.setdefault(at, {})
            for name, face in faces.items():
                known.setdefault(f"{name} {copy + 1}" if copy else name, face)

    def _faces(self, piece: ItemPiece, facets: list[Facet]) -> dict[str, Face]:
        if piece.pattern and piece.folds:
            return faces_of(piece.pattern, facets)
        face = face_of("front", [facet for facet in facets if not facet.is_hole])
        return {"front": face}

    def _alone(self, at: int) -> list[Facet]:
        """Return a piece by itself: folded over (0, 0), or a card upright about (0, 0, 0)."""
        piece = self.pieces[at]
        if piece.pattern and piece.folds:
            return at_home(piece.pattern)
        if piece.pattern:
            return pattern_facets(piece.pattern.pieces[0])
        outline = piece.shown_as
        if at == self.main and outline is Outline.ROUNDED and "tag" in piece.name.casefold():
            outline = Outline.TAG
        return card_facets(outline, piece.width, piece.height)

    def _placed(self, at: int, alone: list[Facet], place: Place) -> list[Facet]:
        piece = self.pieces[at]
        if place.how is How.ROOM:
            return _lifted(alone)
        on = self.put[place.on] if place.on in self.put else self.put[self.main]
        box = Box.around(on)
        own = Box.around(alone)
        gap = LAYER * self.size
        if place.how is How.FACE:
            return self._on_face(piece, alone, place)
        if place.how is How.OVER:
            return self._over(piece, alone, place, box)
        if place.how is How.ROUND:
            height = box.low[2] + place.y * box.size[2] - own.middle[2]
            wider = [1 + 2 * place.layers * gap / max(own.size[axis], 1e-9) for axis in (0, 1)]
            grown = [_grown(facet, wider[0], wider[1]) for facet in alone]
            return _moved(grown, (box.middle[0], box.middle[1], height))
        if place.how is How.PULLED:
            # what is glued inside is drawn a hair inside, where the drawer now is
            self.put[place.on] = [one for one in on if one.lie and one.lie.panel != "tab"]
            return self._pulled(alone, box, gap)
        if place.how is How.ARCH:
            return self._arch(piece, box, place)
        shift = self.right + 0.12 * self.size - own.low[0]
        return _moved(_lifted(alone), (shift, 0.0, 0.0))

    def _on_face(self, piece: ItemPiece, alone: list[Facet], place: Place) -> list[Facet]:
        face = self._face(place)
        own = Box.around(alone)
        # its back on the face, about its middle; a card lies on its own plane
        at = (0.0, -own.high[1], -own.middle[2]) if piece.folds else (0.0, 0.0, 0.0)
        turn = turn_about((0.0, 0.0, 0.0), (0.0, -1.0, 0.0), radians(place.turn))
        y = place.y * face.height
        if piece.form == "flap_extension":
            # its score on the edge of the flap it makes longer
            y -= own.size[2] / 2
        out = place.layers * LAYER * self.size
        frame = face.frame(place.x * face.width, y, out, turn)
        return [facet.moved(frame) for facet in _moved(alone, at)]

    def _face(self, place: Place) -> Face:
        faces = self.faces.get(place.on) or self.faces[self.main]
        name = f"{place.face} {place.copy + 1}" if place.copy else place.face
        for candidate in (name, place.face, "front", "top"):
            if candidate in faces:
                return faces[candidate]
        return max(faces.values(), key=lambda face: face.width * face.height)

    def _over(self, piece: ItemPiece, alone: list[Facet], place: Place, box: Box) -> list[Facet]:
        gap = LAYER * self.size * place.layers
        if not piece.folds:
            lying = [facet.moved(LYING) for facet in alone]
            return _moved(lying, (box.middle[0], box.middle[1], box.high[2] + gap))
        own = Box.around(alone)
        top = faces_of(piece.pattern, alone).get("top") if piece.pattern else None
        middle = top.middle if top else own.middle
        raised = gap
        if piece.form != "bag_lid":
            # so that the box is seen below a lid as high as it is
            raised = max(gap, own.size[2] - (1 - SEEN_BELOW_LID) * box.size[2])
        x, y = box.middle[0] - middle[0], box.middle[1] - middle[1]
        if piece.form == "bag_lid":
            # its drop hangs before what is on the front, its lap is inside the back
            y -= 2.5 * LAYER * self.size
        return _moved(alone, (x, y, box.high[2] - own.high[2] + raised))

    def _pulled(self, alone: list[Facet], box: Box, gap: float) -> list[Facet]:
        own = Box.around(alone)
        if (own.size[0] > own.size[1]) != (box.size[0] > box.size[1]):
            alone = [facet.moved(QUARTER_TURN) for facet in alone]
            own = Box.around(alone)
        out = PULLED_OUT * own.size[1]
        return _moved(alone, (box.middle[0], box.middle[1] - out, box.low[2] + gap))

    def _arch(self, piece: ItemPiece, box: Box, place: Place) -> list[Facet]:
        """Return a strip from side to side; outside when the thing is closed above."""
        inputs = piece.pattern.inputs if piece.pattern else {}
        length = float(inputs["length"]) if "length" in inputs else max(piece.width, piece.height)
        width = float(inputs["width"]) if "width" in inputs else min(piece.width, piece.height)
        joined = float(inputs.get("strips", 1)) > 1 or piece.count == 2
        span = box.size[0] + 2 * LAYER * self.size * place.layers
        line = bow_line(span, length, box.size[2])
        depth = box.low[1] + place.y * box.size[1]
        at = (box.middle[0], depth, box.high[2])
        return strip_facets(line, width, at, sideways=True, join=0.5 if joined else None)


LYING = Pose((1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, -1.0, 0.0))


def _marked(facet: Facet, piece: int, copy: int) -> Facet:
    lie = facet.lie
    if lie is None:
        return facet
    return replace(facet, lie=replace(lie, piece=piece, copy=copy or lie.copy))


def _grown(facet: Facet, x: float, y: float) -> Facet:
    """Return a facet made wider and deeper about the middle: round what it lies about."""

    def wider(point: Vector) -> Vector:
        return point[0] * x, point[1] * y, point[2]

    lie = facet.lie and replace(
        facet.lie,
        origin=wider(facet.lie.origin),
        across=wider(facet.lie.across),
        up=wider(facet.lie.up),
    )
    return replace(facet, points=tuple(map(wider, facet.points)), lie=lie)


def _moved(facets: Iterable[Facet], shift: Vector) -> list[Facet]:
    pose = Pose(shift=shift)
    return [facet.moved(pose) for facet in facets]


def _lifted(facets: list[Facet]) -> list[Facet]:
    """Put a thing on the ground."""
    return _moved(facets, (0.0, 0.0, -Box.around(facets).low[2]))
