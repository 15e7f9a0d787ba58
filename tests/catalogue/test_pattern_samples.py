"""The sizes forms begin with: made from common sheets, in inches and in millimetres."""

from fractions import Fraction

import pytest

from catalogue.calc.flat_patterns import FORMS
from catalogue.calc.sheets.fit import Sheet, fits
from tests.catalogue.patterns import sample_pattern

MM_PER = {"mm": Fraction(1), "in": Fraction(127, 5)}
# 12 x 12 in exactly; A4: ISO 216
SHEETS_MM = {"12 in": (Fraction("304.8"), Fraction("304.8")), "A4": (Fraction(210), Fraction(297))}
# the big bag is made for a 12 x 12 in sheet
ONLY_SQUARE = {"two_piece_bag"}


def sheet_in(name, unit):
    return Sheet(name, *(side / MM_PER[unit] for side in SHEETS_MM[name]))


@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize("form", FORMS)
def test_a_sample_is_made_from_a_common_sheet_with_room_to_spare(form, unit):
    pattern = sample_pattern(form, unit)
    names = ("12 in",) if form in ONLY_SQUARE else SHEETS_MM
    found = fits(pattern, [sheet_in(name, unit) for name in names])
    assert all(fit.takes_it for fit in found)
    # the bag of 7 1/2 x 4 x 8 in uses its sheet up exactly, and the page says so
    is_exact = (form, unit) == ("two_piece_bag", "in")
    assert [fit.is_exact for fit in found] == [is_exact for _ in found]
