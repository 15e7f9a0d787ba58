"""Counts kept as mere differences come through the migration that lets a count stay."""

import datetime
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.migrations]

D = Decimal
BEFORE = ("catalogue", "0008_counts_that_stay")
AFTER = ("catalogue", "0009_what_was_counted")


def day(month: int, number: int) -> datetime.date:
    return datetime.date(2026, month, number)


def migrate_to(*targets: tuple[str, str]) -> Any:
    """Move the database and return its models as they were then."""
    return MigrationExecutor(connection).migrate(list(targets)).apps


@pytest.fixture
def before() -> Iterator[Any]:
    """The models before; afterwards the database is as new as the code again, and empty."""
    newest = MigrationExecutor(connection).loader.graph.leaf_nodes()
    apps = migrate_to(BEFORE)
    yield apps
    call_command("flush", verbosity=0, interactive=False)
    migrate_to(*newest)


def make_card(apps: Any, name: str, valuation: str = "average", **figures: Any) -> Any:
    workshop = apps.get_model("maker", "Workshop").objects.create(
        name=name, slug=name, valuation=valuation
    )
    return apps.get_model("catalogue", "Material").objects.create(
        workshop=workshop, name=name, kind="sheet", width_mm=300, height_mm=200, **figures
    )


def enter(card: Any, on: datetime.date, kind: str, change: int, **fields: Any) -> Any:
    return card.stock_entries.create(moved_on=on, kind=kind, change=change, **fields)


def receipts_and_a_count(card: Any) -> Any:
    """70 for 35.00, 3 found missing, then a receipt forgotten before it, and 5 used after it."""
    enter(card, day(1, 5), "bought", 70, cost_in=D(35))
    count = enter(card, day(3, 10), "counted", -3)
    enter(card, day(2, 3), "bought", 50, cost_in=D(30))
    enter(card, day(3, 11), "used", -5)
    return count


# by hand: 65.00 for 120, less 53 and 5 at 0.541667 each, in rounded steps; first in, first out:
# 53 and 5 of the 70 at 0.50 are gone, 12 x 0.50 + 50 x 0.60
VALUES = {"average": D("33.583314"), "fifo": D("36.00")}


def test_counts_come_through(before: Any, subtests: pytest.Subtests) -> None:
    """One move of the database for all cases: it takes longer than everything else here."""
    stays = {
        valuation: make_card(before, valuation, valuation, on_hand=D(112), stock_value=D("60.50"))
        for valuation in VALUES
    }
    counts = {valuation: receipts_and_a_count(card).pk for valuation, card in stays.items()}
    taken, right = a_count_taken_back(make_card(before, "taken back", on_hand=D(70)))
    # figures that no replay would give show that none was made
    without = make_card(before, "without", on_hand=D(7), stock_value=D("1.23"))
    alone = enter(without, day(1, 5), "bought", 70, cost_in=D(35), balance=D(7))
    box, in_box = a_counted_box(before, make_card(before, "box"))

    after = migrate_to(AFTER)
    materials = after.get_model("catalogue", "Material").objects
    entries = after.get_model("catalogue", "StockEntry").objects

    for valuation, value in VALUES.items():
        with subtests.test("what was counted is found again and stays", valuation=valuation):
            count = entries.get(pk=counts[valuation])
            # there were 70 when it was entered, 120 by the ledger now
            assert (count.counted, count.change_at_count, count.change) == (67, -3, -53)
            assert count.balance == 67
            card = materials.get(pk=stays[valuation].pk)
            assert (card.on_hand, card.stock_value) == (62, value)
            others = entries.filter(material=card).exclude(kind="counted")
            assert set(others.values_list("counted", "change_at_count")) == {(None, None)}
    with subtests.test("a count that was taken back moves nothing"):
        count, again = entries.get(pk=taken), entries.get(pk=right)
        assert (count.counted, count.change) == (67, -3)
        assert (again.counted, again.change, again.balance) == (69, -1, 69)
    with subtests.test("a ledger without a count is left as it is"):
        card = materials.get(pk=without.pk)
        assert (card.on_hand, card.stock_value) == (7, D("1.23"))
        assert entries.get(pk=alone.pk).balance == 7
    with subtests.test("the box of offcuts stays counted too"):
        count = after.get_model("catalogue", "OffcutEntry").objects.get(pk=in_box)
        assert (count.counted, count.change_at_count, count.change) == (3, -2, -6)
        assert after.get_model("catalogue", "Offcut").objects.get(pk=box).count == 3


def a_count_taken_back(card: Any) -> tuple[int, int]:
    """Enter a count, take it back, count again; return the keys of both counts."""
    enter(card, day(1, 5), "bought", 70, cost_in=D(35))
    count = enter(card, day(3, 10), "counted", -3)
    enter(card, day(3, 10), "reversed", 3, takes_back=count)
    return count.pk, enter(card, day(3, 10), "counted", -1).pk


def a_counted_box(apps: Any, card: Any) -> tuple[int, int]:
    """Keep 5, count 2 fewer, and keep 4 before that; return the keys of box and count."""
    box = apps.get_model("catalogue", "Offcut").objects.create(
        material=card, width_mm=100, height_mm=80, count=7
    )
    box.entries.create(moved_on=day(1, 5), kind="kept", change=5)
    count = box.entries.create(moved_on=day(3, 10), kind="counted", change=-2)
    box.entries.create(moved_on=day(2, 3), kind="kept", change=4)
    return box.pk, count.pk
