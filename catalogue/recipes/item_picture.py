"""The whole item of a recipe, in its card: what is drawn of which rows, and where each sits.

A row that holds only with a choice nobody usually makes is left out. Drawings are remembered by
what they show, so that a list of designs draws each once.
"""

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from django.core.cache import cache
from django.utils.safestring import SafeString, mark_safe

from catalogue.calc.folded.cords import CORD_WORDS, Cord, CordKind
from catalogue.calc.folded.own_places import OwnPlaces, read_places, with_own_places
from catalogue.calc.folded.places import FORMS_OVER, How, ItemPiece, Place
from catalogue.calc.folded.whole import Whole, whole_item
from catalogue.calc.recipes.form_blank import form_pattern
from catalogue.materials.looks import CardLook, Pattern, look_of
from catalogue.materials.models import Material
from catalogue.recipes.models import Colourway, DesignVersion
from catalogue.shapes.whole_picture import item_svg
from maker.calc.refusal import Refusal

# more pieces than this make a picture nobody reads
MOST_PIECES = 24
LARGEST = 60_000
MOST_FACETS = 400
# what is drawn now is another picture than one kept from before this changed
DRAWN_AS = 2
KEPT_SECONDS = 7 * 24 * 3600
# a string of the tag, a ribbon to pull by: too small a part to be drawn
NOT_SEEN = ("tape", "tag", "pull", "seam")
CORD_WIDTHS = {"length": 6.0, "pairs": 5.0}


@dataclass(frozen=True, slots=True)
class Item:
    """What is drawn of a recipe: its pieces and cords, and the look of each."""

    name: str
    pieces: tuple[ItemPiece, ...]
    cords: tuple[Cord, ...]
    looks: tuple[CardLook, ...]
    materials: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ItemPicture:
    """A picture of an item and what it shows, in words."""

    svg: SafeString
    caption: str
    words: tuple[str, ...]


def item_of(
    version: DesignVersion,
    *,
    colourway: Colourway | None = None,
    choices: Mapping[str, str] | None = None,
    is_page: bool = True,
    places: OwnPlaces | None = None,
) -> Item:
    """Return what is drawn; no query when the version was loaded `with_recipe()`.

    Without a colourway it is the first one's, if there is any; without choices the usual ones; the
    places are the version's own, or those given. Photos of cards are linked on a page; a paper,
    which links nothing, has their colours.
    """
    if colourway is None:
        colourway = next(iter(version.colourways.all()), None)
    swapped = {one.role_id: one.material for one in colourway.materials.all()} if colourway else {}
    materials = {role.pk: swapped.get(role.pk, role.material) for role in version.roles.all()}
    chosen = _chosen(version, choices or {})
    slug = version.design.workshop.slug if is_page else ""
    pieces: list[ItemPiece] = []
    cords: list[Cord] = []
    looks: list[CardLook] = []
    names: list[str] = []
    for row in _holding(version.pieces.all(), chosen):
        if len(pieces) == MOST_PIECES:
            break
        pieces.append(_piece_of(row))
        looks.append(look_of(materials[row.role_id], slug))
        names.append(materials[row.role_id].name)
    for row in _holding(version.fixings.all(), chosen):
        cord = _cord_of(row, materials[row.role_id])
        if cord and cord.kind not in {one.kind for one in cords}:
            cords.append(cord)
            looks.append(look_of(materials[row.role_id], slug))
            names.append(materials[row.role_id].name)
    name = version.design.name
    own = read_places(version.places) if places is None else places
    return Item(name, with_own_places(pieces, own), tuple(cords), tuple(looks), tuple(names))


def _chosen(version: DesignVersion, choices: Mapping[str, str]) -> set[int]:
    """Return the keys of the choices made: those asked for, else the usual ones."""
    found: set[int] = set()
    for option in version.options.all():
        rows = list(option.choices.all())
        asked = choices.get(option.key)
        made = [one for one in rows if one.key == asked] or [one for one in rows if one.is_default]
        found.update(one.pk for one in made[:1])
    return found


def _holding(rows: Iterable[Any], chosen: set[int]) -> Iterable[Any]:
    for row in rows:
        only, never = row.only_with_id, row.not_with_id
        if (only is None or only in chosen) and (never is None or never not in chosen):
            yield row


def _piece_of(row: Any) -> ItemPiece:
    pattern = None
    if row.form:
        try:
            pattern = form_pattern(row.form, row.form_inputs, "mm")
        except Refusal:  # a form the library has no more is drawn as its kept blank
            pattern = None
    return ItemPiece(
        name=row.name,
        width=float(row.width_mm),
        height=float(row.height_mm),
        pattern=pattern,
        count=row.count,
        is_die=row.shape == "die",
    )


def _cord_of(row: Any, material: Material) -> Cord | None:
    """Return what is seen of a ribbon, cord or pair of handles; None for glue, tape and dots."""
    said = f"{row.name} {material.name}".casefold()
    if material.kind not in CORD_WIDTHS or any(word in said for word in NOT_SEEN):
        return None
    for word, kind in CORD_WORDS.items():
        if word in said:
            if material.kind == Material.Kind.PAIRS and kind is not CordKind.HANDLES:
                return None
            width = 3.0 if "twine" in said or "cord" in said else CORD_WIDTHS[material.kind]
            return Cord(row.name, kind, width, float(row.amount))
    return None


def colourway_asked(version: DesignVersion, asked: str) -> Colourway | None:
    """Return the colourway an address names by its key; None when it names none of these."""
    return next((one for one in version.colourways.all() if str(one.pk) == asked), None)


def item_picture(
    item: Item, *, name: str, width: float = 400.0, height: float = 320.0
) -> ItemPicture | None:
    """Return the picture; None of a recipe in which nothing is cut. `name` is its own on a page."""
    if not item.pieces:
        return None
    key = (
        "item-picture-"
        + hashlib.sha256(repr((DRAWN_AS, item, name, width, height)).encode()).hexdigest()
    )
    kept = cache.get(key)
    if kept is None:
        kept = _drawn(item, name, width, height)
        cache.set(key, kept, KEPT_SECONDS)
    svg, words = kept
    return ItemPicture(_safe(svg), item.name, words)


def _drawn(item: Item, name: str, width: float, height: float) -> tuple[str, tuple[str, ...]]:
    """Draw an item within LARGEST bytes: of many large pieces first patterns go, then the last."""
    count = len(item.pieces)
    words = seat_words(item, whole_item(item.pieces, item.cords))
    label = f"{item.name}: {'; '.join(words)}"
    cords = [_both_sides(look) for look in item.looks[count:]]
    svg, is_plain = "", False
    while count:
        looks = [*item.looks[:count], *cords]
        if is_plain:
            looks = [replace(look, pattern=Pattern.PLAIN, picture=None) for look in looks]
        whole = whole_item(item.pieces[:count], item.cords)
        # what has so many facets would only be drawn to be thrown away
        if len(whole.facets) <= MOST_FACETS or count == 1:
            svg = item_svg(whole, looks, name=name, label=label, width=width, height=height)
            if len(svg.encode()) <= LARGEST:
                break
            if not is_plain:
                is_plain = True
                continue
        count //= 2
    return svg, words


def _both_sides(look: CardLook) -> CardLook:
    return replace(look, is_double_sided=True)


_HOW = {
    How.OVER: "over {on}",
    How.ROUND: "round {on}",
    How.ARCH: "from side to side of {on}",
    How.PULLED: "inside {on}, pulled out",
    How.INSIDE: "inside {on}, not seen",
    How.BESIDE: "beside {on}",
}
_CORD = {
    CordKind.HANDLES: "as handles, front and back",
    CordKind.LOOP: "as a loop on top",
    CordKind.BAND: "tied in a bow",
}


def seat_words(item: Item, whole: Whole) -> tuple[str, ...]:
    """Return what is where and in which card, a line for each piece and cord."""
    faces: dict[int, list[str]] = {}
    hows: dict[int, Place] = {}
    for seat in whole.seats:
        hows.setdefault(seat.piece, seat.place)
        faces.setdefault(seat.piece, []).append(seat.place.face)
    words = []
    for number, piece in enumerate(item.pieces):
        place = hows[number]
        on = item.pieces[place.on].name
        where = ""
        if place.how is How.FACE:
            is_lid = item.pieces[place.on].form in FORMS_OVER
            there = dict.fromkeys(
                # the base of a lid's blank is the top of the item
                "top" if is_lid and face == "base" else face
                for face in faces[number]
            )
            where = f" on the {_listed(list(there))} of {on}"
        elif place.how in _HOW:
            where = f" {_HOW[place.how].format(on=on)}"
        words.append(f"{piece.name}{where}, {item.materials[number]}")
    for at, cord in enumerate(item.cords if not whole.is_flat else ()):
        words.append(f"{cord.name} {_CORD[cord.kind]}, {item.materials[len(item.pieces) + at]}")
    return tuple(words)


def _listed(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _safe(svg: str) -> SafeString:
    return mark_safe(svg)  # noqa: S308  # drawn by us, texts escaped, colours checked
