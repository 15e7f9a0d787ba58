"""Pages of finished stock: record a batch, see what is there, move, count, undo."""

import html
import re
import uuid
from decimal import Decimal

import pytest
from django.urls import reverse

from catalogue.stock.services import put_on_shelf
from pricing.finished_stock.inputs import on_hand
from pricing.finished_stock.models import FinishedBatch, FinishedMove, Place
from pricing.finished_stock.services import home_of, item_for, make_batch
from tests.factories import make_material, make_recipe, today


@pytest.fixture
def card(workshop):
    material = make_material(workshop, name="Sage card")
    put_on_shelf(
        material=material, amount=Decimal(100), cost=Decimal(50), moved_on=today(), today=today()
    )
    return material


@pytest.fixture
def item(workshop, card):
    return item_for(make_recipe(workshop, card))


@pytest.fixture
def batch(item, card):
    return make_batch(
        item=item, quantity=10, made_on=today(), today=today(), minutes=Decimal(30),
        materials={card.pk: Decimal(5)},
    )  # fmt: skip


def at(name, workshop, *keys):
    return reverse(f"pricing:{name}", args=[workshop.slug, *keys])


def asked(workshop, item, **more):
    """The address of a batch and what its page fills in."""
    address = at("finished_batch_new", workshop) + f"?design={item.design_id}&quantity=8"
    form = {"form_key": str(uuid.uuid4()), "good": "8", "made_on": today().isoformat(),
            "minutes": "80", "note": ""}  # fmt: skip
    return address, form | more


def test_a_batch_is_recorded_as_its_recipe_says(client, workshop, item, card):
    address, form = asked(workshop, item)
    page = client.get(address).content.decode()
    used = re.search(rf'name="m{card.pk}" value="(\d+)"', page).group(1)
    answer = client.post(address, form | {f"m{card.pk}": used, "spoiled_glue": "1"}, follow=True)
    assert "Added 8 items to finished stock." in answer.content.decode()
    (row,) = on_hand(workshop)
    card.refresh_from_db()
    assert (row.quantity, card.on_hand) == (8, 100 - int(used))
    # a second click
    client.post(address, form | {f"m{card.pk}": used})
    assert FinishedBatch.objects.count() == 1
    # undo puts everything back
    client.post(at("finished_batch_undo", workshop, FinishedBatch.objects.get().pk))
    card.refresh_from_db()
    assert (on_hand(workshop), card.on_hand) == ([], 100)


def test_a_batch_is_started_and_finished_later(client, workshop, item, card):
    address, form = asked(workshop, item, start="1")
    client.post(address, form | {f"m{card.pk}": "3"})
    batch = FinishedBatch.objects.get()
    assert batch.is_open
    assert "In the making" in client.get(at("finished_list", workshop)).content.decode()
    finish = at("finished_batch_finish", workshop, batch.pk)
    bad = client.post(finish, {"good": "", "made_on": "", "minutes": "60"})
    assert bad.status_code == 422
    client.post(finish, {"good": "7", "made_on": today().isoformat(), "minutes": "60"})
    assert [row.quantity for row in on_hand(workshop)] == [7]
    assert client.get(finish).status_code == 302


def test_items_made_earlier_take_no_materials(client, workshop, item, card):
    address, form = asked(workshop, item, opening="1")
    client.post(address, form | {f"m{card.pk}": "3"})
    card.refresh_from_db()
    assert card.on_hand == 100
    assert [row.quantity for row in on_hand(workshop)] == [8]


@pytest.mark.parametrize(
    ("query", "status"),
    [("", 200), ("?design=", 422), ("?design=999999", 422), ("?design=x", 422)],
)
def test_a_batch_starts_with_its_design(client, workshop, query, status):
    assert client.get(at("finished_batch_new", workshop) + query).status_code == status


@pytest.mark.parametrize("quantity", ["0", "-3", "many", "1.5", "99999999999"])
def test_a_quantity_that_is_none_is_told(client, workshop, item, quantity):
    address = at("finished_batch_new", workshop) + f"?design={item.design_id}&quantity={quantity}"
    answer = client.get(address)
    assert answer.status_code == 422
    assert quantity in answer.content.decode()


def test_the_list_says_how_many_where_and_at_what_cost(client, workshop, item, batch):
    page = client.get(at("finished_list", workshop)).content.decode()
    assert str(item) in page
    assert "Home 10" in page
    sheet = client.get(at("finished_list", workshop) + "?format=csv")
    assert (
        str(item.design) in b"".join(sheet.streaming_content).decode()
        if sheet.streaming
        else (str(item.design) in sheet.content.decode())
    )


def test_movements_are_entered_refused_and_undone(client, workshop, item, batch):
    home = home_of(workshop)
    fair = Place.objects.create(workshop=workshop, name="Mill fair", kind=Place.Kind.FAIR)
    address = at("finished_move", workshop, item.pk)
    form = {
        "form_key": str(uuid.uuid4()),
        "kind": "sold",
        "quantity": "12",
        "place": str(home.pk),
        "to_place": "",
        "on": today().isoformat(),
        "reason": "",
    }
    refused = client.post(address, form)
    assert refused.status_code == 422
    assert "Only 10 were there" in refused.content.decode()
    assert 'value="12"' in refused.content.decode()
    client.post(address, form | {"quantity": "4"})
    client.post(address, form | {"quantity": "4"})
    assert [row.quantity for row in on_hand(workshop)] == [6]
    nowhere = client.post(address, form | {"kind": "moved", "quantity": "2"})
    assert "Choose where they went." in nowhere.content.decode()
    move = {"form_key": str(uuid.uuid4()), "kind": "moved", "quantity": "2"}
    client.post(address, form | move | {"to_place": str(fair.pk)})
    assert [row.quantity for row in on_hand(workshop, fair)] == [2]
    for row in FinishedMove.objects.filter(kind__in=["sold", "moved"]):
        client.post(at("finished_move_undo", workshop, row.pk))
    assert [row.quantity for row in on_hand(workshop, home)] == [10]


def test_a_count_is_saved_once(client, workshop, item, batch):
    address = at("finished_count", workshop)
    assert "Expected: 10." in client.get(address).content.decode()
    form = {"form_key": str(uuid.uuid4()), "on": today().isoformat(), "reason": "year end"}
    assert client.post(address, form).status_code == 422
    answer = client.post(address, form | {f"i{item.pk}": "9"}, follow=True)
    assert "1 item differed." in answer.content.decode()
    client.post(address, form | {f"i{item.pk}": "9"})
    assert [row.quantity for row in on_hand(workshop)] == [9]


def test_a_batch_is_made_once_more_from_its_row(client, workshop, item, batch):
    page = client.get(at("finished_item", workshop, item.pk)).content.decode()
    (href,) = re.findall(r'href="([^"]+)">Make the same again', page)
    again = client.get(html.unescape(href)).context["form"]
    assert again.initial["good"] == batch.planned


def test_a_viewer_reads_and_changes_nothing(reader_client, workshop, item, batch):
    assert reader_client.get(at("finished_list", workshop)).status_code == 200
    page = reader_client.get(at("finished_item", workshop, item.pk)).content.decode()
    assert "Undo batch" not in page
    assert "Record movement" not in page
    assert reader_client.post(at("finished_batch_undo", workshop, batch.pk)).status_code == 403


def test_rows_of_another_workshop_are_not_there(client, other_workshop, workshop):
    card = make_material(other_workshop)
    item = item_for(make_recipe(other_workshop, card))
    assert client.get(at("finished_item", workshop, item.pk)).status_code == 404


def test_the_pages_take_as_many_queries_for_a_long_history(
    client, workshop, item, card, batch, count_queries
):
    pages = [at("finished_list", workshop), at("finished_item", workshop, item.pk)]
    before = []
    for page in pages:
        with count_queries() as few:
            client.get(page)
        before.append(len(few))
    for _ in range(4):
        make_batch(
            item=item, quantity=2, made_on=today(), today=today(), minutes=Decimal(5),
            materials={card.pk: Decimal(1)}, spoiled={"cut": 1},
        )  # fmt: skip
        other = item_for(make_recipe(workshop, card))
        make_batch(
            item=other, quantity=2, made_on=today(), today=today(), minutes=Decimal(5),
            materials={card.pk: Decimal(1)},
        )  # fmt: skip
    for page, count in zip(pages, before, strict=True):
        with count_queries() as many:
            client.get(page)
        assert len(many) == count
