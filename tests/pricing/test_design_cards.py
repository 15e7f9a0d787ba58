"""Designs as pictures: each in its card with what is asked, in a fixed number of queries."""

import re

import pytest
from django.urls import reverse

from catalogue.designs.models import Design
from pricing.home.views import SHOWN
from pricing.prices.asked import asked_for
from pricing.prices.models import PriceListEntry
from pricing.quotes.models import Quote
from pricing.quotes.pictures import add_pictures
from tests.catalogue.pages import text_of


@pytest.fixture
def shop(demo, client):
    client.force_login(demo.memberships.get(role="owner").user)
    return demo


def list_page(client, shop, **asked):
    return text_of(client.get(reverse("catalogue:design_list", args=[shop.slug]), asked))


def test_each_design_has_a_picture_its_price_and_what_an_hour_earns(client, shop):
    page = list_page(client, shop)
    count = Design.objects.of(shop).in_use().count()
    assert page.count('class="item-picture"') == count
    entry = PriceListEntry.objects.of(shop).current().in_use().filter(basis__isnull=False).first()
    asked = asked_for(shop, [entry.design])[entry.design_id]
    for words in (asked.price, asked.lowest, asked.per_hour):
        assert words
        assert words in page
    ids = re.findall(r' id="([^"]+)"', page)
    assert len(ids) == len(set(ids))


def test_the_first_channels_price_of_the_fewest_is_shown(shop):
    """The channel that stands first, bought one at a time where that has a price."""
    for design in Design.objects.of(shop).in_use():
        entries = PriceListEntry.objects.of(shop).current().in_use().filter(design=design)
        asked = asked_for(shop, [design]).get(design.pk)
        if not entries:
            assert asked is None
            continue
        first = min(entries, key=lambda one: (one.channel.position, one.channel_id))
        assert asked.where == first.channel.name


def test_the_table_is_one_link_away_and_stays(client, shop):
    page = list_page(client, shop, view="table")
    assert 'class="item-picture"' not in page
    assert "<table" in page
    assert 'name="view" value="table"' in page
    assert "<table" not in list_page(client, shop)
    assert client.get(
        reverse("catalogue:design_list", args=[shop.slug]), {"view": "<script>"}
    ).status_code in (200, 422)


def test_more_designs_cost_no_more_queries(client, shop, count_queries):
    place = reverse("catalogue:design_list", args=[shop.slug])
    with count_queries() as few:
        client.get(place, {"per_page": 2})
    with count_queries() as many:
        client.get(place, {"per_page": 10})
    assert len(many) == len(few)


def test_home_shows_the_newest_designs_with_their_pictures(client, shop):
    page = text_of(client.get(reverse("pricing:home", args=[shop.slug])))
    assert page.count('class="item-picture"') == SHOWN


def test_each_line_of_a_quote_shows_its_item_in_a_fixed_number_of_queries(
    client, shop, count_queries
):
    quotes = Quote.objects.of(shop).filter(frozen__isnull=False)
    for quote in quotes:
        page = text_of(client.get(reverse("pricing:quote", args=[shop.slug, quote.pk])))
        # what a later change of the order brings is no line of the quote
        assert page.count('class="line-picture"') == quote.lines.filter(change=None).count()
    lines = [line for quote in quotes for line in quote.lines.all()]
    with count_queries() as few:
        add_pictures([{}], lines[:1])
    with count_queries() as many:
        add_pictures([{} for _ in lines], lines)
    assert len(lines) > 3
    assert len(many) == len(few)


def test_the_customers_paper_shows_the_item_in_the_colourway_asked_for(client, shop, monkeypatch):
    design = Design.objects.of(shop).get(name="Winter lantern box")
    shown = []
    monkeypatch.setattr(
        "pricing.for_customers.views.defence_pdf",
        lambda view, *, picture, **rest: shown.append(picture) or b"%PDF",
    )
    version = design.versions.order_by("-number").first()
    for way in version.colourways.order_by("pk"):
        place = reverse("pricing:for_customer_pdf", args=[shop.slug, design.pk])
        client.get(place, {"quantity": 24, "colourway": way.pk})
    assert len(shown) == 2
    # printed card and plain midnight card
    assert "#2c3357" not in shown[0]
    assert "clip-path" in shown[0]
    assert shown[0] != shown[1]
    assert all('href="/w/' not in picture for picture in shown)
