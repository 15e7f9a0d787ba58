"""Where the pieces of an item sit: on which piece and face, and by default what goes together.

A pair that belongs together has a place by its forms (a lid over its box, a pocket on the front),
a free piece one by its name and size. Usual ways of putting things together: common practice, no
source; whoever makes the item may say otherwise.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from catalogue.calc.flat_patterns.pattern import FlatPattern, Sizes
from catalogue.calc.flat_patterns.together import Companion, companions_of
from catalogue.calc.folded.assembly import is_bent


class How(StrEnum):
    """In which way a piece sits on another."""

    ROOM = "room"  # stands by itself: what the others sit on
    FACE = "face"  # against a face
    OVER = "over"  # on top, over what is open there
    ROUND = "round"  # about the walls
    ARCH = "arch"  # from side to side, in a bow above
    PULLED = "pulled"  # inside, pulled out by a part of its length
    INSIDE = "inside"  # not seen
    BESIDE = "beside"  # next to it


class Outline(StrEnum):
    """What a piece cut to a rectangle or with a die looks like."""

    RECTANGLE = "rectangle"
    ROUNDED = "rounded"
    CIRCLE = "circle"
    STAR = "star"
    HEART = "heart"
    TAG = "tag"


@dataclass(frozen=True, slots=True)
class Place:
    """Where one copy of a piece sits.

    `on` is the number of the piece it sits on, `copy` which of two halves of that. `x` and `y` are
    where its middle is, as shares of the face; `turn` is in degrees against the clock; `layers`
    how many layers of card it is in front of the face.
    """

    how: How
    on: int = 0
    copy: int = 0
    face: str = "front"
    x: float = 0.5
    y: float = 0.5
    turn: float = 0.0
    layers: int = 1


@dataclass(frozen=True, slots=True)
class ItemPiece:
    """A piece of an item: its blank in mm, its pattern when it is folded from a shape.

    `own` are places given to it, one for each copy; none: those it has by default.
    """

    name: str
    width: float
    height: float
    pattern: FlatPattern | None = None
    count: int = 1
    is_die: bool = False
    outline: Outline | None = None
    own: tuple[Place, ...] = ()

    @property
    def form(self) -> str:
        """The form it is folded from, or nothing."""
        return self.pattern.form if self.pattern else ""

    @property
    def folds(self) -> bool:
        """Whether it is more than a flat piece of card."""
        pattern = self.pattern
        if pattern is None:
            return False
        return is_bent(pattern) or any(one.angle_deg for one in pattern.pieces[0].hinges)

    @property
    def shown_as(self) -> Outline:
        """The outline said, or the one its name speaks of."""
        if self.outline:
            return self.outline
        said = self.name.casefold()
        for words, outline in OUTLINE_WORDS.items():
            if self.is_die and any(word in said for word in words):
                return outline
        return Outline.ROUNDED if self.is_die else Outline.RECTANGLE


OUTLINE_WORDS = {
    ("star",): Outline.STAR,
    ("heart",): Outline.HEART,
    ("badge", "circle", "round", "seal", "rosette", "sticker"): Outline.CIRCLE,
    ("tag",): Outline.TAG,
}
INSIDE_WORDS = (
    "lining",
    "liner",
    "base",
    "floor",
    "insert",
    "core",
    "divider",
    "inside",
    "bottom",
    "wall",
)
LID_WORDS = ("top", "lid", "roof", "cover")
HANDLE_WORDS = ("handle",)
PATCH_WORDS = ("patch", "reinforce")
FORMS_INSIDE = ("base_card", "hex_base", "cup_base")
FORMS_OVER = ("bag_lid", "tray_lid", "hex_lid")
# gives its sizes to what it sits in: a sleeve is made for its drawer
TAKES_FROM = ("drawer",)
# what is alike on every wall goes round in this order
ROUND_ABOUT = ("front", "right", "back", "left")
FRONT_AND_BACK = ("front", "back")
MOST_COPIES = 4


def places_of(pieces: Sequence[ItemPiece]) -> list[tuple[Place, ...]]:
    """Return where each copy of each piece sits: as was said, else as is usual."""
    main = main_piece(pieces)
    flat = not pieces or not pieces[main].folds
    found: list[tuple[Place, ...]] = []
    on_front: list[ItemPiece] = []
    for at, piece in enumerate(pieces):
        if piece.own:
            found.append(piece.own)
        elif at == main:
            found.append((Place(How.ROOM, at),))
        elif flat:
            found.append((_on_a_flat_one(piece, pieces, main, on_front),))
        else:
            found.append(_usual(at, pieces, main, on_front))
    return found


def main_piece(pieces: Sequence[ItemPiece]) -> int:
    """Return what the others sit on: the largest folded piece that is not part of another."""
    if not pieces:
        return 0
    folded = [at for at, piece in enumerate(pieces) if piece.folds and not piece.own]
    wholes = [at for at in folded if whole_of(at, pieces) is None]
    candidates = wholes or folded or [at for at, one in enumerate(pieces) if not one.own]
    return max(candidates or [0], key=lambda at: pieces[at].width * pieces[at].height)


def whole_of(at: int, pieces: Sequence[ItemPiece]) -> tuple[int, Companion] | None:
    """Return what a piece goes with and how: one it has its sizes from, else one of its form.

    Of several the one its name speaks of.
    """
    piece = pieces[at]
    if piece.pattern is None or piece.form == "sleeve":
        return None
    found: list[tuple[int, int, Companion]] = []
    said = piece.name.casefold()
    for other, whole in enumerate(pieces):
        if other == at or whole.pattern is None:
            continue
        for companion in companions_of(whole.form):
            if companion.part != piece.form or companion.is_back != (piece.form in TAKES_FROM):
                continue
            rank = 2 * _has_sizes_of(piece.pattern, companion, whole.pattern)
            rank += any(word in said for word in companion.name.split() if word != "panel")
            found.append((rank, other, companion))
    if not found:
        return None
    # the first of equals
    _, other, companion = max(found, key=lambda one: (one[0], -one[1]))
    return other, companion


def _has_sizes_of(part: FlatPattern, companion: Companion, whole: FlatPattern) -> bool:
    taken = companion.taken(Sizes(whole.form, whole.inputs, whole.unit))
    if taken is None:
        return False
    return all(abs(float(part.inputs[name] - taken[name])) < 0.05 for name in companion.sizes)


def _usual(
    at: int, pieces: Sequence[ItemPiece], main: int, on_front: list[ItemPiece]
) -> tuple[Place, ...]:
    piece = pieces[at]
    pair = whole_of(at, pieces)
    whole = pair[0] if pair else main
    form = piece.form
    if form in FORMS_INSIDE:
        return (Place(How.INSIDE, whole),)
    if form in FORMS_OVER:
        return (Place(How.OVER, whole),)
    if form == "drawer" and pair:
        return (Place(How.PULLED, whole),)
    if form == "handle_strip":
        return (Place(How.ARCH, whole),)
    if form == "belly_band" and pair:
        return (Place(How.ROUND, whole),)
    if form == "flap_extension":
        return (Place(How.FACE, whole, face="front", y=1.0, layers=3),)
    if form == "tag":
        return (_hanging(piece, pieces[whole], whole),)
    if form == "pocket_box" and pair:
        faces = FRONT_AND_BACK[: piece.count]
        return tuple(
            Place(How.FACE, whole, face=face, y=_pocket_height(piece, pieces, whole), layers=2)
            for face in faces
        )
    if form == "decorative_panel" and pair:
        return _panels(piece, pair[1].name, whole)
    if piece.folds:
        return (Place(How.BESIDE, main),)
    return _by_its_name(piece, pieces, main, on_front)


def _panels(piece: ItemPiece, name: str, whole: int) -> tuple[Place, ...]:
    """Return the faces panels sit on: “front panel” on the front, a second one behind."""
    faces = {
        "front panel": ROUND_ABOUT if piece.count > 2 else FRONT_AND_BACK,
        "side panel": ("right", "left"),
        "long side panel": ("front", "back"),
        "short side panel": ("right", "left"),
        "top panel": ("top",),
        "drop panel": ("drop",),
        "flap panel": ("flap",),
    }[name]
    return tuple(Place(How.FACE, whole, face=face) for face in faces[: piece.count])


def _pocket_height(piece: ItemPiece, pieces: Sequence[ItemPiece], whole: int) -> float:
    """Return how high the middle of a pocket is: near the base when a lid drops in front."""
    bag = pieces[whole].pattern
    has_lid = any(one.form == "bag_lid" for one in pieces)
    if not (has_lid and bag and piece.pattern and piece.pattern.outside and bag.outside):
        return 0.42
    return min(0.03 + float(piece.pattern.outside[2] / bag.outside[2]) / 2, 0.5)


def _hanging(piece: ItemPiece, whole: ItemPiece, at: int) -> Place:
    """Return a tag near the right upper corner, a little turned, in front of all else."""
    return Place(How.FACE, at, face="front", x=0.74, y=0.66, turn=-9.0, layers=6)


def _by_its_name(
    piece: ItemPiece, pieces: Sequence[ItemPiece], main: int, on_front: list[ItemPiece]
) -> tuple[Place, ...]:
    said = piece.name.casefold()

    def speaks_of(words: Sequence[str]) -> bool:
        return any(word in said for word in words)

    if speaks_of(PATCH_WORDS) or (speaks_of(INSIDE_WORDS) and not speaks_of(LID_WORDS)):
        return (Place(How.INSIDE, main),)
    lids = [at for at, one in enumerate(pieces) if one.form in FORMS_OVER]
    if lids and "badge" in said:
        face = "drop" if pieces[lids[0]].form == "bag_lid" else "base"
        return (Place(How.FACE, lids[0], face=face, layers=2),)
    if speaks_of(LID_WORDS):
        # a lid that is folded has these inside
        return (Place(How.INSIDE if lids else How.OVER, main),)
    if speaks_of(HANDLE_WORDS) and max(piece.width, piece.height) > 4 * min(
        piece.width, piece.height
    ):
        return (Place(How.ARCH, main),)
    if "tag" in said:
        return (_hanging(piece, pieces[main], main),)
    if piece.count > 1:
        faces = ROUND_ABOUT if piece.count > 2 else FRONT_AND_BACK
        return tuple(Place(How.FACE, main, face=face) for face in faces[: piece.count])
    on_front.append(piece)
    return (Place(How.FACE, main, face="front", layers=2 + len(on_front)),)


def _on_a_flat_one(
    piece: ItemPiece, pieces: Sequence[ItemPiece], main: int, on_front: list[ItemPiece]
) -> Place:
    """Return where a piece of a flat thing lies: on it when smaller both ways, else beside."""
    base = pieces[main]
    if piece.width < base.width and piece.height < base.height and _lies_on_top(piece, base):
        on_front.append(piece)
        return Place(How.FACE, main, layers=len(on_front))
    return Place(How.BESIDE, main)


def _lies_on_top(piece: ItemPiece, base: ItemPiece) -> bool:
    # a layer on a tag, a badge: what is cut from a thing's sheets is laid beside it
    return piece.is_die or base.is_die or piece.form in ("tag", "decorative_panel")
