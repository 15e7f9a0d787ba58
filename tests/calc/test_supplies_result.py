"""The figures of a year of supplies: a worked year with every value, and other years.

Source of tests/data/supplies_year.json: an invented year worked out by hand and by a script of its
own, with a second pass in fractions, one material at a time.
"""

import copy
import json
from decimal import Decimal
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import call_command

from catalogue.calc.supplies.foreign_receipts import BadRate, at_home
from catalogue.calc.supplies.reorder import BadReorder, OrderCosts, order_size, reorder_point
from maker.calc.strict_json import WrongJson
from pricing.calc.spending.budget import carried_over
from pricing.calc.supplies_result.figures import figures_of
from pricing.supplies.supplies_files import read_year

FILE = Path(__file__).parents[1] / "data" / "supplies_year.json"
CASE = json.loads(FILE.read_text(encoding="utf-8"))
VALUES = {row["key"]: row["value"] for row in CASE["values"]}
INPUTS = CASE["inputs"]


def found(**changes):
    inputs = copy.deepcopy(INPUTS)
    inputs.update(changes)
    return figures_of(read_year(json.dumps({"inputs": inputs})))


@pytest.fixture(scope="module")
def figures():
    return figures_of(read_year(FILE.read_text(encoding="utf-8")))


@pytest.mark.parametrize("key", VALUES)
def test_the_worked_year(figures, key):
    assert figures[key] == VALUES[key]


def test_the_command_prints_the_same(figures):
    output = StringIO()
    call_command("supplies_result", str(FILE), stdout=output)
    assert json.loads(output.getvalue())["figures"] == figures
    assert list(figures) == list(VALUES)


def test_without_a_late_receipt_nothing_changed_afterwards():
    receipts = [
        {key: value for key, value in receipt.items() if key != "entered"}
        for receipt in INPUTS["receipts"]
    ]
    changed = found(receipts=receipts)
    assert [key for key in changed if key.startswith("bd.")] == ["bd.sum"]
    assert changed["bd.sum"] == "0.00"


def test_a_receipt_in_another_currency_is_turned_before_it_is_shared():
    line = {"item": "card", "qty": "10", "price": "1.00"}
    receipt = {"no": "X", "date": "2026-01-05", "rate": "0.5", "charged": "6.00", "postage": "1.01"}
    changed = found(receipts=[receipt | {"lines": [line]}], returns=[], counts=[], uses=[])
    # 5.00 and 0.505, halves up
    assert changed["r.X.1"] == "5.51, 0.551"
    assert changed["fx.X"] == "0.49"


def test_what_was_never_used_is_slow():
    changed = found(uses=[])
    assert changed["sl.card"] == "999; none; yes"


def test_a_year_with_nothing_bought_has_no_index():
    opening = {key: {"qty": "0", "value": "0"} for key in INPUTS["items"]}
    changed = found(receipts=[], returns=[], uses=[], counts=[], opening=opening)
    assert changed["ix.F.2"] == "none"
    assert changed["rc.ma.zero"] == changed["rc.fifo.zero"] == "0.00"


@pytest.mark.parametrize(
    ("changes", "where"),
    [
        ({"ledger_item": "pear"}, "inputs.ledger_item"),
        ({"uses": [["2026-01-10", "pear", "3"]]}, "inputs.uses[0]"),
        ({"uses": [["2026-02-30", "card", "3"]]}, "inputs.uses[0][0]"),
        (
            {"returns": [{"receipt": "R01", "item": "dots", "qty": "1", "date": "2026-03-01"}]},
            "inputs.returns[0].receipt",
        ),
        ({"year": 1}, "inputs.year"),
    ],
)
def test_what_cannot_be_read_is_refused_with_its_place(changes, where):
    with pytest.raises(WrongJson) as refusal:
        found(**changes)
    assert refusal.value.where == where


@pytest.mark.parametrize(
    ("line", "where"),
    [
        ({"item": "pear"}, "item"),
        ({"damaged_credited": "50"}, "qty"),
        ({"damaged_kept": "51"}, "qty"),
        ({"price": "-1"}, "price"),
    ],
)
def test_a_line_that_cannot_be_read_is_refused_with_its_place(line, where):
    whole = {"item": "card", "qty": "50", "price": "1"} | line
    receipt = {"no": "X", "date": "2026-01-05", "lines": [whole]}
    with pytest.raises(WrongJson) as refusal:
        found(receipts=[receipt], returns=[])
    assert refusal.value.where == f"inputs.receipts[0].lines[0].{where}"


@pytest.mark.parametrize("rate", ["0", "-1", "NaN"])
def test_a_rate_that_cannot_be_meant_is_refused(rate):
    with pytest.raises(BadRate):
        at_home(Decimal(1), Decimal(rate))


def test_a_lead_that_varies_needs_a_larger_cushion():
    use, two = [Decimal(4), Decimal(8)], Decimal(2)
    steady = reorder_point(use, two, two)
    varying = reorder_point(use, two, two, lead_spread=Decimal(1))
    # 2 x sqrt(2 x 8) and 2 x sqrt(2 x 8 + 36)
    assert abs(steady.cushion - 8) < Decimal("1e-20")
    assert abs(varying.cushion**2 - 4 * 52) < Decimal("1e-20")


def test_one_week_of_use_says_nothing_about_its_spread():
    with pytest.raises(BadReorder):
        reorder_point([Decimal(3)], Decimal(1), Decimal(1))


def test_of_equally_cheap_orders_the_smaller_one():
    # 100 a year: 2 orders of 50 and 50 held, or 1 of 100 and 100 held, both at 1 cost the same
    costs = OrderCosts(
        year_use=Decimal(100),
        order_cost=Decimal("0.25"),
        holding=Decimal("0.01"),
        breaks=((Decimal(0), Decimal(1)),),
        pack=Decimal(50),
        most_packs=2,
    )
    assert costs.year_cost(Decimal(50)) == costs.year_cost(Decimal(100))
    assert order_size(costs).quantity == 50
    assert order_size(costs).other is None


def test_at_most_one_month_is_carried_on_and_an_overspend_in_full():
    months = carried_over(Decimal(10), [Decimal(0), Decimal(0), Decimal(35), Decimal(0)])
    assert [month.available for month in months] == [10, 20, 20, -5]
    assert [month.carried for month in months] == [10, 10, -15, -5]
