"""An inch workshop types ribbon in inches and yards and sees it so; a metric one in metres."""

from decimal import Decimal

import pytest
from django.test import Client

from catalogue.materials.models import Material
from maker.workshop.models import Workshop
from tests import factories
from tests.catalogue.pages import text_of
from tests.catalogue.receipts import TODAY, make_receipt

D = Decimal


@pytest.fixture
def ribbon(workshop: Workshop) -> Material:
    """A reel of 25 yd for 5.00, one on the shelf."""
    ribbon = factories.make_material(workshop, name="Ribbon", kind="length", category="fixings")
    factories.make_pack(ribbon, name="25 yd", quantity=D("22.86"), price=D(5))
    make_receipt(workshop, (ribbon, "22.86", "5.00"), bought_on=TODAY)
    return ribbon


def test_pages_say_yards_and_inches(client: Client, workshop: Workshop, ribbon: Material) -> None:
    version = factories.make_recipe(workshop)
    factories.add_fixing(version, ribbon, amount=D("0.4572"))
    material = text_of(client.get(f"/w/marlow/materials/{ribbon.pk}/"))
    assert "25 yd" in material
    assert "€0.20" in material
    materials = text_of(client.get("/w/marlow/materials/"))
    assert "25 yd" in materials
    assert "€0.20 / yd" in materials
    edit = client.get(f"/w/marlow/materials/{ribbon.pk}/edit/")
    assert edit.context["formset"].forms[0]["quantity"].value() == "25 yd"
    price = text_of(client.get(f"/w/marlow/designs/{version.design_id}/cost/?quantity=60"))
    # 60 x 18 in = 30 yd, each 0.20: 6.00
    for words in ("60 × 18 in", "30 yd × €0.20", "one yd of Ribbon", ">30 yd<"):
        assert words in price, words
    assert " m of Ribbon" not in price
    recipe = text_of(client.get(f"/w/marlow/designs/{version.design_id}/v/1/recipe/"))
    assert "18 in" in recipe


def test_a_metric_workshop_still_sees_metres(
    client: Client, workshop: Workshop, ribbon: Material
) -> None:
    workshop.unit = "mm"
    workshop.save()
    materials = text_of(client.get("/w/marlow/materials/"))
    assert "22.86 m" in materials
    assert "€0.2187 / m" in materials
    assert " yd" not in materials


@pytest.mark.parametrize(
    ("unit", "typed", "left"),
    [
        ("in", "5", "18.288"),
        ("in", "18 in", "22.4028"),
        ("in", "1' 6\"", "22.4028"),
        ("mm", "5", "17.86"),
    ],
)
def test_a_bare_length_is_in_yards_where_inches_are_measured(
    client: Client, workshop: Workshop, ribbon: Material, unit: str, typed: str, left: str
) -> None:
    workshop.unit = unit
    workshop.save()
    sent = {"kind": "used", "amount": typed, "moved_on": TODAY.isoformat(), "reason": ""}
    page = client.get(f"/w/marlow/materials/{ribbon.pk}/stock/").context["form"]
    assert page.fields["amount"].unit == {"in": "yd", "mm": "m"}[unit]
    assert client.post(f"/w/marlow/materials/{ribbon.pk}/stock/", sent).status_code == 302
    ribbon.refresh_from_db()
    assert ribbon.on_hand == D(left)
