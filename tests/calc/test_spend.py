"""Months, budgets and the line in which spent, used and lost must meet what is on the shelf."""

import datetime
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.calc.supplies.stock_value import Move, replay
from pricing.calc.spending.spend import (
    BadSpan,
    BudgetStep,
    Moves,
    Period,
    Spending,
    budget_over,
    budgets_in,
    last_day,
    month_of,
    months_between,
    months_later,
    moves_from,
    over_budget,
    periods,
    reconcile,
    series_of,
)


def month(year, number):
    return datetime.date(year, number, 1)


@pytest.mark.parametrize(
    ("start", "count", "found"),
    [
        ((2026, 12), 1, (2027, 1)),
        ((2026, 1), -1, (2025, 12)),
        ((2026, 3), -12, (2025, 3)),
        ((2026, 5), 0, (2026, 5)),
        ((2026, 5), 20, (2028, 1)),
    ],
)
def test_months_go_over_the_turn_of_the_year(start, count, found):
    assert months_later(month(*start), count) == month(*found)


def test_a_month_ends_on_its_last_day_in_leap_years_too():
    assert last_day(month(2028, 2)) == datetime.date(2028, 2, 29)
    assert last_day(month(2026, 12)) == datetime.date(2026, 12, 31)
    assert month_of(datetime.date(2026, 12, 31)) == month(2026, 12)


def test_a_span_is_cut_into_months_or_into_the_years_it_touches():
    months = periods(month(2025, 11), month(2026, 2))
    assert [span.first for span in months] == [
        month(2025, 11), month(2025, 12), month(2026, 1), month(2026, 2),
    ]  # fmt: skip
    assert periods(month(2025, 11), month(2026, 2), each=12) == (
        Period(month(2025, 11), month(2025, 12)),
        Period(month(2026, 1), month(2026, 2)),
    )


@pytest.mark.parametrize(
    ("first", "last", "where"),
    [((2026, 2), (2026, 1), "last"), ((2016, 1), (2026, 1), "first")],
)
def test_a_span_that_cannot_be_meant_is_refused(first, last, where):
    with pytest.raises(BadSpan) as refused:
        periods(month(*first), month(*last))
    assert refused.value.where == where


@given(st.dates(datetime.date(1990, 1, 1), datetime.date(2090, 1, 1)), st.integers(1, 120))
def test_years_hold_the_same_months_as_months(day, count):
    first = month_of(day)
    last = months_later(first, count - 1)
    assert months_between(first, last) == count
    by_month = [one for span in periods(first, last) for one in span.months]
    by_year = [one for span in periods(first, last, each=12) for one in span.months]
    assert by_month == by_year
    assert len(by_month) == count


STEPS = [
    BudgetStep("paper", month(2026, 3), Decimal(40)),
    BudgetStep("paper", month(2025, 6), Decimal(30)),
    BudgetStep("glue", month(2025, 6), Decimal(5)),
    BudgetStep("glue", month(2026, 1), None),
]


@pytest.mark.parametrize(
    ("asked", "holds"),
    [
        ((2025, 5), {}),
        ((2025, 6), {"paper": 30, "glue": 5}),
        ((2026, 1), {"paper": 30}),
        ((2026, 3), {"paper": 40}),
        ((2030, 1), {"paper": 40}),
    ],
)
def test_a_budget_holds_from_its_month_until_a_later_one(asked, holds):
    assert budgets_in(STEPS, month(*asked)) == holds


def test_budgets_add_up_over_months_and_none_is_not_nothing():
    span = Period(month(2025, 12), month(2026, 3)).months
    assert budget_over(STEPS, span, ["paper"]) == 30 + 30 + 30 + 40
    assert budget_over(STEPS, span, ["paper", "glue"]) == 130 + 5
    assert budget_over(STEPS, [month(2026, 2)], ["glue"]) is None
    assert budget_over(STEPS, span, ["tools"]) is None


def test_groups_beyond_the_most_are_put_together():
    amounts = {
        ("x", key): Decimal(amount) for key, amount in zip("abcde", (5, 9, 0, 3, 3), strict=True)
    }
    spending = Spending({month(2026, 1): amounts})
    spans = periods(month(2026, 1), month(2026, 2))
    assert series_of(spending, spans, at_most=6) == (("b", "a", "d", "e"), ())
    assert series_of(spending, spans, at_most=3) == (("b", "a"), ("d", "e"))


# what the ledger of the quarter costed by hand says (tests/data/worked_case.json, ledger):
# bought 25.10, 41.01 and 14.20; used 16.733344 + 22.443920 + 17.151930; 3 sheets missing
def quarter():
    return [
        ("bought", Decimal("25.10"), Decimal("25.10")),
        ("used", Decimal("-16.733344"), None),
        ("bought", Decimal("41.01"), Decimal("41.01")),
        ("used", Decimal("-22.443920"), None),
        ("counted", Decimal("-1.683294"), None),
        ("bought", Decimal("14.20"), Decimal("14.20")),
        ("used", Decimal("-17.151930"), None),
    ]


def test_the_quarter_adds_up_in_cents_without_rounding():
    moves = moves_from(quarter())
    assert (moves.used, moves.lost) == (Decimal("56.329194"), Decimal("1.683294"))
    found = reconcile(
        opening=Decimal(0),
        spent=Decimal("80.31"),
        moves=moves,
        closing=Decimal("22.297512"),
        digits=2,
    )
    lines = {line.key: str(line.amount) for line in found.lines if line.amount}
    assert lines == {"spent": "80.31", "used": "-56.33", "lost": "-1.68"}
    assert (found.closing, found.rounding, found.unexplained) == (Decimal("22.30"), 0, 0)


def test_what_cents_lose_is_called_rounding_and_what_is_missing_is_not():
    moves = Moves(used=Decimal("0.333333"), lost=Decimal("0.333333"), given=Decimal("0.333333"))
    fine = reconcile(
        opening=Decimal(0),
        spent=Decimal(1),
        moves=moves,
        closing=Decimal("0.000001"),
        digits=2,
    )
    assert (fine.rounding, fine.unexplained) == (Decimal("-0.01"), 0)
    wrong = reconcile(
        opening=Decimal(0), spent=Decimal(2), moves=moves, closing=Decimal("0.000001"), digits=2
    )
    assert (wrong.rounding, wrong.unexplained) == (Decimal("-0.01"), Decimal(-1))


def test_goods_used_before_they_were_bought_are_revalued_by_name():
    moves = moves_from([("bought", Decimal("7.00"), Decimal("8.00"))])
    assert (moves.bought, moves.revalued, moves.change) == (8, -1, 7)


def test_a_currency_without_decimals_rounds_to_whole_units():
    found = reconcile(
        opening=Decimal(0),
        spent=Decimal(1000),
        moves=Moves(used=Decimal("333.4")),
        closing=Decimal("666.6"),
        digits=0,
    )
    assert [str(line.amount) for line in found.lines if line.amount] == ["1000", "-333"]
    assert (str(found.closing), found.unexplained) == ("667", 0)


amounts = st.decimals("0.01", "500", places=2)
ledger_entries = st.lists(
    st.one_of(
        st.tuples(st.just("bought"), amounts, amounts),
        st.tuples(st.sampled_from(["used", "scrap", "gift", "sold", "returned"]), amounts),
        st.tuples(st.just("counted"), st.decimals("-20", "20", places=2).filter(bool)),
    ),
    max_size=25,
)


@given(ledger_entries)
def test_whatever_happens_the_difference_is_nothing(entries):
    """Against the replay of the ledger, that is valued on its own; stock below zero too."""
    moves = [
        Move(one[1], one[2])
        if one[0] == "bought"
        else Move(one[1] if one[0] == "counted" else -one[1])
        for one in entries
    ]
    stock = replay(moves)
    before = Decimal(0)
    rows = []
    for one, entry in zip(entries, stock.entries, strict=True):
        cost = one[2] if one[0] == "bought" else None
        rows.append((one[0], entry.balance_value - before, cost))
        before = entry.balance_value
    spent = sum((one[2] for one in entries if one[0] == "bought"), Decimal(0))
    sums = moves_from(rows)
    found = reconcile(opening=Decimal(0), spent=spent, moves=sums, closing=stock.value, digits=2)
    assert found.unexplained == 0
    written = sum((line.amount for line in found.lines), Decimal(0))
    assert written + found.rounding == found.closing
    assert abs(found.rounding) <= Decimal("0.05")
    assert sums.change == stock.value


def test_what_was_spent_is_added_up_by_category_and_group():
    january, february = month(2026, 1), month(2026, 2)
    spending = Spending(
        {
            january: {("paper", "red"): Decimal(5), ("glue", "red"): Decimal(2)},
            february: {("paper", "blue"): Decimal(40), ("paper", "red"): Decimal(1)},
        }
    )
    both = [january, february]
    assert spending.total(both) == 48
    assert spending.total([january]) == 7
    assert spending.total(both, category="paper") == 46
    assert spending.total(both, group="red") == 8
    assert spending.total(both, category="paper", group="red") == 6
    assert spending.total(both, groups=["blue"]) == 40
    assert spending.total(both, groups=[]) == 0


def test_over_budget_looks_only_where_there_was_one():
    january, february = month(2026, 1), month(2026, 2)
    steps = [BudgetStep("paper", february, Decimal(30)), BudgetStep("glue", january, Decimal(10))]
    spending = Spending(
        {
            january: {("paper", "a"): Decimal(500), ("glue", "a"): Decimal(4)},
            february: {("paper", "a"): Decimal(42), ("glue", "a"): Decimal(13)},
        }
    )
    both = [january, february]
    assert over_budget(spending, steps, both, ["paper"]) == 12  # 42 - 30
    assert over_budget(spending, steps, both, ["paper", "glue"]) == 9  # 12 + (4 - 10) + (13 - 10)
    assert over_budget(spending, steps, [january], ["paper"]) is None


def test_goods_that_come_in_without_a_receipt_or_a_cost_are_put_in():
    moves = moves_from([("opening", Decimal(7), None), ("bought", Decimal(9), Decimal(8))])
    assert (moves.put_in, moves.bought, moves.revalued, moves.change) == (7, 8, 1, 16)


def test_moves_of_two_spans_add_up_figure_by_figure():
    one = Moves(bought=Decimal(8), used=Decimal(3), revalued=Decimal(-1))
    other = Moves(bought=Decimal(2), put_in=Decimal(5), used=Decimal(1))
    both = one + other
    assert (both.bought, both.put_in, both.used, both.revalued) == (10, 5, 4, -1)
    assert both.change == one.change + other.change == 10  # 10 + 5 - 1 - 4
