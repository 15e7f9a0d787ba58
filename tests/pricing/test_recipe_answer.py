"""The editor's picture and price of what is typed: as if it were saved, and nothing is."""

import copy
from dataclasses import replace
from typing import Any

import pytest
from django.urls import reverse

from catalogue.calc.recipes.document import read_document
from catalogue.recipes.inputs import recipe_document, recipe_values
from catalogue.recipes.item_picture import item_of
from catalogue.recipes.models import DesignVersion
from catalogue.recipes.unsaved import version_saying
from catalogue.recipes.writing import write_recipe
from tests import factories
from tests.catalogue.page_forms import fields_of
from tests.catalogue.recipe_documents import FULL, MATERIALS


@pytest.fixture
def version(workshop: Any) -> DesignVersion:
    for name, fields in MATERIALS.items():
        factories.make_pack(factories.make_material(workshop, name=name, **fields))
    return factories.make_version(factories.make_design(workshop, name="Wren bag"))


def loaded(version: DesignVersion) -> DesignVersion:
    return DesignVersion.objects.with_recipe().get(pk=version.pk)


def without_keys(recipe: Any) -> Any:
    """Return a recipe whose rows have no key of the database."""
    kinds = ("pieces", "fixings", "steps", "wears", "packings")
    rows = {kind: tuple(replace(row, id=None) for row in getattr(recipe, kind)) for kind in kinds}
    return replace(recipe, **rows)


def address(version: DesignVersion, name: str = "pricing:recipe_answer") -> str:
    slug = version.design.workshop.slug
    return reverse(name, args=[slug, version.design_id, version.number])


def test_an_unsaved_version_is_worth_what_the_saved_one_is(
    workshop, version, django_assert_num_queries
):
    empty = loaded(version)
    unsaved = version_saying(empty, read_document(copy.deepcopy(FULL), workshop.unit))
    assert not DesignVersion.objects.get(pk=version.pk).pieces.exists()
    assert not empty.pieces.all()
    write_recipe(version, copy.deepcopy(FULL))
    saved = loaded(version)
    with django_assert_num_queries(0):
        assert recipe_document(unsaved) == recipe_document(saved) == FULL
        for at in range(-1, len(FULL["colourways"])):
            ways = [list(one.colourways.all())[at] if at >= 0 else None for one in (unsaved, saved)]
            assert without_keys(
                recipe_values(unsaved, workshop, colourway=ways[0])
            ) == without_keys(recipe_values(saved, workshop, colourway=ways[1]))
        assert item_of(unsaved) == item_of(saved)


def test_the_price_is_of_what_is_typed_and_nothing_is_saved(client, workshop, version):
    factories.make_channel(workshop, name="Fair")
    write_recipe(version, copy.deepcopy(FULL))
    page = client.get(address(version, "catalogue:recipe"))
    fields = fields_of(page)
    first = client.post(address(version), fields)
    assert "Lowest price" in first.content.decode()
    assert "<svg" in first.content.decode()
    typed = {**fields, "steps-1-minutes": "90"}
    asked = client.post(address(version), typed)
    assert recipe_document(loaded(version)) == FULL
    client.post(address(version, "catalogue:recipe"), typed)
    assert recipe_document(loaded(version))["steps"][1]["minutes"] == "90"
    page = client.get(address(version, "catalogue:recipe"))
    saved = client.post(address(version), fields_of(page))
    said = [[one.value_text for one in each.context["figures"]] for each in (first, asked, saved)]
    assert said[0] != said[1]
    assert said[1] == said[2]


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ({"steps-0-minutes": "many"}, "An entry is missing or has to be put right."),
        ({"roles-0-material": "no such card"}, "No material of this workshop is called"),
        ({"roles-TOTAL_FORMS": "x"}, "An entry is missing or has to be put right."),
    ],
)
def test_what_cannot_be_read_keeps_the_picture_and_says_why(client, version, typed, why):
    write_recipe(version, copy.deepcopy(FULL))
    fields = fields_of(client.get(address(version, "catalogue:recipe")))
    answer = client.post(address(version), {**fields, **typed})
    assert answer.status_code == 200
    assert why in answer.content.decode()
    assert "<svg" in answer.content.decode()


def test_an_unknown_version_is_not_found(client, workshop, version):
    where = reverse("pricing:recipe_answer", args=[workshop.slug, version.design_id, 99])
    assert client.post(where).status_code == 404
