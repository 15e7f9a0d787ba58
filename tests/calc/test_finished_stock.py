"""What finished items are worth: first in, first out, and nothing is lost on the way.

The law is tried on random movements. The two small cases were worked by hand.
"""

import datetime
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as some

from pricing.calc.finished_stock.replay import Batch, Movement, NotThere, Replayed, replay
from pricing.calc.finished_stock.worth import NOTHING, Worth

DAY = datetime.date(2026, 3, 2)
HOME, FAIR, SHOP = 1, 2, 3


def worth(material, wage=0, overhead=0):
    return Worth(Decimal(material), Decimal(wage), Decimal(overhead))


def made(key, count, cost, order=None, on=DAY):
    return (
        Movement(f"in {key}", on, HOME, count, batch=key, order=order),
        Batch(key, on, cost, order),
    )


def test_the_oldest_batch_leaves_first_and_takes_its_own_cost():
    first, one = made(1, 10, worth("5.00", "20.00", "3.00"))
    second, two = made(2, 10, worth("8.00", "20.00", "3.00"))
    out = Movement("out", DAY, HOME, -12)
    state = replay([first, second, out], [one, two])
    # ten at 0.50 and two at 0.80
    assert state.worths["out"].material == Decimal("-6.60")
    assert state.worths["out"].wage == Decimal("-24.00")
    (left,) = state.places[HOME]
    assert (left.count, left.worth) == (8, worth("6.40", "16.00", "2.40"))


def test_thirds_lose_no_cent():
    arrives, batch = made(1, 3, worth("10.00"))
    outs = [Movement(f"out {n}", DAY, HOME, -1) for n in range(3)]
    state = replay([arrives, *outs], [batch])
    assert sum((state.worths[each.key] for each in outs), NOTHING) == worth("-10.00")
    assert state.count_at(HOME) == 0


def test_a_batch_of_an_order_leaves_with_it_and_is_touched_last_by_others():
    arrives, batch = made(1, 5, worth("5.00"), order=7)
    later, free = made(2, 5, worth("10.00"))
    sold = Movement("sold", DAY, HOME, -6)
    to_order = Movement("to order", DAY, HOME, -4, order=7)
    state = replay([arrives, later, sold, to_order], [batch, free])
    assert state.worths["sold"].material == Decimal("-11.00")  # five free ones, one of the order's
    assert state.worths["to order"].material == Decimal("-4.00")


def test_what_came_back_costs_what_it_left_with():
    first, one = made(1, 2, worth("2.00"))
    second, two = made(2, 2, worth("6.00"))
    moves = [first, second, Movement("out", DAY, HOME, -3), Movement("back", DAY, FAIR, 1)]
    state = replay(moves, [one, two])
    assert state.worths["back"].material == Decimal("3.00")
    assert state.count_at(FAIR) == 1


def test_more_than_was_there_is_refused_and_says_how_many_lack():
    arrives, batch = made(1, 3, worth("3.00"))
    with pytest.raises(NotThere, match="Only 3 were there on 2 March 2026") as caught:
        replay([arrives, Movement("out", DAY, HOME, -5)], [batch])
    assert caught.value.lacking == 2
    with pytest.raises(NotThere, match="Only 0 of these had gone out"):
        replay([arrives, Movement("back", DAY, HOME, 1)], [batch])


def test_a_late_receipt_changes_what_is_there_and_tells_what_is_gone():
    arrives, batch = made(1, 4, worth("4.00"))
    moves = [
        arrives,
        Movement("out", DAY, HOME, -1),
        Movement("more", DAY, HOME, 0, batch=1, added=worth("2.00")),
    ]
    state = replay(moves, [batch])
    assert state.worths["more"] == worth("0.50")
    assert state.places[HOME][0].worth == worth("4.50")


CENTS = some.integers(0, 5000).map(lambda cents: Decimal(cents) / 100)


@some.composite
def ledgers(draw):
    """Random movements that a maker could enter, with the batches behind them."""
    moves, batches, there, out = [], [], {HOME: 0, FAIR: 0, SHOP: 0}, 0
    for key in range(draw(some.integers(1, 25))):
        full = [place for place, count in there.items() if count]
        can = ["made", *(["out", "moved"] if full else []), *(["back"] if out else [])]
        can += ["revalued"] if batches else []
        kind = draw(some.sampled_from(can))
        order = draw(some.sampled_from([None, 7, 8]))
        if kind == "made":
            count = draw(some.integers(1, 9))
            batches.append(Batch(key, DAY, worth(draw(CENTS), draw(CENTS), draw(CENTS)), order))
            moves.append(Movement(key, DAY, HOME, count, batch=key, order=order))
            there[HOME] += count
        elif kind == "revalued":
            batch = draw(some.sampled_from(batches))
            moves.append(Movement(key, DAY, HOME, 0, batch=batch.key, added=worth(draw(CENTS))))
        elif kind == "back":
            count = draw(some.integers(1, out))
            moves.append(Movement(key, DAY, HOME, count))
            there[HOME] += count
            out -= count
        else:
            place = draw(some.sampled_from(full))
            count = draw(some.integers(1, there[place]))
            there[place] -= count
            to = None
            if kind == "moved":
                to = draw(some.sampled_from([HOME, FAIR, SHOP]))
                there[to] += count
            else:
                out += count
            moves.append(Movement(key, DAY, place, -count, to_place=to, order=order))
    return moves, batches, there, out


@given(ledgers())
def test_what_was_put_in_is_there_or_gone_out_for_every_place(ledger):
    moves, batches, there, out = ledger
    state = replay(moves, batches)
    for place, count in there.items():
        assert state.count_at(place) == count
    assert sum(layer.count for _, layer in state.gone) == out

    put_in = sum((batch.worth for batch in batches), NOTHING)
    put_in += sum((move.added for move in moves if move.added), NOTHING)
    lying = sum((each.worth for layers in state.places.values() for each in layers), NOTHING)
    gone = sum((layer.worth for _, layer in state.gone), NOTHING)
    assert put_in == lying + gone

    # and as the movements themselves say it: what left, less what came back
    left = NOTHING
    for move in moves:
        if move.batch is None and move.to_place is None:
            left -= state.worths[move.key]
        elif move.added:
            left += state.worths[move.key]
    assert left == gone
    assert all(layer.count > 0 for layers in state.places.values() for layer in layers)


@given(ledgers())
def test_one_more_movement_onto_what_is_kept_is_the_whole_replay(ledger):
    moves, batches, _, _ = ledger
    first, last = moves[:-1], moves[-1]
    before = replay(first, batches)
    if last.needs_gone:
        return
    # only what lies somewhere is kept, not what is gone
    onto = replay([last], batches, Replayed(before.places))
    whole = replay(moves, batches)
    assert onto.worths[last.key] == whole.worths[last.key]
    assert _lying(onto) == _lying(whole)


def _lying(state):
    return {
        place: [(layer.batch.key, layer.count, layer.worth) for layer in layers]
        for place, layers in state.places.items()
        if layers
    }
