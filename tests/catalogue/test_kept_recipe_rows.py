"""Rows of recipes kept between pages: as they were last written, whatever a page does with them."""

import copy
from typing import Any
from uuid import UUID

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from catalogue.materials.models import Material
from catalogue.recipes import kept_rows
from catalogue.recipes.inputs import recipe_document
from catalogue.recipes.kept_rows import KeptRows
from catalogue.recipes.models import DesignVersion, Piece
from catalogue.recipes.writing import write_recipe
from tests import factories
from tests.catalogue.recipe_documents import FULL, MATERIALS

TABLES = ("piece", "fixing", "step", "wear", "packing", "role", "option", "colourway")


@pytest.fixture(autouse=True)
def kept(monkeypatch: pytest.MonkeyPatch) -> KeptRows:
    fresh = KeptRows(3)
    monkeypatch.setattr(kept_rows, "_KEPT", fresh)
    return fresh


def make_bag(workshop: Any, name: str) -> DesignVersion:
    version = factories.make_version(factories.make_design(workshop, name=name))
    write_recipe(version, copy.deepcopy(FULL))
    return version


@pytest.fixture
def version(workshop: Any) -> DesignVersion:
    for name, fields in MATERIALS.items():
        factories.make_material(workshop, name=name, **fields)
    return make_bag(workshop, "Wren bag")


def loaded(version: DesignVersion) -> DesignVersion:
    return DesignVersion.objects.with_recipe().get(pk=version.pk)


def slower() -> Any:
    document = copy.deepcopy(FULL)
    document["steps"][4] |= {"minutes": "12", "minutes_high": "15"}
    return document


def reads_of_rows(version: DesignVersion) -> int:
    with CaptureQueriesContext(connection) as queries:
        loaded(version)
    names = [f'FROM "catalogue_{table}"' for table in TABLES]
    return sum(any(name in query["sql"] for name in names) for query in queries)


@pytest.mark.django_db
def test_rows_are_read_once_and_say_the_same_again(version: DesignVersion) -> None:
    assert reads_of_rows(version) == len(TABLES)
    assert reads_of_rows(version) == 0
    again = loaded(version)
    assert recipe_document(again) == recipe_document(version)
    with CaptureQueriesContext(connection) as queries:
        for piece in again.pieces.all():
            assert piece.version is again
        ways = again.colourways.all()
        assert [one.material.name for way in ways for one in way.materials.all()]
    assert not queries.captured_queries
    # a manager that is asked for some of them asks the database, for this version alone
    other = make_bag(version.design.workshop, "Linnet bag")
    assert again.pieces.filter(position=0).get().version_id == version.pk != other.pk


@pytest.mark.django_db
def test_what_is_written_is_read(version: DesignVersion) -> None:
    before = recipe_document(loaded(version))
    write_recipe(version, slower())
    assert recipe_document(loaded(version))["steps"][4]["minutes"] == "12" != before


@pytest.mark.django_db
def test_what_was_taken_back_is_not_read(version: DesignVersion) -> None:
    before = recipe_document(loaded(version))
    with transaction.atomic():
        write_recipe(version, slower())
        assert recipe_document(loaded(version)) != before
        transaction.set_rollback(True)
    assert recipe_document(loaded(version)) == before


@pytest.mark.django_db
def test_a_writing_between_two_reads_is_not_kept_under_the_stamp_before(
    version: DesignVersion,
) -> None:
    opened = DesignVersion.objects.select_related("design__workshop").get(pk=version.pk)
    old = opened.recipe_stamp
    write_recipe(version, slower())
    kept_rows.load_rows([opened], kept_rows.OF_VERSION, Material.objects.with_costs())
    assert not kept_rows._KEPT.find((opened.pk, old))


@pytest.mark.django_db
def test_a_page_changes_no_kept_row(version: DesignVersion) -> None:
    loaded(version)
    changed = loaded(version)
    for piece in changed.pieces.all():
        piece.name = "changed"
        piece.form_inputs["width"] = "1"
    assert recipe_document(loaded(version)) == recipe_document(version)


@pytest.mark.django_db
def test_what_materials_cost_is_read_each_time(version: DesignVersion) -> None:
    loaded(version)
    Material.objects.update(average_cost="7.77")
    again = loaded(version)
    held = [*again.roles.all(), *(m for way in again.colourways.all() for m in way.materials.all())]
    assert {str(one.material.average_cost.normalize()) for one in held} == {"7.77"}


@pytest.mark.django_db
def test_a_version_nobody_stamped_is_read_each_time(version: DesignVersion) -> None:
    DesignVersion.objects.update(recipe_stamp=None)
    assert reads_of_rows(version) == len(TABLES)
    Piece.objects.update(name="Front")
    assert {piece.name for piece in loaded(version).pieces.all()} == {"Front"}


@pytest.mark.django_db
def test_a_picture_and_a_price_share_what_is_kept(version: DesignVersion) -> None:
    seen = DesignVersion.objects.with_what_is_seen().get(pk=version.pk)
    assert "steps" not in seen._prefetched_objects_cache  # type: ignore[attr-defined]
    assert recipe_document(loaded(version)) == recipe_document(version)
    assert reads_of_rows(version) == 0


@pytest.mark.django_db
def test_many_versions_are_read_in_as_many_queries_as_one(version: DesignVersion) -> None:
    workshop = version.design.workshop
    for name in ("Linnet bag", "Siskin bag", "Serin bag", "Finch bag"):
        make_bag(workshop, name)
    with CaptureQueriesContext(connection) as queries:
        every = list(DesignVersion.objects.with_recipe().order_by("pk"))
    # the versions, their stamps again, ten kinds of rows, materials and their packs
    assert len(queries) == 14
    assert [recipe_document(one) for one in every] == [recipe_document(version)] * 5
    by_iterator = DesignVersion.objects.with_recipe().order_by("pk").iterator(chunk_size=2)
    assert [recipe_document(one) for one in by_iterator] == [recipe_document(version)] * 5


def test_the_longest_unused_is_let_go() -> None:
    kept = KeptRows(2)
    one, two, three = ((at, UUID(int=at)) for at in (1, 2, 3))
    kept.keep(one, {"pieces": ((1,),)})
    kept.keep(two, {"pieces": ((2,),)})
    assert kept.find(one)
    kept.keep(three, {"pieces": ((3,),)})
    assert not kept.find(two)
    assert kept.find(one)
