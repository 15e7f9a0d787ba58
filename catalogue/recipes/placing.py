"""Saves where the pieces of an item sit: only what is drawn, so a locked version may change too."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from django.db import transaction

from catalogue.calc.folded.own_places import (
    OwnPlace,
    OwnPlaces,
    copies_of,
    faces_to_sit_on,
    read_places,
    written_places,
)
from catalogue.calc.folded.places import FORMS_OVER, How, Place, main_piece
from catalogue.calc.folded.whole import whole_item
from catalogue.recipes.item_picture import Item, item_of, seat_words
from catalogue.recipes.models import DesignVersion
from maker.calc.refusal import Refusal


class PlacesChanged(Refusal):
    """Somebody placed a piece since this person opened the page."""


@dataclass(frozen=True, slots=True)
class Placed:
    """A piece as the page lists it: where it sits in words; `at` is its number in the picture."""

    at: int
    name: str
    words: str
    is_own: bool
    is_main: bool


class Placing:
    """The pieces of a version in their places, and what each can be put on."""

    def __init__(self, version: DesignVersion) -> None:
        self.version = version
        self.own = read_places(version.places)
        self.item = item_of(version)
        self.whole = whole_item(self.item.pieces, self.item.cords)
        self.main = main_piece(self.item.pieces)

    @property
    def placed(self) -> list[Placed]:
        """Return a line for each piece; the first of two of one name stands for both."""
        words = seat_words(self.item, self.whole)
        seen: set[str] = set()
        rows = []
        for at, piece in enumerate(self.item.pieces):
            if piece.name not in seen:
                is_main = at == self.main
                is_own = any(self.own.get(piece.name, ())) and not is_main
                rows.append(Placed(at, piece.name, words[at], is_own, is_main))
            seen.add(piece.name)
        return rows

    def copies(self, at: int) -> int:
        """Return how many copies of a piece can be placed."""
        usual = tuple(one.place for one in self.whole.seats if one.piece == at)
        return copies_of(self.item.pieces[at], usual)

    def faces(self, at: int) -> list[tuple[str, list[tuple[str, str]]]]:
        """Return what a piece can be put on, by what that belongs to: a key and words for each."""
        groups = []
        for other, piece in enumerate(self.item.pieces):
            if other == at or piece.name == self.item.pieces[at].name:
                continue
            ways = [
                (f"{How.FACE}:{other}:{face}", f"{face_words(piece.form, face)} of {piece.name}")
                for face in faces_to_sit_on(piece, self.whole.faces[other])
            ]
            ways.append((f"{How.OVER}:{other}:", f"on top of {piece.name}"))
            ways.append((f"{How.BESIDE}:{other}:", f"beside {piece.name}"))
            ways.append((f"{How.INSIDE}:{other}:", f"inside {piece.name}, not seen"))
            groups.append((piece.name, ways))
        return groups

    def place_now(self, at: int, copy: int) -> tuple[str, Place]:
        """Return where a copy is: the key of its own place or nothing, and the place as drawn."""
        seats = [one.place for one in self.whole.seats if one.piece == at]
        place = seats[min(copy, len(seats) - 1)]
        said = self.own.get(self.item.pieces[at].name, ())
        mine = said[copy] if copy < len(said) else None
        names = [piece.name for piece in self.item.pieces]
        if mine is None or mine.on not in names:
            return "", place
        face = mine.face if mine.how is How.FACE else ""
        return f"{mine.how}:{names.index(mine.on)}:{face}", place

    def with_places(self, at: int, copies: Sequence[OwnPlace | None]) -> OwnPlaces:
        """Return the version's places with others for the copies of one piece."""
        name = self.item.pieces[at].name
        rest = {key: places for key, places in self.own.items() if key != name}
        return {**rest, name: tuple(copies)} if any(copies) else rest

    def drawn(self, places: OwnPlaces) -> Item:
        """Return the item with other places, to be shown before they are saved."""
        return replace(item_of(self.version, places=places), name=self.item.name)


def face_words(form: str, face: str) -> str:
    """Return what a face is called: the base of a lid's blank is the top of the item."""
    return "top" if form in FORMS_OVER and face == "base" else face


@transaction.atomic
def save_places(*, version: DesignVersion, places: OwnPlaces, edit_number: int) -> DesignVersion:
    """Keep where the pieces sit. Errors: PlacesChanged when that changed since it was opened."""
    return _keep(version, written_places(places), edit_number)


@transaction.atomic
def undo_places(*, version: DesignVersion, edit_number: int) -> DesignVersion:
    """Take the last save back; undoing again brings it back. Errors: PlacesChanged."""
    return _keep(version, None, edit_number)


def _keep(version: DesignVersion, document: object, edit_number: int) -> DesignVersion:
    locked = DesignVersion.objects.select_for_update(no_key=True).get(pk=version.pk)
    if locked.places_edit_number != edit_number:
        raise PlacesChanged("Somebody placed a piece meanwhile. Check the picture and save again.")
    after = locked.places_before if document is None else document
    locked.places, locked.places_before = after, locked.places
    locked.places_edit_number += 1
    locked.save(update_fields=["places", "places_before", "places_edit_number"])
    return locked
