"""Who may open and who may change the pages of suppliers, materials, stock and receipts."""

from collections.abc import Mapping
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from catalogue.materials.models import Material
from catalogue.stock.models import StockEntry
from catalogue.stock.services import move_stock
from catalogue.suppliers.models import Supplier
from maker.workshop.models import Workshop
from tests import factories
from tests.catalogue.pages import who_gets_in
from tests.catalogue.receipts import TODAY, make_draft, make_receipt

LOOKING = {"owner": 200, "helper": 200, "reader": 200, "stranger": 404, "nobody": 302}
ENTERING = {"owner": 200, "helper": 200, "reader": 403, "stranger": 404, "nobody": 302}
WRITING = {"owner": 302, "helper": 302, "reader": 403, "stranger": 404, "nobody": 302}


@pytest.fixture
def rows(workshop: Workshop, supplier: Supplier, card: Material) -> dict[str, int]:
    """One row behind every address."""
    recorded = make_receipt(workshop, (card, "10", "5.00"), supplier=supplier)
    moved = move_stock(
        material=card,
        kind=StockEntry.Kind.USED,
        amount=Decimal(1),
        moved_on=recorded.bought_on,
        today=TODAY,
    )
    return {
        "supplier": supplier.pk,
        "material": card.pk,
        "pack": card.packs.get().pk,
        "recorded": recorded.pk,
        "draft": make_draft(workshop, (card, "1", "1.00"), supplier=supplier).pk,
        "entry": moved.pk,
        "line": recorded.lines.get().pk,
    }


def address(name: str, row: str, rows: Mapping[str, int]) -> str:
    return reverse(f"catalogue:{name}", args=["marlow", *([rows[row]] if row else [])])


@pytest.mark.parametrize(
    ("name", "row"),
    [
        ("supplier_list", ""),
        ("supplier", "supplier"),
        ("material_list", ""),
        ("material", "material"),
        ("purchase_list", ""),
        ("purchase", "recorded"),
        ("purchase", "draft"),
    ],
)
def test_every_member_may_look(
    name: str, row: str, rows: dict[str, int], visitors: Mapping[str, Client]
) -> None:
    where = address(name, row, rows)
    assert who_gets_in(where, writes=False, clients=visitors) == LOOKING


@pytest.mark.parametrize(
    ("name", "row"),
    [
        ("supplier_new", ""),
        ("supplier_edit", "supplier"),
        ("material_new", ""),
        ("material_edit", "material"),
        ("stock_move", "material"),
        ("purchase_new", ""),
        ("purchase_edit", "draft"),
    ],
)
def test_a_reader_is_shown_no_form(
    name: str, row: str, rows: dict[str, int], visitors: Mapping[str, Client]
) -> None:
    where = address(name, row, rows)
    assert who_gets_in(where, writes=False, clients=visitors) == ENTERING
    posted = who_gets_in(where, writes=True, clients=visitors)
    assert (posted["reader"], posted["stranger"], posted["nobody"]) == (403, 404, 302)


@pytest.mark.parametrize(
    ("name", "row"),
    [
        ("supplier_retire", "supplier"),
        ("supplier_restore", "supplier"),
        ("material_retire", "material"),
        ("material_restore", "material"),
        ("stock_reverse", "entry"),
        ("purchase_record", "draft"),
        ("purchase_reverse", "recorded"),
        ("purchase_discard", "draft"),
        ("purchase_restore", "draft"),
    ],
)
def test_a_reader_changes_nothing_and_a_link_changes_nothing(
    name: str, row: str, rows: dict[str, int], visitors: Mapping[str, Client]
) -> None:
    where = address(name, row, rows)
    assert visitors["owner"].get(where).status_code == 405
    assert who_gets_in(where, writes=True, clients=visitors) == WRITING


@pytest.mark.parametrize(("name", "row"), [("purchase_line", "line"), ("pack", "pack")])
def test_a_cost_leads_to_where_it_comes_from(
    name: str, row: str, rows: dict[str, int], visitors: Mapping[str, Client]
) -> None:
    where = address(name, row, rows)
    assert visitors["reader"].get(where).status_code == 302
    assert visitors["stranger"].get(where).status_code == 404
    landing = visitors["reader"].get(where, follow=True)
    assert landing.status_code == 200


@pytest.mark.parametrize("name", ["supplier", "material", "purchase", "material_edit"])
@pytest.mark.parametrize("key", ["999999", "9" * 30])
def test_a_row_that_is_not_there_is_not_found(client: Client, name: str, key: str) -> None:
    assert (
        client.get(
            f"{reverse(f'catalogue:{name}', args=['marlow', 1])}".replace("/1/", f"/{key}/")
        ).status_code
        == 404
    )


def test_rows_of_another_workshop_are_not_found(client: Client, other_workshop: Workshop) -> None:
    theirs = factories.make_material(other_workshop)
    their_supplier = factories.make_supplier(other_workshop)
    receipt = make_receipt(other_workshop, (theirs, "1", "1.00"), supplier=their_supplier)
    entry = theirs.stock_entries.get()
    for name, key in (
        ("material", theirs.pk),
        ("material_edit", theirs.pk),
        ("stock_move", theirs.pk),
        ("supplier", their_supplier.pk),
        ("purchase", receipt.pk),
    ):
        assert client.get(reverse(f"catalogue:{name}", args=["marlow", key])).status_code == 404
    for name, key in (
        ("stock_reverse", entry.pk),
        ("purchase_reverse", receipt.pk),
        ("material_retire", theirs.pk),
        ("supplier_retire", their_supplier.pk),
    ):
        assert client.post(reverse(f"catalogue:{name}", args=["marlow", key])).status_code == 404
    receipt.refresh_from_db()
    assert receipt.state == "recorded"
