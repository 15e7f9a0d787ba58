"""Files with a shop's own columns: told once which is what, remembered, changed and forgotten."""

import datetime
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase
from catalogue.suppliers.models import FileColumns, Supplier
from maker.workshop.models import Workshop
from tests import factories
from tests.catalogue.files import address, confirm, csv_of, send
from tests.catalogue.page_forms import fields_of

RECEIPTS = address("purchase_import")
MATERIALS = address("material_import")
ORDER = csv_of(
    "Order date;Article;Qty;Unit;Line total;Order no;Our code",
    "04.03.2026;Clear glue;250;millilitres;9,60 €;4711;x1",
    "04.03.2026;Satin ribbon;25;yd;€ 7.50;4711;x2",
)


@pytest.fixture
def glue(workshop: Workshop) -> Material:
    factories.make_material(workshop, name="Satin ribbon", kind=Material.Kind.LENGTH)
    return factories.make_material(workshop, name="Clear glue", kind=Material.Kind.VOLUME)


def choose(client: Client, page: Any, **chosen: str) -> Any:
    return client.post(page.wsgi_request.path, fields_of(page) | chosen)


def told(client: Client, supplier: Supplier) -> Any:
    page = send(client, RECEIPTS, ORDER)
    assert "Order date" in page.content.decode()
    return choose(client, page, source=str(supplier.pk))


def test_a_shops_columns_are_guessed_shown_and_taken_in(
    client: Client, glue: Material, supplier: Supplier
) -> None:
    page = send(client, RECEIPTS, ORDER)
    assert page.status_code == 200
    typed = fields_of(page)
    guessed = [typed[f"column-{place}"] for place in range(7)]
    assert guessed == ["Date", "Material", "Quantity", "Counted in", "Paid", "Receipt no.", "-"]
    assert "9,60 €" in page.content.decode()
    preview = choose(client, page, source=str(supplier.pk))
    assert preview.status_code == 200, preview.content.decode()
    assert confirm(client, RECEIPTS, preview).status_code == 302
    receipt = Purchase.objects.get()
    assert (receipt.supplier, receipt.reference) == (supplier, "4711")
    assert receipt.bought_on == datetime.date(2026, 3, 4)
    lines = {line.material.name: line for line in receipt.lines.all()}
    assert (lines["Clear glue"].quantity, lines["Clear glue"].amount) == (250, Decimal("9.60"))
    # 25 yd are 22.86 m exactly (NIST Special Publication 811, appendix B.8)
    assert lines["Satin ribbon"].quantity == Decimal("22.86")


def test_the_words_of_the_receipts_own_page_are_known(client: Client, glue: Material) -> None:
    file = csv_of("Date;Supplier;Number;Item;Pack;How many;Paid;Postage", "2026-03-04;A;1;b;;2;3;")
    typed = fields_of(send(client, RECEIPTS, file))
    assert [typed[f"column-{place}"] for place in range(8)] == [
        "Date", "Supplier", "Receipt no.", "Material", "Pack", "Packs", "Paid", "Postage",
    ]  # fmt: skip


def test_it_is_remembered_for_that_supplier(
    client: Client, glue: Material, supplier: Supplier
) -> None:
    told(client, supplier)
    kept = FileColumns.objects.get()
    assert (kept.supplier, kept.of_list) == (supplier, "receipts")
    assert kept.pairs()["Article"] == "Material"
    again = send(client, RECEIPTS, ORDER.replace(b"4711", b"4712"))
    assert "Import 1 receipt" in again.content.decode()
    supplier.name = "Larkspur & Daughters"
    supplier.save()
    assert confirm(client, RECEIPTS, send(client, RECEIPTS, ORDER)).status_code == 302
    assert Purchase.objects.get().supplier == supplier
    assert Supplier.objects.count() == 1


def test_it_can_be_changed_and_forgotten(
    client: Client, glue: Material, supplier: Supplier
) -> None:
    told(client, supplier)
    page = send(client, RECEIPTS, ORDER, ask_columns="on")
    assert fields_of(page)["source"] == str(supplier.pk)
    choose(client, page, **{"column-6": "Notes"})
    kept = FileColumns.objects.get()
    assert kept.pairs()["Our code"] == "Notes"
    assert "Our code" in client.get(RECEIPTS).content.decode()
    assert client.post(RECEIPTS, {"forget": str(kept.pk)}).status_code == 302
    assert not FileColumns.objects.exists()
    assert "column-0" in fields_of(send(client, RECEIPTS, ORDER))


@pytest.mark.parametrize(
    ("chosen", "words"),
    [
        ({"column-6": "Paid"}, "Another column is already “Paid”."),
        ({"column-1": "-"}, "Choose the column that is “Material”."),
        ({"source": "-"}, "Choose the column that is “Supplier”."),
        ({"column-6": "Supplier"}, "A column is already “Supplier”."),
        ({"column-6": "Nonsense"}, "Nonsense is not one of the available choices"),
    ],
)
def test_a_wrong_choice_is_said_and_nothing_remembered(
    client: Client, glue: Material, supplier: Supplier, chosen: dict[str, str], words: str
) -> None:
    page = send(client, RECEIPTS, ORDER)
    answer = choose(client, page, **({"source": str(supplier.pk)} | chosen))
    assert answer.status_code == 422
    assert words in answer.content.decode()
    # what was typed is kept
    first = next(iter(chosen))
    assert words.startswith("Nonsense") or fields_of(answer)[first] == chosen[first]
    assert not FileColumns.objects.exists()


def test_what_cannot_be_read_is_beside_its_cell(
    client: Client, glue: Material, supplier: Supplier
) -> None:
    file = ORDER.replace(b"7.50", b"about 7").replace("9,60 €".encode(), b"$9.60")
    preview = choose(client, send(client, RECEIPTS, file), source=str(supplier.pk))
    assert preview.status_code == 422
    text = preview.content.decode()
    assert text.count('aria-invalid="true"') == 2
    assert "in EUR, this workshop" in text
    assert "an amount of money. Enter one" in text


def test_cells_shown_beside_a_column_are_text(client: Client, workshop: Workshop) -> None:
    page = send(client, MATERIALS, csv_of("Article", "<b onclick=x>bold</b>"))
    assert "<b onclick" not in page.content.decode()
    assert "&lt;b onclick=x&gt;bold" in page.content.decode()


def test_materials_are_told_once_for_their_list(client: Client, workshop: Workshop) -> None:
    file = csv_of("Article\tUnit\tQty\tPrice", "Twine\tyd\t100\t€ 4,20", "Brads\tpcs\t50\t3.10")
    preview = choose(client, send(client, MATERIALS, file))
    assert preview.status_code == 200, preview.content.decode()
    assert confirm(client, MATERIALS, preview).status_code == 302
    twine, brads = Material.objects.order_by("-name")
    assert (twine.kind, brads.kind) == (Material.Kind.LENGTH, Material.Kind.COUNT)
    assert twine.packs.get().quantity == Decimal("91.44")
    assert twine.packs.get().price == Decimal("4.20")
    assert FileColumns.objects.get().supplier is None
    again = send(client, MATERIALS, file)
    assert "Everything in this file is already here" in again.content.decode()


def test_a_file_of_our_own_asks_nothing(client: Client, glue: Material) -> None:
    page = send(client, MATERIALS, csv_of("Name,On hand", "Clear glue,3"))
    assert "column-0" not in fields_of(page)


def test_a_foreign_or_changed_table_is_refused(
    client: Client, glue: Material, supplier: Supplier
) -> None:
    page = send(client, RECEIPTS, ORDER)
    for table in ("", "x", fields_of(page)["table"] + "x"):
        answer = client.post(RECEIPTS, fields_of(page) | {"table": table})
        assert answer.status_code == 422
        assert "Choose the file again" in answer.content.decode()
    # a list of receipts is no list of materials
    assert client.post(MATERIALS, fields_of(page)).status_code == 422


def test_nobody_forgets_what_another_workshop_told(
    client: Client, stranger_client: Client, other_workshop: Workshop
) -> None:
    kept = FileColumns.objects.create(
        workshop=other_workshop, of_list="receipts", columns="Article\tMaterial"
    )
    client.post(RECEIPTS, {"forget": str(kept.pk)})
    assert FileColumns.objects.filter(pk=kept.pk).exists()
    for key in ("", "x", "9" * 40):
        assert client.post(RECEIPTS, {"forget": key}).status_code == 302
