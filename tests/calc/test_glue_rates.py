"""What glue takes by the yard is kept by the metre, and told by the yard exactly again."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.calc.recipes.glue_rates import kept_rate, rate_per, told_rate

D = Decimal


@pytest.mark.parametrize(
    ("measure", "per", "kept", "told"),
    [
        # 1 yd = 0.9144 m: 3.1 x 0.9144 = 2.83464; 0.9144 squared = 0.83612736
        ("bead", "yard", "3.1", "2.83464"),
        ("form_bead", "yard", "3.1", "2.83464"),
        ("area", "square yard", "100", "83.612736"),
        ("form_area", "square yard", "90", "75.2514624"),
        ("cut", "", "3", "3"),
        ("amount", "", "3", "3"),
    ],
)
def test_a_rate_is_told_by_the_yard_where_inches_are_measured(
    measure: str, per: str, kept: str, told: str
) -> None:
    assert rate_per(measure, "in") == per
    assert rate_per(measure, "mm") == per.replace("yard", "metre")
    assert kept_rate(D(told), measure, "in") == D(kept)
    assert told_rate(D(kept), measure, "mm") == D(kept)
    # as few decimals as read back the same: no more than it takes by hand
    shown = told_rate(D(kept), measure, "in")
    assert kept_rate(shown, measure, "in") == D(kept)
    assert abs(shown - D(told)) < D("0.000001")


@given(
    millionths=st.integers(0, 10**10),
    measure=st.sampled_from(["bead", "area", "form_bead", "form_area", "cut"]),
    lengths=st.sampled_from(["in", "mm"]),
)
def test_what_is_shown_reads_back(millionths: int, measure: str, lengths: str) -> None:
    kept = D(millionths) / 10**6
    assert kept_rate(told_rate(kept, measure, lengths), measure, lengths) == kept
