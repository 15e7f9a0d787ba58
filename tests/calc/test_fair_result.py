"""The figures of a fair: a worked season with every value, and other fairs.

Source of tests/data/fair_days.json: an invented fair of three days worked out by hand and by a
script of its own, with a second pass that adds up every combination of days in fractions.
"""

import copy
import json
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import call_command

from maker.calc.strict_json import WrongJson
from pricing.calc.fair_result.figures import figures_of
from pricing.fairs.fair_files import read_fair

FILE = Path(__file__).parents[1] / "data" / "fair_days.json"
CASE = json.loads(FILE.read_text(encoding="utf-8"))
VALUES = {row["key"]: row["value"] for row in CASE["values"]}


def found(**changes):
    inputs = copy.deepcopy(CASE["inputs"])
    inputs.update(changes)
    return figures_of(read_fair(json.dumps({"inputs": inputs})))


@pytest.fixture(scope="module")
def figures():
    return figures_of(read_fair(FILE.read_text(encoding="utf-8")))


@pytest.mark.parametrize("key", VALUES)
def test_the_worked_fair(figures, key):
    assert figures[key] == VALUES[key]


def test_the_command_prints_the_same():
    output = StringIO()
    call_command("fair_result", str(FILE), stdout=output)
    assert json.loads(output.getvalue())["figures"] == VALUES


def test_who_pays_no_tax_keeps_the_whole_price(figures):
    untaxed = found(tax="0")
    assert untaxed["d1.tax"] == "0.00"
    assert untaxed["nv.lantern.net"] == "6.50"
    assert float(untaxed["s.profit"]) > float(figures["s.profit"])


def test_one_design_and_one_day():
    lantern = CASE["inputs"]["designs"]["lantern"]
    day = dict(CASE["inputs"]["days"][0], sales=[["card", 2, 0, 3]])
    changed = found(
        designs={"lantern": lantern},
        bundle={"pieces": {"lantern": 2}, "keep": "0.8", "step": "0.50"},
        taken={"lantern": 7},
        brought_home={"lantern": 1},
        missing={},
        days=[day],
    )
    assert changed["d1.sold.lantern"] == "6"
    assert changed["s.stock.lantern"] == "0"
    # the whole stall fee and all hours of preparing fall on the only day
    assert changed["d1.fixed"] == "151.20"
    assert changed["d1.hours"] == "13.50"
    assert "d2.gross" not in changed


def test_a_day_without_a_sale_says_that_no_number_breaks_even():
    days = [dict(day, sales=[], refunds=[], sold_out=None) for day in CASE["inputs"]["days"]]
    changed = found(days=days)
    assert [changed[key] for key in ("s.avg", "s.even", "s.wage")] == ["none"] * 3
    assert changed["s.gross"] == "0.00"
    assert changed["s.check"] == "0.00"


def test_an_item_that_loses_by_selling_is_left_at_home():
    designs = copy.deepcopy(CASE["inputs"]["designs"])
    designs["starbox"].update(price="5.00", min_show=0)
    changed = found(designs=designs)
    assert (changed["nv.starbox.Q"], changed["sp.starbox"]) == ("0", "0")


@pytest.mark.parametrize(
    ("changes", "where"),
    [
        ({"designs": {}}, "inputs.designs"),
        ({"days": []}, "inputs.days"),
        ({"taken": {"pear": 3}}, "inputs.taken"),
        ({"float": {"0.1O": 3}}, "inputs.float.0.1O"),
        ({"float": {"NaN": 3}}, "inputs.float.NaN"),
        ({"float": {"1.00": -1}}, "inputs.float.1.00"),
        ({"curve": {"25": "0.1"}}, "inputs.curve.25"),
        ({"tax": "1.5"}, "inputs.tax"),
    ],
)
def test_what_cannot_be_read_is_refused_with_its_place(changes, where):
    with pytest.raises(WrongJson) as refusal:
        found(**changes)
    assert refusal.value.where == where


@pytest.mark.parametrize(
    ("changes", "where"),
    [
        ({"sales": [["card", 1, 0, 0]]}, "inputs.days[0].sales[0]"),
        ({"sales": [["cheque", 1, 0, 0, 1]]}, "inputs.days[0].sales[0]"),
        ({"refunds": [["card", "pear"]]}, "inputs.days[0].refunds[0]"),
        ({"sold_out": {"design": "lantern", "time": "24:00"}}, "inputs.days[0].sold_out.time"),
        ({"sold_out": {"design": "pear", "time": "12:00"}}, "inputs.days[0].sold_out.design"),
    ],
)
def test_a_day_that_cannot_be_read_is_refused_with_its_place(changes, where):
    days = copy.deepcopy(CASE["inputs"]["days"])
    days[0].update(changes)
    with pytest.raises(WrongJson) as refusal:
        found(days=days)
    assert refusal.value.where == where


def test_chances_must_add_up_to_one():
    designs = copy.deepcopy(CASE["inputs"]["designs"])
    designs["lantern"]["demand"][1] = {"3": "0.5", "4": "0.4"}
    with pytest.raises(WrongJson) as refusal:
        found(designs=designs)
    assert refusal.value.where == "inputs.designs.lantern.demand[1]"
