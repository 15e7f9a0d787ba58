"""Pages of the designs: list, quick start, one design, details, copy, put away and back."""

import copy
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from catalogue.designs.models import Design
from catalogue.recipes.inputs import recipe_document
from catalogue.recipes.models import DesignVersion
from catalogue.recipes.services import freeze_version, new_version
from catalogue.recipes.writing import write_recipe
from tests import factories
from tests.catalogue.page_forms import fields_of
from tests.catalogue.recipe_documents import FULL, MATERIALS


def place(name: str, *args: Any) -> str:
    return reverse(f"catalogue:{name}", args=["marlow", *args])


def text_of(response: Any) -> str:
    return " ".join(response.content.decode().split())


@pytest.fixture
def design(workshop: Any) -> Design:
    for name, fields in MATERIALS.items():
        factories.make_material(workshop, name=name, **fields)
    design = factories.make_design(
        workshop, name="Wren bag", code="WREN", caution="Not for under threes."
    )
    write_recipe(factories.make_version(design), copy.deepcopy(FULL))
    return design


def quick_start(sheet: Any, **more: str) -> dict[str, str]:
    typed = {
        "name": "Gift bag", "material": str(sheet.pk), "width": "8 1/2", "height": "140 mm",
        "form": "", "count": "1", "minutes": "9,5", "set_up": "",
    }  # fmt: skip
    return {**typed, **more}


def test_a_quick_start_makes_a_design_and_goes_to_its_price(client, workshop):
    material = factories.make_material(workshop)
    answer = client.post(place("design_new"), quick_start(material, set_up="15"))
    design = Design.objects.get()
    assert answer.status_code == 302
    assert answer.url == reverse("pricing:cost", args=["marlow", design.pk])
    document = recipe_document(DesignVersion.objects.with_recipe().get(design=design))
    piece = document["pieces"][0]
    assert (piece["width_mm"], piece["height_mm"]) == ("215.9", "140")
    assert [(one["basis"], one["minutes"]) for one in document["steps"]] == [
        ("job", "15"),
        ("made", "9.5"),
    ]


def test_the_only_material_is_chosen_already(client, workshop):
    material = factories.make_material(workshop)
    fields = fields_of(client.get(place("design_new")))
    assert fields["material"] == str(material.pk)
    # name, material, shape, two sides, count, two times; and the search of the header
    assert len(fields) - ("q" in fields) == 8
    assert (fields["form"], fields["count"]) == ("", "1")


def test_a_material_is_added_on_the_way_without_losing_what_was_typed(client, workshop):
    card = factories.make_material(workshop)
    page = text_of(client.get(place("design_new")))
    link = f"{place('material_new')}?kind=sheet&from=design"
    assert f'href="{link}" target="_blank"' in page.replace("&amp;", "&")
    entry = fields_of(client.get(link))
    assert entry["kind"] == "sheet"
    size = {"name": "Moss card", "width_mm": "210 mm", "height_mm": "297 mm"}
    added = client.post(link, entry | size, follow=True)
    assert "Go back to your design’s tab." in text_of(added)
    moss = workshop.materials.get(name="Moss card")
    # the page asks for the list again, and keeps what was chosen
    typed = quick_start(card)
    part = client.get(place("design_new"), typed | {"part": "material"}, HTTP_HX_REQUEST="true")
    assert f'<option value="{card.pk}" selected>' in text_of(part)
    assert f'<option value="{moss.pk}">' in text_of(part)
    assert "<form" not in text_of(part)
    # without a script a button does
    again = client.post(place("design_new"), typed | {"then": "shape"})
    assert f'<option value="{moss.pk}">' in text_of(again)
    assert fields_of(again)["name"] == "Gift bag"


def test_an_empty_workshop_is_told_what_comes_first(client, workshop):
    factories.make_material(workshop, kind="volume")
    page = text_of(client.get(place("design_new")))
    assert "Start with the card or paper" in page
    assert place("material_new") in page
    assert "No designs yet" in text_of(client.get(place("design_list")))


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("name", "", "Fill this in"),
        ("name", "x" * 10_000, "at most 120"),
        ("name", "WREN BAG", "already"),
        ("material", "", "Choose one."),
        ("material", "999999", "not one of the available choices"),
        ("width", "-1", "below zero"),
        ("width", "wide", "a length. Enter one"),
        ("height", "0", "above 0"),
        ("count", "0", "The least is 1"),
        ("count", "", "Fill this in"),
        ("form", "castle", "not one of the available choices"),
        ("width", "12 1/64", "does not fit on a sheet of"),
        ("minutes", "-5", "The least is 0"),
        ("minutes", "1000001", "The most is 100000"),
        ("set_up", "later", "a time. Enter one"),
    ],
)
def test_a_wrong_quick_start_is_kept_and_explained(client, design, field, typed, said):
    material = Design.objects.get().workshop.materials.filter(kind="sheet").first()
    answer = client.post(place("design_new"), quick_start(material, **{field: typed}))
    assert answer.status_code == 422
    assert said in text_of(answer)
    if field not in ("material", "form"):  # a list shows what is in it
        assert fields_of(answer)[field] == typed
    assert Design.objects.count() == 1


def test_another_workshops_material_is_no_choice(client, workshop, other_workshop):
    factories.make_material(workshop)
    theirs = factories.make_material(other_workshop)
    answer = client.post(place("design_new"), quick_start(theirs))
    assert answer.status_code == 422
    assert not Design.objects.exists()


def test_a_design_page_shows_recipe_drawing_and_cautions(client, design):
    page = text_of(client.get(place("design", design.pk)))
    for words in (
        "8 1/2 in × 5 1/2 in",
        "die-cut, with a border of 3 mm",
        "Not for under threes.",
        "Blade: cut body, press badges",
        "Hot glue: fold and glue",
        "Swallowed magnets injure.",
        "ask a licensed adviser",
        "<svg",
        "to scale",
        "per die pass of 4, Mirror card",
        "from 12 on",
        "95% of the time at double the quantity",
    ):
        assert words in page, words
    assert reverse("pricing:cost", args=["marlow", design.pk]) in page


def test_a_design_without_anything_in_it_says_what_to_do(client, workshop):
    design = factories.make_design(workshop)
    assert "No recipe yet" in text_of(client.get(place("design", design.pk)))
    factories.make_version(design)
    page = text_of(client.get(place("design", design.pk)))
    assert "Enter the recipe" in page


def test_details_are_changed_and_the_second_person_is_told(client, helper_client, design):
    mine = fields_of(client.get(place("design_edit", design.pk)))
    theirs = fields_of(helper_client.get(place("design_edit", design.pk)))
    helper_client.post(place("design_edit", design.pk), {**theirs, "code": "WREN-2"})
    answer = client.post(place("design_edit", design.pk), {**mine, "care_line": "Keep dry"})
    assert answer.status_code == 422
    page = text_of(answer)
    assert "Somebody else saved this" in page
    assert "WREN-2" in page
    again = fields_of(answer)
    assert again["care_line"] == "Keep dry"
    assert client.post(place("design_edit", design.pk), again).status_code == 302
    design.refresh_from_db()
    assert design.care_line == "Keep dry"


def test_a_name_that_is_taken_is_refused(client, design, workshop):
    factories.make_design(workshop, name="Robin box")
    fields = fields_of(client.get(place("design_edit", design.pk)))
    answer = client.post(place("design_edit", design.pk), {**fields, "name": "robin box"})
    assert answer.status_code == 422
    assert "already" in text_of(answer)


def test_a_copy_has_the_recipe_and_its_own_name(client, design):
    answer = client.post(place("design_copy", design.pk))
    made = Design.objects.get(name="Wren bag (copy)")
    assert answer.url == place("design_edit", made.pk)
    copied = DesignVersion.objects.with_recipe().get(design=made)
    assert recipe_document(copied) == {**FULL, "name": ""}


def test_putting_away_can_be_undone_and_leaves_the_list(client, design):
    answer = client.post(place("design_retire", design.pk), follow=True)
    page = text_of(answer)
    assert f'action="{place("design_restore", design.pk)}"' in page
    in_list = f'href="{place("design", design.pk)}"'
    assert in_list not in page
    assert place("design", design.pk) in text_of(
        client.get(place("design_list"), {"state": "away"})
    )
    client.post(place("design_restore", design.pk))
    assert in_list in text_of(client.get(place("design_list")))


def test_versions_are_listed_with_what_is_in_use(client, design):
    first = design.versions.get()
    freeze_version(first)
    new_version(version=first)
    page = text_of(client.get(place("design", design.pk)))
    assert f"locked {timezone.now():%-d %b %Y}" in page
    assert place("version_compare", design.pk) in page
    assert "version 2" in page


@pytest.mark.parametrize(
    "column", ["name", "code", "newest", "piece_count", "step_count", "cost", "x"]
)
def test_the_list_sorts_by_every_column_both_ways(client, design, column):
    for order in (column, f"-{column}"):
        assert client.get(place("design_list"), {"sort": order}).status_code == 200


def test_the_list_counts_rows_of_the_newest_version_and_filters(client, design, workshop):
    newest = new_version(version=design.versions.get())
    document = copy.deepcopy(FULL)
    del document["pieces"][0]
    write_recipe(newest, document)
    factories.make_design(workshop, name="Robin box")
    row = Design.objects.with_versions().get(pk=design.pk)
    assert (row.newest, row.piece_count, row.step_count) == (2, 3, 11)
    assert "Robin box" not in text_of(client.get(place("design_list"), {"search": "wren"}))


def test_more_designs_and_longer_recipes_cost_no_more_queries(
    client, design, workshop, count_queries
):
    with count_queries() as few:
        client.get(place("design_list"))
        client.get(place("design", design.pk))
    for _ in range(12):
        new_version(version=factories.make_recipe(workshop))
    document = copy.deepcopy(FULL)
    document["pieces"] += [{**FULL["pieces"][0], "name": f"piece {n}"} for n in range(30)]
    write_recipe(design.versions.get(), document)
    with count_queries() as many:
        client.get(place("design_list"))
        client.get(place("design", design.pk))
    assert len(many) == len(few)


@pytest.mark.parametrize(
    ("name", "methods"),
    [
        ("design_list", "get"),
        ("design_new", "get post"),
        ("design", "get"),
        ("design_edit", "get post"),
        ("design_copy", "post"),
        ("design_retire", "post"),
        ("design_restore", "post"),
    ],
)
def test_who_may_see_and_change(
    name, methods, design, anonymous_client, reader_client, stranger_client
):
    args = [] if name in ("design_list", "design_new") else [design.pk]
    for method in methods.split():
        assert getattr(anonymous_client, method)(place(name, *args)).status_code == 302
        assert getattr(stranger_client, method)(place(name, *args)).status_code == 404
    expected = 200 if name in ("design_list", "design") else 403
    method = methods.split()[-1]
    assert getattr(reader_client, method)(place(name, *args)).status_code == expected
    if expected == 200:
        page = text_of(reader_client.get(place(name, *args)))
        assert "Put away</button>" not in page
        assert "New design" not in page
        assert "New version" not in page


def test_another_workshops_design_is_not_found(client, other_workshop):
    theirs = factories.make_recipe(other_workshop).design
    for name in ("design", "design_edit"):
        assert client.get(place(name, theirs.pk)).status_code == 404
    for name in ("design_edit", "design_copy", "design_retire", "design_restore"):
        assert client.post(place(name, theirs.pk)).status_code == 404
    theirs.refresh_from_db()
    assert theirs.retired_on is None
