"""Places somebody gave to copies of a piece, kept by the names of pieces.

A recipe is saved whole, so its rows have no lasting keys: a place says what it sits on by name.
What is not there any more (a piece taken out, a face of another shape) leaves the usual place.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from catalogue.calc.flat_patterns.pattern import PanelKind
from catalogue.calc.folded.faces import FLAPS, SIDES, Face
from catalogue.calc.folded.places import (
    MOST_COPIES,
    How,
    ItemPiece,
    Place,
    main_piece,
    places_of,
)
from maker.calc.strict_json import (
    decimal,
    list_of,
    mapping_of,
    one_of,
    or_none,
    record,
    text,
    whole,
)

# the ways somebody may say; the others go with a shape
SAID = (How.FACE, How.OVER, How.BESIDE, How.INSIDE)
MOST_LAYERS = 20
HALF_A_TURN = 180

_read_place = record(
    {
        "how": one_of(*SAID),
        "on": text,
        "face": text,
        "x": decimal(0, 1, places=6),
        "y": decimal(0, 1, places=6),
        "turn": decimal(-HALF_A_TURN, HALF_A_TURN, places=4),
        "layers": whole(0, MOST_LAYERS),
    }
)
_read = mapping_of(list_of(or_none(_read_place), most=MOST_COPIES))


@dataclass(frozen=True, slots=True)
class OwnPlace:
    """Where one copy sits: `on` is the name of a piece, `face` one of its faces (“front 2”).

    `x` and `y` are shares of the face, `turn` degrees against the clock, `layers` how many layers
    of card it is in front.
    """

    how: How
    on: str
    face: str
    x: Decimal
    y: Decimal
    turn: Decimal
    layers: int


# by the name of a piece: a place for each copy, None where it is the usual one
OwnPlaces = Mapping[str, tuple[OwnPlace | None, ...]]


def read_places(raw: Any, path: str = "places") -> OwnPlaces:
    """Return the places a document says. Errors: WrongJson with the path of what is wrong."""
    return {
        name: tuple(OwnPlace(**{**one, "how": How(one["how"])}) if one else None for one in places)
        for name, places in _read(raw, path).items()
    }


def written_places(places: OwnPlaces) -> dict[str, Any]:
    """Return the document of places; a piece with usual places only is left out."""
    return {
        name: [_written(one) if one else None for one in copies]
        for name, copies in places.items()
        if any(copies)
    }


def _written(place: OwnPlace) -> dict[str, Any]:
    return {
        "how": place.how.value,
        "on": place.on,
        "face": place.face,
        **{key: f"{getattr(place, key):f}" for key in ("x", "y", "turn")},
        "layers": place.layers,
    }


def with_own_places(pieces: Sequence[ItemPiece], own: OwnPlaces) -> tuple[ItemPiece, ...]:
    """Return the pieces with the places said for them; what the others sit on keeps its own."""
    if not own:
        return tuple(pieces)
    usual = places_of(pieces)
    main = main_piece(pieces)
    names = [piece.name for piece in pieces]
    found = list(pieces)
    for at, piece in enumerate(pieces):
        said = own.get(piece.name, ())
        if at == main or not any(said):
            continue
        places = []
        for copy in range(copies_of(piece, usual[at])):
            place = _place(said[copy] if copy < len(said) else None, names, at)
            if place is None and copy < len(usual[at]):
                place = usual[at][copy]
            if place is not None:
                places.append(place)
        found[at] = replace(piece, own=tuple(places))
    return tuple(found)


def copies_of(piece: ItemPiece, usual: Sequence[Place]) -> int:
    """Return how many copies of a piece can have a place."""
    return max(min(piece.count, MOST_COPIES), len(usual))


def _place(said: OwnPlace | None, names: Sequence[str], at: int) -> Place | None:
    on = [other for other, name in enumerate(names) if said and name == said.on and other != at]
    if said is None or not on:
        return None
    return Place(
        said.how,
        on[0],
        face=said.face,
        x=float(said.x),
        y=float(said.y),
        turn=float(said.turn),
        layers=said.layers,
    )


def faces_to_sit_on(piece: ItemPiece, faces: Mapping[str, Face]) -> list[str]:
    """Return the names of the faces a thing can be put on, each once, its sides first.

    What is glued down and not seen (tabs, base flaps, hems) is left out.
    """
    kinds = {one.name: one.kind for one in piece.pattern.pieces[0].panels} if piece.pattern else {}
    hidden = (PanelKind.TAB, PanelKind.FLAP)
    found: dict[Any, str] = {}
    order = [*(name for name in SIDES if name in faces), *faces]
    for name in order:
        panel = name.rstrip(" 0123456789")
        if name in SIDES or panel in FLAPS or kinds.get(panel) not in hidden:
            face = faces[name]
            place = tuple(round(part, 3) for part in (*face.middle, *face.out, face.width))
            found.setdefault(place, name)
    return list(found.values())
