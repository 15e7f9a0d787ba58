"""What is taken to a fair is at its place in finished stock, not at home, and back afterwards."""

import datetime
import importlib
import itertools
import random
import uuid
from decimal import Decimal

import pytest
from django.apps import apps
from django.urls import reverse
from django.utils import timezone

from pricing.calc.finished_stock.worth import Worth
from pricing.fair_sales.counting import Settled, book_differences
from pricing.fair_sales.on_table import on_table
from pricing.fair_sales.reading import SentBatch
from pricing.fair_sales.services import restore_sale, store_batch, undo_by_uuid
from pricing.fairs.models import Fair, FairSale
from pricing.fairs.planning import stock_of
from pricing.fairs.stock import save_counts
from pricing.finished_stock.inputs import on_hand
from pricing.finished_stock.ledger import replay_finished
from pricing.finished_stock.models import FinishedItem, FinishedLayer, FinishedMove, Place
from pricing.finished_stock.services import enter_opening, home_of, item_for
from pricing.workshop_file.services import export_workshop, import_workshop
from tests.at_once import at_once
from tests.factories import today
from tests.fair_tables import Table


@pytest.fixture
def table(workshop):
    """A table with a lantern and a star box, of which 30 and 25 are at home."""
    made = Table(workshop)
    for design, count in ((made.lantern, 30), (made.starbox, 25)):
        enter_opening(
            item=item_for(design.version), quantity=count,
            on=today() - datetime.timedelta(days=9), today=today(),
            worth=Worth(Decimal("90.10"), Decimal(45), Decimal(15)),
        )  # fmt: skip
    return made


def counted(table, lantern, starbox=(None, None), by=None):
    counts = {table.lantern.pk: lantern, table.starbox.pk: starbox}
    save_counts(fair=table.fair, counts=counts, today=today(), by=by)
    table.fair.refresh_from_db()


def sold(table, owner, *sales):
    answers = store_batch(
        day=table.day, batch=SentBatch("phone", None, sales), by=owner, now=timezone.now()
    )
    assert {each.state for each in answers} == {"stored"}


def at(table, design=None):
    """Return how many of an item (the lantern) are at home and at the fair."""
    item = item_for((design or table.lantern).version)

    def count(place):
        layers = FinishedLayer.objects.filter(batch__item=item, place=place)
        return sum(row.quantity for row in layers)

    fair = Fair.objects.get(pk=table.fair.pk)
    return count(home_of(table.workshop)), count(fair.stock_place) if fair.stock_place else 0


def test_what_is_taken_is_at_the_fair_and_not_at_home(table, owner):
    counted(table, (20, None))
    assert at(table) == (10, 20)
    place = table.fair.stock_place
    assert (place.kind, place.name) == (Place.Kind.FAIR, "Hollin Green fair")
    # what orders may have is what is at home
    assert [row.quantity for row in on_hand(table.workshop, home_of(table.workshop))] == [10, 25]

    sold(table, owner, table.sale(2), table.sale(1))
    assert at(table) == (10, 17)
    counted(table, (20, 17))
    assert at(table) == (27, 0)


def test_counts_typed_wrong_are_put_right_and_undone(table, owner):
    counted(table, (20, None))
    counted(table, (12, None))
    assert at(table) == (18, 12)
    counted(table, (12, 12))
    assert at(table) == (30, 0)
    counted(table, (12, None))
    assert at(table) == (18, 12)
    counted(table, (None, None))
    assert at(table) == (30, 0)


def test_what_is_missing_stays_at_the_fair_until_somebody_says_what_became_of_it(table, owner):
    counted(table, (20, None))
    sold(table, owner, table.sale(2))
    counted(table, (20, 15))
    assert at(table) == (25, 3)
    book_differences(
        day=table.day,
        table=on_table(table.day, table.workshop),
        settled=[Settled(table.lantern.pk, 3, "given")],
        at=timezone.now(),
        by=owner,
        form_key=uuid.uuid4(),
    )
    assert at(table) == (25, 0)


def test_more_than_is_at_home_moves_what_is_there_and_sales_are_not_lost(table, owner):
    counted(table, (40, None))
    assert at(table) == (0, 30)
    sold(table, owner, table.sale(28), table.sale(5))
    assert at(table) == (0, 0)
    out = FinishedMove.objects.of(table.workshop).standing().filter(kind="sold")
    assert sum(row.change for row in out) == -33


def test_a_workshop_without_finished_stock_has_nothing_moved(workshop, owner):
    table = Table(workshop)
    counted(table, (20, 3), (10, 1))
    assert not FinishedMove.objects.of(workshop).exists()
    assert table.fair.stock_place is None


def test_what_is_at_another_fair_or_in_a_shop_cannot_be_taken(table, workshop):
    counted(table, (20, None))
    other = Fair.objects.create(workshop=workshop, name="Mill market", state="going")
    rows = list(table.fair.designs.with_items().in_order())
    assert stock_of(rows, table.fair) == {table.lantern.pk: 30, table.starbox.pk: 25}
    assert stock_of(rows, other) == {table.lantern.pk: 10, table.starbox.pk: 25}


def events(table, owner):
    """Return what happens in a day, as functions that may come in any order."""
    sale, wrong = table.sale(3), table.sale(2)

    def undo():
        undo_by_uuid(day=table.day, own=uuid.UUID(wrong["uuid"]), by=owner, now=timezone.now())

    return [
        lambda: counted(table, (20, None)),
        lambda: counted(table, (20, 16)),
        lambda: sold(table, owner, sale),
        lambda: store_batch(
            day=table.day, batch=SentBatch("phone", None, (wrong,)), by=owner, now=timezone.now()
        ),
        undo,
    ]


ORDERS = list(itertools.permutations(range(5)))


@pytest.mark.parametrize("order", random.Random(14).sample(ORDERS, 12))
def test_in_whatever_order_a_day_arrives_stock_ends_the_same(table, owner, order):
    done = events(table, owner)
    for place in order:
        done[place]()
    # the last word on the counts is said again, as the page does when it is saved
    counted(table, (20, 16))
    # 30 at first, 3 sold, 1 missing at the fair
    assert at(table) == (26, 1)
    before = list(FinishedLayer.objects.values_list("batch", "place", "quantity", "material_value"))
    replay_finished(workshop=table.workshop)
    after = FinishedLayer.objects.values_list("batch", "place", "quantity", "material_value")
    assert sorted(after) == sorted(before)
    assert not FinishedMove.objects.of(table.workshop).filter(kind="found").exists()


@pytest.mark.django_db(transaction=True)
def test_what_sells_while_counts_are_saved_leaves_the_fair_once(workshop, owner):
    table = Table(workshop)
    # in finished stock they come in the other order than at the fair
    for design in (table.starbox, table.lantern):
        enter_opening(
            item=item_for(design.version), quantity=30, on=today(), today=today(), worth=Worth()
        )
    for times, taken in enumerate((4, 8, 12, 16, 20), 1):
        sales = [table.sale(1, 1) for _ in range(2)]
        at_once(
            lambda taken=taken: counted(table, (taken, None), (taken, None)),
            lambda sale=sales[0]: sold(table, owner, sale),
            lambda sale=sales[1]: sold(table, owner, sale),
        )
        left = (30 - taken, taken - 2 * times)
        assert (at(table), at(table, table.starbox)) == (left, left)


def test_a_sale_locks_items_in_the_order_of_finished_stock(workshop, owner):
    table = Table(workshop)
    items = [item_for(design.version) for design in (table.starbox, table.lantern)]
    sold(table, owner, table.sale(1, 1))
    moved = (
        FinishedMove.objects.filter(kind="sold").order_by("pk").values_list("item_id", flat=True)
    )
    assert list(moved) == [item.pk for item in items]


def test_the_place_has_the_fairs_name_and_next_year_has_its_own(client, table, workshop):
    counted(table, (20, None))
    data = {
        "name": "Hollin Green winter fair", "state": "going", "edit_number": 0,
        "days-TOTAL_FORMS": 1, "days-INITIAL_FORMS": 0, "days-0-row": table.day.pk,
        "days-0-held_on": str(table.day.held_on), "days-0-opens": "10:00", "days-0-closes": "17:00",
    }  # fmt: skip
    edit = reverse("pricing:fair_edit", args=[workshop.slug, table.fair.pk])
    assert client.post(edit, data).status_code == 302
    assert Place.objects.get(kind="fair").name == "Hollin Green winter fair"
    client.post(reverse("pricing:fair_again", args=[workshop.slug, table.fair.pk]))
    assert Fair.objects.get(last_year=table.fair).stock_place is None


def test_the_page_of_the_counts_moves_them(client, table):
    page = reverse("pricing:fair_counts", args=[table.workshop.slug, table.fair.pk])
    data = {f"taken_{table.lantern.pk}": 20, f"taken_{table.starbox.pk}": 5}
    assert client.post(page, data).status_code == 302
    assert (at(table), at(table, table.starbox)) == ((10, 20), (20, 5))


def test_a_sale_is_undone_in_a_workshop_that_came_from_its_file(table, owner):
    counted(table, (20, None))
    sold(table, owner, table.sale(3))
    copy = import_workshop(export_workshop(table.workshop), name="Moved house", owner=owner)
    assert export_workshop(copy)["fairs"] == export_workshop(table.workshop)["fairs"]
    row = FairSale.objects.of(copy).get()
    fair = row.day.fair

    def there():
        layers = FinishedLayer.objects.filter(place=fair.stock_place)
        return sum(each.quantity for each in layers)

    assert there() == 17
    undo_by_uuid(day=row.day, own=row.uuid, by=owner, now=timezone.now())
    assert there() == 20
    restore_sale(sale=row, by=owner)
    assert there() == 17
    # and nothing of the workshop it came from
    assert at(table) == (10, 17)
    assert FinishedItem.objects.of(copy).count() == 2


def test_what_was_there_before_is_linked_by_the_keys_of_then(table, owner):
    """Until now a place was the fair's of its name, a movement the line's of its form's key."""
    counted(table, (20, None))
    sold(table, owner, table.sale(3), table.sale(2))
    undone = FairSale.objects.order_by("pk").last()
    undo_by_uuid(day=table.day, own=undone.uuid, by=owner, now=timezone.now())
    moves = FinishedMove.objects.filter(fair_line__isnull=False).order_by("pk")
    links = {row.pk: row.fair_line_id for row in moves}
    for row in moves.filter(takes_back=None).select_related("fair_line__sale"):
        row.form_key = uuid.uuid5(row.fair_line.sale.uuid, str(row.fair_line_id))
        row.save()
    FinishedMove.objects.update(fair_line=None)
    Fair.objects.update(stock_place=None)
    before = importlib.import_module("pricing.migrations.0030_fair_stock_links")
    before.link_places(apps, None)
    before.link_lines(apps, None)
    assert Fair.objects.get().stock_place == Place.objects.get(kind="fair")
    assert {row.pk: row.fair_line_id for row in FinishedMove.objects.all() if row.fair_line_id} == (
        links
    )
    assert len(links) == 3


def back(table, count):
    """A refund of lanterns that can be sold again, as a phone sends it."""
    key = str(table.lantern.pk)
    more = {"kind": "refund", "back": {key: count}, "amount": -650 * count}
    return table.sale(0) | more


def undone(table, owner, *sales):
    now = timezone.now()
    for sale in sales:
        undo_by_uuid(day=table.day, own=uuid.UUID(sale["uuid"]), by=owner, now=now)


def money(table):
    rows = FairSale.objects.filter(day=table.day).that_count()
    return sum(row.received * row.payments for row in rows)


def test_a_refund_whose_item_was_sold_again_is_undone(workshop, owner):
    """A workshop may sell what its finished stock knows nothing of."""
    table = Table(workshop)
    first, refund, again = table.sale(2), back(table, 2), table.sale(2)
    sold(table, owner, first, refund, again)
    assert money(table) == 13
    undone(table, owner, refund)
    assert money(table) == 26


def test_a_sale_whose_items_came_back_is_undone_and_stock_follows_with_the_refund(table, owner):
    counted(table, (20, None))
    sale, refund = table.sale(4), back(table, 4)
    sold(table, owner, sale, refund)
    assert at(table) == (10, 20)
    undone(table, owner, sale)
    assert money(table) == -26
    # the book still has the four go and come back
    assert at(table) == (10, 20)
    undone(table, owner, refund)
    assert money(table) == 0
    assert at(table) == (10, 20)
    assert not FinishedMove.objects.standing().filter(fair_line__isnull=False).exists()


def test_what_an_undone_sale_could_not_give_back_moves_once_when_it_is_brought_back(table, owner):
    counted(table, (20, None))
    sale = table.sale(4)
    sold(table, owner, sale, back(table, 4))
    undone(table, owner, sale)
    restore_sale(sale=FairSale.objects.get(uuid=sale["uuid"]), by=owner)
    assert money(table) == 0
    assert at(table) == (10, 20)
    moved = FinishedMove.objects.standing().filter(fair_line__isnull=False)
    assert sorted(move.change for move in moved) == [-4, 4]
