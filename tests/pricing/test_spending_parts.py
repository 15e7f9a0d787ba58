"""What opens on a tap on the pages of spending, and the long lists there, page by page."""

import re
from decimal import Decimal
from typing import Any

import pytest
import time_machine
from django.test import Client

from catalogue.materials.models import Material
from maker.workshop.models import Workshop
from tests import factories
from tests.catalogue.pages import text_of
from tests.catalogue.receipts import make_receipt
from tests.pricing.test_spend_pages import MARCH, SPEND, cells, day

MANY = 60


@pytest.fixture(autouse=True)
def _in_march() -> Any:
    with time_machine.travel("2026-03-31T12:00:00Z", tick=False):
        yield


@pytest.fixture
def many(workshop: Workshop) -> list[Material]:
    """Sixty receipts of one month, each of its own material; no two cost the same."""
    materials = []
    for number in range(MANY):
        one = factories.make_material(workshop, name=f"Card {number:02}", category="paper")
        make_receipt(
            workshop, (one, "10", f"{number + 1}.00"), bought_on=day(3, number % 4 + 1),
            reference=f"R-{number:02}",
        )  # fmt: skip
        materials.append(one)
    return materials


def test_every_receipt_of_a_month_is_on_one_page_and_its_total_on_each(
    client: Client, many: list[Material]
) -> None:
    total = f"€{sum(range(1, MANY + 1)):,}.00"
    for sort in ("", "&sort=-millionths", "&sort=supplier"):
        found = []
        for number in (1, 2, 3):
            page = text_of(client.get(f"{MARCH}?page={number}{sort}"))
            assert f"<dt>All receipts</dt><dd>{total}</dd>" in page
            assert "60 receipts" in page
            found += re.findall(r"R-\d\d", page)
        assert sorted(found) == [f"R-{number:02}" for number in range(MANY)]
    # by date, and as they were entered
    first = re.findall(r"R-(\d\d)", text_of(client.get(MARCH)))
    assert first == [f"{number:02}" for number in (*range(0, MANY, 4), *range(1, MANY, 4))][:25]


def test_a_receipt_is_shown_with_what_counts_of_it(client: Client, workshop: Workshop) -> None:
    card = factories.make_material(workshop, name="Card", category="paper")
    glue = factories.make_material(workshop, name="Glue", category="glue", kind="volume")
    make_receipt(workshop, (card, "48", "25.10"), (glue, "10", "7.00"), bought_on=day(3, 2))
    for query, lines, amount in (("", "2 lines", "€32.10"), ("?category=glue", "1 line", "€7.00")):
        page = text_of(client.get(f"{MARCH}{query}"))
        table = re.search(r'aria-label="Receipts this month">(.*?)</table>', page, re.S)
        assert table is not None
        assert re.search(rf">{lines}</td>.*>{amount}</td>", table[1], re.S)


def test_every_group_is_on_one_page(client: Client, many: list[Material]) -> None:
    address = f"{SPEND}groups/?by=material"
    found: list[str] = []
    for number in (1, 2, 3):
        rows = cells(text_of(client.get(f"{address}&page={number}")), "By group")
        found += [row[0] for row in rows[1:]]
    # the most first
    assert found == [f"Card {number:02}" for number in reversed(range(MANY))]
    part = text_of(client.get(address, headers={"HX-Request": "true"}))
    assert len(cells(part, "By group")) == 26
    assert "See all 60" in part
    assert "See 35 more" in text_of(client.get(f"{MARCH}?by=material"))
    assert "All others" in text_of(client.get(f"{SPEND}?by=material"))


def test_the_page_leads_to_its_parts_with_what_is_looked_at(
    client: Client, workshop: Workshop, many: list[Material]
) -> None:
    page = client.get(f"{SPEND}?first=2026-01&last=2026-03&material={many[3].pk}").content.decode()
    for name in ("stock", "groups"):
        query = f"first=2026-01&amp;last=2026-03&amp;material={many[3].pk}"
        assert f'hx-get="{SPEND}{name}/?{query}"' in page
        assert f'<a href="{SPEND}{name}/?{query}">' in page
    # of a part, neither expenses nor orders
    assert "everything/" not in page
    assert "orders-and-fairs/" not in page
    assert "Filter: <bdi>Card 03</bdi>" in page
    assert "€4.00" in page


def test_the_filter_offers_everything_and_leads_back(
    client: Client, other_workshop: Workshop, many: list[Material]
) -> None:
    theirs = factories.make_material(other_workshop, name="Theirs")
    closed = client.get(SPEND).content.decode()
    assert "Card 59" not in closed
    opened = client.get(f"{SPEND}filter/?material={many[3].pk}&first=2026-01").content.decode()
    assert f'<form class="filter-bar" method="get" action="{SPEND}"' in opened
    assert f'<option value="{many[3].pk}" selected>Card 03</option>' in opened
    assert opened.count("<option value") > MANY
    assert f'value="{theirs.pk}"' not in opened
    assert 'value="2026-01"' in opened


def test_the_shelf_is_as_the_ledger_says(client: Client, many: list[Material]) -> None:
    total = sum(range(1, MANY + 1))
    assert total == Decimal(1830)
    rows = cells(
        text_of(client.get(f"{SPEND}stock/?first=2026-02&last=2026-03")),
        "Bought, used and in stock",
    )
    assert [row[0] for row in rows] == ["When", "Feb 2026", "Mar 2026", "Total"]
    assert rows[1][-1] == "€0.00"
    assert rows[2][-1] == rows[3][-1] == "€1,830.00"
