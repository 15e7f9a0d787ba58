"""The workbooks that prices are timed against: really recalculated, and to our very figures."""

import datetime
from dataclasses import replace
from decimal import Decimal

import pytest

from catalogue.sheet_plans.services import PlanMemory, sheet_planner
from pricing.calc.costing.rates import Ask
from pricing.calc.quantities.every_quantity import every_quantity_of
from tests.benchmarks import quantities_workbook, recost_workbook
from tests.benchmarks.price_sides import (
    SidesDisagree,
    check_sides,
    quantities_figures,
    recost_figures,
    recosted,
)
from tests.benchmarks.priced_designs import priced_variations
from tests.benchmarks.recalculating import Office, Recalculate, with_input
from tests.benchmarks.recost_workbook import Listed, Standing
from tests.calc import worked_case
from tests.office import in_office

D = Decimal
TODAY = datetime.date(2026, 11, 20)
CARD = worked_case.materials()["P"]


def listed(count):
    """Prices of variations of the worked order, the first ones too old."""
    made = priced_variations(
        count, worked_case.recipe(), worked_case.channel(), worked_case.rates()
    )
    days = (datetime.date(2026, 1, 31), datetime.date(2026, 11, 1))
    return [Listed(priced.kept, days[number > 4]) for number, priced in enumerate(made)]


def standing(**changes):
    costs = {str(each.identity): each.cost.value for each in worked_case.materials().values()}
    values = {
        "unit_costs": costs,
        "rates": worked_case.rates(),
        "channel": worked_case.channel(),
        "threshold": D("0.05"),
        "after_months": 6,
        "on": TODAY,
    }
    return Standing(**(values | changes))


def every_quantity(up_to, rates):
    planner = sheet_planner(seconds=60, memory=PlanMemory())
    return every_quantity_of(
        worked_case.recipe(), Ask(1), worked_case.channel(), rates, planner, up_to=up_to
    )


class TestInOffice:
    pytestmark = in_office

    def test_prices_recost_in_a_spreadsheet_are_ours_after_one_material_moved(self, tmp_path):
        office, prices, today = Office(tmp_path), listed(60), standing()
        workbook, inputs = recost_workbook.recost_workbook(prices, today)
        kept = office.calculated(workbook, "designs")
        before = [recost_figures(each) for each in recosted(prices, today)]
        check_sides(before, office.values(kept))
        dearer = today.unit_costs[str(CARD.identity)] * D("2.5")
        place = inputs.cell_in(recost_workbook.cost_key(str(CARD.identity)))
        moved = with_input(kept, 2, place, dearer)
        today = replace(today, unit_costs={**today.unit_costs, str(CARD.identity): dearer})
        after = [recost_figures(each) for each in recosted(prices, today)]
        assert check_sides(after, office.values(moved)) == len(prices) * len(after[0])
        assert {row["is_off_by_cost"] for row in after} == {0, 1}
        # what stood in the file is what it was: without recalculating, the sides differ
        check_sides(before, office.values(moved, Recalculate.NEVER))
        with pytest.raises(SidesDisagree):
            check_sides(after, office.values(moved, Recalculate.NEVER))

    def test_terms_that_move_are_followed_too(self, tmp_path):
        prices = listed(20)
        rates = replace(worked_case.rates(), wage_per_hour=D("15.3"), tax_rate=D("0.25"))
        today = standing(rates=rates)
        workbook, _ = recost_workbook.recost_workbook(prices, today)
        office = Office(tmp_path)
        ours = [recost_figures(each) for each in recosted(prices, today)]
        check_sides(ours, office.values(office.calculated(workbook, "designs")))
        assert any(row["is_off_by_terms"] for row in ours)

    def test_a_list_in_a_spreadsheet_is_ours_after_the_wage_moved(self, tmp_path):
        office, rates = Office(tmp_path), worked_case.rates()
        workbook, inputs = quantities_workbook.quantities_workbook(70, worked_case.channel(), rates)
        kept = office.calculated(workbook, "quantities")
        before = list(quantities_figures(every_quantity(70, rates)))
        check_sides(before, office.values(kept))
        moved = with_input(kept, 2, inputs.cell("wage"), 18)
        after = list(quantities_figures(every_quantity(70, replace(rates, wage_per_hour=D(18)))))
        assert check_sides(after, office.values(moved)) == 70 * len(after[0])
        with pytest.raises(SidesDisagree):
            check_sides(after, office.values(moved, Recalculate.NEVER))


def test_variations_are_no_two_alike():
    costs = {each.kept.cost_each for each in listed(300)}
    assert len(costs) == 300


def test_a_figure_that_differs_by_a_cent_is_told_with_its_place():
    with pytest.raises(SidesDisagree, match=r"row 3, needed: 4\.70 and 4\.71"):
        check_sides([{"needed": D("4.70")}] * 2, [{"needed": 4.70}, {"needed": 4.71}])


def test_an_empty_cell_is_no_figure():
    with pytest.raises(SidesDisagree):
        check_sides([{"needed": D("0")}], [{"needed": float("nan")}])


def test_a_missing_row_is_no_agreement():
    with pytest.raises(SidesDisagree, match="1 rows here, 0 in the workbook"):
        check_sides([{"needed": D("0")}], [])
