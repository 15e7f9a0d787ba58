"""What phones send arrives in any order, more than once and at the same moment: the same books."""

import json
import random
import uuid
from collections import Counter
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone

from pricing.fair_sales import services
from pricing.fair_sales.reading import read_batch
from pricing.fair_sales.services import store_batch
from pricing.fairs.models import FairSale, FairSaleLine
from pricing.finished_stock.models import FinishedMove
from tests.at_once import at_once
from tests.fair_tables import Table

pytestmark = pytest.mark.django_db


@pytest.fixture
def table(workshop: Any) -> Table:
    return Table(workshop)


def random_arrival(rng: random.Random, table: Table) -> tuple[list[Any], list[Any], list[Any]]:
    """Return sales, those undone, and all that is sent of them in some order, repeats too."""
    sales = [table.sale(rng.randint(1, 3), rng.randint(0, 2)) for _ in range(rng.randint(1, 3))]
    gone = [sale for sale in sales if rng.random() < 0.3]
    undos = [{"uuid": str(uuid.uuid4()), "kind": "undo", "of": each["uuid"]} for each in gone]
    arriving = [each for each in (*sales, *undos) for _ in range(rng.randint(1, 3))]
    rng.shuffle(arriving)
    return sales, gone, arriving


def arrive(rng: random.Random, table: Table, owner: Any, arriving: list[Any]) -> None:
    """Let them arrive in batches of any size, from two phones."""
    while arriving:
        size = rng.randint(1, len(arriving))
        body = json.dumps({"phone": rng.choice("AB"), "sales": arriving[:size]}).encode()
        answers = store_batch(day=table.day, batch=read_batch(body), by=owner, now=timezone.now())
        assert {each.state for each in answers} <= {"stored", "already"}
        del arriving[:size]


@pytest.mark.slow
def test_a_thousand_orders_of_arrival_store_each_sale_once(
    owner: Any, table: Table, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Sales, undos and repeats in any order: the same books at the end, stock asked once."""
    taken: Counter[str] = Counter()

    def take(sale: FairSale, *, by: Any) -> None:
        taken[str(sale.uuid)] += 1

    def give_back(sale: FairSale, *, by: Any) -> None:
        taken[str(sale.uuid)] -= 1

    monkeypatch.setattr(services, "take_from_stock", take)
    monkeypatch.setattr(services, "give_back_stock", give_back)
    rng = random.Random(14)
    orders = [random_arrival(rng, table) for _ in range(1_000)]
    for _, _, arriving in orders:
        arrive(rng, table, owner, arriving)
    rows = {str(row.uuid): row for row in FairSale.objects.all()}
    sent = {sale["uuid"]: sale for sales, _, _ in orders for sale in sales}
    undone = {sale["uuid"] for _, gone, _ in orders for sale in gone}
    assert rows.keys() == sent.keys()
    assert len(undone) > 300
    for key, sale in sent.items():
        row = rows[key]
        assert (row.received, row.problem) == (Decimal(sale["amount"]) / 100, "")
        assert (row.undone_at is not None) == (key in undone)
        assert taken[key] == (0 if key in undone else 1)
    lines = FairSaleLine.objects.values_list("sale__uuid", "item_id", "quantity")
    assert Counter((str(key), item, count) for key, item, count in lines) == Counter(
        (key, int(item), count)
        for key, sale in sent.items()
        for item, count in sale["items"].items()
    )


def test_any_order_of_arrival_leaves_the_same_in_stock(owner: Any, table: Table) -> None:
    rng = random.Random(41)
    sold: Counter[int] = Counter()
    versions = {str(each.pk): each.version_id for each in (table.lantern, table.starbox)}
    for _ in range(15):
        sales, gone, arriving = random_arrival(rng, table)
        arrive(rng, table, owner, arriving)
        for sale in sales:
            if sale not in gone:
                sold.update({versions[key]: count for key, count in sale["items"].items()})
    moves = FinishedMove.objects.standing().filter(kind="sold")
    moved: Counter[int] = Counter()
    for version, change in moves.values_list("item__version_id", "change"):
        moved[version] -= change
    assert moved == sold


@pytest.mark.django_db(transaction=True)
def test_two_phones_at_the_same_moment_store_each_sale_once(owner: Any, workshop: Any) -> None:
    table = Table(workshop)
    sales = [table.sale(1, 1) for _ in range(6)]
    undo = {"uuid": str(uuid.uuid4()), "kind": "undo", "of": sales[0]["uuid"]}
    now = timezone.now()

    def phone(name: str, order: list[Any]) -> Callable[[], object]:
        body = json.dumps({"phone": name, "sales": order}).encode()
        return lambda: [
            each.state
            for each in store_batch(day=table.day, batch=read_batch(body), by=owner, now=now)
        ]

    results = at_once(
        phone("A", [*sales, undo]), phone("B", [undo, *reversed(sales)]), phone("C", sales)
    )
    told = Counter(state for result in results for state in result)  # type: ignore[attr-defined]
    assert set(told) == {"stored", "already"}
    assert FairSale.objects.count() == 6
    assert FairSale.objects.filter(undone_at=None).count() == 5
    assert FinishedMove.objects.standing().filter(kind="sold").count() == 10
