"""Lots: what is left of each, always as much in all as is in stock.

Which lot goods of no named lot leave first is a rule of this program; no source.
"""

import datetime
import random
from decimal import Decimal
from itertools import accumulate

import pytest

from catalogue.calc.supplies.lots import (
    LotMove,
    LotsLeft,
    free_lots,
    lot_to_take,
    lots_left,
    one_lot_for,
)

D = Decimal
DAY = datetime.date(2026, 1, 5)


def walk(*moves: tuple[str, str]) -> LotsLeft:
    """Lots after movements of (change, lot), each a day after the one before."""
    return lots_left(
        LotMove(D(change), DAY + datetime.timedelta(days=number), lot)
        for number, (change, lot) in enumerate(moves)
    )


def told(lots: LotsLeft) -> dict[str, str]:
    return {lot.name: str(lot.left) for lot in lots.lots} | {"": str(lots.in_no_lot)}


@pytest.mark.parametrize(
    ("moves", "left"),
    [
        # named goods leave their lot, the others no lot first and then the oldest lot
        ([("20", "K"), ("30", "L"), ("-4", "L")], {"K": "20", "L": "26", "": "0"}),
        ([("20", "K"), ("5", ""), ("30", "L"), ("-8", "")], {"K": "17", "L": "30", "": "0"}),
        ([("20", "K"), ("30", "L"), ("-25", "")], {"K": "0", "L": "25", "": "0"}),
        # what its own lot has not comes from no lot, then from the oldest
        ([("9", "J"), ("2", ""), ("5", "K"), ("-10", "K")], {"J": "6", "K": "0", "": "0"}),
        # a lot that was never bought is no lot
        ([("20", "K"), ("5", ""), ("-7", "Z")], {"K": "18", "": "0"}),
        # a lot bought twice is one, whatever the capitals and spaces
        ([("20", "K 7"), ("3", "L"), ("10", "k7"), ("-25", "")], {"K 7": "5", "L": "3", "": "0"}),
        # missing goods are made up for by what comes in next
        ([("-6", ""), ("20", "K")], {"K": "14", "": "0"}),
        ([("-6", ""), ("4", "K"), ("5", "")], {"K": "0", "": "3"}),
        ([("10", "K"), ("-12", "K")], {"K": "0", "": "-2"}),
        ([], {"": "0"}),
    ],
)
def test_what_is_left_of_each_lot(moves: list[tuple[str, str]], left: dict[str, str]) -> None:
    assert told(walk(*moves)) == left


@pytest.mark.parametrize("seed", range(20))
def test_lots_add_up_to_the_stock_whatever_moves(seed: int) -> None:
    chance = random.Random(seed)
    moves = [
        (f"{chance.choice((-1, -1, 1)) * chance.randint(1, 900)}e-2", chance.choice(("", *"KLMN")))
        for _ in range(120)
    ]
    went_below = False
    for number, on_hand in enumerate(accumulate(D(change) for change, _ in moves), 1):
        lots = walk(*moves[:number])
        assert lots.on_hand == on_hand
        assert all(lot.left >= 0 for lot in lots.lots)
        if lots.in_no_lot < 0:
            went_below = True
            assert not lots.there
    assert went_below


def test_a_lot_is_as_old_as_what_came_of_it_first() -> None:
    lots = walk(("5", "K"), ("5", "L"), ("5", "K"))
    assert [(lot.name, (lot.came_on - DAY).days) for lot in lots.lots] == [("K", 0), ("L", 1)]
    assert (lots.left_of("k"), lots.left_of("Z"), lots.named("Z")) == (10, 0, None)


def test_what_other_orders_keep_is_not_free() -> None:
    lots = walk(("20", "K"), ("8", "L"), ("1", "M"), ("-1", "M"))
    free = free_lots(lots, {"k": D(15), "L": D(9)})
    assert [(lot.name, lot.left, lot.free) for lot in free] == [("K", 20, 5), ("L", 8, 0)]


def test_one_lot_is_enough_or_the_largest_is_short_of_some() -> None:
    free = free_lots(walk(("20", "K"), ("30", "L"), ("12", "M")), {})
    assert [lot.name for lot in one_lot_for(D(20), free).enough] == ["K", "L"]
    short = one_lot_for(D(34), free)
    assert short.largest is not None
    assert (short.enough, short.largest.name, short.more_of_largest) == ((), "L", 4)
    none = one_lot_for(D(34), free_lots(walk(("20", "K")), {"K": D(20)}))
    assert (none.largest, none.more_of_largest) == (None, 34)


def test_the_kept_lot_is_named_and_else_the_oldest_free_one_that_is_enough() -> None:
    lots = walk(("20", "K"), ("30", "L"), ("2", ""))
    free = free_lots(lots, {"K": D(12)})
    assert lot_to_take(D(10), lots, free, kept="K") == "K"
    assert lot_to_take(D(10), lots, free) == "L"
    assert lot_to_take(D(8), lots, free) == "K"
    assert lot_to_take(D(2), lots, free) == ""
    assert lot_to_take(D(31), lots, free) == ""
