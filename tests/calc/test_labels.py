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
        ({"columns": 2, "pitch_x": Decimal(60)}, "pitch_x_mm"),
        ({"rows": 2, "pitch_y": Decimal(30)}, "pitch_y_mm"),
    ],
)
def test_labels_that_leave_the_page_or_overlap_are_refused(change, where):
    with pytest.raises(LabelsDoNotFit) as refused:
        check_geometry(replace(A4_24, **change))
    assert refused.value.where == where


def test_a_label_may_leave_the_page_by_the_rounding_of_a_datasheet_and_no_more():
    # three columns of 70 mm from the left edge on end at 210 mm, the width of the page
    check_geometry(replace(A4_24, left=Decimal("0.05")))
    with pytest.raises(LabelsDoNotFit):
        check_geometry(replace(A4_24, left=Decimal("0.06")))


def test_places_run_row_by_row_and_skip_used_labels():
    found = places(A4_24, count=3, start_at=23)
    assert found == [Place(0, 1, 7), Place(0, 2, 7), Place(1, 0, 0)]
    assert places(A4_24, count=1, start_at=24) == [Place(0, 2, 7)]


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


# by hand: the edge is 7 % of the height, at least 1.2 mm and at most 3 mm, on both sides
@pytest.mark.parametrize(
    ("width", "height", "price", "name_lines", "small_lines", "qr"),
    [
        # inside 37 - 2 x 2.59 = 31.82: the price 16 % of 20; the code 36 % of 20 is too small
        ("20", "37", "3.20", 2, 4, "0"),
        # the code 36 % of 50, the price at most 8, the name 14 %, small lines 9 % of 31.82: left is
        # 31.82 - 1.22 x (8 + 2 x 4.4548) = 11.19, room for three of 1.22 x 2.8638
        ("50", "37", "8.00", 2, 3, "18.00"),
        # inside 12.7 - 2 x 1.2 = 10.3: the price 27 % of it, the code all of it; what is left is
        # 10.3 - 1.22 x (2.781 + 2.2) = 4.22, room for one line of 1.22 x 1.9, not for a second name
        ("44.45", "12.7", "2.7810", 1, 1, "10.3"),
        # inside 10 mm: the smallest code there is; left 10 - 1.22 x (2.7 + 2.2) = 4.02
        ("70", "12.4", "2.70", 1, 1, "10.0"),
        ("70", "12.3", "2.673", 1, 1, "0"),
    ],
)
def test_type_sizes_by_hand(width, height, price, name_lines, small_lines, qr):
    label = replace(A4_24, label_width=Decimal(width), label_height=Decimal(height))
    sizes = tag_type(label, with_qr=True)
    assert (sizes.price, sizes.qr) == (Decimal(price), Decimal(qr))
    assert (sizes.name_lines, sizes.small_lines) == (name_lines, small_lines)
