"""Stock below zero, stock of unknown cost, and a ledger whose values always add up."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.calc.supplies.stock_value import BadMove, Move, replay

D = Decimal


def ledger(*moves):
    """Replay moves given as change, or change and what it cost."""
    pairs = [move if isinstance(move, tuple) else (move, None) for move in moves]
    return replay([Move(D(change), D(cost) if cost else None) for change, cost in pairs])


def test_an_empty_ledger_is_worth_nothing_and_knows_no_cost():
    stock = replay([])
    assert (stock.on_hand, stock.value, stock.fifo_value) == (0, 0, 0)
    assert stock.average_cost is stock.fifo_cost is stock.latest_cost is None


def test_the_last_unit_takes_the_rest_of_the_value():
    # 1.00 / 3 = 0.333333: three times that is 0.999999, and nothing may stay on an empty shelf
    stock = ledger((3, "1.00"), -1, -1, -1)
    assert [entry.value for entry in stock.entries] == [
        D("1.00"),
        D("-0.333333"),
        D("-0.333333"),
        D("-0.333334"),
    ]
    assert (stock.value, stock.fifo_value) == (0, 0)
    assert stock.average_cost == stock.fifo_cost == D("0.333333")


def test_a_rounded_average_takes_no_more_than_there_is():
    # 0.60 / 1,000,000 rounds up to 0.000001
    stock = ledger((1_000_000, "0.60"), -700_000)
    assert stock.value == 0
    assert stock.entries[1].value == D("-0.60")


def test_below_zero_is_flagged_and_valued_at_the_last_average():
    stock = ledger((10, "20.00"), -13)
    assert stock.on_hand == -3
    assert stock.value == stock.fifo_value == -6
    assert stock.went_below_zero
    assert [entry.is_below_zero for entry in stock.entries] == [False, True]
    assert stock.entries[1].value == -26


def test_the_next_purchase_closes_the_gap_at_its_own_cost():
    # three used before they were bought turn out to cost 2.50 instead of 2.00
    stock = ledger((10, "20.00"), -13, (20, "50.00"))
    last = stock.entries[2]
    assert stock.on_hand == 17
    assert stock.value == stock.fifo_value == D("42.50")
    assert stock.average_cost == stock.fifo_cost == D("2.5")
    assert last.value == 50
    assert last.revalued == last.fifo_revalued == D("-1.50")
    assert not last.is_below_zero


def test_a_purchase_smaller_than_the_gap_leaves_it_at_the_newer_cost():
    stock = ledger((10, "20.00"), -13, (2, "5.00"))
    assert stock.on_hand == -1
    assert stock.value == stock.fifo_value == D("-2.50")
    assert stock.average_cost == D("2.5")


def test_what_was_used_before_anything_was_bought_gets_its_cost_later():
    stock = ledger(-4, (10, "30.00"))
    assert stock.entries[0].unit_cost is None
    assert stock.value == stock.fifo_value == 18
    assert stock.entries[1].revalued == -12


def test_what_is_missing_adds_up_until_goods_come_in():
    # five of ten at 3.00 each are gone already
    stock = ledger(-3, -2, (10, "30.00"))
    assert (stock.on_hand, stock.value, stock.fifo_value) == (5, 15, 15)


def test_stock_of_unknown_cost_takes_the_first_cost_that_is_known():
    stock = ledger(6, (4, "8.00"))
    assert stock.average_cost == 2
    assert stock.value == stock.fifo_value == 20
    assert stock.entries[1].revalued == stock.entries[1].fifo_revalued == 12


def test_a_count_that_finds_more_is_valued_at_the_average_and_like_the_newest_lot():
    stock = ledger((10, "10.00"), (10, "30.00"), -12, 1)
    assert stock.entries[3].value == 2
    assert stock.average_cost == 2
    # by first in, first out it joins the newest lot
    assert stock.entries[3].fifo_value == 3
    assert stock.fifo_cost == 3


def test_a_little_that_is_left_counts_in_the_average():
    # half a metre at 1.00 and one at 3.00: 3.50 for 1.5 m
    assert ledger((10, "10.00"), "-9.5", (1, "3.00")).average_cost == D("2.333333")


def test_what_is_found_joins_the_newest_lot():
    # of ten at 1.00 and ten at 3.00 two were used; one more is found and is like the newest
    stock = ledger((10, "10.00"), (10, "30.00"), -2, 1)
    assert stock.entries[3].fifo_value == 3
    assert stock.fifo_cost == 1
    assert stock.fifo_value == 8 + 33
    all_used = ledger((10, "10.00"), (10, "30.00"), -2, 1, -19)
    assert (all_used.entries[4].fifo_value, all_used.fifo_value) == (-8 - 33, 0)


def moves_of(*moves):
    return replay([Move(**{"key": place, **move}) for place, move in enumerate(moves)])


TWO_LOTS = (
    {"change": D(10), "cost_in": D("10.00")},
    {"change": D(10), "cost_in": D("30.00")},
)


def test_goods_sent_back_leave_at_what_their_own_receipt_line_cost():
    # 20 for 40.00; 4 of the second line go back at 3.00 each: 16 for 28.00
    stock = moves_of(*TWO_LOTS, {"change": D(-4), "cost_out": D("12.00"), "lot": 1})
    assert (stock.on_hand, stock.value, stock.average_cost) == (16, 28, D("1.75"))
    assert stock.entries[2].unit_cost == 3
    assert (stock.entries[2].value, stock.entries[2].revalued) == (-12, 0)
    # the first lot is still the next to leave
    assert (stock.fifo_value, stock.fifo_cost) == (28, 1)


def test_goods_that_arrived_damaged_leave_out_of_their_own_lot():
    stock = moves_of(*TWO_LOTS, {"change": D(-1), "lot": 1})
    assert stock.entries[2].value == -2
    assert stock.entries[2].fifo_value == -3


def test_more_sent_back_than_is_left_of_the_lot_takes_from_the_oldest():
    stock = moves_of(*TWO_LOTS, {"change": D(-12), "cost_out": D("36.00"), "lot": 1})
    assert stock.entries[2].fifo_value == -(30 + 2)
    assert stock.on_hand == 8
    assert stock.value == 4


def test_nothing_is_worth_less_than_nothing_after_sending_back():
    # the average fell below what the line had cost: what is left keeps its value at nothing
    stock = moves_of(
        {"change": D(10), "cost_in": D("30.00")},
        {"change": D(-9)},
        {"change": D(1), "cost_in": D("0.00")},
        {"change": D(-1), "cost_out": D("30.00"), "lot": 0},
    )
    assert stock.on_hand == 1
    assert stock.value >= 0
    last = stock.entries[3]
    assert last.balance_value == stock.entries[2].balance_value + last.value + last.revalued


@pytest.mark.parametrize(
    "move",
    [
        {"change": D(1), "cost_out": D(1)},
        {"change": D(-1), "cost_out": D(-1)},
        {"change": D(-1), "cost_out": D("NaN")},
    ],
)
def test_a_cost_that_cannot_leave_is_refused(move):
    with pytest.raises(BadMove):
        moves_of({"change": D(5), "cost_in": D(5)}, move)


def test_fifo_cost_is_that_of_the_next_unit_to_leave():
    stock = ledger((2, "2.00"), (2, "6.00"), -1)
    assert stock.fifo_cost == 1
    assert ledger((2, "2.00"), (2, "6.00"), -2).fifo_cost == 3
    assert stock.latest_cost == 3


def test_a_lot_costs_what_its_receipt_says_to_the_last_unit():
    # 0.20 / 3 = 0.066667; what rounding leaves over falls to the last unit, not to the unit cost
    stock = ledger((3, "0.20"), -1, -1)
    assert stock.fifo_cost == D("0.066667")
    assert stock.fifo_value == D("0.066666")


def test_free_goods_cost_nothing_which_is_not_unknown():
    stock = replay([Move(D(5), D(0))])
    assert stock.average_cost == stock.fifo_cost == stock.latest_cost == 0


@pytest.mark.parametrize(
    "move",
    [
        Move(D(0)),
        Move(D("NaN")),
        Move(D(1), D(-1)),
        Move(D(-1), D(1)),
        Move(D(1), D("NaN")),
        Move(D(0), counted=D(-1)),
        Move(D(0), counted=D("NaN")),
        Move(D(0), D(1), counted=D(1)),
    ],
)
def test_entries_that_cannot_be_meant_are_refused(move):
    with pytest.raises(BadMove):
        replay([move])


AMOUNTS = st.decimals("0.001", 5000, places=3)
COSTS = st.none() | st.decimals(0, 9999, places=2)
MOVES = st.lists(
    st.builds(Move, AMOUNTS, COSTS) | st.builds(lambda amount: Move(-amount), AMOUNTS), max_size=30
)


@given(MOVES)
def test_value_after_is_value_before_with_what_moved_and_what_was_revalued(moves):
    value = fifo_value = balance = D(0)
    for move, entry in zip(moves, replay(moves).entries, strict=True):
        balance += move.change
        value += entry.value + entry.revalued
        fifo_value += entry.fifo_value + entry.fifo_revalued
        assert entry.balance == balance
        assert entry.balance_value == value
        assert entry.fifo_balance_value == fifo_value
        if balance >= 0:
            assert value >= 0
            assert fifo_value >= 0
        if balance == 0:
            assert value == fifo_value == 0


@given(MOVES, st.integers(0, 29))
def test_the_future_changes_nothing_of_the_past(moves, cut):
    assert replay(moves[:cut]).entries == replay(moves).entries[:cut]
