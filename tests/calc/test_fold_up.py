"""Every form, cut, scored and folded in space at random sizes, comes out as what was asked for."""

from fractions import Fraction

import pytest

from catalogue.calc.flat_patterns import FORMS, flat_pattern
from tests.calc.fold_up import faults_of_panels, faults_of_the_form
from tests.calc.fold_up_forms import CHECKS
from tests.calc.fold_up_sheet import faults_on_the_sheet
from tests.calc.fold_up_sizes import SIZES, Dice, some_pattern

DRAWS = range(8)
by_form = pytest.mark.parametrize("form", sorted(SIZES))


def test_every_form_is_folded():
    assert set(SIZES) == set(FORMS) == set(CHECKS)


@by_form
def test_panels_meet_lie_flat_and_stay_clear(form):
    for draw in DRAWS:
        pattern = some_pattern(form, draw)
        assert list(faults_of_panels(pattern)) == [], pattern.inputs


@by_form
def test_the_scores_make_the_size_asked_for(form):
    for draw in DRAWS:
        pattern = some_pattern(form, draw)
        assert faults_of_the_form(pattern) == [], pattern.inputs


@by_form
def test_rounded_to_the_ruler_everything_still_lies_on_the_sheet(form):
    for draw in DRAWS:
        pattern = flat_pattern(form, SIZES[form](Dice(f"{form} {draw}")), ruler=Fraction(1, 2))
        faults = [fault for piece in pattern.pieces for fault in faults_on_the_sheet(piece)]
        assert faults == [], pattern.inputs
