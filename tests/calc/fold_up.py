"""All fold-up checks of a pattern in one place, on the sheet and in space, generic and by form."""

from collections.abc import Iterator

from catalogue.calc.flat_patterns.pattern import FlatPattern
from tests.calc import fold_up_flat_things, fold_up_shapes  # noqa: F401 (they register their forms)
from tests.calc.fold_up_bent import faults_of_bent_folds
from tests.calc.fold_up_forms import faults_of_the_form
from tests.calc.fold_up_sheet import faults_on_the_sheet
from tests.calc.fold_up_space import (
    faults_of_the_angles,
    faults_of_the_tabs,
    faults_of_the_volume,
    faults_when_folded,
    shows_inside,
)

__all__ = ["BENT", "faults_of_panels", "faults_of_the_form"]

BENT = ("pillow_box", "cone", "frustum")  # card that is bent, not only folded


def faults_of_panels(pattern: FlatPattern) -> Iterator[str]:
    """What panels, hinges, lines and glued places get wrong, whatever the form."""
    thickness = float(pattern.inputs.get("t", 0))
    for piece in pattern.pieces:
        is_right = True
        for fault in faults_on_the_sheet(piece):
            is_right = False
            yield fault
        if not is_right or pattern.form in BENT:
            continue
        # the roof of a gable box is laid out for sheets without thickness: its two halves are
        # a sheet out of step, so that its folds meet only to within that sheet
        if not (thickness and pattern.form == "gable_box"):
            yield from faults_when_folded(piece, thickness)
        yield from shows_inside(piece)
    if pattern.form in BENT:
        yield from faults_of_bent_folds(pattern)
    else:
        yield from faults_of_the_angles(pattern)
        yield from faults_of_the_volume(pattern)
    yield from faults_of_the_tabs(pattern)
