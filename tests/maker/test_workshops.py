"""My workshops, and opening another one."""

from typing import Any

import pytest
import time_machine
from django.test import Client

from maker.accounts.models import Membership, User
from maker.workshop.models import Workshop
from tests import factories

NEW = {"name": "Second Bench", "currency": "CHF", "unit": "mm", "wage_per_hour": "28.50"}


def test_with_one_workshop_she_lands_in_it(client: Client) -> None:
    assert client.get("/", follow=True).redirect_chain[-1] == ("/w/marlow/", 302)
    assert client.get("/workshops/")["Location"] == "/w/marlow/"
    assert "Marlow Paperworks" in client.get("/workshops/?all").content.decode()


def test_with_two_she_chooses(client: Client, owner: User, other_workshop: Workshop) -> None:
    Membership.objects.create(user=owner, workshop=other_workshop, role="reader")
    page = client.get("/workshops/").content.decode()
    assert 'href="/w/marlow/"' in page
    assert 'href="/w/else/"' in page
    assert "Viewer: can look but not edit" in page


def test_the_list_is_mine_alone(client: Client, other_workshop: Workshop) -> None:
    assert "Somebody Else" not in client.get("/workshops/?all").content.decode()


def test_another_workshop_is_opened_by_anyone_signed_in(
    reader_client: Client, reader: User
) -> None:
    answer = reader_client.post("/workshops/new/", NEW)
    assert answer["Location"] == "/w/second-bench/"
    workshop = Workshop.objects.get(slug="second-bench")
    assert (workshop.currency, workshop.unit, str(workshop.wage_per_hour)) == (
        "CHF",
        "mm",
        "28.500000",
    )
    assert Membership.objects.get(workshop=workshop).user == reader
    assert reader_client.get("/w/second-bench/settings/").status_code == 200


def test_three_of_one_name_get_three_addresses(
    client: Client, reader_client: Client, stranger_client: Client
) -> None:
    browsers = (client, reader_client, stranger_client)
    addresses = [browser.post("/workshops/new/", NEW)["Location"] for browser in browsers]
    assert addresses == ["/w/second-bench/", "/w/second-bench-2/", "/w/second-bench-3/"]


def test_a_second_click_opens_no_second_workshop(client: Client) -> None:
    with time_machine.travel("2026-03-02 09:00:00+00:00") as clock:
        first = client.post("/workshops/new/", NEW)["Location"]
        assert client.post("/workshops/new/", NEW)["Location"] == first
        assert Workshop.objects.filter(name="Second Bench").count() == 1
        clock.move_to("2026-03-02 09:05:00+00:00")
        assert client.post("/workshops/new/", NEW)["Location"] == "/w/second-bench-2/"


@pytest.mark.parametrize("name", ["紙屋", "!!!", "—"])
def test_a_name_without_latin_letters_gets_an_address_too(client: Client, name: str) -> None:
    answer = client.post("/workshops/new/", {**NEW, "name": name})
    assert answer["Location"] == "/w/workshop/"
    assert client.get("/w/workshop/").status_code == 200


def test_a_long_name_gets_a_short_address(client: Client) -> None:
    answer = client.post("/workshops/new/", {**NEW, "name": "n" * 120})
    assert answer["Location"] == f"/w/{'n' * 50}/"


@pytest.mark.parametrize(
    ("language", "currency", "unit", "locale"),
    [
        ("en-US,en;q=0.9", "USD", "in", "en_US"),
        ("de-CH", "CHF", "mm", "de_CH"),
        ("fr", "EUR", "mm", "fr_FR"),
        ("tlh", "GBP", "mm", "en_GB"),
        ("", "GBP", "mm", "en_GB"),
        ("x" * 10_000, "GBP", "mm", "en_GB"),
    ],
)
def test_the_browser_suggests_currency_and_unit(
    client: Client, language: str, currency: str, unit: str, locale: str
) -> None:
    page = client.get("/workshops/new/", headers={"Accept-Language": language})
    form = page.context["form"]
    assert form["currency"].value() == currency
    assert form["unit"].value() == unit
    client.post("/workshops/new/", NEW, headers={"Accept-Language": language})
    assert Workshop.objects.get(slug="second-bench").locale == locale


@pytest.mark.parametrize(
    ("field", "typed", "why"),
    [
        ("name", "", "Fill this in."),
        ("name", "n" * 10_000, "at most 120"),
        ("currency", "XXX", "not one of the available choices"),
        ("unit", "ell", "not one of the available choices"),
        ("wage_per_hour", "-3", "The least is 0."),
        ("wage_per_hour", "a lot", "an amount of money. Enter one"),
        ("wage_per_hour", "", "Fill this in."),
    ],
)
def test_a_wrong_entry_is_kept_and_explained(
    client: Client, field: str, typed: str, why: str
) -> None:
    answer = client.post("/workshops/new/", {**NEW, field: typed})
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "There is a problem" in page
    assert why in page
    assert Workshop.objects.count() == 1


def test_nobody_opens_no_workshop(anonymous_client: Client) -> None:
    assert anonymous_client.post("/workshops/new/", NEW).status_code == 302
    assert not Workshop.objects.filter(slug="second-bench").exists()


def test_more_workshops_cost_no_more_queries(
    client: Client, owner: User, count_queries: Any
) -> None:
    with count_queries() as few:
        client.get("/workshops/?all")
    for _ in range(10):
        Membership.objects.create(user=owner, workshop=factories.make_workshop(), role="reader")
    with count_queries() as many:
        client.get("/workshops/?all")
    assert len(many) == len(few)
