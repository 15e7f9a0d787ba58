"""Days until a job is ready: work, rack, nights, lead, and which of them holds it up."""

from decimal import Decimal

import pytest

from catalogue.calc.parts_list import parts_for
from catalogue.calc.recipe import Basis, Step
from pricing.calc.deadline import NoTimeToWork, deadline_for
from tests.calc.small_recipe import rates, recipe

D = Decimal


def days(quantity, minutes, *steps, **changes):
    made_from = recipe(steps=steps)
    return deadline_for(parts_for(made_from, quantity), D(minutes), rates(**changes))


def rack(per=24, minutes="45", times=2, window=480):
    return Step("dry", Basis.RACK, D(minutes), per=per, times=times, window_minutes=window)


@pytest.mark.parametrize(("minutes", "work"), [("0", 0), ("1", 1), ("210", 1), ("210.01", 2)])
def test_working_days_round_up(minutes, work):
    assert days(1, minutes).work_days == work


@pytest.mark.parametrize(
    ("quantity", "loads", "elapsed", "rack_days"),
    [(24, 1, 90, 1), (25, 2, 180, 1), (120, 5, 450, 1), (144, 6, 540, 2)],
)
def test_rack_loads_and_days(quantity, loads, elapsed, rack_days):
    found = days(quantity, "10", rack())
    assert (found.rack_loads, found.drying_minutes, found.rack_days) == (loads, elapsed, rack_days)


def test_a_rack_without_a_window_dries_all_day():
    assert days(24 * 16, "10", rack(window=None)).rack_days == 1
    assert days(24 * 17, "10", rack(window=None)).rack_days == 2


def test_one_night_for_each_batch():
    night = Step("press", Basis.NIGHT, per=10)
    found = days(21, "10", night)
    assert (found.nights, found.drying_days, found.bottleneck) == (3, 3, "night")
    assert days(21, "10", night, Step("varnish", Basis.NIGHT, per=21)).nights == 4


def test_rack_and_nights_go_on_side_by_side():
    night = Step("press", Basis.NIGHT, per=100)
    found = days(144, "10", rack(), night)
    assert (found.rack_days, found.nights, found.drying_days) == (2, 2, 2)
    assert found.bottleneck == "rack"


def test_work_and_drying_go_on_side_by_side_after_the_lead():
    found = days(144, "700", rack(), purchase_lead_days=4)
    assert (found.work_days, found.drying_days, found.ready_in_days) == (4, 2, 8)
    assert found.bottleneck == "hands"
    assert days(24 * 30, "10", rack()).bottleneck == "rack"


def test_a_day_without_time_is_refused():
    with pytest.raises(NoTimeToWork) as refused:
        days(1, "10", hours_per_day=D(0))
    assert refused.value.where == "hours_per_day"
    with pytest.raises(NoTimeToWork):
        days(1, "10", rack(window=0))
