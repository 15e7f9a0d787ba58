"""The figures of an order in deliveries: a worked order with every value, and other orders.

Source of tests/data/bulk_order.json: an invented order worked out by hand and by a script of its
own, with a second pass that lays the work forwards; all names, prices and dates are invented.
"""

import copy
import datetime
import json
from dataclasses import replace
from decimal import Decimal
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import call_command

from maker.calc.strict_json import WrongJson
from pricing.calc.order_result.changing import simpler, with_evenings, with_moved
from pricing.calc.order_result.figures import figures_of
from pricing.calc.order_result.order import Material, Part, RackHoldsNothing, job_of
from pricing.orders.order_files import read_order

FILE = Path(__file__).parents[1] / "data" / "bulk_order.json"
CASE = json.loads(FILE.read_text(encoding="utf-8"))
# equal orders of blocks tie, so which one was taken need not be said
VALUES = {row["key"]: row["value"] for row in CASE["values"] if row["key"] != "b.order"}


def found(**changes):
    inputs = copy.deepcopy(CASE["inputs"])
    inputs.update(changes)
    return figures_of(read_order(json.dumps({"inputs": inputs})))


def refusal_of(**changes):
    with pytest.raises(WrongJson) as refusal:
        found(**changes)
    return refusal.value


@pytest.mark.parametrize("key", VALUES)
def test_the_worked_order(key):
    assert figures_of(read_order(FILE.read_text(encoding="utf-8")))[key] == VALUES[key]


def test_the_command_prints_the_same():
    output = StringIO()
    call_command("order_result", str(FILE), stdout=output)
    figures = json.loads(output.getvalue())["figures"]
    assert {key: figures[key] for key in VALUES} == VALUES
    assert set(figures) == set(VALUES)


def test_nothing_promised_moves_only_what_rests_on_it():
    changed = found(promised=None)
    assert changed["b.yes"] == VALUES["b.yes"]
    assert (changed["b.promised.left"], changed["b.promised.days"]) == ("0", "")
    assert changed["e.2.at"] < VALUES["e.2.at"]
    assert found(promised=[]) == changed


def test_several_promised_jobs_equal_one_of_their_minutes():
    one = found(promised={"minutes": 840, "due": "2026-10-24"})
    two = found(promised=[{"minutes": n, "due": "2026-10-24"} for n in (500, 340)])
    assert one == two


def test_too_much_promised_leaves_no_date_for_a_yes():
    changed = found(promised={"minutes": 9000, "due": "2026-10-24"})
    assert int(changed["b.promised.left"]) > 0
    assert [changed[key] for key in ("b.yes", "w.days", "w.fewer", "n.best", "n.binding")] == [
        "none"
    ] * 5
    assert changed["b.make"] == VALUES["b.make"]


def test_nothing_to_buy_leaves_the_proof_and_the_work():
    there = [dict(row, on_hand=1000) for row in CASE["inputs"]["materials"]]
    changed = found(materials=there)
    assert (changed["b.yes.buy"], changed["e.arrive"], changed["n.lead"]) == ("none", "none", "0")
    # the proof would allow 18 October, but cutting must start on the 16th
    assert (changed["b.yes"], changed["n.binding"]) == ("2026-10-15", "work")
    assert changed["e.1.M"].startswith("2026-09-29")


def test_no_names_need_no_proof():
    drops = [dict(drop, named=0) for drop in CASE["inputs"]["drops"]]
    changed = found(drops=drops)
    assert (changed["b.finish"], changed["b.yes.proof"], changed["e.ok"]) == ("none",) * 3
    assert changed["n.proof"] == "0"


def test_no_rack_lets_a_date_be_filled():
    changed = found(rack=None)
    assert (changed["q.rack"], changed["n.rack"]) == ("none", "0")
    assert changed["b.make"] > VALUES["b.make"]
    assert changed["b.sum"] == VALUES["b.sum"]


def test_one_delivery_has_nothing_to_move_to():
    changed = found(drops=CASE["inputs"]["drops"][:1])
    assert changed["w.move"] == "none"
    assert "b.2.due" not in changed
    assert changed["b.1.F"] == VALUES["b.1.F"]


def test_an_order_without_a_price_has_no_figures_of_money():
    inputs = {key: value for key, value in CASE["inputs"].items() if key not in ("price", "actual")}
    figures = figures_of(read_order(json.dumps({"inputs": inputs})))
    assert figures == {key: VALUES[key] for key in figures}
    assert {key.partition(".")[0] for key in figures} == {"q", "b", "e", "n", "w"}


def test_no_deposit_is_more_than_the_order():
    changed = found(deposit={"rate": "1", "step": "500"})
    assert changed["dep"] == VALUES["p.gross"]
    assert (changed["i1.due"], changed["i2.due"]) == ("0.00", "0.00")


def test_three_deliveries():
    third = {"due": "2026-12-04", "pieces": {"sage": 30}, "named": 0}
    changed = found(drops=[*CASE["inputs"]["drops"], third])
    assert changed["q.3.make"] == "32"
    assert changed["b.3.hand"] == "2026-12-02"
    assert changed["b.sum"] == changed["q.total"] == str(1914 + 32 * 9 + 30 * 4 + 6)
    assert changed["e.3.M"] > changed["e.2.M"]


def test_spares_are_counted_up_for_each_colourway():
    drops = [{"due": "2026-11-06", "pieces": {"a": 1, "b": 1, "c": 1}, "named": 0}]
    assert found(drops=drops)["q.1.spare"] == "3"


@pytest.mark.parametrize(
    ("changes", "where"),
    [
        ({"today": "2026-13-01"}, "inputs.today"),
        ({"today": 5}, "inputs.today"),
        ({"today": "0001-01-01"}, "inputs.today"),
        ({"reject": "2"}, "inputs.reject"),
        ({"reject": "NaN"}, "inputs.reject"),
        ({"per_carton": 0}, "inputs.per_carton"),
        ({"lead_days": -1}, "inputs.lead_days"),
        ({"lead_days": "1e999"}, "inputs.lead_days"),
        ({"proof_days": 1.5}, "inputs.proof_days"),
        ({"drops": []}, "inputs.drops"),
        ({"drops": "two"}, "inputs.drops"),
        (
            {"drops": [{"due": "2026-11-06", "pieces": {"a": 2}, "named": 3}]},
            "inputs.drops[0].named",
        ),
        ({"drops": [{"due": "2026-11-06", "pieces": {}, "named": 0}]}, "inputs.drops[0].pieces"),
        ({"minutes_per_weekday": {"mon": 2000}}, "inputs.minutes_per_weekday.mon"),
        ({"short_days": {"soon": 5}}, "inputs.short_days.soon"),
        ({"days_off": [None]}, "inputs.days_off[0]"),
        (
            {"rack": {"boxes_per_load": 0, "loads_per_day": 1, "dryings": 1}},
            "inputs.rack.boxes_per_load",
        ),
        ({"materials": [{"name": "card"}]}, "inputs.materials[0].need"),
        (
            {"materials": [{"name": "card", "need": 2, "on_hand": 1, "reserved": 0}]},
            "inputs.materials[0].pack",
        ),
        ({"credit": {"invoice": 3, "boxes": 1, "names": 0}}, "inputs.credit.invoice"),
        ({"payments": [["2026-10-05", "20.001", "card"]]}, "inputs.payments[0][1]"),
        ({"payments": [["2026-10-05", "20.00"]]}, "inputs.payments[0]"),
        ({"actual": {"made": 3}}, "inputs.actual.setup_min"),
    ],
)
def test_what_cannot_be_read_is_refused_with_its_place(changes, where):
    assert refusal_of(**changes).where == where


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("", "line 1, column 1"),
        ("[]", "file"),
        ("{}", "inputs"),
        ('{"inputs": {"today": NaN}}', "inputs.today"),
        ('{"inputs": 1, "inputs": 2}', "inputs"),
        ("[" * 100_000, "file"),
    ],
)
def test_a_text_that_is_no_order_is_refused(text, where):
    with pytest.raises(WrongJson) as refusal:
        read_order(text)
    assert refusal.value.where == where


@pytest.mark.parametrize("name", ["/nowhere/order.json", "."])
def test_a_file_that_cannot_be_read_is_refused(name):
    output = StringIO()
    with pytest.raises(SystemExit):
        call_command("order_result", name, stdout=output)
    assert "cannot be read" in json.loads(output.getvalue())["error"]["message"]


def test_a_rack_too_small_for_one_item_is_refused():
    with pytest.raises(RackHoldsNothing, match="can't dry a single item") as refused:
        found(rack={"boxes_per_load": 1, "loads_per_day": 1, "dryings": 2})
    assert refused.value.where == "rack"


def test_what_is_kept_for_others_must_be_bought_too():
    assert Material("card", Decimal(10), Decimal(4), Decimal(3)).short == 9  # 10 - (4 - 3)
    assert Material("card", Decimal(10), Decimal(14), Decimal(3)).short == 0  # 11 are free


def test_a_single_name_waits_for_the_proof():
    order = read_order(FILE.read_text(encoding="utf-8"))
    day = datetime.date(2026, 10, 20)
    parts = tuple(Part(day, (("red", 5),), named) for named in (0, 1))
    job = job_of(replace(order, parts=parts))
    assert [each.name for each in job.deliveries] == ["delivery 1", "delivery 2"]
    assert [[block.after_proof for block in each.blocks] for each in job.deliveries] == [
        [False, False],
        [False, True],
    ]


def test_what_is_moved_goes_with_its_colourway_and_its_names():
    day = datetime.date(2026, 10, 20)
    order = replace(
        read_order(FILE.read_text(encoding="utf-8")),
        parts=(
            Part(day, (("red", 10), ("blue", 4)), named=9),
            Part(day, (("blue", 3),), named=2),
        ),
    )
    first, second = with_moved(order, 8).parts
    # 8 of the 14 leave 6: the 9 with names leave with 3 of them
    assert (first.count, first.named) == (6, 6)
    assert (second.count, second.named) == (3 + 8, 2 + 3)
    both = {
        name: dict(first.items).get(name, 0) + dict(second.items)[name]
        for name in dict(second.items)
    }
    assert both == {"red": 10, "blue": 7}


def test_evenings_are_only_added_to_days_that_are_worked():
    order = read_order(FILE.read_text(encoding="utf-8"))
    calendar = replace(order.calendar, weekday_minutes=(60, 0, 0, 90, 0, 0, 0))
    longer = with_evenings(replace(order, calendar=calendar, evening_minutes=45))
    assert longer.calendar.weekday_minutes == (105, 0, 0, 135, 0, 0, 0)


def test_a_ready_cut_closing_saves_no_more_than_all_of_the_finishing():
    order = read_order(FILE.read_text(encoding="utf-8"))

    def finish(minutes, saved):
        changed = replace(order.minutes, finish=minutes, simple_saves=saved)
        return simpler(replace(order, minutes=changed)).minutes.finish

    assert [finish(5, 2), finish(5, 5), finish(5, 7)] == [3, 0, 0]


def test_work_without_an_end_in_sight_has_no_dates():
    changed = found(minutes={**CASE["inputs"]["minutes"], "make": 10_000})
    assert [changed[f"e.1.{key}"] for key in ("M", "hand", "at", "slack")] == ["none"] * 4
