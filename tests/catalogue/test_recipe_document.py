"""A recipe as a document: lossless both ways, strict, each mistake named by its path."""

import copy
import json
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from catalogue.calc.recipes.document import MOST_ROWS, WrongRecipe, read_document
from catalogue.recipes.inputs import recipe_document
from catalogue.recipes.models import DesignVersion
from catalogue.recipes.writing import write_recipe
from tests import factories
from tests.catalogue.recipe_documents import FULL, MATERIALS, documents
from tests.thorough import tries


@pytest.fixture
def version(workshop: Any) -> DesignVersion:
    for name, fields in MATERIALS.items():
        factories.make_material(workshop, name=name, **fields)
    return factories.make_version(factories.make_design(workshop))


def loaded(version: DesignVersion) -> DesignVersion:
    return DesignVersion.objects.with_recipe().get(pk=version.pk)


def test_a_recipe_with_every_entry_comes_back_as_it_was_written(version):
    write_recipe(version, copy.deepcopy(FULL))
    assert recipe_document(loaded(version)) == FULL
    assert json.loads(json.dumps(FULL)) == FULL


@settings(
    max_examples=tries(15, thorough=300),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(document=documents())
def test_any_recipe_comes_back_and_replaces_the_one_before(version, document):
    write_recipe(version, copy.deepcopy(document))
    assert recipe_document(loaded(version)) == document
    write_recipe(version, copy.deepcopy(document))
    assert recipe_document(loaded(version)) == document


def test_reading_a_document_is_no_query_once_it_is_loaded(version, count_queries):
    write_recipe(version, copy.deepcopy(FULL))
    one = loaded(version)
    with count_queries() as queries:
        recipe_document(one)
    assert len(queries) == 0


def test_roles_choices_and_colourways_keep_their_ids(version):
    write_recipe(version, copy.deepcopy(FULL))
    before = loaded(version)
    changed = copy.deepcopy(FULL)
    changed["roles"].reverse()
    changed["colourways"].reverse()
    changed["options"][0]["name"] = "Fastening"
    changed["options"][0]["choices"].reverse()
    write_recipe(version, changed)
    after = loaded(version)

    def ids(one: DesignVersion) -> set[Any]:
        return {
            *((role.name, role.pk) for role in one.roles.all()),
            *((way.name, way.pk) for way in one.colourways.all()),
            *((option.key, option.pk) for option in one.options.all()),
            *((choice.key, choice.pk) for o in one.options.all() for choice in o.choices.all()),
        }

    assert ids(before) == ids(after)
    assert recipe_document(after) == changed


def test_what_may_be_left_out_has_its_stated_value(version):
    write_recipe(
        version,
        {
            "roles": [{"name": "body", "material": "Fern card"}],
            "pieces": [{"name": "bag", "role": "body", "width_mm": "10", "height_mm": "20.500"}],
        },
    )
    document = recipe_document(loaded(version))
    assert document["pieces"] == [
        {
            "name": "bag",
            "role": "body",
            "shape": "rectangle",
            "width_mm": "10",
            "height_mm": "20.5",
            "form": "",
            "form_inputs": {},
            "die_margin_mm": "0",
            "count": 1,
            "layers": 1,
            "turning": "material",
            "when": {},
        }
    ]
    assert document["learning"] == "none"


def _with(path: list[Any], value: Any) -> dict[str, Any]:
    document: Any = copy.deepcopy(FULL)
    place = document
    for key in path[:-1]:
        place = place[key]
    place[path[-1]] = value
    return document


@pytest.mark.parametrize(
    ("path", "value", "where"),
    [
        (["pieces", 2, "width_mm"], "-1", "pieces[2].width_mm"),
        (["pieces", 2, "width_mm"], "0", "pieces[2].width_mm"),
        (["pieces", 0, "width_mm"], 12.5, "pieces[0].width_mm"),
        (["pieces", 0, "width_mm"], "1e5", "pieces[0].width_mm"),
        (["pieces", 0, "width_mm"], "NaN", "pieces[0].width_mm"),
        (["pieces", 0, "width_mm"], "١٢", "pieces[0].width_mm"),
        (["pieces", 0, "width_mm"], "100001", "pieces[0].width_mm"),
        (["pieces", 0, "width_mm"], "1.0000001", "pieces[0].width_mm"),
        (["pieces", 0, "count"], 0, "pieces[0].count"),
        (["pieces", 0, "count"], True, "pieces[0].count"),
        (["pieces", 0, "role"], "lid", "pieces[0].role"),
        (["pieces", 0, "role"], "glue", "pieces[0].role"),
        (["pieces", 0, "name"], "x" * 10_000, "pieces[0].name"),
        (["pieces", 0, "name"], "two\nlines", "pieces[0].name"),
        (["pieces", 0, "name"], "nul\0", "pieces[0].name"),
        (["pieces", 0, "shape"], ["die"], "pieces[0].shape"),
        (["pieces", 0, "colour"], "red", "pieces[0].colour"),
        (["pieces", 0, "form"], "tag", "pieces[0].form"),
        (["pieces", 0, "form_inputs"], {"w": "10"}, "pieces[0].form_inputs"),
        (["pieces", 1, "form"], "tag", "pieces[1].form"),
        (["pieces", 3, "form"], "", "pieces[3].form"),
        (["pieces", 3, "form"], "castle", "pieces[3].form"),
        (["pieces", 3, "form"], ["tag"], "pieces[3].form"),
        (["pieces", 3, "form"], "__class__", "pieces[3].form"),
        (["pieces", 3, "form_inputs"], None, "pieces[3].form_inputs"),
        (["pieces", 3, "form_inputs"], [], "pieces[3].form_inputs"),
        (["pieces", 3, "form_inputs"], {"W": 190.5}, "pieces[3].form_inputs.W"),
        (["pieces", 3, "form_inputs"], {"W": "1e3"}, "pieces[3].form_inputs.W"),
        (["pieces", 3, "form_inputs"], {"W": "NaN"}, "pieces[3].form_inputs.W"),
        (["pieces", 3, "form_inputs"], {"W": "-1"}, "pieces[3].form_inputs.W"),
        (["pieces", 3, "form_inputs"], {"W": "1/2"}, "pieces[3].form_inputs.W"),
        (["pieces", 3, "form_inputs"], {"W\0": "1"}, "pieces[3].form_inputs"),
        (["pieces", 3, "form_inputs"], {"x" * 41: "1"}, "pieces[3].form_inputs"),
        (
            ["pieces", 3, "form_inputs"],
            {f"s{at}": "1" for at in range(31)},
            "pieces[3].form_inputs",
        ),
        (["pieces", 3, "form_inputs", "Q"], "5", "pieces[3].form_inputs.Q"),
        (["pieces", 3, "form_inputs", "D"], "190.6", "pieces[3].form_inputs.D"),
        (["pieces", 3, "form_inputs", "W"], "0", "pieces[3].form_inputs.W"),
        (["pieces", 3, "form_inputs", "W"], "99999", "pieces[3].form_inputs.W"),
        (["pieces", 3, "form_inputs", "ruler"], "5000", "pieces[3].form_inputs.ruler"),
        (["fixings", 3, "basis"], "job", "fixings[3].basis"),
        (["fixings", 3, "rate"], None, "fixings[3].rate"),
        (["fixings", 3, "role"], "ribbon", "fixings[3].role"),
        (["fixings", 4, "rate"], None, "fixings[4].rate"),
        (["fixings", 5, "rate"], None, "fixings[5].rate"),
        (["fixings", 5, "rate"], "1.5", "fixings[5].rate"),
        (["fixings", 5, "rate"], "0", "fixings[5].rate"),
        (["fixings", 5, "rate"], "10001", "fixings[5].rate"),
        (["fixings", 5, "amount"], "100001", "fixings[5].amount"),
        (["fixings", 5, "role"], "brads", "fixings[5].role"),
        (["pieces", 0], "bag", "pieces[0]"),
        (["pieces"], {}, "pieces"),
        (["pieces"], [{}] * (MOST_ROWS + 1), "pieces"),
        (
            ["pieces", 0, "when"],
            {"from_quantity": 9, "to_quantity": 8},
            "pieces[0].when.to_quantity",
        ),
        (["pieces", 0, "when"], {"only_with": "closure=bow"}, "pieces[0].when.only_with"),
        (["fixings", 1, "rate"], None, "fixings[1].rate"),
        (["fixings", 1, "role"], "brads", "fixings[1].role"),
        (["fixings", 0, "waste_share"], "1.01", "fixings[0].waste_share"),
        (["steps", 4, "role"], "body", "steps[4].role"),
        (["steps", 2, "role"], "glue", "steps[2].role"),
        (["steps", 4, "minutes_low"], "6", "steps[4].minutes_low"),
        (["steps", 4, "minutes_high"], "4", "steps[4].minutes_high"),
        (["steps", 4, "learns"], "yes", "steps[4].learns"),
        (["wears", 0, "life"], "0", "wears[0].life"),
        (["packings", 0, "cost_each"], None, "packings[0].cost_each"),
        (["roles", 0, "material"], "Nobody's card", "roles[0].material"),
        (["roles", 1, "name"], "BODY", "roles[1].name"),
        (["colourways", 1, "materials"], {"body": "Nobody's card"}, "colourways[1].materials.body"),
        (["colourways", 1, "materials"], {"body": "Wet glue"}, "colourways[1].materials.body"),
        (["colourways", 1, "materials"], {"lid": "Fern card"}, "colourways[1].materials.lid"),
        (["colourways", 1, "name"], "moss", "colourways[1].name"),
        (["options", 0, "choices"], [], "options[0].choices"),
        (["options", 0, "key"], "a key", "options[0].key"),
        (["options", 0, "choices", 1, "is_default"], True, "options[0].choices[1].is_default"),
        (["learning_rate"], "0.4", "learning_rate"),
        (["reject_share"], "1", "reject_share"),
        (["glitter"], [], "glitter"),
    ],
)
def test_a_mistake_is_named_by_its_path_and_nothing_is_written(version, path, value, where):
    write_recipe(version, copy.deepcopy(FULL))
    with pytest.raises(WrongRecipe) as refused:
        write_recipe(version, _with(path, value))
    assert where in [problem.path for problem in refused.value.problems]
    assert recipe_document(loaded(version)) == FULL


@pytest.mark.parametrize("value", [None, [], "recipe", 7, {"roles": None}])
def test_what_is_no_recipe_at_all_is_refused(value):
    with pytest.raises(WrongRecipe):
        read_document(value)


def test_every_mistake_is_told_at_once():
    document = _with(["pieces", 0, "width_mm"], "0")
    document["steps"][0]["minutes"] = "soon"
    with pytest.raises(WrongRecipe) as refused:
        read_document(document)
    assert [problem.path for problem in refused.value.problems] == [
        "pieces[0].width_mm",
        "steps[0].minutes",
    ]
    assert "(and 1 more)" in refused.value.message


def test_another_workshops_material_is_not_found(version, other_workshop):
    factories.make_material(other_workshop, name="Their card")
    document = _with(["roles", 0, "material"], "Their card")
    with pytest.raises(WrongRecipe) as refused:
        write_recipe(version, document)
    assert refused.value.where == "roles[0].material"


def _folded(version: DesignVersion, **changes: Any) -> dict[str, Any]:
    """Write FULL with another piece folded from a shape and return that piece as it is kept."""
    document = copy.deepcopy(FULL)
    document["pieces"][3] |= changes
    for key, value in changes.items():
        if value is None:
            del document["pieces"][3][key]
    write_recipe(version, document)
    piece: dict[str, Any] = recipe_document(loaded(version))["pieces"][3]
    return piece


def test_the_blank_of_a_form_follows_from_its_sizes_whatever_the_document_says(version):
    for sides in ({"width_mm": "1"}, {"width_mm": None, "height_mm": None}):
        piece = _folded(version, **sides)
        assert (piece["width_mm"], piece["height_mm"]) == ("304.8", "304.8")
    # an inch deeper is an inch wider, for the side, and an inch higher, for the base
    piece = _folded(version, form_inputs={**FULL["pieces"][3]["form_inputs"], "D": "127"})
    assert (piece["width_mm"], piece["height_mm"]) == ("330.2", "330.2")


def test_a_side_of_a_blank_that_is_no_length_is_refused_though_it_would_be_made_anew(version):
    with pytest.raises(WrongRecipe) as refused:
        _folded(version, height_mm="x")
    assert refused.value.where == "pieces[3].height_mm"


def test_a_blank_that_is_no_even_number_is_rounded_to_six_decimals(version):
    # 8 1/3 in wide and 4 in deep with a tab of 1/2 in: 12.8333... in = 325.9666... mm
    sizes = {**FULL["pieces"][3]["form_inputs"], "W": "211.666667"}
    assert _folded(version, form_inputs=sizes)["width_mm"] == "325.966667"


def test_sizes_left_out_are_the_usual_ones_or_follow(version):
    piece = _folded(version, form="tuck_box", form_inputs={"W": "60", "D": "35", "H": "90"})
    # 60 x 35 x 90 mm with a tab and tucks of 12 mm: 2 W + 2 D + g = 202, H + 2 D + 2 tuck = 184
    assert (piece["width_mm"], piece["height_mm"]) == ("202", "184")
    assert piece["form_inputs"]["tuck"] == "12"
    assert "dust" not in piece["form_inputs"]
    assert list(piece["form_inputs"]) == sorted(piece["form_inputs"])


def test_panels_are_rounded_to_the_ruler_before_they_are_added(version):
    # hexagon tube of side 40.333 on a ruler of 0.5 mm: six walls of 40.5 and a tab of 12
    sizes = {"a": "40.333", "H": "110", "g": "12", "foot": "15", "ruler": "0.5"}
    piece = _folded(version, form="hex_tube", form_inputs=sizes)
    assert piece["width_mm"] == "255"


def test_the_reason_is_in_the_inches_or_millimetres_she_types(version):
    deep = {**FULL["pieces"][3]["form_inputs"], "D": "203.2"}
    for unit, words in (("in", "Nearest that works: 7 1/2 in."), ("mm", "190.5 mm.")):
        version.design.workshop.unit = unit
        with pytest.raises(WrongRecipe) as refused:
            _folded(version, form_inputs=deep)
        assert words in refused.value.problems[0].message


def test_a_recipe_of_before_there_were_forms_comes_in(version):
    document = copy.deepcopy(FULL)
    del document["pieces"][3], document["fixings"][3:6]
    for row in document["pieces"]:
        del row["form"], row["form_inputs"]
    write_recipe(version, document)
    kept = recipe_document(loaded(version))
    assert [(row["form"], row["form_inputs"]) for row in kept["pieces"]] == [("", {})] * 3
    # each row has a dictionary of its own
    kept["pieces"][0]["form_inputs"]["w"] = "1"
    assert recipe_document(loaded(version))["pieces"][1]["form_inputs"] == {}
