"""Label sheets: places of labels, what does not fit, type that has room."""

from dataclasses import replace
from decimal import Decimal

import pytest

from pricing.calc.papers.labels import (
    COMMON_SHEETS,
    LabelsDoNotFit,
    Place,
    check_geometry,
    places,
    tag_type,
)

A4_24 = COMMON_SHEETS["a4-24"][1]


@pytest.mark.parametrize("key", COMMON_SHEETS)
def test_common_sheets_fit_their_page(key):
    check_geometry(COMMON_SHEETS[key][1])


@pytest.mark.parametrize("key", [key for key in COMMON_SHEETS if key.startswith("a4")])
def test_a4_sheets_have_the_page_of_iso_216(key):
    # ISO 216: A4 is 210 x 297 mm
    geometry = COMMON_SHEETS[key][1]
    assert (geometry.page_width, geometry.page_height) == (210, 297)


@pytest.mark.parametrize("key", [key for key in COMMON_SHEETS if key.startswith("letter")])
def test_letter_sheets_are_eight_and_a_half_by_eleven_inches(key):
    geometry = COMMON_SHEETS[key][1]
    assert (geometry.page_width, geometry.page_height) == (
        Decimal("8.5") * Decimal("25.4"),
        11 * Decimal("25.4"),
    )


@pytest.mark.parametrize(
    ("change", "where"),
    [
        ({"columns": 4}, "columns"),
        ({"rows": 9}, "rows"),
        ({"pitch_x": Decimal(60)}, "pitch_x_mm"),
        ({"pitch_y": Decimal(30)}, "pitch_y_mm"),
    ],
)
def test_labels_that_leave_the_page_or_overlap_are_refused(change, where):
    with pytest.raises(LabelsDoNotFit) as refused:
        check_geometry(replace(A4_24, **change))
    assert refused.value.where == where


def test_places_run_row_by_row_and_skip_used_labels():
    found = places(A4_24, count=3, start_at=23)
    assert found == [Place(0, 1, 7), Place(0, 2, 7), Place(1, 0, 0)]


@pytest.mark.parametrize("start_at", [0, 25, -1])
def test_a_start_beyond_the_sheet_is_refused(start_at):
    with pytest.raises(LabelsDoNotFit, match="labels 1 to 24"):
        places(A4_24, count=1, start_at=start_at)


@pytest.mark.parametrize("key", COMMON_SHEETS)
def test_type_fits_into_the_label(key):
    geometry = COMMON_SHEETS[key][1]
    sizes = tag_type(geometry, with_qr=True)
    lead = Decimal("1.22")
    used = (
        2 * sizes.padding
        + lead * sizes.price
        + lead * sizes.name * sizes.name_lines
        + lead * sizes.small * sizes.small_lines
    )
    assert used <= geometry.label_height
    assert sizes.qr <= geometry.label_height - 2 * sizes.padding
