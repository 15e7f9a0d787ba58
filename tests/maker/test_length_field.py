"""A length field shows a stored length so that saving it without a change changes nothing."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maker.web.fields import LengthField


def field(unit: str) -> LengthField:
    made = LengthField()
    made.use_unit(unit)
    return made


@given(
    st.decimals(min_value=Decimal("0.000001"), max_value=100_000, places=6),
    st.sampled_from(["in", "mm"]),
)
def test_what_is_shown_reads_as_what_is_stored(length_mm, unit):
    made = field(unit)
    assert made.clean(made.prepare_value(length_mm)) == length_mm
    assert not made.has_changed(length_mm, made.prepare_value(length_mm))


@pytest.mark.parametrize(
    ("length_mm", "unit", "shown"),
    [
        ("190.5", "in", "7 1/2"),
        ("190", "in", "190 mm"),
        ("0.396875", "in", "1/64"),
        ("190.5", "mm", "190.5"),
        ("0.396875", "mm", "0.396875 mm"),
    ],
)
def test_a_length_that_its_unit_would_round_is_shown_in_millimetres(length_mm, unit, shown):
    assert field(unit).prepare_value(Decimal(length_mm)) == shown


def test_what_was_typed_stays_as_it_was_typed():
    assert field("in").prepare_value('7 1/2"') == '7 1/2"'
