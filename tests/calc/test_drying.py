"""How long a job keeps bench and rack busy: working days, loads, nights."""

from decimal import Decimal

import pytest

from catalogue.calc.recipes.parts_list import parts_for
from catalogue.calc.recipes.recipe import Basis, RecipeStep
from pricing.calc.costing.drying import NoTimeToDry, drying_of
from tests.calc.small_recipe import recipe

D = Decimal


def days(quantity, minutes, *steps):
    made_from = recipe(steps=steps)
    return drying_of(parts_for(made_from, quantity), D(minutes), 210)


def rack(per=24, minutes="45", times=2, window=480):
    return RecipeStep("dry", Basis.RACK, D(minutes), per=per, times=times, window_minutes=window)


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
    night = RecipeStep("press", Basis.NIGHT, per=10)
    assert days(21, "10", night).nights == 3
    assert days(21, "10", night, RecipeStep("varnish", Basis.NIGHT, per=21)).nights == 4


def test_no_line_says_when_something_is_ready():
    line = days(144, "700", rack()).line
    assert [each.value for each in line.walk() if each.key in ("days.work", "days.dry")] == [4, 2]
    assert not [each for each in line.walk() if "ready" in each.label or each.unit == "day"]


def test_a_rack_without_time_is_refused():
    with pytest.raises(NoTimeToDry):
        days(1, "10", rack(window=0))


def test_nights_and_loads_say_how_they_are_counted():
    press = RecipeStep("press", Basis.NIGHT, per=12, times=2, id=7)
    line = days(25, "10", press, rack()).line
    nights = next(each for each in line.walk() if each.key == "days.nights")
    # 25 in twelves are three batches, two nights each
    assert (nights.value, [each.value for each in nights.lines]) == (6, [6])
    assert (str(nights.lines[0].how), nights.lines[0].source) == ("25 / 12, up, x 2", ("step", 7))
    plain = [each.key for each in days(25, "10").line.walk()]
    assert not {"days.nights", "days.rack"} & set(plain)
    loads, minutes, full = (
        next(each for each in line.walk() if each.key == key)
        for key in ("dry.loads", "dry.min", "days.rack")
    )
    # two loads of 24, each twice 45 minutes, in a day of 480
    assert (loads.value, minutes.value, full.value) == (2, 180, 1)
    assert (str(loads.lines[0].how), str(minutes.lines[0].how)) == ("25 / 24, up", "2 x 2 x 45")
