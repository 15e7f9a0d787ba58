"""How sure a price is: the worked case's range, chances, and what to time first."""

import json
from decimal import Decimal
from html import unescape
from pathlib import Path

import pytest
from django.conf import settings
from django.urls import reverse

from catalogue.designs.models import Design
from pricing.workshop_file.services import import_workshop
from tests.factories import make_channel, make_recipe

WORKED_CASE = Path(settings.BASE_DIR) / "fixtures" / "worked_case.json"


def address(workshop, pk, query=""):
    return reverse("pricing:design_range", args=[workshop.slug, pk]) + query


@pytest.fixture
def worked_case(owner):
    """The address of the range of the order that was costed by hand, 60 of it."""
    workshop = import_workshop(json.loads(WORKED_CASE.read_text(encoding="utf-8")), owner=owner)
    return address(workshop, Design.objects.of(workshop).get().pk, "?quantity=60")


def test_the_worked_case_shows_its_range(client, worked_case):
    # figures b.unit.lo, b.unit.hi, b.margin.mid and b.margin.hi of the worked case, N = 60
    page = client.get(worked_case).content.decode()
    for said in ("€10.33", "€11.29", "€10.81 expected", "23.2%", "19.9%"):
        assert said in page


def test_the_step_with_the_greatest_doubt_comes_first(client, worked_case):
    response = client.get(worked_case)
    assert [step["name"] for step in response.context["steps"]] == [
        "finish", "body", "pocket", "score",
    ]  # fmt: skip


def test_a_price_at_the_expected_cost_pays_her_every_second_time(client, worked_case):
    response = client.get(f"{worked_case}&chance=50")
    wanted = response.context["sure"].price_wanted.price_each
    again = client.get(f"{worked_case}&asked_price={wanted}")
    # the price goes up to the next step of 0.05, so the chance is a little above one half
    assert Decimal("0.5") <= again.context["sure"].chance < Decimal("0.65")


def test_without_low_and_high_minutes_it_says_what_to_do(client, workshop):
    version = make_recipe(workshop)
    make_channel(workshop)
    page = client.get(address(workshop, version.design_id, "?quantity=9")).content.decode()
    assert "No best and worst times yet" in page


@pytest.mark.parametrize(
    ("query", "field"),
    [("quantity=x", "quantity"), ("quantity=9&chance=100", "chance"),
     ("quantity=9&asked_price=-1", "asked_price")],
)  # fmt: skip
def test_what_cannot_be_read_is_kept_and_explained(client, workshop, query, field):
    version = make_recipe(workshop)
    response = client.get(address(workshop, version.design_id, f"?{query}"))
    assert field in response.context["form"].errors
    assert "sure" not in response.context


def test_strangers_are_sent_away(anonymous_client, workshop):
    version = make_recipe(workshop)
    assert anonymous_client.get(address(workshop, version.design_id)).status_code == 302


def test_it_says_whether_the_spares_are_enough(client, worked_case):
    # 3 spares for 60 at 4 %: binomial, 63 made, at most 3 spoiled: 0.7555 (test_spares.py)
    page = unescape(client.get(worked_case).content.decode())
    assert "With 3 spares you'll have 60 good items in 76% of batches." in page
    assert "For 90% make 5." in page
