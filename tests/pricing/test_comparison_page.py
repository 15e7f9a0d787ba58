"""Channels side by side: what is left in each, and where an hour earns most."""

from decimal import Decimal

import pytest
from django.urls import reverse

from tests.factories import make_channel, make_recipe


def address(workshop, version, query=""):
    return reverse("pricing:design_channels", args=[workshop.slug, version.design_id]) + query


def results(response, name):
    return {each.channel.name: each for each in getattr(response.context["compared"], name).results}


def test_a_shop_a_commission_and_a_fee_each_take_their_part(client, workshop):
    version = make_recipe(workshop)
    make_channel(workshop, name="Fair")
    make_channel(workshop, name="Gallery", commission_share=Decimal("0.4"))
    make_channel(workshop, name="Gift shop", resale_share=Decimal("0.5"))
    response = client.get(address(workshop, version, "?quantity=9&customer_each=10"))
    found = results(response, "one_price")
    # worked by hand: 9 cost 29.30 (one sheet 0.50, 90 min at 19.20 an hour), no tax, no fees
    assert found["Fair"].price.profit == Decimal("60.70")  # 90.00 - 29.30
    assert found["Gallery"].price.profit == Decimal("24.70")  # less 36.00
    assert found["Gift shop"].price.profit == Decimal("15.70")  # she gets 45.00
    assert response.context["compared"].one_price.best_per_hour.channel.name == "Fair"
    assert "Best pay per hour" in response.content.decode()


def test_the_price_for_the_same_profit_leaves_at_least_that(client, workshop):
    version = make_recipe(workshop)
    make_channel(workshop, name="Fair")
    make_channel(workshop, name="Gallery", commission_share=Decimal("0.4"))
    response = client.get(address(workshop, version, "?quantity=9"))
    wanted = response.context["compared"].profit
    gallery = results(response, "same_profit")["Gallery"].price
    assert gallery.profit >= wanted
    one_step_less = gallery.price_each - Decimal("0.05")
    # 40 % of every coin goes to the gallery, so a step less is worth 0.6 x 0.05 x 9 less
    assert one_step_less * 9 * Decimal("0.6") - Decimal("29.30") < wanted


def test_a_channel_that_keeps_everything_says_why_nothing_sells(client, workshop):
    version = make_recipe(workshop)
    make_channel(workshop, name="Fair")
    make_channel(workshop, name="Greedy", commission_share=Decimal("0.99"))
    page = client.get(address(workshop, version, "?quantity=9")).content.decode()
    assert "Greedy" in page
    assert "margin" in page


@pytest.mark.parametrize("query", ["?quantity=0", "?quantity=9&customer_each=much"])
def test_what_cannot_be_read_is_explained(client, workshop, query):
    version = make_recipe(workshop)
    response = client.get(address(workshop, version, query))
    assert response.context["form"].errors
    assert "compared" not in response.context


def test_strangers_are_sent_away_and_readers_may_look(anonymous_client, reader_client, workshop):
    version = make_recipe(workshop)
    assert anonymous_client.get(address(workshop, version)).status_code == 302
    assert reader_client.get(address(workshop, version)).status_code == 200
