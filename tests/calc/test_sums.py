"""How a figure came about: exact for scripts, rounded and bare for people, from one source."""

from decimal import Decimal

import pytest

from maker.calc.explanation import Line
from maker.calc.sums import ABOVE, factor, joined, money, number, say, share, told, unit_cost
from maker.web.words import sum_writer

D = Decimal
for_people = sum_writer("EUR", "en_GB")


@pytest.mark.parametrize(
    ("how", "exact", "people"),
    [
        # the sum a maker met on her page: nothing added, and a share she was to divide by
        (
            (money(D("126.156863")) + money(D(0))) / share(D("0.7025")),
            "(126.156863 + 0) / 0.7025",
            "€126.16 ÷ 70.25%",
        ),
        (
            (money(D("126.156863")) + money(D("0.30"))) / share(D("0.7025")),
            "(126.156863 + 0.3) / 0.7025",
            "(€126.16 + €0.30) ÷ 70.25%",
        ),
        (
            money(D("285.000000")) - money(D("0.00")) - money(D("126.156863")),
            "285 - 0 - 126.156863",
            "€285.00 − €126.16",
        ),
        (ABOVE * factor(D(1)) / number(12), "x 1 / 12", "÷ 12"),
        (ABOVE * factor(D("1.2")) / number(12), "x 1.2 / 12", "× 1.2 ÷ 12"),
        (money(D(45)) * share(D(0)) + money(D("0.25")), "45 x 0 + 0.25", "€0.25"),
        (money(D(45)) * share(D("0.026")), "45 x 0.026", "€45.00 × 2.6%"),
        (number(1) * number(D("2.51968")), "1 x 2.51968", "2.52"),
        (number(3) * unit_cost(D("0.45714285")), "3 x 0.45714285", "3 × €0.4571"),
        (money(D(9)) - (money(D(4)) - money(D(1))), "9 - (4 - 1)", "€9.00 − (€4.00 − €1.00)"),
        (
            money(D(9)) / (number(2) * number(3)),
            "9 / (2 x 3)",
            "€9.00 ÷ (2 × 3)",
        ),
        (
            say("rounded up to {}", money(D("0.05"))).then("no tax"),
            "rounded up to 0.05, no tax",
            "rounded up to €0.05, no tax",
        ),
        (joined(" + ", [number(2), "more"]), "2 + more", "2 + more"),
        (number(D(-3)), "-3", "−3"),
    ],
)
def test_one_sum_is_written_exactly_and_for_people(how, exact, people):
    assert str(how) == exact
    assert how.told(for_people) == people


def test_names_with_braces_are_names():
    assert str(say("{} of {}", number(2), "{card}")) == "2 of {card}"
    assert str(number(2).then("{card}")) == "2, {card}"


def test_people_read_their_own_decimal_mark():
    how = money(D("126.156863")) / share(D("0.7025"))
    assert (
        told(how, sum_writer("EUR", "de_DE"))
        == "126,16\N{NO-BREAK SPACE}€ ÷ 70,25\N{NO-BREAK SPACE}%"
    )


def test_a_tree_for_scripts_has_keys_and_exact_sums():
    third = D(1) / 3
    lines = (Line("x", 1, key="q"), Line("y", 2, lines=(Line("z", 3),)))
    line = Line("price", third, "money", money(third) + money(D(0)), "p", lines)
    plain = line.as_dict()
    assert plain["key"] == "p"
    assert [each["key"] for each in plain["lines"]] == ["q", "p.2"]
    assert plain["lines"][1]["lines"][0]["key"] == "p.2.1"
    assert plain["how"] == f"{plain['value']} + 0"
    assert "said" not in plain
    assert line.as_dict(for_people)["said"] == "€0.3333"


@pytest.mark.parametrize(
    ("how", "said"),
    [
        ("6 + 0", "6"),
        ("6 x 1 x 2 layers", "6 × 1 × 2 layers"),
        ("/ 6, shown to 4 decimals", "÷ 6"),
        ("4 decimals, not below 0.75", "not below 0.75"),
        ("12 / 4 up (star)", "12 ÷ 4, rounded up (star)"),
        ("164 / 210 min, up", "164 ÷ 210 min, rounded up"),
        ("12 + 0.5", "12 + 0.5"),
        ("rounded up to €0.50", "rounded up to €0.50"),
        ("total - tax - delivery before tax", "total − tax − delivery before tax"),
        ("net / cost - 1", "net ÷ cost − 1"),
        ("(profit + labour) / (90 min / 60)", "(profit + labour) ÷ (90 min ÷ 60)"),
        ("(net - fees - cost of today) / net", "(net − fees − cost of today) ÷ net"),
        ("Kraft card - recycled", "Kraft card - recycled"),
    ],
)
def test_words_with_numbers_are_printed_as_sums_are(how, said):
    assert told(how, sum_writer("EUR", "en_GB")) == said
