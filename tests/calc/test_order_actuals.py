"""Planned against actual over a whole order: the parts explain the difference to the last digit."""

import random
from decimal import Decimal

import pytest

from maker.calc.money import HAIR
from pricing.calc.actuals.order_actuals import MaterialUse, WorkDone, actuals_of


def number(chance, most, places):
    return Decimal(chance.randint(0, most)).scaleb(-places)


@pytest.mark.parametrize("seed", range(40))
def test_plan_volume_and_variances_make_the_actual_cost(seed):
    chance = random.Random(seed)
    materials = [
        MaterialUse(
            f"material {place}",
            planned_each=number(chance, 9000, 4),
            planned_price=number(chance, 9000, 3),
            actual_amount=number(chance, 9000, 1),
            actual_price=number(chance, 9000, 3),
        )
        for place in range(chance.randint(0, 5))
    ]
    work = WorkDone(
        setup_minutes=number(chance, 900, 1),
        minutes_each=number(chance, 900, 1),
        planned_wage=number(chance, 3000, 2),
        actual_hours=number(chance, 9000, 2),
        actual_wage=number(chance, 3000, 2),
    )
    planned, made = Decimal(chance.randint(0, 500)), Decimal(chance.randint(0, 500))
    found = actuals_of(planned, made, materials, work)
    assert abs(found.unexplained) < HAIR
    paid = sum(each.actual_amount * each.actual_price for each in materials)
    assert found.actual_cost == paid + work.actual_hours * work.actual_wage


def test_as_planned_nothing_differs():
    card = MaterialUse("card", Decimal("0.5"), Decimal(2), Decimal(5), Decimal(2))
    work = WorkDone(Decimal(30), Decimal(3), Decimal(14), Decimal(1), Decimal(14))
    found = actuals_of(Decimal(10), Decimal(10), [card], work)
    # 5 sheets at 2 and 30 + 10 x 3 minutes at 14 an hour
    assert (found.planned_cost, found.flexed_cost, found.actual_cost) == (24, 24, 24)
    assert (found.volume, found.materials[0].total, found.work.total) == (0, 0, 0)


def test_making_more_is_volume_and_not_use():
    card = MaterialUse("card", Decimal("0.5"), Decimal(2), Decimal(6), Decimal(2))
    work = WorkDone(Decimal(0), Decimal(3), Decimal(20), Decimal("0.6"), Decimal(20))
    found = actuals_of(Decimal(10), Decimal(12), [card], work)
    # two items more: a sheet at 2 and six minutes at 20 an hour
    assert (found.volume, found.materials[0].total, found.work.total) == (4, 0, 0)
