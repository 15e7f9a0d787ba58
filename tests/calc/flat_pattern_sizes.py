"""Sizes for tests of flat patterns: the worked ones, and random ones that can be folded."""

import json
from fractions import Fraction
from pathlib import Path

from hypothesis import assume
from hypothesis import strategies as st

from catalogue.calc.flat_patterns import FORMS, flat_pattern
from catalogue.calc.flat_patterns.pattern import BadSize

_FILE = Path(__file__).parent.parent / "data" / "flat_pattern_vectors.json"
WORKED = json.loads(_FILE.read_text(encoding="utf-8"), parse_float=Fraction, parse_int=Fraction)
VECTORS = {name: worked for name, worked in WORKED.items() if not name.startswith("_")}
SHEET_FIT = WORKED["_sheet_fit"]
# curved lines and slopes at any angle: a root or an angle is in their formula
IRRATIONAL = {
    "pillow_box",
    "cone",
    "frustum",
    "tent_box",
    "pyramid",
    "tetra_pouch",
    "diagonal_envelope",
    "gable_box",
    "hex_tray",
    "hex_lid",
    "hex_tube",
    "hex_base",
    "cup_base",
    "board_wrap",
}


def inputs_of(form):
    """Return the inputs of a worked example; the tag and the small parts have one of their own."""
    if form in VECTORS:
        return dict(VECTORS[form]["inputs"]), VECTORS[form]["unit"]
    return {name: Fraction(size) for name, size in _SMALL[form].items()}, "mm"


_SMALL = {
    "tag": {"w": 40, "h": 70, "hole": 4, "folded": 1},
    "decorative_panel": {"w": 100, "h": 80},
    "flap_extension": {"W": 100, "tuck": 12, "reach": 25},
    "handle_strip": {"length": 580, "width": 25, "strips": 2},
    "base_card": {"W": 180, "D": 80},
    "hex_base": {"a": 40},
    "cup_base": {"r1": 40, "r2": 28, "h": 80},
}


@st.composite
def foldable(draw, names=tuple(FORMS)):
    """Return a form and random sizes in 1/16 in that it takes."""
    form = FORMS[draw(st.sampled_from(names))]
    sizes = {}
    for asked in form.inputs:
        if asked.choices:
            sizes[asked.name] = Fraction(draw(st.integers(0, len(asked.choices) - 1)))
        elif asked.is_yes_no:
            sizes[asked.name] = Fraction(draw(st.integers(0, 1)))
        elif asked.is_count:
            sizes[asked.name] = Fraction(draw(st.integers(1, 4)))
        elif asked.name in ("t", "c"):
            sizes[asked.name] = Fraction(draw(st.integers(0, 8)), 128)
        elif not asked.is_optional or draw(st.booleans()):
            sizes[asked.name] = Fraction(draw(st.integers(8, 160)), 16)
    for _ in range(len(form.inputs)):
        try:
            flat_pattern(form.name, sizes, unit="in")
        except BadSize as refusal:
            assume(refusal.nearest is not None)
            sizes[refusal.where] = refusal.nearest
        else:
            return form.name, sizes
    assume(False)
    return None
