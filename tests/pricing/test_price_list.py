"""Keeping a price: what it was set against stays with it, the version is frozen, undo works."""

from decimal import Decimal

import pytest
from django.urls import reverse

from pricing.prices.models import PriceListEntry
from tests.factories import make_channel, make_recipe


@pytest.fixture
def version(workshop):
    return make_recipe(workshop)


@pytest.fixture
def channel(workshop):
    return make_channel(workshop, name="Fair")


def keep(client, workshop, version, price="5", question="quantity=9", **fields):
    address = reverse("pricing:price_set", args=[workshop.slug, version.design_id])
    return client.post(f"{address}?{question}", {"price": price, **fields}, follow=True)


def test_a_kept_price_remembers_cost_floor_and_target(client, workshop, version, channel, owner):
    keep(client, workshop, version)
    entry = PriceListEntry.objects.get()
    assert entry.price == 5
    # as worked by hand in test_cost_page: 29.30 / 9 and the target of 4.70
    assert entry.cost_each == Decimal("3.255556")
    assert entry.target_each == Decimal("4.70")
    assert entry.set_by == owner
    assert entry.made_at_once == 9
    version.refresh_from_db()
    assert version.frozen_at is not None


def test_a_second_click_keeps_one_price(client, workshop, version, channel):
    keep(client, workshop, version)
    keep(client, workshop, version)
    assert PriceListEntry.objects.count() == 1


def test_a_new_price_replaces_the_old_one_and_keeps_it_readable(client, workshop, version, channel):
    keep(client, workshop, version, "5")
    keep(client, workshop, version, "6,50")
    assert PriceListEntry.objects.count() == 2
    assert PriceListEntry.objects.current().get().price == Decimal("6.5")


def test_below_the_floor_is_allowed_and_said(client, workshop, version, channel):
    keep(client, workshop, version, "1", below="meant")
    assert PriceListEntry.objects.get().price == 1


@pytest.mark.parametrize("price", ["", "0", "-5", "abc", "1e9", "99999999999"])
def test_a_bad_price_is_named_and_not_saved(client, workshop, version, channel, price):
    page = keep(client, workshop, version, price)
    assert "was not saved" in page.content.decode()
    assert not PriceListEntry.objects.exists()
    # what was typed is there to be put right; for nothing, the suggestion
    suggested = page.context["price"].price_each
    assert page.context["price_form"]["price"].value() == (price or f"{suggested:.2f}")


def test_the_page_shows_the_price_she_set_and_what_it_leaves(client, workshop, version, channel):
    page = keep(client, workshop, version, "6")
    assert page.context["price_form"]["price"].value() == "6.00"
    # worked by hand: 9 x 6 = 54, less 29.30 leaves 24.70, of 54 that is 45.74 %
    assert "45.74% margin" in page.content.decode()
    suggested = keep(client, workshop, version, "4.70")
    assert suggested.context["at_saved"] is None


def test_a_price_needs_a_channel(client, workshop, version):
    assert "Add a sales channel first" in keep(client, workshop, version).content.decode()


def test_a_put_away_design_gets_no_new_price(client, workshop, version, channel):
    version.design.retired_on = "2026-01-01"
    version.design.save()
    assert "is archived" in keep(client, workshop, version).content.decode()
    assert not PriceListEntry.objects.exists()


def test_taking_a_price_away_can_be_undone(client, workshop, version, channel):
    keep(client, workshop, version)
    entry = PriceListEntry.objects.get()
    page = client.post(
        reverse("pricing:price_remove", args=[workshop.slug, entry.pk]), follow=True
    ).content.decode()
    assert "Undo" in page
    assert not PriceListEntry.objects.current().exists()
    client.post(reverse("pricing:price_restore", args=[workshop.slug, entry.pk]))
    assert PriceListEntry.objects.current().get() == entry


def test_undo_gives_way_to_a_newer_price(client, workshop, version, channel):
    keep(client, workshop, version, "5")
    old = PriceListEntry.objects.get()
    client.post(reverse("pricing:price_remove", args=[workshop.slug, old.pk]))
    keep(client, workshop, version, "7")
    page = client.post(
        reverse("pricing:price_restore", args=[workshop.slug, old.pk]), follow=True
    ).content.decode()
    assert "newer price" in page
    assert PriceListEntry.objects.current().get().price == 7


@pytest.mark.parametrize(
    "sort",
    [
        "design",
        "-channel",
        "bought_at_once",
        "-price",
        "floor_each",
        "cost_each",
        "-set_at",
        "nonsense",
    ],
)
def test_every_column_sorts(client, workshop, version, channel, sort):
    keep(client, workshop, version)
    address = reverse("pricing:price_list", args=[workshop.slug])
    response = client.get(address, {"sort": sort})
    assert response.status_code == 200
    assert version.design.name in response.content.decode()


def test_the_list_narrows_by_name_and_channel(client, workshop, version, channel):
    keep(client, workshop, version)
    address = reverse("pricing:price_list", args=[workshop.slug])
    assert "no prices" in client.get(address, {"search": "zzz"}).content.decode()
    assert "1 price" in client.get(address, {"channel": channel.pk}).content.decode()
    assert client.get(address, {"channel": "x' OR 1=1"}).status_code == 200


def test_who_may_what(
    client, reader_client, stranger_client, anonymous_client, workshop, version, channel
):
    keep(client, workshop, version)
    entry = PriceListEntry.objects.get()
    remove = reverse("pricing:price_remove", args=[workshop.slug, entry.pk])
    assert reader_client.post(remove).status_code == 403
    assert stranger_client.post(remove).status_code == 404
    assert anonymous_client.post(remove).status_code == 302
    assert keep(reader_client, workshop, version).status_code == 403
    assert PriceListEntry.objects.current().count() == 1
    page = reader_client.get(reverse("pricing:price_list", args=[workshop.slug])).content.decode()
    assert "Remove" not in page


def test_more_prices_cost_no_more_queries(client, workshop, version, channel, count_queries):
    keep(client, workshop, version)
    address = reverse("pricing:price_list", args=[workshop.slug])
    client.get(address)
    with count_queries() as few:
        client.get(address)
    for _ in range(4):
        keep(client, workshop, make_recipe(workshop))
    client.get(address)
    with count_queries() as many:
        client.get(address)
    assert len(many) == len(few)
