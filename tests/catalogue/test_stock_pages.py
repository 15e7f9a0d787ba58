"""The page that moves stock: outgoing typed above zero, counts as found, bad input, undo."""

from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from catalogue.materials.models import Material
from catalogue.stock.models import StockEntry
from maker.workshop.models import Workshop
from tests import factories
from tests.catalogue.pages import text_of
from tests.catalogue.receipts import make_receipt


@pytest.fixture
def stocked(workshop: Workshop, card: Material) -> Material:
    """Ten sheets in stock since January."""
    make_receipt(workshop, (card, "10", "5.00"))
    card.refresh_from_db()
    return card


def move(client: Client, material: Material, **fields: Any) -> Any:
    sent = {"kind": "used", "amount": "3", "moved_on": "2026-02-01", **fields}
    return client.post(f"/w/marlow/materials/{material.pk}/stock/", sent)


def test_what_left_is_typed_above_zero_and_can_be_undone(client: Client, stocked: Material) -> None:
    response = move(client, stocked, kind="scrap", reason="torn")
    page = text_of(client.get(response["Location"]))
    entry = stocked.stock_entries.get(kind="scrap")
    assert (entry.change, entry.reason) == (Decimal(-3), "torn")
    assert entry.made_by is not None
    assert "3 sheets left: scrapped. 7 sheets in stock." in page
    undo = f"/w/marlow/stock/{entry.pk}/take-back/"
    assert f'action="{undo}"' in page
    client.post(undo)
    stocked.refresh_from_db()
    assert stocked.on_hand == 10
    assert "already" in text_of(client.post(undo, follow=True))


def test_a_count_is_typed_as_found(client: Client, stocked: Material) -> None:
    move(client, stocked, kind="counted", amount="8", reason="two were torn")
    assert stocked.stock_entries.get(kind="counted").change == -2
    move(client, stocked, kind="counted", amount="0", reason="all gone", moved_on="2026-02-02")
    stocked.refresh_from_db()
    assert (stocked.on_hand, stocked.stock_value) == (0, 0)


def test_more_than_the_ledger_has_is_entered_and_flagged(client: Client, stocked: Material) -> None:
    move(client, stocked, amount="11")
    page = text_of(client.get(f"/w/marlow/materials/{stocked.pk}/"))
    assert "Negative stock" in page
    assert "Enter the missing receipt" in page
    stocked.refresh_from_db()
    assert stocked.on_hand == -1


def test_goods_from_before_the_first_receipt_come_with_their_cost(
    client: Client, workshop: Workshop
) -> None:
    ribbon = factories.make_material(workshop, name="Ribbon", kind="length")
    move(client, ribbon, kind="opening", amount="25 yd", cost="4.572")
    ribbon.refresh_from_db()
    assert (ribbon.on_hand, ribbon.average_cost) == (Decimal("22.86"), Decimal("0.2"))


@pytest.mark.parametrize(
    ("fields", "field", "told"),
    [
        ({"amount": ""}, "amount", "Enter an amount"),
        ({"amount": "0"}, "amount", "above 0"),
        ({"amount": "-3"}, "amount", "below zero"),
        ({"amount": "three"}, "amount", "an amount. Enter one"),
        ({"amount": "3 m"}, "amount", "counted in sheets"),
        ({"amount": "99999999999999"}, "amount", "too many digits"),
        ({"moved_on": ""}, "moved_on", "required"),
        ({"moved_on": "2026-02-30"}, "moved_on", "valid date"),
        ({"moved_on": "2126-02-01"}, "moved_on", "in the future"),
        ({"kind": "bought"}, "kind", "valid choice"),
        ({"kind": "reversed"}, "kind", "valid choice"),
        ({"kind": ""}, "kind", "required"),
        ({"kind": "opening"}, "cost", "0 if it was free"),
        ({"reason": "x" * 10_000}, "reason", "200"),
    ],
)
def test_what_cannot_be_meant_is_kept_and_explained(
    client: Client, stocked: Material, fields: dict[str, str], field: str, told: str
) -> None:
    response = move(client, stocked, **fields)
    assert response.status_code == 422
    errors = response.context["form"].errors
    assert list(errors) == [field]
    if told not in ("required", "valid date"):
        assert told.lower() in str(errors[field].as_text()).lower()
    assert StockEntry.objects.count() == 1


def test_a_double_click_moves_once(client: Client, stocked: Material) -> None:
    page = client.get(f"/w/marlow/materials/{stocked.pk}/stock/")
    key = page.context["form"]["form_key"].value()
    assert "10 sheets in stock" in text_of(page)
    move(client, stocked, form_key=key)
    second = move(client, stocked, form_key=key)
    assert second.status_code == 302
    assert "already saved" in text_of(client.get(second["Location"]))
    stocked.refresh_from_db()
    assert stocked.on_hand == 7


def test_the_ledger_shows_what_does_not_count_any_more(client: Client, stocked: Material) -> None:
    move(client, stocked)
    entry = stocked.stock_entries.get(kind="used")
    address = f"/w/marlow/materials/{stocked.pk}/"
    assert f'action="/w/marlow/stock/{entry.pk}/take-back/"' in text_of(client.get(address))
    client.post(f"/w/marlow/stock/{entry.pk}/take-back/")
    page = text_of(client.get(address))
    assert "<del>−3 sheets</del>" in page
    assert page.count("does not count") == 2


def test_a_reader_sees_the_ledger_without_buttons(
    client: Client, reader_client: Client, stocked: Material
) -> None:
    move(client, stocked)
    page = text_of(reader_client.get(f"/w/marlow/materials/{stocked.pk}/"))
    assert "−3 sheets" in page
    assert "take-back" not in page
    assert "/stock/" not in page


@pytest.mark.parametrize("column", ["moved_on", "kind", "change", "unit_cost"])
def test_the_ledger_sorts_by_its_columns(client: Client, stocked: Material, column: str) -> None:
    move(client, stocked)
    for sign in ("", "-"):
        address = f"/w/marlow/materials/{stocked.pk}/?stock-sort={sign}{column}&bought-sort=lot"
        table = client.get(address).context["ledger"]
        assert len(table.paginated_rows) == 2
    first = [row.record.change for row in table.paginated_rows]
    assert set(first) == {Decimal(10), Decimal(-3)}
