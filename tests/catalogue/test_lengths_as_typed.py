"""Ribbon is shown in the unit she typed it in, everywhere she typed it."""

from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from catalogue.calc.recipes.changes import changes_in_words
from catalogue.materials.models import Material, Pack
from catalogue.purchases.models import PurchaseLine
from catalogue.recipes.inputs import recipe_document
from catalogue.recipes.models import DesignVersion, Fixing
from catalogue.recipes.services import new_version, writing_of
from catalogue.stock.models import StockEntry
from maker.workshop.models import Workshop
from tests import factories
from tests.catalogue.page_forms import fields_of
from tests.catalogue.pages import text_of
from tests.catalogue.receipts import TODAY, make_receipt

D = Decimal


@pytest.fixture
def ribbon(workshop: Workshop) -> Material:
    ribbon = factories.make_material(workshop, name="Ribbon", kind="length", category="fixings")
    factories.make_pack(ribbon, name="25 yd", quantity=D("22.86"), price=D(5))
    make_receipt(workshop, (ribbon, "22.86", "5.00"), bought_on=TODAY)
    return ribbon


@pytest.fixture
def version(workshop: Workshop, ribbon: Material) -> DesignVersion:
    version = factories.make_recipe(workshop)
    factories.add_fixing(version, ribbon, amount=D("0.9144"), name="bow")
    return version


def recipe_page(version: DesignVersion) -> str:
    return f"/w/marlow/designs/{version.design_id}/v/{version.number}/recipe/"


def save_fixing(client: Client, version: DesignVersion, **typed: str) -> Fixing:
    sent = fields_of(client.get(recipe_page(version)))
    sent |= {f"fixings-0-{name}": value for name, value in typed.items()}
    assert client.post(recipe_page(version), sent).status_code == 302
    return version.fixings.get()


@pytest.mark.parametrize(
    ("typed", "metres", "kept", "shown"),
    [
        ("1 yd", "0.9144", "yd", "1 yd"),
        ("2 ft", "0.6096", "ft", "2 ft"),
        ("72 in", "1.8288", "in", "72 in"),
        ("1' 6\"", "0.4572", "ft in", "1 ft 6 in"),
        ("35 cm", "0.35", "cm", "35 cm"),
        ("18", "0.4572", "", "18 in"),
        ("3 yd", "2.7432", "", "3 yd"),
    ],
)
def test_a_fixing_is_shown_as_typed(
    client: Client, version: DesignVersion, typed: str, metres: str, kept: str, shown: str
) -> None:
    fixing = save_fixing(client, version, amount=typed)
    assert (fixing.amount, fixing.typed_in) == (D(metres), kept)
    page = client.get(recipe_page(version))
    assert fields_of(page)["fixings-0-amount"] == shown
    again = client.post(recipe_page(version), fields_of(page), follow=True)
    assert "Nothing was changed" in text_of(again)
    cost = text_of(client.get(f"/w/marlow/designs/{version.design_id}/cost/?quantity=60"))
    assert f"60 × {shown}" in cost


def test_a_cut_length_is_shown_as_typed(client: Client, version: DesignVersion) -> None:
    fixing = save_fixing(client, version, amount="2 ft", measure="cut", rate="2")
    assert (fixing.amount, fixing.typed_in) == (D("609.6"), "ft")
    page = client.get(recipe_page(version))
    assert fields_of(page)["fixings-0-amount"] == "2 ft"
    shown = client.get(f"/w/marlow/designs/{version.design_id}/")
    assert "2 × 2 ft" in text_of(shown)


def test_an_old_row_shows_the_usual_unit_and_stays_without_one(
    client: Client, version: DesignVersion
) -> None:
    page = client.get(recipe_page(version))
    assert fields_of(page)["fixings-0-amount"] == "36 in"
    client.post(recipe_page(version), fields_of(page))
    assert version.fixings.get().typed_in == ""


def test_copies_and_comparisons_know_it(client: Client, version: DesignVersion) -> None:
    save_fixing(client, version, amount="1 yd")
    newer = new_version(version=version)
    assert newer.fixings.get().typed_in == "yd"
    save_fixing(client, newer, amount="2 ft")

    def document(one: DesignVersion) -> Any:
        return recipe_document(DesignVersion.objects.with_recipe().get(pk=one.pk))

    words = changes_in_words(
        document(version), document(newer), writing_of(version.design.workshop)
    )
    assert words == ["bow: amount 1 yd → 2 ft"]


def test_an_amount_without_a_kept_unit_is_no_bare_number(
    client: Client, version: DesignVersion
) -> None:
    newer = new_version(version=version)
    newer.fixings.update(amount=D("0.4572"))
    page = client.get(f"/w/marlow/designs/{version.design_id}/versions/compare/")
    assert "amount 36 in → 18 in" in text_of(page)


def test_packs_and_the_level_to_reorder_below(client: Client, ribbon: Material) -> None:
    address = f"/w/marlow/materials/{ribbon.pk}/edit/"
    sent = fields_of(client.get(address))
    sent |= {"packs-0-quantity": "3 ft", "packs-0-name": "", "reorder_level": "6 ft"}
    assert client.post(address, sent).status_code == 302
    pack = Pack.objects.get()
    assert (pack.quantity, pack.typed_in, pack.name) == (D("0.9144"), "ft", "3 ft")
    ribbon.refresh_from_db()
    assert (ribbon.reorder_level, ribbon.reorder_typed_in) == (D("1.8288"), "ft")
    shown = fields_of(client.get(address))
    assert (shown["packs-0-quantity"], shown["reorder_level"]) == ("3 ft", "6 ft")
    assert ">3 ft<" in text_of(client.get(f"/w/marlow/materials/{ribbon.pk}/"))


def test_a_receipt_line(client: Client, ribbon: Material) -> None:
    address = "/w/marlow/receipts/new/"
    sent = fields_of(client.get(address))
    supplier = factories.make_supplier(ribbon.workshop, name="Reel House")
    sent |= {
        "supplier": str(supplier.pk),
        "bought_on": TODAY.isoformat(),
        "lines-0-what": "Ribbon",
        "lines-0-bought": "30 ft",
        "lines-0-amount": "4",
    }
    answer = client.post(address, sent | {"record": "1"})
    assert answer.status_code == 302, answer.context["formset"].errors
    line = PurchaseLine.objects.latest("pk")
    assert (line.quantity, line.typed_in) == (D("9.144"), "ft")
    assert "30 ft" in text_of(client.get(f"/w/marlow/receipts/{line.purchase_id}/"))


@pytest.mark.parametrize(
    ("typed", "kept", "shown"), [("1 yd", "yd", "−1 yd"), ("1", "yd", "−1 yd"), ("5", "", "−5 yd")]
)
def test_a_movement(client: Client, ribbon: Material, typed: str, kept: str, shown: str) -> None:
    sent = {"kind": "used", "amount": typed, "moved_on": TODAY.isoformat(), "reason": ""}
    assert client.post(f"/w/marlow/materials/{ribbon.pk}/stock/", sent).status_code == 302
    assert StockEntry.objects.latest("pk").typed_in == kept
    assert f">{shown}<" in text_of(client.get(f"/w/marlow/materials/{ribbon.pk}/"))


def test_a_count_of_the_shelf(client: Client, ribbon: Material) -> None:
    address = "/w/marlow/stock/count/"
    sent = fields_of(client.get(address)) | {f"m{ribbon.pk}": "60 ft", "reason": "year"}
    page = client.post(address, sent, follow=True)
    assert StockEntry.objects.latest("pk").typed_in == "ft"
    assert "60 ft" in text_of(page)


def test_a_very_long_entry_is_no_mishap(client: Client, ribbon: Material) -> None:
    sent = {"kind": "used", "amount": f"1{' ' * 250}nonsense", "moved_on": TODAY.isoformat()}
    answer = client.post(f"/w/marlow/materials/{ribbon.pk}/stock/", sent | {"reason": ""})
    assert answer.status_code in (200, 302)
