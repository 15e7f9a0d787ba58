"""Steps of a recipe as blocks: cut only at nights, capped by racks, set-up first."""

from decimal import Decimal
from fractions import Fraction

import pytest

from catalogue.calc.recipes.recipe import Basis, RecipeStep
from pricing.calc.schedule.work_blocks import blocks_for, items_per_date, nights_after

D = Decimal


def step(name, basis=Basis.MADE, minutes="0", **more):
    return RecipeStep(name, basis, D(minutes), **more)


SETUP = (step("set up", Basis.JOB), D(10))
CUT = (step("cut", Basis.SHEET), D("7.5"))
FOLD = (step("fold"), D("30.2"))
PACK = (step("pack", Basis.CARTON), D(4))
NIGHT = (step("press", Basis.NIGHT, per=12), D(0))


def test_without_a_night_there_is_one_block_with_its_minutes_up():
    (block,) = blocks_for(20, [SETUP, CUT, FOLD, PACK])
    assert (block.setup_minutes, block.minutes, block.nights, block.caps) == (10, 42, 0, ())
    assert block.name == "set up to pack"


def test_a_night_cuts_and_caps_what_is_made_on_a_date():
    made, packed = blocks_for(20, [SETUP, CUT, FOLD, NIGHT, PACK])
    assert (made.name, made.minutes, made.nights) == ("set up to fold", 38, 1)
    # 12 of 20 a date: 38 minutes x 12 / 20 fill the weights
    assert made.caps[0].share == Fraction(20, 12 * 38)
    assert (packed.name, packed.minutes, packed.nights, packed.caps) == ("pack", 4, 0, ())


def test_a_rack_caps_and_does_not_cut():
    rack = (step("dry", Basis.RACK, "45", per=24, times=2, window_minutes=480), D(0))
    (block,) = blocks_for(240, [FOLD, rack, PACK])
    # ten loads of 24 a day, each item dries twice: 120 items a date
    assert block.caps[0].share == Fraction(240, 120 * 35)
    assert block.nights == 0


def test_all_racks_are_one_and_each_night_step_has_its_own_place():
    rack = [(step(name, Basis.RACK, "45", per=24), D(0)) for name in ("dry", "dry again")]
    varnish = (step("varnish dries", Basis.NIGHT, per=5), D(0))
    first, second = blocks_for(10, [FOLD, *rack, NIGHT, PACK, varnish])
    assert [cap.resource for cap in first.caps[:2]] == ["rack", "rack"]
    assert len({cap.resource for cap in (*first.caps, *second.caps)}) == 3
    assert second.nights == 1


@pytest.mark.parametrize(
    ("drying", "items"),
    [
        (step("dry", Basis.RACK, "45", per=24, times=2, window_minutes=480), 120),
        (step("dry", Basis.RACK, "45", per=24), 24 * 32),
        (step("dry", Basis.RACK, "960", per=24, window_minutes=480), 12),
        (step("dry", Basis.RACK, "960", per=1, window_minutes=480), Fraction(1, 2)),
        (step("dry", Basis.RACK, "960", per=3, window_minutes=480), 1),
        (step("dry", Basis.RACK, "300", per=24, window_minutes=480), 24),
        (step("press", Basis.NIGHT, per=12, times=2), 6),
        (step("dry", Basis.RACK, "1", per=24, window_minutes=480), 24 * 480),
        (step("dry", Basis.RACK, "0.5", per=24, window_minutes=480), 24 * 960),
        (step("dry", Basis.RACK, "0", per=24), None),
        (step("fold"), None),
    ],
)
def test_items_a_date(drying, items):
    assert items_per_date(drying) == items


@pytest.mark.parametrize(
    ("drying", "nights"),
    [
        (step("dry", Basis.RACK, "45", per=24, times=2, window_minutes=480), 0),
        (step("dry", Basis.RACK, "300", per=24, times=3, window_minutes=480), 1),
        (step("dry", Basis.RACK, "960", per=24, window_minutes=480), 1),
        (step("dry", Basis.RACK, "1", per=24, times=600, window_minutes=480), 1),
        (step("press", Basis.NIGHT, per=12, times=2), 2),
        (step("dry", Basis.RACK, "0", per=24, window_minutes=480), 0),
        (step("fold"), 0),
    ],
)
def test_nights_that_pass(drying, nights):
    assert nights_after(drying) == nights


def test_names_wait_for_the_proof_if_one_is_sent():
    letter = (step("letter", Basis.NAME), D(25))
    assert [block.after_proof for block in blocks_for(9, [FOLD, NIGHT, letter])] == [False, True]
    assert not any(
        block.after_proof for block in blocks_for(9, [FOLD, NIGHT, letter], sends_proof=False)
    )
    assert [block.after_proof for block in blocks_for(9, [letter, NIGHT, FOLD])] == [True, False]


def test_nights_without_work_before_them_are_waited_for_all_the_same():
    # the second coat dries after the first without hands; a night before all work is nothing
    coat = (step("second coat", Basis.NIGHT, per=10), D(0))
    (block,) = blocks_for(20, [NIGHT, FOLD, NIGHT, coat])
    # the second coat takes ten of the twenty a night
    assert block.nights == 1 + 2
    only_setup, last = blocks_for(20, [SETUP, NIGHT, PACK])
    assert (only_setup.minutes, only_setup.nights, only_setup.caps) == (0, 2, ())
    assert last.nights == 0


def test_no_work_is_no_block():
    assert blocks_for(5, [NIGHT]) == ()
