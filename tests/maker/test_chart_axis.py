"""The axis that all charts share: round numbers, labels that keep apart, a break that shows."""

import datetime
import re
from itertools import pairwise
from xml.etree import ElementTree

import pytest

from maker.documents.axis import LETTER, axis_of, axis_of_quantities, labels_apart, round_ticks
from maker.documents.bell_chart import Limit, bell_chart
from maker.documents.charts import Bar, ChartPoint, bar_chart, line_chart
from maker.documents.history_chart import HistoryStep, history_chart
from maker.documents.quantity_chart import Series, quantity_chart

SVG = "{http://www.w3.org/2000/svg}"
NARROW = 320  # the inner width of the narrowest phone


def money(value: float) -> str:
    return f"CHF {value:,.2f}"


@pytest.mark.parametrize(
    ("least", "most", "ticks"),
    [
        (0, 4, (0, 1, 2, 3, 4)),
        (0, 950, (0, 500, 1000)),
        (2.93, 3.08, (2.9, 2.95, 3.0, 3.05, 3.1)),
        (-5, 5, (-6, -4, -2, 0, 2, 4, 6)),
    ],
)
def test_round_numbers_are_around_all(least, most, ticks):
    found = round_ticks(least, most)
    assert found[0] <= least
    assert found[-1] >= most
    assert len(found) <= 9
    steps = {round(b - a, 9) for a, b in pairwise(found)}
    assert len(steps) == 1
    assert f"{steps.pop():e}"[0] in "125"
    if len(ticks) == len(found):
        assert found == pytest.approx(ticks)


def test_zero_is_on_the_axis_unless_it_may_break_and_all_lies_close_together():
    assert axis_of([95, 100], 0, 1).low == 0
    assert axis_of([50, 100], 0, 1, may_break=True).low == 0
    assert axis_of([-1, 2], 0, 1, may_break=True).low <= -1
    broken = axis_of([95, 100], 0, 1, may_break=True)
    assert 0 < broken.low < 95
    assert broken.is_broken
    assert axis_of([100, 100], 0, 1, may_break=True).is_broken


def test_values_lie_in_proportion():
    axis = axis_of([0, 8], 200, 20)
    assert [axis.at(value) for value in (0, 4, 8)] == [200, 110, 20]
    doubled = axis_of_quantities(1, 64, 0, 600)
    assert doubled.at(8) == pytest.approx(300)
    assert axis_of_quantities(7, 7, 0, 600).at(7) == 300


def test_labels_keep_apart_and_the_ends_stay():
    labels = [(float(place), "12345") for place in range(0, 101, 5)]
    kept = labels_apart(labels, 2, (-10, 110))
    assert kept[0] == labels[0]
    assert kept[-1] == labels[-1]
    assert all(b[0] - a[0] >= 10 for a, b in pairwise(kept))
    assert len(kept) > 5


def extents(picture, width):
    """Where the words of each height stand: from, to, in pixels of a chart so wide."""
    rows = {}
    for words in picture.iter(f"{SVG}text"):
        x = words.get("x")
        across = float(x.rstrip("%")) * (width / 100 if x.endswith("%") else 1)
        long = len(words.text or "") * float(words.get("font-size")) * LETTER
        shift = {"start": 0, "middle": long / 2, "end": long}[words.get("text-anchor")]
        rows.setdefault(words.get("y"), []).append((across - shift, across - shift + long))
    return rows


DAYS = [datetime.date(2026, 1, 1), datetime.date(2026, 11, 28)]
CHARTS = {
    "line": line_chart(
        [ChartPoint(day, 1200.0, "") for day in DAYS], title="", description="", tick_text=money
    ),
    "bar": bar_chart(
        [Bar(str(year), str(year), "", [(1200.0, "")]) for year in range(2006, 2027)],
        title="", description="", tick_text=money, patterns="",
    ),
    "quantity": quantity_chart(
        [Series("", "main", [(1, 1250.0), (1000, 900.0)])],
        title="", description="", tick_text=money,
    ),
    "bell": bell_chart(
        1200, 30, good_up_to=1210,
        limits=[Limit(1161.6, "10% chance lower"), Limit(1200, "expected"),
                Limit(1238.4, "10% chance higher"), Limit(5000, "break-even", is_main=True)],
        title="", description="", tick_text=money,
    ),
    "history": history_chart(
        ("Before", 1200, ""), [HistoryStep("Wage", 3.5, "")], ("After", 1203.5, ""),
        title="", description="", tick_text=money,
    ),
}  # fmt: skip


@pytest.mark.parametrize("chart", CHARTS)
def test_no_words_of_a_chart_meet_or_leave_it(chart):
    picture = ElementTree.fromstring(CHARTS[chart])  # noqa: S314 - drawn just now
    box = picture.get("viewBox")
    width = float(box.split()[2]) if box else NARROW
    for row in extents(picture, width).values():
        row.sort()
        assert row[0][0] >= -1
        assert row[-1][1] <= width + 1
        assert all(one[1] <= other[0] for one, other in pairwise(row))


def test_a_history_that_does_not_begin_at_zero_says_so_on_both_bars():
    broken = CHARTS["history"]
    assert len(re.findall("The bar begins at CHF 1,1", broken)) == 2
    whole = history_chart(
        ("Before", 10, ""), [], ("After", 4, ""), title="", description="", tick_text=money
    )
    assert "begins at" not in whole
