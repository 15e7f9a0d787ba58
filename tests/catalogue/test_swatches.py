"""A material is seen before its name wherever materials are listed, and that costs no query."""

from decimal import Decimal

import pytest
from django.test import Client

from catalogue.materials.models import Material
from catalogue.materials.swatches import swatch
from catalogue.purchases.models import Purchase
from catalogue.recipes.models import DesignVersion
from maker.files.models import StoredPicture
from maker.workshop.models import Workshop
from tests import factories

COLOUR = "#7a1f4d"


@pytest.fixture
def card(workshop: Workshop) -> Material:
    card = factories.make_material(workshop, name="Plum card", colour=COLOUR)
    factories.make_pack(card)
    return card


def test_every_list_of_materials_shows_their_look(
    client: Client, workshop: Workshop, card: Material
) -> None:
    version = factories.make_recipe(workshop, card)
    factories.make_channel(workshop)
    receipt = Purchase.objects.create(
        workshop=workshop,
        supplier=factories.make_supplier(workshop),
        bought_on=factories.today(),
    )
    receipt.lines.create(material=card, quantity=Decimal(3), amount=Decimal(2), position=0)
    DesignVersion.objects.update(frozen_at="2026-01-01T00:00Z")
    design = f"designs/{version.design_id}"
    for place in (
        "materials/",
        "stock/count/",
        f"receipts/{receipt.pk}/",
        f"{design}/v/1/recipe/",
        f"{design}/cost/",
    ):
        page = client.get(f"/w/marlow/{place}")
        assert page.status_code == 200, place
        text = page.content.decode()
        squares = text.split('class="swatch"')[1:]
        assert any(COLOUR in square.partition("</svg>")[0] for square in squares), place


def test_rows_of_the_recipe_editor_show_what_they_are_made_of(
    client: Client, workshop: Workshop, card: Material
) -> None:
    version = factories.make_recipe(workshop, card)
    page = client.get(f"/w/marlow/designs/{version.design_id}/v/1/recipe/").content.decode()
    for of in ("material", "role"):
        part = page.partition(f'data-swatch-of="{of}">')[2].partition("</span>")[0]
        assert COLOUR in part, of
        assert part.endswith(card.name if of == "material" else f"({card.name})"), part
    kept = page.partition("<template data-swatches>")[2].partition("</template>")[0]
    assert f'data-material="{card.name}"' in kept


def test_a_photo_that_was_not_loaded_is_not_asked_for(
    workshop: Workshop, card: Material, django_assert_num_queries
) -> None:
    picture = StoredPicture.objects.create(
        workshop=workshop, digest="a" * 64, width=10, height=10, size=10
    )
    card.picture = picture
    card.save()
    row = Material.objects.get(pk=card.pk)
    with django_assert_num_queries(0):
        assert COLOUR in swatch(row, workshop)
    loaded = Material.objects.select_related("picture").get(pk=card.pk)
    assert "<image" in swatch(loaded, workshop)


def test_one_page_may_show_a_material_twice(workshop: Workshop, card: Material) -> None:
    assert " id=" not in swatch(card, workshop)


def test_what_is_no_material_has_none(workshop: Workshop) -> None:
    assert swatch(None, workshop) == ""
