"""The recipe editor, used as a browser without JavaScript uses it."""

import copy
import re
from typing import Any

import pytest
from django.urls import reverse
from hypothesis import HealthCheck, Phase, given, settings

from catalogue.recipes.inputs import recipe_document
from catalogue.recipes.models import DesignVersion, RecipeChange
from catalogue.recipes.writing import write_recipe
from tests import factories
from tests.catalogue.page_forms import fields_of
from tests.catalogue.recipe_documents import FULL, MATERIALS, documents
from tests.thorough import tries


@pytest.fixture
def version(workshop: Any) -> DesignVersion:
    for name, fields in MATERIALS.items():
        factories.make_material(workshop, name=name, **fields)
    version = factories.make_version(factories.make_design(workshop, name="Wren bag"))
    write_recipe(version, copy.deepcopy(FULL))
    return version


@pytest.fixture
def empty(workshop: Any) -> DesignVersion:
    for name, fields in MATERIALS.items():
        factories.make_material(workshop, name=name, **fields)
    return factories.make_version(factories.make_design(workshop, name="Wren bag"))


def address(version: DesignVersion, name: str = "recipe", **more: int) -> str:
    workshop = version.design.workshop.slug
    numbers = {"design": version.design_id, "number": version.number, **more}
    return reverse(f"catalogue:{name}", kwargs={"workshop": workshop, **numbers})


def document_of(version: DesignVersion) -> Any:
    return recipe_document(DesignVersion.objects.with_recipe().get(pk=version.pk))


def text_of(response: Any) -> str:
    return " ".join(response.content.decode().split())


def problems_of(response: Any) -> list[str]:
    """Return the lines of the error summary."""
    page = text_of(response)
    if "There is a problem" not in page:
        return []
    return re.findall(r"<li><a href=\"#id_[^>]*>(.*?)</a></li>", page)


def test_a_recipe_with_every_entry_is_sent_back_unchanged(client, version):
    page = client.get(address(version))
    answer = client.post(address(version), fields_of(page), follow=True)
    assert "Nothing was changed" in text_of(answer)
    assert document_of(version) == FULL
    assert not RecipeChange.objects.exists()


# no shrinking: a page takes a moment, and a smaller recipe would not explain more
@settings(
    max_examples=tries(4, thorough=100),
    phases=[Phase.generate],
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(document=documents())
@pytest.mark.parametrize("unit", ["in", "mm"])
def test_any_recipe_is_sent_back_unchanged(client, empty, unit, document):
    workshop = empty.design.workshop
    workshop.unit = unit
    workshop.save()
    write_recipe(empty, copy.deepcopy(document))
    page = client.get(address(empty))
    answer = client.post(address(empty), fields_of(page), follow=True)
    assert document_of(empty) == document
    assert not problems_of(answer)
    assert "Nothing was changed" in text_of(answer)


def test_every_entry_can_be_typed_into_an_empty_recipe(client, version):
    """What the editor shows of a full recipe, typed into another one, makes the same recipe."""
    fields = fields_of(client.get(address(version)))
    other = factories.make_version(factories.make_design(version.design.workshop))
    fields = {
        name: value
        for name, value in fields.items()
        if not name.endswith(("-was", "-key", "-option_key"))
    }
    answer = client.post(address(other), {**fields, "edit_number": "0"})
    assert answer.status_code == 302
    typed = document_of(other)
    # keys of new options are made from their names
    assert [option["key"] for option in typed["options"]] == ["closure", "names"]
    words = {"names=each": "names=a-name-each"}
    expected = copy.deepcopy(FULL)
    expected["options"][1]["choices"][1]["key"] = "a-name-each"
    for kind in ("pieces", "fixings", "steps", "wears", "packings"):
        for row in expected[kind]:
            when = row["when"]
            for key in ("only_with", "not_with"):
                if key in when:
                    when[key] = words.get(when[key], when[key])
    assert typed == expected


def simple(**more: str) -> dict[str, str]:
    """Return a post with a material, a piece and a step typed into an empty editor."""
    counts = {
        f"{key}-{name}": value
        for key in (
            "roles", "pieces", "fixings", "steps", "wears", "packings", "choices", "swaps",
        )
        for name, value in (("TOTAL_FORMS", "4"), ("INITIAL_FORMS", "0"))
    }  # fmt: skip
    head = {
        "recipe-rejects_from": "1",
        "recipe-learning": "none",
        "recipe-learning_rate": "100",
        "recipe-learning_reference": "1",
    }
    typed = {
        "edit_number": "0",
        "roles-0-name": "body",
        "roles-0-material": "fern card",
        "pieces-0-name": "bag",
        "pieces-0-role": "body",
        "pieces-0-width_mm": "7 1/2",
        "pieces-0-height_mm": "190 mm",
        "pieces-0-count": "1",
        "pieces-0-shape": "rectangle",
        "pieces-0-layers": "1",
        "pieces-0-turning": "material",
        "steps-0-name": "fold",
        "steps-0-minutes": "2,5",
        "steps-0-basis": "made",
        "steps-0-per": "1",
        "steps-0-times": "1",
    }
    return {**counts, **head, **typed, **more}


def test_units_are_understood_as_typed_and_materials_however_capitalised(client, empty):
    assert client.post(address(empty), simple()).status_code == 302
    document = document_of(empty)
    piece = document["pieces"][0]
    assert (piece["width_mm"], piece["height_mm"]) == ("190.5", "190")
    assert document["roles"] == [{"name": "body", "material": "Fern card"}]
    assert document["steps"][0]["minutes"] == "2.5"


def test_amounts_are_understood_in_the_units_of_their_material(client, empty):
    factories.make_material(empty.design.workshop, name="Twine", kind="length")
    more = {
        "roles-1-name": "twine",
        "roles-1-material": "Twine",
        "roles-2-name": "glue",
        "roles-2-material": "Wet glue",
        "fixings-0-role": "twine",
        "fixings-0-amount": "35 cm",
        "fixings-0-basis": "made",
        "fixings-0-measure": "amount",
        "fixings-1-role": "glue",
        "fixings-1-amount": "10",
        "fixings-1-basis": "made",
        "fixings-1-measure": "bead",
        "fixings-1-rate": "3.1",
        "fixings-2-role": "glue",
        "fixings-2-amount": "8 x 5",
        "fixings-2-basis": "made",
        "fixings-2-measure": "area",
        "fixings-2-rate": "100",
    }
    assert client.post(address(empty), simple(**more)).status_code == 302
    # by hand: 35 cm = 0.35 m; 10 in = 254 mm; 8 in x 5 in = 203.2 x 127 = 25,806.4 mm2
    assert [row["amount"] for row in document_of(empty)["fixings"]] == ["0.35", "254", "25806.4"]
    assert [row["name"] for row in document_of(empty)["fixings"]] == ["twine", "glue", "glue"]


def test_an_amount_in_a_unit_that_does_not_fit_is_explained(client, empty):
    more = {
        "roles-1-name": "glue",
        "roles-1-material": "Wet glue",
        "fixings-0-role": "glue",
        "fixings-0-amount": "35 cm",
        "fixings-0-basis": "made",
        "fixings-0-measure": "amount",
    }
    answer = client.post(address(empty), simple(**more))
    assert answer.status_code == 422
    assert "counted by volume" in text_of(answer)
    assert 'value="35 cm"' in text_of(answer)


def test_options_and_colourways_typed_in_the_same_post_can_be_used_in_it(client, empty):
    more = {
        "choices-0-option": "Closure",
        "choices-0-name": "dot",
        "choices-0-is_default": "on",
        "choices-1-name": "magnet",
        "choices-1-caution": "Keep from small children.",
        "steps-0-only_with": "Closure: magnet",
        "swaps-0-name": "ember",
        "swaps-0-role": "body",
        "swaps-0-material": "ember card",
        "swaps-1-name": "moss",
    }
    assert client.post(address(empty), simple(**more)).status_code == 302
    document = document_of(empty)
    assert [choice["key"] for choice in document["options"][0]["choices"]] == ["dot", "magnet"]
    assert document["steps"][0]["when"] == {"only_with": "closure=magnet"}
    assert document["colourways"] == [
        {"name": "ember", "materials": {"body": "Ember card"}},
        {"name": "moss", "materials": {}},
    ]


def test_renaming_keeps_what_refers_to_it_and_the_keys(client, version):
    fields = fields_of(client.get(address(version)))
    fields["roles-0-name"] = "outside"
    fields["choices-0-option"] = fields["choices-1-option"] = "Fastening"
    fields["choices-0-name"] = "sticky dot"
    assert client.post(address(version), fields).status_code == 302
    document = document_of(version)
    assert document["pieces"][0]["role"] == "outside"
    assert document["colourways"][1]["materials"] == {"outside": "Ember card"}
    assert [(one["key"], one["name"]) for one in document["options"]] == [
        ("closure", "Fastening"),
        ("names", "Names"),
    ]
    assert document["options"][0]["choices"][0] == {
        "key": "dot",
        "name": "sticky dot",
        "is_default": True,
        "caution": "",
    }
    assert document["fixings"][0]["when"] == {"only_with": "closure=dot"}


def test_rows_are_put_in_order_by_their_place_and_removed_by_a_tick(client, version):
    fields = fields_of(client.get(address(version)))
    fields |= {"pieces-0-ORDER": "9", "pieces-2-DELETE": "on"}
    assert client.post(address(version), fields).status_code == 302
    assert [row["name"] for row in document_of(version)["pieces"]] == [
        "badge",
        "large body",
        "bag",
    ]


def test_a_row_that_was_emptied_is_gone(client, empty):
    client.post(address(empty), simple())
    fields = fields_of(client.get(address(empty)))
    fields |= {"steps-0-name": "", "steps-0-minutes": ""}
    assert client.post(address(empty), fields).status_code == 302
    assert document_of(empty)["steps"] == []


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("pieces-0-width_mm", "-3", "below zero"),
        ("pieces-0-width_mm", "0", "above 0"),
        ("pieces-0-width_mm", "7 1/2 parsecs", "a length. Enter one"),
        ("pieces-0-width_mm", "99999999", "longer than 100 m"),
        ("pieces-0-name", "x" * 10_000, "at most 120"),
        ("pieces-0-count", "1.5", "a whole number. Enter one"),
        ("pieces-0-count", "99999", "The most is 10000"),
        ("pieces-0-count", "999999999999", "The most is 10000"),
        ("pieces-0-role", "lid", "No material has the role “lid”"),
        ("pieces-0-from_quantity", "0", "The least is 1"),
        ("roles-0-material", "Fern crad", "No material of this workshop is called “Fern crad”"),
        ("roles-0-name", "y" * 10_000, "at most 80"),
        ("steps-0-minutes", "", "Enter the minutes"),
        ("steps-0-minutes", "-1", "The least is 0"),
        ("steps-0-minutes", "soon", "a time. Enter one"),
        ("steps-0-minutes", "1e9", "a number we can read"),
        ("steps-0-minutes_low", "3", "Enter at most 2.5 min"),
        ("steps-0-role", "body", "has a material"),
        ("steps-0-only_with", "Closure: bow", "No option has the choice"),
        ("choices-0-name", "lonely", "Enter the option"),
        ("swaps-0-role", "body", "Enter the colourway"),
        ("recipe-reject_share", "100", "The most is 99"),
        ("recipe-learning_rate", "40", "The least is 50"),
    ],
)
def test_bad_input_is_kept_and_explained_and_nothing_is_saved(client, empty, field, typed, said):
    answer = client.post(address(empty), simple(**{field: typed}))
    assert answer.status_code == 422
    page = text_of(answer)
    assert "There is a problem" in page
    assert said in page
    assert fields_of(answer)[field] == typed
    assert fields_of(answer)["pieces-0-height_mm"] == "190 mm"
    assert document_of(empty)["pieces"] == []


def test_a_shape_that_is_not_offered_is_refused(client, empty):
    answer = client.post(address(empty), simple(**{"pieces-0-shape": "hexagon"}))
    assert answer.status_code == 422
    assert "hexagon is not one of the available choices" in text_of(answer)


def test_an_error_summary_names_section_row_and_entry(client, empty):
    answer = client.post(address(empty), simple(**{"pieces-0-width_mm": "0"}))
    assert "Pieces, row 1, Width: Enter a length above 0." in text_of(answer)
    assert 'href="#id_pieces-0-width_mm"' in text_of(answer)


@pytest.mark.parametrize("count", ["101", "100000", "99999999999", "many", ""])
def test_a_huge_or_broken_number_of_rows_is_refused_clearly(client, empty, count):
    answer = client.post(address(empty), simple(**{"pieces-TOTAL_FORMS": count}))
    assert answer.status_code == 422
    page = text_of(answer)
    assert "rows fit" in page or "so nothing was saved" in page
    assert len(answer.content) < 1_500_000


def test_more_than_a_hundred_rows_are_refused_with_words(client, empty):
    rows = {}
    for number in range(101):
        rows |= {
            f"steps-{number}-{name}": value
            for name, value in {
                "name": f"step {number}",
                "minutes": "1",
                "basis": "made",
                "per": "1",
                "times": "1",
            }.items()
        }
    answer = client.post(address(empty), simple(**rows, **{"steps-TOTAL_FORMS": "101"}))
    assert answer.status_code == 422
    assert "No more than 100 rows fit" in text_of(answer)


def test_saving_offers_undo_and_undo_brings_the_old_one_back(client, version):
    fields = fields_of(client.get(address(version)))
    fields["steps-4-minutes"] = "6"
    saved = client.post(address(version), fields, follow=True)
    undo = address(version, "recipe_undo", edit_number=0)
    assert f'action="{undo}"' in text_of(saved)
    answer = client.post(undo, follow=True)
    assert "undone" in text_of(answer)
    assert document_of(version) == FULL
    again = client.post(undo, follow=True)
    assert "the last save, so it can" in text_of(again)


def test_the_second_of_two_people_is_told_and_keeps_what_she_typed(client, helper_client, version):
    mine = fields_of(client.get(address(version)))
    theirs = fields_of(helper_client.get(address(version)))
    theirs["steps-4-minutes"] = "6"
    helper_client.post(address(version), theirs)
    mine["pieces-0-name"] = "big bag"
    answer = client.post(address(version), mine)
    assert answer.status_code == 409
    page = text_of(answer)
    assert "helper@example.test saved this recipe while you were typing" in page
    assert "fold and glue: 5 → 6 min" in page
    sent_again = fields_of(answer)
    assert sent_again["pieces-0-name"] == "big bag"
    assert document_of(version)["steps"][4]["minutes"] == "6"
    assert client.post(address(version), sent_again).status_code == 302
    assert document_of(version)["pieces"][0]["name"] == "big bag"


def test_a_double_post_saves_once(client, version):
    fields = fields_of(client.get(address(version)))
    fields["steps-4-minutes"] = "6"
    first = client.post(address(version), fields)
    second = client.post(address(version), fields, follow=True)
    assert first.status_code == 302
    assert "Nothing was changed" in text_of(second)
    assert RecipeChange.objects.count() == 1


@pytest.mark.parametrize("name", ["recipe", "recipe_paste", "recipe_undo"])
def test_who_may_see_and_change(name, version, anonymous_client, reader_client, stranger_client):
    place = address(version, name, **({"edit_number": 0} if name == "recipe_undo" else {}))
    for method in ("get", "post") if name == "recipe" else ("post",):
        assert getattr(anonymous_client, method)(place).status_code == 302
        assert getattr(stranger_client, method)(place).status_code == 404
    assert reader_client.post(place).status_code == 403
    if name == "recipe":
        page = text_of(reader_client.get(place))
        assert "fold and glue" in page
        assert "data-recipe" not in page


def test_another_designs_version_in_the_address_is_not_found(client, version, other_workshop):
    theirs = factories.make_recipe(other_workshop)
    place = reverse("catalogue:recipe", args=["marlow", theirs.design_id, 1])
    assert client.get(place).status_code == 404
    assert client.post(place, simple()).status_code == 404
    new = reverse("catalogue:version_new", args=["marlow", theirs.design_id])
    assert client.post(new).status_code == 404
    compare = reverse("catalogue:version_compare", args=["marlow", theirs.design_id])
    assert client.get(compare).status_code == 404
    assert (
        client.get(reverse("catalogue:recipe", args=["marlow", version.design_id, 9])).status_code
        == 404
    )


def test_more_rows_and_materials_cost_no_more_queries(client, version, count_queries):
    with count_queries() as few:
        client.get(address(version))
    document = copy.deepcopy(FULL)
    for number in range(40):
        name = f"Card {number}"
        factories.make_pack(factories.make_material(version.design.workshop, name=name))
        document["roles"].append({"name": name, "material": name})
        document["pieces"].append({**FULL["pieces"][0], "name": name, "role": name})
        document["steps"].append({**FULL["steps"][0], "name": name})
        document["colourways"].append({"name": name, "materials": {"body": name}})
    write_recipe(version, document)
    with count_queries() as many:
        page = client.get(address(version))
    assert page.status_code == 200
    assert len(many) == len(few)


def test_the_largest_numbers_a_recipe_takes_can_be_sent_back(client, version):
    document = copy.deepcopy(FULL)
    largest = "999999999"
    document["fixings"][0]["amount"] = document["fixings"][1]["rate"] = largest
    document["wears"][0] |= {"price": largest, "life": largest}
    document["packings"][0]["cost_each"] = largest
    document["steps"][0]["minutes"] = document["pieces"][0]["width_mm"] = "100000"
    document["pieces"][0]["count"] = 10_000
    document["steps"][1]["per"] = document["rejects_from"] = 1_000_000
    write_recipe(version, copy.deepcopy(document))
    answer = client.post(address(version), fields_of(client.get(address(version))), follow=True)
    assert not problems_of(answer)
    assert document_of(version) == document


def test_steps_in_an_odd_order_are_asked_about(client, workshop):
    version = factories.make_recipe(workshop)
    address = reverse("catalogue:recipe", args=[workshop.slug, version.design_id, version.number])
    assert "Is it done before?" not in client.get(address).content.decode()
    version.steps.update(position=2)
    version.steps.create(name="check", basis="good", position=1)
    page = client.get(address).content.decode()
    assert "“fold and glue” comes after “check”. Is it done before?" in page


def test_a_row_takes_a_material_the_recipe_does_not_use_yet(client, version):
    fields = fields_of(client.get(address(version)))
    number = fields["fixings-TOTAL_FORMS"]
    name = "Waxed cord"
    factories.make_material(version.design.workshop, name=name, kind="length")
    row = {f"fixings-{number}-{key}": "" for key in ("name", "role", "rate", "waste_share")}
    row |= {
        "fixings-TOTAL_FORMS": str(int(number) + 1),
        f"fixings-{number}-other": name.upper(),
        f"fixings-{number}-amount": "70 cm",
        f"fixings-{number}-basis": "made",
        f"fixings-{number}-measure": "amount",
    }
    client.post(address(version), fields | row, follow=True)
    document = document_of(version)
    assert document["roles"] == [*FULL["roles"], {"name": name, "material": name}]
    assert document["fixings"][-1]["role"] == name


def test_a_material_the_recipe_uses_gets_no_second_role(client, version):
    fields = fields_of(client.get(address(version)))
    role = FULL["roles"][0]
    fields |= {"pieces-0-role": "", "pieces-0-other": f" {role['material']} "}
    client.post(address(version), fields, follow=True)
    document = document_of(version)
    assert document["roles"] == FULL["roles"]
    assert document["pieces"][0]["role"] == role["name"]


def test_a_material_nobody_has_is_told_and_stays_typed(client, version):
    fields = fields_of(client.get(address(version)))
    answer = client.post(
        address(version), fields | {"pieces-0-role": "", "pieces-0-other": "Moon card"}
    )
    assert answer.status_code == 422
    assert any("Moon card" in problem for problem in problems_of(answer))
    assert "Moon card" in fields_of(answer).values()
    assert document_of(version) == FULL
