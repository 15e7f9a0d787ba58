"""The picture of a price history: steps begin where the one before ended, without colour."""

import re
from xml.etree import ElementTree

import pytest

from maker.documents.history_chart import HistoryStep, history_chart, scale_start

SVG = "{http://www.w3.org/2000/svg}"


def drawn(old, changes, new, **options):
    steps = [HistoryStep(f"step {n}", change, f"{change:+}") for n, change in enumerate(changes)]
    text = history_chart(
        ("Before", old, str(old)), steps, ("After", new, str(new)),
        title="A", description="B", tick_text=str, **options,
    )  # fmt: skip
    return ElementTree.fromstring(text)  # noqa: S314 - drawn just now


def bars(picture):
    """Left and right end of each bar, and how it is filled."""
    return [
        (float(bar.get("x")), float(bar.get("x")) + float(bar.get("width")), bar.get("fill"))
        for bar in picture.iter(f"{SVG}rect")
    ]


def test_each_step_begins_where_the_one_before_ended():
    old, up, down, new = bars(drawn(10, [5, -3], 12))
    assert old[1] == pytest.approx(up[0], abs=0.2)
    assert up[1] == pytest.approx(down[1], abs=0.2)
    assert down[0] == pytest.approx(new[1], abs=0.2)
    # 5 and 3 of one scale
    assert (up[1] - up[0]) / (down[1] - down[0]) == pytest.approx(5 / 3, rel=0.01)


def test_it_is_known_where_the_scale_begins():
    assert scale_start(10, [HistoryStep("step", -9, "-9")], 1) == 0
    start = scale_start(7.95, [HistoryStep("step", 0.05, "+0.05")], 8)
    assert 0 < start < 7.95


def test_more_and_less_are_told_by_pattern_and_sign():
    picture = drawn(10, [5, -3], 12)
    fills = [fill for _, _, fill in bars(picture)]
    assert fills[1] != fills[2]
    assert fills[0] == fills[3]
    texts = [text.text for text in picture.iter(f"{SVG}text")]
    assert {"+5", "-3", "Before", "After"} <= set(texts)


def test_a_small_change_of_a_large_figure_is_seen():
    before, step, _ = bars(drawn(100, [1], 101))
    assert step[1] - step[0] > 20
    assert before[1] > before[0]
    assert bars(drawn(0, [], 0))
    assert bars(drawn(-5, [10], 5))


def test_words_stay_words():
    text = history_chart(
        ("<b>", 1, "1"), [HistoryStep("<script>x</script>" * 9, 1, "&")], ("new", 2, "2"),
        title="<i>", description='"><script>', tick_text=str,
    )  # fmt: skip
    assert "<script" not in text
    assert not re.search(r"<[bi]>", text)
    ElementTree.fromstring(text)  # noqa: S314 - drawn just now
