"""Items left with a shop: hers until sold, back again, settled at the share agreed."""

import importlib
import json
import uuid
from decimal import Decimal

import pytest
from django.apps import apps
from django.urls import reverse

from pricing.calc.fairs.settling import settle
from pricing.calc.finished_stock.worth import Worth
from pricing.consignment.models import Settlement, Shop
from pricing.consignment.services import save_shop, settle_shop, undo_settlement
from pricing.finished_stock.inputs import on_hand
from pricing.finished_stock.models import FinishedMove
from pricing.finished_stock.services import enter_opening, home_of, item_for
from pricing.workshop_file.services import export_workshop, import_workshop
from tests.at_once import at_once
from tests.factories import make_recipe, today


@pytest.fixture
def item(workshop):
    """Ten of an item at home."""
    made = item_for(make_recipe(workshop))
    worth = Worth(Decimal(10), Decimal(10), Decimal(5))
    enter_opening(item=made, quantity=10, on=today(), today=today(), worth=worth)
    return made


@pytest.fixture
def shop(workshop):
    return save_shop(workshop=workshop, shop=Shop(kept_share=Decimal("0.35")), name="Reed")


def address(name, shop, *more):
    return reverse(f"pricing:{name}", args=[shop.place.workshop.slug, shop.pk, *more])


def sent(count, item, **more):
    return {"on": str(today()), "form_key": str(uuid.uuid4()), f"count_{item.pk}": count, **more}


def there(workshop, place):
    return sum(each.quantity for each in on_hand(workshop, place))


def test_a_settlement_rounds_the_share_once():
    # 3 x 3.33 + 2 x 1.15 = 12.29; 35 % of it is 4.3015
    worked = settle([(3, Decimal("3.33")), (2, Decimal("1.15"))], Decimal("0.35"))
    assert (worked.taken, worked.kept, worked.due) == (
        Decimal("12.29"), Decimal("4.30"), Decimal("7.99"),
    )  # fmt: skip


def test_items_go_there_come_back_and_are_settled(client, workshop, shop, item):
    client.post(address("shop_leave", shop), sent(8, item))
    assert (there(workshop, home_of(workshop)), there(workshop, shop.place)) == (2, 8)
    client.post(address("shop_back", shop), sent(1, item))
    assert (there(workshop, home_of(workshop)), there(workshop, shop.place)) == (3, 7)
    data = sent(5, item, **{f"price_{item.pk}": "4.00", "note": "April"})
    for _ in range(2):  # a second click settles nothing twice
        client.post(address("shop_settle", shop), data)
    assert Settlement.objects.count() == 1
    assert there(workshop, shop.place) == 2
    page = client.get(address("shop", shop)).content.decode()
    # 20.00 taken, the shop keeps 7.00
    assert "20.00" in page
    assert "7.00" in page
    assert "13.00" in page
    listed = client.get(reverse("pricing:shop_list", args=[workshop.slug])).content.decode()
    assert "13.00" in listed
    settlement = Settlement.objects.get()
    for _ in range(2):
        client.post(address("shop_undo", shop, settlement.pk))
    assert there(workshop, shop.place) == 7


@pytest.mark.parametrize(
    ("name", "count", "more", "said"),
    [
        ("shop_leave", 11, {}, ""),
        ("shop_leave", 0, {}, "Enter how many of at least one item."),
        ("shop_leave", "ten", {}, ""),
    ],
)
def test_what_cannot_be_moved_is_refused(client, workshop, shop, item, name, count, more, said):
    page = client.post(address(name, shop), sent(count, item, **more))
    assert page.status_code == 422
    assert said in page.content.decode()
    assert there(workshop, home_of(workshop)) == 10


def test_sold_items_have_a_price(client, workshop, shop, item):
    client.post(address("shop_leave", shop), sent(8, item))
    page = client.post(address("shop_settle", shop), sent(5, item))
    assert "Enter its price at the shop." in page.content.decode()
    assert not Settlement.objects.exists()


def test_the_price_of_the_last_settlement_is_there_already(client, workshop, shop, item):
    client.post(address("shop_leave", shop), sent(8, item))
    name = f"price_{item.pk}"
    assert client.get(address("shop_settle", shop)).context["form"].initial[name] is None
    for price in ("4.00", "4.50", "5.00"):
        client.post(address("shop_settle", shop), sent(1, item, **{name: price}))
    # one that was undone says nothing
    client.post(address("shop_undo", shop, Settlement.objects.order_by("-pk")[0].pk))
    page = client.get(address("shop_settle", shop))
    assert page.context["form"].initial[name] == Decimal("4.50")
    assert 'value="4.50"' in page.content.decode()
    assert "The shop keeps 35%." in page.content.decode()


def test_more_items_and_settlements_cost_no_more_queries(
    client, workshop, shop, item, count_queries
):
    client.post(address("shop_leave", shop), sent(8, item))
    client.get(address("shop_settle", shop))
    with count_queries() as few:
        client.get(address("shop_settle", shop))
    other = item_for(make_recipe(workshop, name="Fern tag"))
    worth = Worth(Decimal(10), Decimal(10), Decimal(5))
    enter_opening(item=other, quantity=10, on=today(), today=today(), worth=worth)
    client.post(address("shop_leave", shop), sent(4, other))
    for each in (item, other):
        client.post(address("shop_settle", shop), sent(1, each, **{f"price_{each.pk}": "4"}))
    client.get(address("shop_settle", shop))  # tells the messages
    with count_queries() as many:
        client.get(address("shop_settle", shop))
    assert len(many) == len(few)


def test_one_item_is_one_and_an_empty_page_leads_on(client, workshop, shop, item):
    assert (
        "None of your items are at this shop."
        in client.get(address("shop_settle", shop)).content.decode()
    )
    page = client.post(address("shop_leave", shop), sent(1, item), follow=True)
    assert "1 item left with Reed." in page.content.decode()
    client.post(address("shop_leave", shop), sent(9, item))
    assert "Record batch" in client.get(address("shop_leave", shop)).content.decode()


def test_two_places_are_not_called_the_same(client, workshop, shop):
    new = reverse("pricing:shop_new", args=[workshop.slug])
    page = client.post(new, {"name": "", "kept_share": "30"})
    assert "Enter the name of the shop." in page.content.decode()
    page = client.post(new, {"name": "reed", "kept_share": "30"})
    assert "You already have a place" in page.content.decode()
    client.post(new, {"name": "Sedge", "kept_share": "30"})
    assert Shop.objects.get(place__name="Sedge").kept_share == Decimal("0.3")


@pytest.mark.django_db(transaction=True)
def test_a_settlement_sent_twice_at_the_same_moment_is_booked_once(workshop, client, shop, item):
    client.post(address("shop_leave", shop), sent(8, item))
    for taken in (2, 4, 6):
        key = uuid.uuid4()

        def settled(key=key):
            return settle_shop(
                shop=shop, sold={item: (2, Decimal(4))}, on=today(), today=today(), note="",
                by=None, form_key=key,
            )  # fmt: skip

        first, second, third = at_once(settled, settled, settled)
        assert first == second == third == Settlement.objects.get(form_key=key)
        assert there(workshop, shop.place) == 8 - taken


def test_shops_go_out_and_in_with_the_workshop_file(workshop, client, shop, item):
    client.post(address("shop_leave", shop), sent(8, item))
    settle_shop(
        shop=shop, sold={item: (3, Decimal(4))}, on=today(), today=today(), note="", by=None,
        form_key=uuid.uuid4(),
    )  # fmt: skip
    before = export_workshop(workshop)
    assert len(before["shops"][0]["settlements"][0]["items"]) == 1
    copy = import_workshop(json.loads(json.dumps(before)), name="Second Mill")
    assert export_workshop(copy)["shops"] == before["shops"]
    # and there a settlement is undone as here
    there = Shop.objects.of(copy).get()
    assert sum(row.quantity for row in on_hand(copy, there.place)) == 5
    undo_settlement(settlement=there.settlements.get(), by=None)
    assert sum(row.quantity for row in on_hand(copy, there.place)) == 8
    assert sum(row.quantity for row in on_hand(workshop, shop.place)) == 5


def test_a_viewer_changes_nothing(reader_client, shop):
    assert reader_client.get(address("shop", shop)).status_code == 200
    for name in ("shop_edit", "shop_leave", "shop_back", "shop_settle"):
        assert reader_client.get(address(name, shop)).status_code == 403


def test_settlements_of_before_are_linked_by_the_keys_of_then(workshop, client, shop, item):
    client.post(address("shop_leave", shop), sent(8, item))
    settlement = settle_shop(
        shop=shop, sold={item: (3, Decimal(4))}, on=today(), today=today(), note="", by=None,
        form_key=uuid.uuid4(),
    )  # fmt: skip
    move = FinishedMove.objects.get(settled__settlement=settlement)
    move.form_key = uuid.uuid5(settlement.form_key, f"settled {item.pk}")
    linked, move.settled = move.settled, None
    move.save()
    before = importlib.import_module("pricing.migrations.0032_settled_moves_links")
    before.link_settled(apps, None)
    move.refresh_from_db()
    assert move.settled == linked
