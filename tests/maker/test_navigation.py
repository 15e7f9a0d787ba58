"""The way round a workshop: what is in the groups, for whom, and what is marked."""

import re

import pytest
from django.test import Client

from maker.accounts.models import Membership
from maker.web.templatetags.navigation import GROUPS, HOME
from tests import factories


def _signed_in(role: str = Membership.Role.OWNER) -> tuple[Client, str]:
    workshop = factories.make_workshop()
    user = factories.make_member(workshop, role)
    client = Client()
    client.force_login(user)
    return client, workshop.slug


def _bar(client: Client, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200
    found = re.search(r'<nav class="navigation".*?</nav>', answer.content.decode(), re.S)
    assert found
    return found[0]


def _links(bar: str) -> list[str]:
    return re.findall(r'href="([^"]+)"', bar)


@pytest.mark.django_db
def test_an_owner_reaches_every_page_of_the_groups() -> None:
    client, slug = _signed_in()
    bar = _bar(client, f"/w/{slug}/")
    assert re.findall(r"<summary[^>]*>([^<]+)</summary>", bar) == [
        "Make", "Buy", "Sell", "Prices", "Settings",
    ]  # fmt: skip
    assert len(_links(bar)) == 1 + sum(len(group.entries) for group in GROUPS)
    for address in _links(bar):
        assert client.get(address).status_code == 200, address


@pytest.mark.django_db
def test_a_viewer_sees_no_settings_she_may_not_open() -> None:
    client, slug = _signed_in(Membership.Role.READER)
    bar = _bar(client, f"/w/{slug}/")
    assert "Hourly cost" not in bar
    for address in _links(bar):
        assert client.get(address).status_code == 200, address


@pytest.mark.django_db
def test_each_page_is_marked_once_with_its_group() -> None:
    client, slug = _signed_in()
    for address in _links(_bar(client, f"/w/{slug}/")):
        if not address.startswith(f"/w/{slug}/"):
            continue
        bar = _bar(client, address)
        assert re.findall(r'href="([^"]+)" aria-current="page"', bar) == [address]
        assert bar.count("aria-current") == 1
        assert bar.count('class="is-current"') == (address != f"/w/{slug}/")


@pytest.mark.django_db
def test_a_page_below_a_list_marks_the_list() -> None:
    client, slug = _signed_in()
    marks = {
        "designs/new/": "Designs",
        "materials/new/": "Materials",
        "customers/new/": "Customers",
        "offcuts/new/": "Offcuts",
    }
    for path, label in marks.items():
        bar = _bar(client, f"/w/{slug}/{path}")
        assert re.findall(r'aria-current="true">([^<]+)<', bar) == [label]


def test_every_word_of_the_navigation_is_there_once() -> None:
    labels = [HOME.label, *(one.label for group in GROUPS for one in group.entries)]
    assert len(labels) == len(set(labels))
