"""The what-if page: sliders answered live, ways to a price, floors, attacks and a tool."""

from decimal import Decimal

import pytest
from django.urls import reverse

from tests.factories import (
    add_fixing,
    make_channel,
    make_material,
    make_pack,
    make_recipe,
    today,
)


def address(workshop, version, query="", name="what_if"):
    return reverse(f"pricing:{name}", args=[workshop.slug, version.design_id]) + query


@pytest.fixture
def version(workshop):
    make_channel(workshop, name="Fair")
    return make_recipe(workshop)


def then(response):
    return response.context["then"].answer


def test_without_a_change_nothing_moves(client, workshop, version):
    response = client.get(address(workshop, version, "?quantity=9"))
    # worked by hand on the cost page: 29.30 for nine
    assert then(response).cost.cost == Decimal("29.30")
    assert "Move a slider to begin" in response.content.decode()


def test_each_slider_changes_what_it_says(client, workshop, version):
    def cost(query):
        return then(client.get(address(workshop, version, f"?quantity=9&{query}"))).cost.cost

    # by hand: 90 min at (15.00 wage + 4.20 overhead) / 60, and one sheet of 0.50
    assert cost("minutes=10") == Decimal("0.50") + 99 * Decimal("19.20") / 60
    assert cost("wage=20") == Decimal("0.50") + 90 * Decimal("22.20") / 60
    assert cost("material=50") == Decimal("0.75") + 90 * Decimal("19.20") / 60
    margin = then(client.get(address(workshop, version, "?quantity=9&margin=10"))).price
    assert margin.terms.tier.margin == Decimal("0.4")


def test_keeping_todays_price_costs_margin(client, workshop, version):
    response = client.get(address(workshop, version, "?quantity=9&minutes=50"))
    kept = response.context["then"].kept
    assert kept.price_each == Decimal("4.70")
    assert kept.profit == Decimal("4.70") * 9 - (Decimal("0.50") + 135 * Decimal("19.20") / 60)


def test_the_ways_to_a_price_really_lead_there(client, workshop, version):
    page = client.get(address(workshop, version, "?quantity=9&target=4", "what_if_ways"))
    ways = {row["label"]: row for row in page.context["ways"]}
    # by hand: 4.00 x 9 x 0.7 = 25.20 may be spent; 24.70 of it on 9 pieces at 0.32 a minute
    minutes = Decimal("24.70") / 9 / Decimal("0.32")
    said = next(row["needed"] for label, row in ways.items() if label.startswith("Minutes"))
    assert said == f"{minutes:.2f} min"
    assert "15" in ways["Your hourly wage"]["now"]


def test_a_tool_pays_after_what_it_saves(client, workshop, version):
    query = "?quantity=9&tool_price=90&tool_minutes=0.5"
    response = client.get(address(workshop, version, query))
    # by hand: half a minute at 0.32 is 0.16; 90 / 0.16 = 562.5
    assert response.context["tool"]["count"] == 563
    never = client.get(address(workshop, version, "?quantity=9&tool_price=90"))
    assert "never pays" in never.content.decode()


def test_a_part_is_sent_while_a_slider_moves(client, workshop, version):
    to = address(workshop, version, "?quantity=9&minutes=10")
    page = client.get(to, headers={"HX-Request": "true"}).content.decode()
    assert "<html" not in page
    assert 'id="answer"' in page


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ("minutes=900", "minutes"),
        ("wage=x", "wage"),
        ("role=nobody", "role"),
        ("target=0", "target"),
    ],
)
def test_what_cannot_be_read_is_explained(client, workshop, version, query, field):
    response = client.get(address(workshop, version, f"?quantity=9&{query}"))
    assert field in response.context["form"].errors
    assert "then" not in response.context


def test_strangers_are_sent_away_and_readers_may_look(
    anonymous_client, reader_client, workshop, version
):
    assert anonymous_client.get(address(workshop, version)).status_code == 302
    assert reader_client.get(address(workshop, version)).status_code == 200


@pytest.mark.parametrize("name", ["quantities", "design_range", "what_if", "design_channels"])
def test_a_material_without_a_cost_leads_to_the_recipe(client, workshop, name):
    version = make_recipe(workshop, make_material(workshop, name="Fern dot"))
    response = client.get(address(workshop, version, "?quantity=9", name))
    recipe = reverse("catalogue:recipe", args=[workshop.slug, version.design_id, version.number])
    page = response.content.decode()
    assert "There is a problem" in page
    assert f'<li><a href="{recipe}">' in page
    assert "Fern dot" in page


@pytest.mark.parametrize("name", ["quantities", "design_range", "what_if", "design_channels"])
def test_a_design_without_steps_or_channel_or_out_of_use_still_has_an_answer(
    client, workshop, name
):
    version = make_recipe(workshop)
    version.steps.all().delete()
    version.design.retired_on = today()
    version.design.save(update_fields=["retired_on"])
    response = client.get(address(workshop, version, "?quantity=9", name))
    assert response.status_code == 200
    assert not response.context["has_errors"]


@pytest.mark.parametrize("name", ["quantities", "design_range", "what_if", "design_channels"])
def test_a_longer_recipe_and_more_channels_cost_no_more_queries(
    client, workshop, version, count_queries, name
):
    to = address(workshop, version, "?quantity=9", name)
    client.get(to)
    with count_queries() as few:
        client.get(to)
    for place in range(4):
        make_channel(workshop, name=f"Shop {place}", position=place + 2)
        version.steps.create(name=f"glue {place}", minutes=Decimal(2))
        card = make_material(workshop)
        make_pack(card)
        add_fixing(version, card)
    with count_queries() as many:
        assert client.get(to).status_code == 200
    assert len(many) == len(few)


def test_a_printed_answer_says_what_was_changed(client, workshop, version):
    page = client.get(address(workshop, version, "?quantity=9&minutes=20&margin=-3"))
    assert "Minutes of work +20%, Margin −3 points" in page.content.decode()
