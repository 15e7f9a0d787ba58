"""Lots of a material: on its page, in its movements and counts, and in what goes back."""

import csv
import datetime
import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from catalogue.materials.lots import lots_in, lots_of
from catalogue.materials.models import Material
from catalogue.purchases.models import PurchaseLine
from catalogue.purchases.services import reverse_purchase
from catalogue.stock.models import StockEntry
from catalogue.stock.services import count_stock, move_stock, reverse_entry
from catalogue.supplier_returns.services import send_back
from maker.workshop.models import Workshop
from tests import factories
from tests.catalogue.pages import text_of
from tests.catalogue.receipts import TODAY, buy_lot, make_receipt

D = Decimal


def left(material: Material) -> dict[str, Decimal]:
    lots = lots_of(material)
    return {lot.name: lot.left for lot in lots.lots} | {"": lots.in_no_lot}


def take(material: Material, amount: str, **fields: Any) -> StockEntry:
    return move_stock(
        material=material,
        kind=fields.pop("kind", "used"),
        amount=D(amount),
        moved_on=TODAY,
        today=TODAY,
        **fields,
    )


@pytest.fixture
def two_lots(workshop: Workshop, card: Material) -> Material:
    """Twenty sheets of lot K 7, thirty of a later lot L 2."""
    buy_lot(workshop, card, "20", "K 7", datetime.date(2026, 1, 3))
    buy_lot(workshop, card, "30", "L 2", datetime.date(2026, 2, 3))
    card.refresh_from_db()
    return card


def test_what_is_left_follows_every_movement(workshop: Workshop, two_lots: Material) -> None:
    make_receipt(workshop, (two_lots, "5", "2.00"))
    take(two_lots, "4", lot="L 2")
    gone = take(two_lots, "9")
    assert left(two_lots) == {"K 7": 16, "L 2": 26, "": 0}
    reverse_entry(entry=gone)
    assert left(two_lots) == {"K 7": 20, "L 2": 26, "": 5}
    # a count finds two missing, and they are of the lot that was named
    count_stock(material=two_lots, counted=D(49), moved_on=TODAY, today=TODAY, lot="L 2")
    assert left(two_lots) == {"K 7": 20, "L 2": 24, "": 5}
    two_lots.refresh_from_db()
    assert two_lots.on_hand == 49 == lots_of(two_lots).on_hand


def test_a_lot_goes_with_its_receipt(workshop: Workshop, card: Material) -> None:
    bought = buy_lot(workshop, card, "20", "K 7")
    reverse_purchase(purchase=bought)
    assert left(card) == {"": 0}


def test_goods_go_back_out_of_the_lot_of_their_line(two_lots: Material) -> None:
    line = PurchaseLine.objects.get(lot="L 2")
    send_back(line=line, quantity=D(7), on=TODAY, today=TODAY)
    assert left(two_lots) == {"K 7": 20, "L 2": 23, "": 0}


def test_what_is_not_there_leaves_every_lot_empty(two_lots: Material) -> None:
    take(two_lots, "53", lot="K 7")
    assert left(two_lots) == {"K 7": 0, "L 2": 0, "": -3}


def test_lots_cost_nothing_of_their_own(workshop: Workshop) -> None:
    """Which lot is named changes no figure of the ledger."""
    named, plain = (factories.make_material(workshop, name=name) for name in ("Named", "Plain"))
    for material, lots in ((named, ("K", "L")), (plain, ("", ""))):
        buy_lot(workshop, material, "20", lots[0], datetime.date(2026, 1, 3), amount="9.00")
        buy_lot(workshop, material, "30", lots[1], datetime.date(2026, 2, 3), amount="21.00")
        take(material, "25", lot=lots[1])
    figures = ("change", "unit_cost", "balance", "balance_value")
    rows = [
        list(each.stock_entries.order_by("pk").values_list(*figures)) for each in (named, plain)
    ]
    assert rows[0] == rows[1]


def test_the_page_shows_lots_where_there_are_any(
    client: Client, workshop: Workshop, two_lots: Material
) -> None:
    take(two_lots, "4", lot="L 2")
    page = text_of(client.get(f"/w/marlow/materials/{two_lots.pk}/"))
    panel = page[page.index('id="lots"') : page.index('id="packs"')]
    for words in ("K 7", "20 sheets", "since 3 Jan 2026", "L 2", "26 sheets", "matches in colour"):
        assert words in panel
    assert "No lot" not in panel
    assert "lot L 2" in page[page.index('id="stock"') :]
    take(two_lots, "60")
    page = text_of(client.get(f"/w/marlow/materials/{two_lots.pk}/"))
    panel = page[page.index('id="lots"') : page.index('id="packs"')]
    assert "No lot" in panel
    assert "14 sheets" in panel
    assert "K 7" not in panel
    other = factories.make_material(workshop)
    make_receipt(workshop, (other, "3", "1.00"))
    assert 'id="lots"' not in text_of(client.get(f"/w/marlow/materials/{other.pk}/"))


def test_a_viewer_sees_lots_and_moves_none(reader_client: Client, two_lots: Material) -> None:
    assert 'id="lots"' in text_of(reader_client.get(f"/w/marlow/materials/{two_lots.pk}/"))
    sent = {"kind": "used", "amount": "3", "moved_on": "2026-03-01", "lot": "K 7"}
    answer = reader_client.post(f"/w/marlow/materials/{two_lots.pk}/stock/", sent)
    assert answer.status_code == 403
    assert not StockEntry.objects.filter(kind="used").exists()


def test_a_movement_names_its_lot(client: Client, two_lots: Material) -> None:
    address = f"/w/marlow/materials/{two_lots.pk}/stock/"
    assert '<option value="K 7">20 sheets</option>' in text_of(client.get(address))
    sent = {"kind": "scrap", "amount": "3", "moved_on": "2026-03-01", "lot": "k7"}
    answer = client.post(address, sent, follow=True)
    assert "3 sheets left: scrapped. Lot K 7." in text_of(answer)
    assert left(two_lots)["K 7"] == 17
    # a typing slip makes no new lot, and what was typed stays
    wrong = client.post(address, sent | {"lot": "K 8"})
    assert wrong.status_code == 422
    assert "There is no lot “K 8” of this material. Its lots: K 7, L 2." in text_of(wrong)
    assert 'value="K 8"' in text_of(wrong)
    # what was there before the first receipt may be of a lot of its own
    opening = sent | {"kind": "opening", "cost": "2", "lot": "J 1", "moved_on": "2025-12-01"}
    client.post(address, opening)
    assert left(two_lots) == {"J 1": 3, "K 7": 17, "L 2": 30, "": 0}
    export = client.get(f"/w/marlow/materials/{two_lots.pk}/movements/?format=csv")
    head, *rows = csv.reader(export.content.decode("utf-8-sig").splitlines())
    assert [row[head.index("Lot")] for row in rows] == ["J 1", "K 7", "L 2", "K 7"]


def test_the_list_of_materials_exports_what_is_left_of_each_lot(
    client: Client, two_lots: Material
) -> None:
    take(two_lots, "20", lot="K 7")
    take(two_lots, "0.5", lot="L 2")
    answer = client.get("/w/marlow/materials/?format=csv")
    head, row = csv.reader(answer.content.decode("utf-8-sig").splitlines())
    assert row[head.index("Lots")] == "L 2: 29.5"


def test_a_count_one_by_one_names_the_lot_of_the_difference(
    client: Client, two_lots: Material
) -> None:
    address = "/w/marlow/stock/count/each/"
    assert "Lot L 2" in text_of(client.get(f"{address}?material={two_lots.pk}"))
    sent = {"material": two_lots.pk, "amount": "48", "form_key": str(uuid.uuid4())}
    assert client.post(address, sent | {"lot": "Z"}).status_code == 422
    client.post(address, sent | {"lot": "L 2"})
    assert left(two_lots) == {"K 7": 20, "L 2": 28, "": 0}


def test_more_lots_cost_no_more_queries(
    client: Client, workshop: Workshop, two_lots: Material, count_queries: Any
) -> None:
    address = f"/w/marlow/materials/{two_lots.pk}/"
    client.get(address)
    with count_queries() as few:
        client.get(address)
    for number in range(6):
        buy_lot(workshop, two_lots, "5", f"M {number}")
    with count_queries() as many:
        client.get(address)
    assert len(many) == len(few)
    with count_queries() as one:
        lots_in(StockEntry.objects.of(workshop))
    assert len(one) == 1
