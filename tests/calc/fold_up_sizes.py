"""Random finished sizes that each form can be folded in, the same on every run."""

import math
import random
from collections.abc import Callable
from fractions import Fraction

from catalogue.calc.flat_patterns import flat_pattern
from catalogue.calc.flat_patterns.pattern import FlatPattern

Sizes = dict[str, Fraction]


class Dice:
    """Draws lengths in tenths of a millimetre, or now and then in thirds."""

    def __init__(self, seed: str) -> None:
        self.random = random.Random(seed)

    def __call__(self, low: float, high: float) -> Fraction:
        parts = self.random.choice((10, 10, 3))
        first, last = math.ceil(low * parts), math.floor(high * parts)
        return Fraction(self.random.randint(first, max(first, last)), parts)

    def thickness(self) -> Fraction:
        """None in every other draw, else card or board."""
        return self.random.choice((Fraction(0), Fraction(3, 10), Fraction(0), Fraction(3, 2)))

    def yes_or_no(self) -> Fraction:
        """One or zero, as a form asks for a choice."""
        return Fraction(self.random.choice((0, 1)))


def two_piece_bag(dice: Dice) -> Sizes:
    """Depth at most the width."""
    width = dice(50, 250)
    return {
        "W": width,
        "D": dice(30, float(width)),
        "H": dice(60, 300),
        "g": dice(8, 15),
        "hem": dice.random.choice((Fraction(0), dice(10, 30))),
        "t": dice.thickness(),
    }


def one_piece_bag(dice: Dice) -> Sizes:
    """As in two pieces, with or without scores down the middle of its sides."""
    return two_piece_bag(dice) | {"gusset": dice.yes_or_no()}


def pocket_box(dice: Dice) -> Sizes:
    """From shallow to square, where dust flaps as deep as the box would meet."""
    width = dice(60, 150)
    return {
        "W": width,
        "d": dice(12, dice.random.choice((28, float(width)))),
        "H": dice(40, 150),
        "g": dice(6, 11),
        "tuck": dice(8, 20),
        "t": dice.thickness(),
    }


def edge(dice: Dice, across: Fraction, down: Fraction) -> Sizes:
    """Straight, tapered, pointed or curved, up to the most there may be of each."""
    which = dice.random.randint(0, 3)
    most = (Fraction(0), across / 3, down, min(down, across / 2))[which]
    by = dice.random.choice((most, most * dice.random.randint(20, 99) / 100))
    return {"edge": Fraction(which), "shaped": by}


def bag_lid(dice: Dice) -> Sizes:
    """A strip over a bag."""
    sizes = {"W": dice(60, 200), "D": dice(30, 100), "lap": dice(8, 20), "drop": dice(20, 60)}
    return sizes | edge(dice, sizes["W"], sizes["drop"])


def tuck_box(dice: Dice) -> Sizes:
    """Dust flaps at most half the width and no longer than closure and tuck."""
    width, depth, tuck = dice(40, 120), dice(20, 80), dice(8, 15)
    # its side base flaps are as deep as the box and must stay short of the other side
    glued_base = dice.yes_or_no() if depth <= width else Fraction(0)
    return {
        "W": width,
        "D": depth,
        "H": dice(60, 200),
        "g": dice(6, 15),
        "tuck": tuck,
        "dust": dice(10, float(min(width / 2, depth + tuck))),
        "glued_base": glued_base,
        "reverse": dice.yes_or_no() if not glued_base else Fraction(0),
        "t": dice.thickness(),
    }


def pillow_box(dice: Dice) -> Sizes:
    """A chord well over the thickness."""
    chord = dice(50, 160)
    return {
        "chord": chord,
        "T": dice(10, float(chord) / 2),
        "L": dice(90, 260),
        "g": dice(8, 15),
    }


def tray(dice: Dice) -> Sizes:
    """Any size; walls no higher than half the base."""
    return {
        "L": dice(80, 200),
        "W": dice(80, 200),
        "H": dice(15, 40),
        "t": dice.thickness(),
    }


def tray_lid(dice: Dice) -> Sizes:
    """The lid of a tray, its drop less than the tray's height."""
    return {
        "L": dice(80, 200),
        "W": dice(80, 200),
        "Hl": dice(10, 20),
        "t": dice.thickness(),
        "c": dice(0.3, 1),
    }


def sleeve(dice: Dice) -> Sizes:
    """Round a drawer of these inside sizes."""
    return {
        "Wd": dice(50, 120),
        "Hd": dice(18, 40),
        "Ld": dice(60, 150),
        "g": dice(8, 12),
        "t": dice.thickness(),
        "c": dice(0.3, 1),
    }


def wallet(dice: Dice) -> Sizes:
    """The flap shorter than the pocket."""
    height = dice(50, 120)
    sizes = {
        "w": dice(80, 200),
        "h": height,
        "flap": dice(15, float(height) - 5),
        "g": dice(8, 15),
    }
    return sizes | edge(dice, sizes["w"], sizes["flap"])


def diagonal_envelope(dice: Dice) -> Sizes:
    """From nearly square to twice as wide as high."""
    height = dice(60, 150)
    wider = dice.random.choice((1.02, 2))
    return {"w": dice(float(height), wider * float(height)), "h": height, "a": dice(8, 30)}


def tent_box(dice: Dice) -> Sizes:
    """From low to steep."""
    return {"B": dice(40, 120), "Ht": dice(30, 120), "L": dice(50, 200), "g": dice(6, 12)}


def pyramid(dice: Dice) -> Sizes:
    """From low to steep."""
    return {"a": dice(40, 120), "Ht": dice(30, 150)}


def gable_box(dice: Dice) -> Sizes:
    """Depth at most the width; no board, which its roof does not follow."""
    width = dice(50, 120)
    return {
        "W": width,
        "D": dice(30, float(width)),
        "H": dice(50, 150),
        "G": dice(15, 40),
        "fin": dice(10, 20),
        "g": dice(8, 15),
        "t": min(dice.thickness(), Fraction(1)),
    }


def cone(dice: Dice) -> Sizes:
    """From blunt to slim."""
    return {"r": dice(20, 60), "h": dice(60, 200), "g": dice(6, 12)}


def frustum(dice: Dice) -> Sizes:
    """A cup wider at the top than at the foot."""
    upper = dice(30, 60)
    return {
        "r1": upper,
        "r2": dice(15, float(upper) - 4),
        "h": dice(40, 150),
        "g": dice(6, 12),
    }


def hex_tray(dice: Dice) -> Sizes:
    """Walls lower than the side, tabs lower still."""
    return {"a": dice(40, 90), "H": dice(20, 35), "g": dice(6, 9)}


def hex_lid(dice: Dice) -> Sizes:
    """The lid of a hexagon tray."""
    return {"a": dice(40, 90), "Hl": dice(15, 25), "t": dice.thickness(), "c": dice(0.3, 1)}


def hex_tube(dice: Dice) -> Sizes:
    """Foot flaps that do not reach the middle."""
    return {
        "a": dice(30, 60),
        "H": dice(60, 150),
        "g": dice(8, 12),
        "foot": dice(8, 20),
        "t": dice.thickness(),
    }


def belly_band(dice: Dice) -> Sizes:
    """Round an outside of these sizes."""
    return {
        "W": dice(40, 200),
        "D": dice(20, 100),
        "t": dice.thickness(),
        "lap": dice(8, 15),
        "height": dice(15, 60),
    }


def tetra_pouch(dice: Dice) -> Sizes:
    """Tall enough to open: the height over half the width."""
    width = dice(50, 120)
    return {
        "w": width,
        "h": dice(0.75 * float(width), 1.5 * float(width)),
        "g": dice(8, 12),
        "seal": dice(8, 15),
    }


def board_wrap(dice: Dice) -> Sizes:
    """Boards from 1 to 3 mm."""
    return {"w": dice(60, 200), "h": dice(60, 200), "T": dice(1, 3), "turn": dice(12, 20)}


def tag(dice: Dice) -> Sizes:
    """Single or folded, with or without a hole."""
    return {
        "w": dice(30, 80),
        "h": dice(40, 120),
        "hole": 4 * dice.yes_or_no(),
        "folded": dice.yes_or_no(),
    }


def decorative_panel(dice: Dice) -> Sizes:
    """On a face of these sizes."""
    return {"w": dice(50, 150), "h": dice(50, 150), "border": dice(2, 6)}


def base_card(dice: Dice) -> Sizes:
    """In a bag of these sizes."""
    return {"W": dice(60, 200), "D": dice(40, 100), "c": dice(0.3, 2)}


def hex_base(dice: Dice) -> Sizes:
    """In a tube of this side."""
    return {"a": dice(20, 90), "c": dice(0.3, 2)}


def cup_base(dice: Dice) -> Sizes:
    """In a cup wider at the top than at the foot, or as wide."""
    upper = dice(30, 60)
    return {
        "r1": upper,
        "r2": dice(20, float(upper)),
        "h": dice(40, 150),
        "g": dice(5, 10),
    }


def flap_extension(dice: Dice) -> Sizes:
    """On a tuck."""
    sizes = {"W": dice(60, 150), "tuck": dice(8, 15), "reach": dice(15, 40)}
    return sizes | edge(dice, sizes["W"], sizes["reach"])


def handle_strip(dice: Dice) -> Sizes:
    """Of one to three strips."""
    return {
        "length": dice(200, 600),
        "width": dice(15, 30),
        "strips": Fraction(dice.random.randint(1, 3)),
        "lap": dice(8, 15),
    }


SIZES: dict[str, Callable[[Dice], Sizes]] = {
    "two_piece_bag": two_piece_bag,
    "one_piece_bag": one_piece_bag,
    "bag_lid": bag_lid,
    "pocket_box": pocket_box,
    "tuck_box": tuck_box,
    "pillow_box": pillow_box,
    "tray": tray,
    "drawer": tray,
    "tray_lid": tray_lid,
    "sleeve": sleeve,
    "wallet": wallet,
    "diagonal_envelope": diagonal_envelope,
    "tent_box": tent_box,
    "pyramid": pyramid,
    "gable_box": gable_box,
    "cone": cone,
    "frustum": frustum,
    "hex_tray": hex_tray,
    "hex_lid": hex_lid,
    "hex_tube": hex_tube,
    "belly_band": belly_band,
    "tetra_pouch": tetra_pouch,
    "board_wrap": board_wrap,
    "tag": tag,
    "decorative_panel": decorative_panel,
    "base_card": base_card,
    "hex_base": hex_base,
    "cup_base": cup_base,
    "flap_extension": flap_extension,
    "handle_strip": handle_strip,
}


def some_pattern(form: str, draw: int, **others: Fraction) -> FlatPattern:
    """The pattern of a form at its random size of this number."""
    sizes = SIZES[form](Dice(f"{form} {draw}")) | others
    return flat_pattern(form, sizes, unit="mm")
