"""Areas are read as a maker says them and written so that they read the same."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.calc.recipes.areas import format_area, parse_area
from maker.calc.units import UnreadableNumber


# by hand; 1 in = 25.4 mm exactly (international yard and pound agreement, 1959)
@pytest.mark.parametrize(
    ("text", "unit", "square_mm"),
    [
        ("8 x 5", "mm", "40"),
        ("8 x 5", "in", "25806.4"),
        ("8 x 5 in", "mm", "25806.4"),
        ('8" x 5"', "mm", "25806.4"),
        ("7 1/2 × 2", "in", "9677.4"),
        ("7½x2", "in", "9677.4"),
        ("20 cm x 10 cm", "in", "20000"),
        ("20 x 10 cm", "in", "20000"),
        ("40 cm²", "in", "4000"),
        ("40cm2", "in", "4000"),
        ("0,5 m²", "mm", "500000"),
        ("6 sq in", "mm", "3870.96"),
        ("300 mm2", "mm", "300"),
    ],
)
def test_an_area_is_read_exactly(text, unit, square_mm):
    assert parse_area(text, unit) == Decimal(square_mm)


@pytest.mark.parametrize(
    "text", ["", "8", "8 x", "x 5", "8 x 5 x 2", "-8 x 5", "8 x 0", "lots", "1e9 m2", "9999999 m²"]
)
def test_what_is_no_area_is_refused(text):
    with pytest.raises(UnreadableNumber):
        parse_area(text, "mm")


@given(
    st.decimals(min_value=0, max_value=10**9, places=6).filter(lambda area: area > 0),
    st.sampled_from(["in", "mm"]),
)
def test_a_written_area_reads_the_same(square_mm, unit):
    assert parse_area(format_area(square_mm, unit), unit) == square_mm


def test_an_area_is_written_in_the_workshops_unit_when_that_is_exact():
    assert format_area(Decimal("645.16"), "in") == "1 sq in"
    assert format_area(Decimal(20000), "in") == "200 cm²"
    assert format_area(Decimal(20000), "mm") == "200 cm²"
