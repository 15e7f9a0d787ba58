"""Charts are drawn to scale, read well without eyes and let no text through unescaped."""

import datetime
import xml.etree.ElementTree as ElementTree

import pytest

from maker.documents.charts import ChartPoint, line_chart

SVG = "{http://www.w3.org/2000/svg}"


def draw(*values: float, title: str = "Cost", days: int = 10) -> ElementTree.Element:
    points = [
        ChartPoint(
            datetime.date(2026, 1, 1) + datetime.timedelta(days=days * number), value, f"{value}"
        )
        for number, value in enumerate(values)
    ]
    drawn = line_chart(points, title=title, description="It rose.", tick_text="{:g}".format)
    return ElementTree.fromstring(drawn)  # noqa: S314  # our own text


def places(chart: ElementTree.Element) -> list[tuple[float, float]]:
    return [
        (float(dot.attrib["cx"].rstrip("%")), float(dot.attrib["cy"]))
        for dot in chart.iter(f"{SVG}circle")
    ]


def base(chart: ElementTree.Element) -> float:
    return float(next(chart.iter(f"{SVG}line")).attrib["y1"])


def test_heights_are_in_proportion_from_zero() -> None:
    chart = draw(1, 2, 4)
    heights = [base(chart) - y for _, y in places(chart)]
    assert heights[1] == pytest.approx(heights[0] * 2, abs=0.2)
    assert heights[2] == pytest.approx(heights[0] * 4, abs=0.2)


def test_days_are_in_proportion() -> None:
    first, second, third = (x for x, _ in places(draw(1, 1, 1)))
    assert second - first == pytest.approx(third - second, abs=0.02)


@pytest.mark.parametrize(
    ("most", "labels"),
    [
        (0.6435, ["0", "0.2", "0.4", "0.6", "0.8"]),
        (4, ["0", "1", "2", "3", "4"]),
        (950, ["0", "500", "1000"]),
        (0, ["0", "1"]),
    ],
)
def test_the_scale_has_round_numbers_and_room_for_all(most: float, labels: list[str]) -> None:
    words = [text.text for text in draw(most, most).iter(f"{SVG}text")]
    assert words[: len(labels)] == labels


def test_it_has_a_title_a_description_and_every_value_in_words() -> None:
    chart = draw(1, 2, title='Cost of <b>card</b> & "twine"')
    assert chart.attrib["role"] == "img"
    named = chart.attrib["aria-labelledby"].split()
    assert [chart[0].attrib["id"], chart[1].attrib["id"]] == named
    assert chart[0].text == 'Cost of <b>card</b> & "twine"'
    assert [dot[0].text for dot in chart.iter(f"{SVG}circle")] == [
        "1 Jan 2026: 1",
        "11 Jan 2026: 2",
    ]


def test_receipts_of_one_day_stand_above_one_another() -> None:
    assert len({x for x, _ in places(draw(1, 2, days=0))}) == 1


def test_it_needs_no_style_that_the_security_policy_forbids() -> None:
    assert not [part for part in draw(1, 2).iter() if "style" in part.attrib]


def test_nothing_to_draw_is_nothing() -> None:
    assert line_chart([], title="", description="", tick_text=str) == ""
