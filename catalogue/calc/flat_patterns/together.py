"""What goes with what: the parts of one thing, and the sizes they take from it.

A part's `sizes` are its own only as long as it goes with that thing: a panel is as large as its
face, a lid as wide as its bag. Its `proposals` are where it begins (how far a lid drops); they are
common practice without a source, chosen so that the worked bags come out (a pocket of 4 x 4 in on
a bag of 7 1/2 x 4 x 8, of 2 x 2 on one of 2 1/2 x 1 1/2 x 4; a handle of 23 1/2 in over the first).
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from catalogue.calc.flat_patterns.pattern import Sizes

Relation = Callable[[Sizes], Fraction | None]
Relations = Mapping[str, Relation]


@dataclass(frozen=True, slots=True)
class Companion:
    """A part that goes with a whole: its form, its name beside it, and what it takes from it.

    `is_back` leads from a part to its whole: sizes are carried, but the whole does not follow.
    `is_needed` says that one is not finished without the other. A relation that gives None does
    not hold for the whole as it is.
    """

    whole: str
    part: str
    name: str
    sizes: Relations = field(default_factory=dict)
    proposals: Relations = field(default_factory=dict)
    is_back: bool = False
    is_needed: bool = False

    def taken(self, whole: Sizes) -> dict[str, Fraction] | None:
        """Return every size it takes from a whole; None where it does not go with that."""
        found = {}
        for name, relation in {**self.sizes, **self.proposals}.items():
            value = relation(whole)
            if value is not None:
                found[name] = value
            elif not self.is_back:
                return None
        return found


def _same(name: str) -> Relation:
    return lambda whole: whole[name]


def _same_all(*names: str) -> dict[str, Relation]:
    return {name: _same(name) for name in names}


def _marked(relation: Callable[[Sizes], Fraction]) -> Relation:
    """Put a proposal down to a mark of the ruler, 1/16 in or 1/2 mm, at least one mark."""

    def on_a_mark(whole: Sizes) -> Fraction:
        step = whole.either(Fraction(1, 2), Fraction(1, 16))
        return max(relation(whole) // step, 1) * step

    return on_a_mark


def _face(whole: str, name: str, across: Relation, up: Relation) -> Companion:
    """Return a panel on a face: as large as the face, its border less on a narrow one."""

    def border(sizes: Sizes) -> Fraction | None:
        sides = across(sizes), up(sizes)
        if sides[0] is None or sides[1] is None:
            return None
        # 3 mm or 1/8 in, as the panel itself has it; a fifth of a face too narrow for that
        return min(sizes.either(3, Fraction(1, 8)), sides[0] / 5, sides[1] / 5)

    return Companion(whole, "decorative_panel", name, {"w": across, "h": up}, {"border": border})


def _straight(name: str) -> Relation:
    return lambda whole: None if whole["edge"] and whole["shaped"] else whole[name]


def _faces(whole: str, width: str, depth: str, height: str) -> list[Companion]:
    return [
        _face(whole, "front panel", _same(width), _same(height)),
        _face(whole, "side panel", _same(depth), _same(height)),
    ]


def _with_a_bag(whole: str) -> list[Companion]:
    return [
        Companion(
            whole,
            "bag_lid",
            "lid",
            _same_all("W", "D"),
            {"H": _same("H"), "drop": lambda bag: min(bag["D"], bag["H"])},
        ),
        Companion(
            whole,
            "handle_strip",
            "handle",
            # down both sides and across: as long as the bag is wide and twice as high
            {"length": lambda bag: bag["W"] + 2 * bag["H"]},
            {"width": _marked(lambda bag: min(bag.either(25, 1), bag["D"] / 2))},
        ),
        Companion(whole, "base_card", "base card", _same_all("W", "D")),
        Companion(
            whole,
            "pocket_box",
            "pocket",
            {},
            {
                "W": _marked(lambda bag: min(bag["H"] / 2, bag["W"] * 4 / 5)),
                "H": _marked(lambda bag: bag["H"] / 2),
                "d": _marked(lambda bag: min(bag.either(20, Fraction(3, 4)), bag["D"] / 3)),
            },
        ),
        *_faces(whole, "W", "D", "H"),
        _band(whole),
    ]


def _band(whole: str) -> Companion:
    return Companion(
        whole,
        "belly_band",
        "band",
        # round the outside, which is a sheet more on either side
        {"W": lambda box: box["W"] + 2 * box["t"], "D": lambda box: box["D"] + 2 * box["t"]},
        {"height": _marked(lambda box: box["H"] / 4)},
    )


def _to_a_bag(part: str) -> list[Companion]:
    known = _same_all("W", "D")
    if part == "bag_lid":
        known["H"] = lambda lid: lid["H"] or None
    return [
        Companion(part, bag, "body", {} if part == "handle_strip" else known, is_back=True)
        for bag in ("two_piece_bag", "one_piece_bag")
    ]


_DRAWER = {"Wd": _same("W"), "Hd": _same("H"), "Ld": _same("L")}
_SLEEVED = {"W": _same("Wd"), "H": _same("Hd"), "L": _same("Ld"), "t": _same("t")}

COMPANIONS: Sequence[Companion] = (
    *_with_a_bag("two_piece_bag"),
    *_with_a_bag("one_piece_bag"),
    *_to_a_bag("bag_lid"),
    _face("bag_lid", "top panel", _same("W"), _same("D")),
    _face("bag_lid", "drop panel", _same("W"), _straight("drop")),
    *_to_a_bag("handle_strip"),
    *_to_a_bag("base_card"),
    Companion(
        "pocket_box",
        "flap_extension",
        "flap",
        _same_all("W", "tuck"),
        {"reach": _marked(lambda box: min(box["W"] / 4, box["H"]))},
    ),
    *_faces("pocket_box", "W", "d", "H"),
    Companion("flap_extension", "pocket_box", "pocket", _same_all("W", "tuck"), is_back=True),
    *_faces("tuck_box", "W", "D", "H"),
    _face("tuck_box", "top panel", _same("W"), _same("D")),
    _band("tuck_box"),
    *_faces("gable_box", "W", "D", "H"),
    _band("gable_box"),
    Companion(
        "tray",
        "tray_lid",
        "lid",
        _same_all("L", "W"),
        {**_same_all("H", "t"), "Hl": _marked(lambda tray: tray["H"] / 2)},
    ),
    _face("tray", "long side panel", _same("L"), _same("H")),
    _face("tray", "short side panel", _same("W"), _same("H")),
    Companion("tray_lid", "tray", "tray", _same_all("L", "W", "H", "t"), is_back=True),
    # from score to score, as the lid goes over the tray with its clearance
    _face(
        "tray_lid",
        "top panel",
        lambda lid: lid["L"] + 2 * (lid["t"] + lid["c"]),
        lambda lid: lid["W"] + 2 * (lid["t"] + lid["c"]),
    ),
    Companion("drawer", "sleeve", "sleeve", _DRAWER, _same_all("t"), is_needed=True),
    _face("drawer", "front panel", _same("W"), _same("H")),
    Companion("sleeve", "drawer", "drawer", _SLEEVED, is_back=True, is_needed=True),
    _face(
        "sleeve",
        "top panel",
        lambda sleeve: sleeve["Wd"] + 3 * sleeve["t"] + 2 * sleeve["c"],
        lambda sleeve: sleeve["Ld"] + 2 * sleeve["t"],
    ),
    Companion("frustum", "cup_base", "base", _same_all("r1", "r2", "h"), is_needed=True),
    Companion(
        "cup_base", "frustum", "cup", _same_all("r1", "r2", "h"), is_back=True, is_needed=True
    ),
    Companion(
        "hex_tray",
        "hex_lid",
        "lid",
        _same_all("a"),
        {"Hl": _marked(lambda tray: tray["H"] / 2)},
    ),
    Companion("hex_lid", "hex_tray", "tray", _same_all("a"), is_back=True),
    Companion("hex_tube", "hex_base", "base card", _same_all("a"), is_needed=True),
    Companion("hex_base", "hex_tube", "tube", _same_all("a"), is_back=True, is_needed=True),
    _face("wallet", "front panel", _same("w"), _same("h")),
    _face("wallet", "flap panel", _same("w"), _straight("flap")),
    _face("diagonal_envelope", "front panel", _same("w"), _same("h")),
)


def companions_of(form: str) -> list[Companion]:
    """Return what goes with a form, its parts first."""
    return [one for one in COMPANIONS if one.whole == form]


def forms_beside(form: str) -> tuple[str, ...]:
    """Return the forms that go with one, each once."""
    return tuple(dict.fromkeys(one.part for one in companions_of(form)))
