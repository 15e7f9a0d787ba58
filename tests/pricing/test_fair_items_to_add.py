"""Items of a long price list that are put on a fair's table: by pages, found by words."""

import re
from decimal import Decimal

import pytest
from django.urls import reverse

from catalogue.designs.models import Design
from pricing.prices.models import PriceListEntry
from tests.factories import make_recipe, today
from tests.pricing.fair_rows import make_fair, make_item

MANY = 60


def priced(fair, name):
    version = make_recipe(fair.workshop)
    version.design.name = name
    version.design.save()
    return PriceListEntry.objects.create(
        design=version.design, version=version, channel=fair.channel, price=Decimal("6.5"),
        cost_each=3, floor_each=4, target_each=6, includes_tax=fair.workshop.prices_include_tax,
    )  # fmt: skip


@pytest.fixture
def fair(workshop):
    return make_fair(workshop)


@pytest.fixture
def entries(fair):
    return [priced(fair, f"Box {number:02}") for number in range(1, MANY + 1)]


def address(name, fair):
    return reverse(f"pricing:{name}", args=[fair.workshop.slug, fair.pk])


def offered(client, fair, **asked):
    page = client.get(address("fair_items_add", fair), asked)
    return keys_on(page)


def keys_on(page):
    return [int(key) for key in re.findall(r'name="price" value="(\d+)"', page.content.decode())]


def test_every_item_is_on_one_page_and_in_one_order(client, fair, entries):
    pages = [offered(client, fair, page=number) for number in (1, 2, 3)]
    assert [len(page) for page in pages] == [25, 25, 10]
    assert [key for page in pages for key in page] == [entry.pk for entry in entries]
    assert offered(client, fair, page=9) == pages[-1]
    text = client.get(address("fair_items_add", fair)).content.decode()
    assert "60 items to add" in text
    assert "Page 1 of 3" in text


def test_an_item_is_found_by_its_words(client, fair, entries):
    assert offered(client, fair, search="box 4") == [entry.pk for entry in entries[39:49]]
    assert offered(client, fair, search="tulip") == []
    nothing = client.get(address("fair_items_add", fair), {"search": "tulip"}).content.decode()
    assert "No item to add is called that." in nothing
    assert 'value="tulip"' in nothing


def test_what_is_on_the_table_is_not_offered(client, fair, entries):
    client.post(address("fair_items_add", fair), {"price": [entries[0].pk, entries[59].pk]})
    assert fair.designs.count() == 2
    keys = [key for number in (1, 2, 3) for key in offered(client, fair, page=number)]
    assert keys == [entry.pk for entry in entries[1:59]]


def test_a_short_list_has_neither_search_nor_pages(client, fair, workshop):
    entry = priced(fair, "Sole box")
    assert offered(client, fair) == [entry.pk]
    text = client.get(address("fair_items_add", fair)).content.decode()
    assert 'name="search"' not in text.split('id="add"')[1]
    assert "turn the page" not in text


def test_an_empty_table_shows_at_once_what_can_be_put_on_it(client, fair, entries):
    page = client.get(address("fair_items", fair))
    assert keys_on(page) == [entry.pk for entry in entries[:25]]
    # its search and its pages have their own address, which answers with the list alone
    add = address("fair_items_add", fair)
    text = page.content.decode()
    assert f'action="{add}" role="search"' in text
    assert f'rel="next" href="{add}?page=2"' in text
    part = client.get(add, {"page": 2}, headers={"HX-Request": "true"})
    assert keys_on(part) == [entry.pk for entry in entries[25:50]]
    assert "<html" not in part.content.decode()
    # the address stays: the items' own form is sent to it
    items = address("fair_items", fair)
    for shown in (text, part.content.decode()):
        assert shown.count(f'hx-swap="outerHTML" hx-replace-url="{items}"') == 2
    alone = client.get(add).content.decode().split('id="add"')[1]
    assert "hx-boost" not in alone


def test_beside_items_what_can_be_added_is_read_when_it_is_opened(client, fair, entries):
    make_item(fair, make_recipe(fair.workshop))
    page, add = client.get(address("fair_items", fair)), address("fair_items_add", fair)
    text = page.content.decode()
    assert keys_on(page) == []
    assert f'hx-get="{add}" hx-trigger="toggle once"' in text
    assert f'<a href="{add}">See what you can add</a>' in text
    part = client.get(add, headers={"HX-Request": "true"})
    assert keys_on(part) == [entry.pk for entry in entries[:25]]


def test_a_viewer_opens_no_list_to_add_from(reader_client, fair):
    assert reader_client.get(address("fair_items_add", fair)).status_code == 403


def test_what_was_typed_above_stays_when_a_form_is_refused(client, fair, entries):
    item = make_item(fair, make_recipe(fair.workshop))
    data = {f"item-{item.pk}-price": "nine", "edit_number": 0}
    page = client.post(address("fair_items", fair), data)
    assert page.status_code == 422
    assert 'value="nine"' in page.content.decode()


def test_more_prices_cost_no_more_queries(client, fair, entries, count_queries):
    with count_queries() as many:
        offered(client, fair)
    gone = [entry.design_id for entry in entries[30:]]
    Design.objects.filter(pk__in=gone).update(retired_on=today())
    with count_queries() as few:
        assert len(offered(client, fair, page=2)) == 5
    assert len(few) == len(many)
