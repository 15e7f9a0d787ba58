"""How the library of forms is sorted on its page."""

from collections.abc import Mapping
from dataclasses import dataclass

from catalogue.calc.flat_patterns.pattern import Form

_GROUPS = (
    ("Bags", ("two_piece_bag", "one_piece_bag", "bag_lid", "handle_strip", "base_card")),
    (
        "Boxes",
        ("tuck_box", "pocket_box", "gable_box", "pillow_box", "tent_box", "pyramid", "tetra_pouch"),
    ),
    ("Trays, drawers and lids", ("tray", "tray_lid", "sleeve", "drawer")),
    (
        "Six-sided and round",
        ("hex_tray", "hex_lid", "hex_tube", "hex_base", "cone", "frustum", "cup_base"),
    ),
    ("Envelopes", ("wallet", "diagonal_envelope")),
    (
        "Bands, tags and small parts",
        ("belly_band", "tag", "board_wrap", "decorative_panel", "flap_extension"),
    ),
)
_OTHERS = "Other parts"


@dataclass(frozen=True, slots=True)
class FormGroup:
    """Forms that are shown together."""

    title: str
    forms: tuple[Form, ...]


def grouped(forms: Mapping[str, Form]) -> list[FormGroup]:
    """Return all forms of the library in groups; none is left out."""
    groups = [
        FormGroup(title, tuple(forms[name] for name in names if name in forms))
        for title, names in _GROUPS
    ]
    named = {name for _, names in _GROUPS for name in names}
    groups.append(FormGroup(_OTHERS, tuple(f for name, f in forms.items() if name not in named)))
    return [group for group in groups if group.forms]


def group_title(form: str) -> str:
    """Return the group a form is in."""
    return next((title for title, names in _GROUPS if form in names), _OTHERS)
