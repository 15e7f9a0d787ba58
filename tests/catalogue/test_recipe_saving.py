"""Saving a recipe: undo, two people, what was promised stays, versions and copies."""

import copy
from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse

from catalogue.calc.recipes import document as recipe_documents
from catalogue.calc.recipes.document import WrongRecipe
from catalogue.designs.models import Design
from catalogue.designs.services import (
    FirstPiece,
    FirstRecipe,
    NothingToCopy,
    copy_design,
    start_design,
)
from catalogue.recipes.inputs import recipe_document
from catalogue.recipes.models import DesignVersion, RecipeChange
from catalogue.recipes.services import (
    NothingChanged,
    NothingToUndo,
    RecipeChanged,
    RecipeMovedOn,
    VersionFrozen,
    freeze_version,
    new_version,
    save_recipe,
    undo_recipe,
)
from catalogue.recipes.writing import write_recipe
from maker.workshop.services import NameTaken
from tests import factories
from tests.at_once import at_once
from tests.catalogue.page_forms import fields_of
from tests.catalogue.recipe_documents import FULL, MATERIALS


@pytest.fixture
def version(workshop: Any) -> DesignVersion:
    for name, fields in MATERIALS.items():
        factories.make_material(workshop, name=name, **fields)
    version = factories.make_version(factories.make_design(workshop, name="Wren bag"))
    write_recipe(version, copy.deepcopy(FULL))
    return version


def document_of(version: DesignVersion) -> Any:
    return recipe_document(DesignVersion.objects.with_recipe().get(pk=version.pk))


def slower(minutes: str = "12") -> Any:
    document = copy.deepcopy(FULL)
    document["steps"][4]["minutes"] = minutes
    document["steps"][4]["minutes_high"] = "15"
    return document


def test_a_save_is_kept_and_can_be_undone_and_done_again(version, owner):
    saved = save_recipe(version=version, document=slower(), edit_number=0, by=owner)
    assert saved.edit_number == 1
    assert document_of(version) == slower()
    undone = undo_recipe(version=version, edit_number=0, by=owner)
    assert undone.edit_number == 2
    assert document_of(version) == FULL
    undo_recipe(version=version, edit_number=1, by=owner)
    assert document_of(version) == slower()
    assert RecipeChange.objects.filter(version=version).count() == 3


def test_only_the_last_save_is_undone(version, owner):
    with pytest.raises(NothingToUndo):
        undo_recipe(version=version, edit_number=0, by=owner)
    save_recipe(version=version, document=slower(), edit_number=0, by=owner)
    save_recipe(version=version, document=slower("13"), edit_number=1, by=owner)
    with pytest.raises(NothingToUndo):
        undo_recipe(version=version, edit_number=0, by=owner)
    assert document_of(version) == slower("13")


def test_undo_finds_a_material_that_was_renamed_meanwhile(version, owner, workshop):
    changed = copy.deepcopy(FULL)
    changed["roles"][0]["material"] = "Ember card"
    save_recipe(version=version, document=changed, edit_number=0, by=owner)
    workshop.materials.filter(name="Fern card").update(name="Bracken card")
    undo_recipe(version=version, edit_number=0, by=owner)
    assert document_of(version)["roles"][0] == {"name": "body", "material": "Bracken card"}


def test_the_second_of_two_people_is_told_who_changed_what(version, owner, helper_person):
    save_recipe(version=version, document=slower(), edit_number=0, by=helper_person)
    mine = copy.deepcopy(FULL)
    mine["reject_share"] = "0.08"
    with pytest.raises(RecipeChanged) as refused:
        save_recipe(version=version, document=mine, edit_number=0, by=owner)
    assert "helper@example.test" in refused.value.message
    assert refused.value.words == ["fold and glue: 5 → 12 min, at worst 7.25 min → 15 min"]
    assert refused.value.edit_number == 1
    assert document_of(version) == slower()


def test_the_same_save_sent_twice_changes_nothing_more(version, owner):
    save_recipe(version=version, document=slower(), edit_number=0, by=owner)
    with pytest.raises(NothingChanged):
        save_recipe(version=version, document=slower(), edit_number=0, by=owner)
    assert RecipeChange.objects.count() == 1


def test_a_wrong_recipe_leaves_everything_as_it_was(version, owner):
    wrong = slower("-3")
    with pytest.raises(WrongRecipe):
        save_recipe(version=version, document=wrong, edit_number=0, by=owner)
    version.refresh_from_db()
    assert (version.edit_number, RecipeChange.objects.count()) == (0, 0)
    assert document_of(version) == FULL


def test_nothing_is_promised_on_a_recipe_that_somebody_changed_meanwhile(version, owner):
    looked_at = DesignVersion.objects.get(pk=version.pk)
    changed = save_recipe(version=version, document=slower(), edit_number=0, by=owner)
    with pytest.raises(RecipeMovedOn, match="Somebody changed the recipe meanwhile"):
        freeze_version(looked_at)
    assert DesignVersion.objects.get(pk=version.pk).frozen_at is None
    freeze_version(changed)
    assert DesignVersion.objects.get(pk=version.pk).frozen_at is not None


def test_a_frozen_version_is_not_edited_and_the_remedy_is_a_new_one(version, owner):
    version = save_recipe(version=version, document=slower(), edit_number=0, by=owner)
    freeze_version(version)
    frozen_at = version.frozen_at
    with pytest.raises(VersionFrozen, match="Create a new version"):
        save_recipe(version=version, document=FULL, edit_number=1, by=owner)
    with pytest.raises(VersionFrozen):
        undo_recipe(version=version, edit_number=0, by=owner)
    freeze_version(version)
    assert version.frozen_at == frozen_at
    made = new_version(version=version)
    assert (made.number, made.frozen_at) == (2, None)
    assert document_of(made) == {**slower(), "name": ""}
    save_recipe(version=made, document=FULL, edit_number=0, by=owner)
    assert document_of(version) == slower()


def test_a_colourway_that_has_a_price_is_not_removed(version, owner, workshop):
    from pricing.prices.models import PriceListEntry

    PriceListEntry.objects.create(
        design=version.design,
        version=version,
        channel=factories.make_channel(workshop),
        colourway=version.colourways.get(name="ember"),
        price=1,
        cost_each=1,
        floor_each=1,
        target_each=1,
    )
    without = {**copy.deepcopy(FULL), "colourways": []}
    with pytest.raises(VersionFrozen, match="price was set"):
        save_recipe(version=version, document=without, edit_number=0, by=owner)
    assert document_of(version) == FULL


def test_a_copy_has_the_newest_recipe_and_a_free_name(version, workshop):
    newest = new_version(version=version)
    write_recipe(newest, slower())
    first, second = copy_design(design=version.design), copy_design(design=version.design)
    assert [first.name, second.name] == ["Wren bag (copy)", "Wren bag (copy 2)"]
    copied = first.versions.get()
    assert copied.number == 1
    assert document_of(copied) == {**slower(), "name": ""}


def test_the_longest_name_can_be_copied(workshop):
    version = factories.make_recipe(workshop)
    Design.objects.filter(pk=version.design_id).update(name="x" * 120)
    design = Design.objects.get(pk=version.design_id)
    assert len(copy_design(design=design).name) <= 120
    assert copy_design(design=design).name.endswith("(copy 2)")


def test_a_design_without_a_recipe_is_not_copied(workshop):
    with pytest.raises(NothingToCopy):
        copy_design(design=factories.make_design(workshop))
    assert Design.objects.count() == 1


def test_a_quick_start_makes_the_whole_design_or_nothing(workshop):
    material = factories.make_material(workshop, name="Fern card")
    piece = FirstPiece("body", Decimal(100), Decimal("50.5"), count=2)
    first = FirstRecipe(material, (piece,), Decimal(5), Decimal(2))
    version = start_design(workshop=workshop, name="Wren bag", first=first)
    document = document_of(version)
    assert document["roles"] == [{"name": "body", "material": "Fern card"}]
    assert (document["pieces"][0]["width_mm"], document["pieces"][0]["height_mm"]) == (
        "100",
        "50.5",
    )
    assert document["pieces"][0]["count"] == 2
    assert [(step["basis"], step["minutes"]) for step in document["steps"]] == [
        ("job", "2"),
        ("made", "5"),
    ]
    with pytest.raises(NameTaken):
        start_design(workshop=workshop, name="Wren bag", first=first)
    workshop.materials.all().update(name="Gone")
    with pytest.raises(WrongRecipe):
        start_design(workshop=workshop, name="Another", first=first)
    assert Design.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_new_versions_made_at_once_get_numbers_of_their_own():
    version = factories.make_recipe(factories.make_workshop())

    def make() -> int:
        mine = DesignVersion.objects.select_related("design__workshop").get(pk=version.pk)
        return new_version(version=mine).number

    assert sorted(at_once(*[make] * 4)) == [2, 3, 4, 5]


@pytest.fixture
def readings(monkeypatch) -> list[Any]:
    """Gather the documents that are read, wherever from."""
    read: list[Any] = []

    def counting(reading: Any, found: Any) -> None:
        read.append(found)
        check_together(reading, found)

    check_together = recipe_documents._check_together
    monkeypatch.setattr(recipe_documents, "_check_together", counting)
    return read


def test_a_save_reads_the_recipe_once(version, owner, readings):
    save_recipe(version=version, document=slower(), edit_number=0, by=owner)
    assert readings == [slower()]
    undo_recipe(version=version, edit_number=0, by=owner)
    assert readings == [slower(), FULL]


@pytest.mark.parametrize("is_frozen", [False, True])
def test_the_page_of_sizes_reads_what_it_saves_once(client, version, readings, is_frozen):
    if is_frozen:
        freeze_version(version)
    page = reverse(
        "catalogue:version_size", args=[version.design.workshop.slug, version.design_id, 1]
    )
    sent = fields_of(client.get(page)) | {"W-3": "8", "then": "save"}
    readings.clear()
    assert client.post(page, sent).status_code == 302
    wider = [one for one in readings if one["pieces"][3]["form_inputs"]["W"] == "203.2"]
    assert len(wider) == 1
    assert len(readings) == (2 if is_frozen else 1)  # a new version starts as a copy
