"""What is kept of finished stock is what a replay of the whole ledger would say, to the last digit.

The newest movement is replayed onto what is kept; one of an earlier date, what comes back, and what
is undone replay everything.
"""

import datetime
import random
from decimal import Decimal

import pytest

from maker.calc.refusal import Refusal
from pricing.calc.finished_stock.worth import Worth
from pricing.finished_stock.ledger import replay_finished
from pricing.finished_stock.models import FinishedLayer, FinishedMove, Place
from pricing.finished_stock.services import (
    bring_back,
    count,
    enter_opening,
    home_of,
    item_for,
    move,
    take_out,
    undo,
)
from tests.factories import make_design, make_version, today
from tests.thorough import tries

DAY = datetime.timedelta(days=1)


@pytest.fixture
def item(workshop):
    return item_for(make_version(make_design(workshop, name="Paper lantern")))


@pytest.fixture
def fair(workshop):
    return Place.objects.create(workshop=workshop, name="Fernhollow fair", kind=Place.Kind.FAIR)


def kept(workshop):
    """Return all that follows from the ledger: what is left where, and what each movement cost."""
    layers = FinishedLayer.objects.filter(batch__item__workshop=workshop).order_by("batch", "place")
    moves = FinishedMove.objects.of(workshop).order_by("pk")
    return (
        [(row.batch_id, row.place_id, row.quantity, row.worth) for row in layers],
        [(row.pk, row.worth) for row in moves],
    )


def opening(item, quantity, worth, on, place=None):
    return enter_opening(
        item=item, quantity=quantity, on=on, today=today(), worth=Worth(*worth), place=place
    )


def anything(item, places, chance):
    """Do one thing that may happen to an item, on one of the last days."""
    on = today() - DAY * chance.choice([0, 0, 0, 0, 1, 2, 3])
    place, other = chance.sample(places, 2)
    quantity = chance.randint(1, 7)
    common = {"item": item, "on": on, "today": today()}
    what = chance.choice(
        ["sold", "sold", "sold", "found", "made", "moved", "back", "count", "undo"]
    )
    if what in ("sold", "found"):
        take_out(place=place, quantity=quantity, kind="sold", may_find=what == "found", **common)
    elif what == "made":
        parts = [Decimal(chance.randint(0, 10**8)).scaleb(-6) for _ in range(3)]
        opening(item, quantity, parts, on, place)
    elif what == "moved":
        move(from_place=place, to_place=other, quantity=quantity, **common)
    elif what == "back":
        bring_back(place=place, quantity=quantity, **common)
    elif what == "count":
        count(place=place, counted=quantity, **common)
    else:
        rows = list(item.moves.standing().exclude(kind="made").order_by("pk"))
        if rows:
            undo(move=chance.choice(rows))


@pytest.mark.parametrize("seed", range(tries(4, 60)))
def test_what_is_kept_is_what_a_whole_replay_says(workshop, item, fair, seed):
    chance = random.Random(seed)
    places = [home_of(workshop), fair]
    opening(item, 20, ["30.000001", "17.770003", "3.333333"], today() - 4 * DAY)
    done = 0
    for _ in range(60):
        try:
            anything(item, places, chance)
        except Refusal:
            continue
        done += 1
    before = kept(workshop)
    assert done > 20
    assert before[0], "nothing was left, so nothing was compared"

    replay_finished(workshop=workshop)

    assert kept(workshop) == before


def test_what_leaves_last_takes_as_many_queries_after_a_long_history(workshop, item, count_queries):
    opening(item, 200, ["60", "30", "10"], today() - DAY)

    def sell():
        take_out(
            item=item, place=home_of(workshop), quantity=1, kind="sold", on=today(),
            today=today(), may_find=True,
        )  # fmt: skip

    sell()
    with count_queries() as few:
        sell()
    for _ in range(40):
        sell()
    with count_queries() as many:
        sell()

    assert len(many) == len(few)
    read = [each["sql"] for each in many if 'FROM "pricing_finishedmove"' in each["sql"]]
    assert all("LIMIT 1" in sql for sql in read), "the history was read"
