"""A size of each form to begin with: something a maker may have made, in inches and millimetres."""

from collections.abc import Mapping
from fractions import Fraction

from catalogue.calc.flat_patterns.pattern import Form, FormInput

# form: {input: (millimetres, inches)}; those left out have the form's own default
_SAMPLES: Mapping[str, Mapping[str, tuple[str, str]]] = {
    "two_piece_bag": {"W": ("185", "15/2"), "D": ("100", "4"), "H": ("200", "8")},
    "pocket_box": {"W": ("100", "4"), "d": ("20", "3/4"), "H": ("100", "4")},
    "bag_lid": {"W": ("185", "15/2"), "D": ("100", "4"), "drop": ("100", "4")},
    "one_piece_bag": {"W": ("82", "13/4"), "D": ("52", "2"), "H": ("150", "6")},
    "tuck_box": {"W": ("60", "5/2"), "D": ("35", "3/2"), "H": ("90", "7/2")},
    "pillow_box": {"chord": ("80", "13/4"), "T": ("32", "5/4"), "L": ("120", "19/4")},
    "tray": {"L": ("100", "4"), "W": ("70", "11/4"), "H": ("35", "11/8")},
    "tray_lid": {"L": ("100", "4"), "W": ("70", "11/4"), "Hl": ("20", "3/4")},
    "sleeve": {"Wd": ("60", "5/2"), "Hd": ("22", "7/8"), "Ld": ("95", "15/4")},
    "drawer": {"L": ("95", "15/4"), "W": ("60", "5/2"), "H": ("22", "7/8")},
    "wallet": {"w": ("92", "29/8"), "h": ("60", "19/8"), "flap": ("28", "9/8")},
    "diagonal_envelope": {"w": ("120", "19/4"), "h": ("90", "7/2")},
    "tent_box": {"B": ("60", "5/2"), "Ht": ("40", "3/2"), "L": ("80", "3")},
    "pyramid": {"a": ("60", "5/2"), "Ht": ("40", "3/2")},
    "gable_box": {"W": ("60", "5/2"), "D": ("40", "3/2"), "H": ("70", "3"), "G": ("21", "3/4")},
    "cone": {"r": ("30", "5/4"), "h": ("72", "3")},
    "frustum": {"r1": ("40", "3/2"), "r2": ("28", "9/8"), "h": ("80", "3")},
    "hex_tray": {"a": ("40", "3/2"), "H": ("30", "5/4")},
    "hex_lid": {"a": ("40", "3/2")},
    "hex_tube": {"a": ("40", "3/2"), "H": ("110", "17/4")},
    "belly_band": {"W": ("60", "5/2"), "D": ("40", "3/2"), "height": ("25", "1")},
    "tetra_pouch": {"w": ("70", "11/4"), "h": ("61", "19/8")},
    "board_wrap": {"w": ("86", "27/8"), "h": ("60", "19/8"), "T": ("2", "1/16")},
    "tag": {"w": ("50", "2"), "h": ("90", "7/2"), "hole": ("4", "3/16")},
    "hex_base": {"a": ("40", "3/2")},
    "cup_base": {"r1": ("40", "3/2"), "r2": ("28", "9/8"), "h": ("80", "3")},
    "decorative_panel": {"w": ("100", "4"), "h": ("100", "4")},
    "flap_extension": {"W": ("100", "4"), "tuck": ("12", "1/2"), "reach": ("26", "1")},
    "handle_strip": {"length": ("560", "22"), "width": ("25", "1"), "strips": ("2", "2")},
    "base_card": {"W": ("185", "15/2"), "D": ("100", "4")},
}
# for a form that has no sample yet
_USUAL = ("60", "5/2")


def sample_sizes(form: Form, unit: str) -> dict[str, Fraction]:
    """Return the sizes to begin with, in the unit; other inputs have a default."""
    found = {}
    for one in form.inputs:
        sample = sample_size(form, one, unit)
        if sample is not None:
            found[one.name] = sample
    return found


def needs_a_size(one: FormInput) -> bool:
    """Whether an input must be given."""
    return one.default_mm is None and one.default_of is None and not one.is_optional


def sample_size(form: Form, one: FormInput, unit: str) -> Fraction | None:
    """Return the sample of one input; None when its default will do."""
    sample = _SAMPLES.get(form.name, {}).get(one.name)
    if sample is None:
        if not needs_a_size(one):
            return None
        sample = _USUAL
    return Fraction(sample[1 if unit == "in" else 0])
