"""One address, two answers: the page a browser opens, and the part an open page asks for."""

from typing import Any

import pytest
from django.test import Client

PAGES = (
    "work/",
    "to-buy/slow/",
    "spending/stock/",
    "spending/groups/",
    "spending/everything/",
    "spending/orders-and-fairs/",
    "spending/prices/",
    "spending/filter/",
    "tax-year/2026/suppliers/",
    "tax-year/2026/materials/",
    "tax-year/2026/orders/",
)


@pytest.mark.parametrize("page", PAGES)
def test_going_back_never_shows_a_part_alone(
    client: Client, owner: Any, workshop: Any, page: str
) -> None:
    client.force_login(owner)
    whole = client.get(f"/w/{workshop.slug}/{page}")
    part = client.get(f"/w/{workshop.slug}/{page}", headers={"HX-Request": "true"})
    assert "<html" in whole.content.decode()
    assert "<html" not in part.content.decode()
    for answer in (whole, part):
        assert "HX-Request" in answer["Vary"]
        assert "Cookie" in answer["Vary"]


def test_only_the_open_page_gets_a_part(client: Client, owner: Any, workshop: Any) -> None:
    client.force_login(owner)
    answer = client.get(f"/w/{workshop.slug}/work/", headers={"HX-Request": "odd"})
    assert "<html" in answer.content.decode()
