"""The list of receipts: sorted, narrowed by its address, and as fast with more rows."""

import datetime
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from catalogue.materials.models import Material
from catalogue.suppliers.models import Supplier
from maker.workshop.models import Workshop
from tests import factories
from tests.catalogue.pages import text_of
from tests.catalogue.receipts import make_draft, make_receipt


@pytest.fixture
def three(workshop: Workshop, card: Material) -> None:
    """Three receipts that every column puts in the same order."""
    for number, amount in enumerate(["10", "20", "30"], start=1):
        make_receipt(
            workshop,
            *[(card, "1", amount)] * number,
            supplier=factories.make_supplier(workshop, name=f"S{number}"),
            bought_on=datetime.date(2026, 1, number),
            reference=f"R{number}",
        )


@pytest.mark.parametrize("column", ["bought_on", "supplier", "reference", "line_count", "paid"])
def test_every_column_sorts_both_ways(client: Client, three: None, column: str) -> None:
    found = {}
    for sign in ("", "-"):
        table = client.get(f"/w/marlow/receipts/?sort={sign}{column}").context["table"]
        found[sign] = [row.record.reference for row in table.paginated_rows]
    assert found == {"": ["R1", "R2", "R3"], "-": ["R3", "R2", "R1"]}


def test_the_state_sorts_too(client: Client, three: None) -> None:
    assert client.get("/w/marlow/receipts/?sort=state").status_code == 200


@pytest.mark.parametrize(
    ("query", "references"),
    [
        ("", ["R3", "R2", "R1"]),
        ("search=S2", ["R2"]),
        ("search=r3", ["R3"]),
        ("search=bramble", ["R3", "R2", "R1"]),
        ("first=2026-01-02", ["R3", "R2"]),
        ("first=2026-01-02&last=2026-01-02", ["R2"]),
        ("first=yesterday&last=2026-13-45", ["R3", "R2", "R1"]),
        ("state=draft", []),
        ("state=recorded&search=S1", ["R1"]),
        ("state=nonsense", ["R3", "R2", "R1"]),
    ],
)
def test_the_list_is_narrowed_by_the_address(
    client: Client, three: None, query: str, references: list[str]
) -> None:
    table = client.get(f"/w/marlow/receipts/?{query}").context["table"]
    assert [row.record.reference for row in table.paginated_rows] == references


def test_what_was_paid_is_not_multiplied_by_the_lines(
    client: Client, workshop: Workshop, card: Material
) -> None:
    make_receipt(workshop, (card, "1", "10"), (card, "2", "20"), postage=Decimal("1.10"))
    assert "€31.10" in text_of(client.get("/w/marlow/receipts/"))


def test_more_rows_cost_no_more_queries(
    client: Client, workshop: Workshop, card: Material, supplier: Supplier, count_queries: Any
) -> None:
    def queries(address: str) -> int:
        with count_queries() as seen:
            assert client.get(address).status_code == 200
        return len(seen)

    small = make_receipt(workshop, (card, "1", "1"), supplier=supplier)
    small_draft = make_draft(workshop, (card, "1", "1"), supplier=supplier)
    few = [
        queries("/w/marlow/receipts/"),
        queries(f"/w/marlow/receipts/{small.pk}/"),
        queries(f"/w/marlow/receipts/{small_draft.pk}/edit/"),
    ]
    materials = []
    for _ in range(10):
        material = factories.make_material(workshop, supplier=supplier)
        factories.make_pack(material, supplier=supplier)
        materials.append((material, "1", "1"))
    large = make_receipt(workshop, *materials)
    large_draft = make_draft(workshop, *materials)
    many = [
        queries("/w/marlow/receipts/"),
        queries(f"/w/marlow/receipts/{large.pk}/"),
        queries(f"/w/marlow/receipts/{large_draft.pk}/edit/"),
    ]
    assert many == few
