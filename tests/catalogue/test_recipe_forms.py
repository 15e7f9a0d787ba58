"""Pieces folded from a shape in the recipe editor, as a browser without JavaScript uses it."""

import copy
import re
from typing import Any

import pytest
from django.urls import reverse

from catalogue.recipes.inputs import recipe_document
from catalogue.recipes.models import DesignVersion
from catalogue.recipes.writing import write_recipe
from tests import factories
from tests.catalogue.page_forms import fields_of
from tests.catalogue.recipe_documents import FULL, MATERIALS
from tests.catalogue.test_recipe_editor import address, document_of, problems_of, simple, text_of

BAG = {
    "pieces-0-shape": "form",
    "pieces-0-form": "two_piece_bag",
    "pieces-0-size-W": "7 1/2",
    "pieces-0-size-D": "4",
    "pieces-0-size-H": "8",
    "pieces-0-size-g": "1/2",
}


@pytest.fixture
def empty(workshop: Any) -> DesignVersion:
    for name, fields in MATERIALS.items():
        factories.make_material(workshop, name=name, **fields)
    return factories.make_version(factories.make_design(workshop, name="Wren bag"))


@pytest.fixture
def version(empty: DesignVersion) -> DesignVersion:
    write_recipe(empty, copy.deepcopy(FULL))
    return empty


def folded(version: DesignVersion) -> dict[str, Any]:
    (piece,) = document_of(version)["pieces"]
    return dict(piece)


def bag(**more: str) -> dict[str, str]:
    fields = simple(**{**BAG, **more})
    return {key: value for key, value in fields.items() if key not in ("pieces-0-width_mm",)}


def test_a_form_and_its_finished_size_are_typed_instead_of_width_and_height(client, empty):
    assert client.post(address(empty), bag()).status_code == 302
    piece = folded(empty)
    assert (piece["form"], piece["width_mm"], piece["height_mm"]) == (
        "two_piece_bag",
        "304.8",
        "304.8",
    )
    sizes = piece["form_inputs"]
    assert (sizes["W"], sizes["D"], sizes["H"], sizes["g"]) == ("190.5", "101.6", "203.2", "12.7")
    page = client.get(address(empty))
    assert fields_of(page)["pieces-0-size-W"] == "7 1/2"
    assert "Blank 12 × 12 in, 2 for each; glue line 23 1/2 in on each." in text_of(page)


def test_a_form_that_was_chosen_shows_its_sizes_and_keeps_everything_typed(client, empty):
    typed = simple(**{"pieces-0-shape": "form", "pieces-0-form": "two_piece_bag"})
    typed |= {"pieces-0-name": "big bag", "steps-0-minutes": "soon", "roles-1-name": "lid"}
    page = client.post(address(empty, "recipe_sizes"), typed)
    assert page.status_code == 200
    # nothing is wrong yet: she only asked to see more entries
    assert "There is a problem" not in text_of(page)
    assert "Error:" not in text_of(page)
    fields = fields_of(page)
    assert fields["pieces-0-size-W"] == ""
    assert fields["pieces-0-size-g"] == "1/2"  # usual in a workshop of inches
    assert fields["pieces-0-name"] == "big bag"
    assert fields["steps-0-minutes"] == "soon"
    assert fields["roles-1-name"] == "lid"
    assert not DesignVersion.objects.get().roles.exists()


def test_the_usual_tab_is_in_the_unit_of_the_workshop(client, empty):
    workshop = empty.design.workshop
    workshop.unit = "mm"
    workshop.save()
    typed = simple(**{"pieces-0-shape": "form", "pieces-0-form": "two_piece_bag"})
    fields = fields_of(client.post(address(empty, "recipe_sizes"), typed))
    assert fields["pieces-0-size-g"] == "12"
    # left empty it is that again
    filled = {"pieces-0-size-W": "90", "pieces-0-size-D": "45", "pieces-0-size-H": "140"}
    client.post(address(empty), {**typed, **filled, "pieces-0-size-g": ""})
    assert folded(empty)["form_inputs"]["g"] == "12"


def test_another_form_keeps_sizes_of_the_same_letter_and_the_others_to_come_back_to(client, empty):
    # a box has no base flap and no hem, and asks for a tuck
    typed = bag(**{"pieces-0-size-B": "3", "pieces-0-size-hem": "1"})
    fields = fields_of(
        client.post(address(empty, "recipe_sizes"), {**typed, "pieces-0-form": "tuck_box"})
    )
    assert (fields["pieces-0-size-W"], fields["pieces-0-size-tuck"]) == ("7 1/2", "1/2")
    assert (fields["pieces-0-size-B"], fields["pieces-0-size-hem"]) == ("3", "1")
    again = fields_of(
        client.post(address(empty, "recipe_sizes"), {**fields, "pieces-0-form": "two_piece_bag"})
    )
    assert again["pieces-0-size-hem"] == "1"
    # what another form asked for is no size of a box
    client.post(address(empty), fields)
    assert "hem" not in folded(empty)["form_inputs"]


def test_a_rectangle_has_no_form_however_one_was_chosen_before(client, empty):
    typed = simple(**{**BAG, "pieces-0-shape": "rectangle"})
    assert client.post(address(empty), typed).status_code == 302
    piece = folded(empty)
    assert (piece["shape"], piece["form"], piece["form_inputs"]) == ("rectangle", "", {})
    assert piece["width_mm"] == "190.5"


@pytest.mark.parametrize(
    ("entry", "typed", "told"),
    [
        ("form", "", "Choose the shape it is folded from."),
        ("form", "castle", "Select a valid choice"),
        ("size-W", "", "Fill this in."),
        ("size-W", "wide", "a length. Enter one"),
        ("size-W", "-7", "below zero"),
        ("size-W", "0", "above 0"),
        ("size-W", "7 1/2 parsec", "a length. Enter one"),
        ("size-W", "500 m", "longer than 100 m"),
        ("size-W", "1e5", "a number we can read"),
        ("size-W", "90 m", "Check the unit."),
        ("size-D", "8", "Nearest that works: 7 1/2 in."),
        ("size-ruler", "10 m", "ruler"),
    ],
)
def test_a_size_in_the_way_is_told_beside_it_and_what_was_typed_stays(
    client, empty, entry, typed, told
):
    answer = client.post(address(empty), bag(**{f"pieces-0-{entry}": typed}))
    assert answer.status_code == 422
    page = text_of(answer).replace("&#x27;", "'")
    assert told in page
    link = re.search(r'<a href="#(id_pieces-0-[^"]+)">Pieces, row 1', page)
    assert link
    if typed and entry != "form":
        assert fields_of(answer)[f"pieces-0-{entry}"] == typed
        assert link[1] == f"id_pieces-0-{entry}"
    assert not empty.pieces.exists()


def test_a_chosen_form_without_anything_else_is_not_lost_silently(client, empty):
    typed = simple(
        **{"pieces-1-shape": "form", "pieces-1-form": "tag", "pieces-1-count": "1"},
        **{"pieces-1-layers": "1", "pieces-1-turning": "material"},
    )
    answer = client.post(address(empty), typed)
    assert answer.status_code == 422
    assert any("row 2" in problem for problem in problems_of(answer))


def test_glue_and_cut_lengths_are_typed_as_they_are_measured(client, empty):
    more = {
        "roles-1-name": "glue",
        "roles-1-material": "Wet glue",
        "roles-2-name": "ribbon",
        "roles-2-material": "Satin ribbon",
        "fixings-0-role": "glue",
        "fixings-0-amount": "",
        "fixings-0-basis": "made",
        "fixings-0-measure": "form_bead",
        "fixings-0-rate": "2.83464",
        "fixings-1-role": "glue",
        "fixings-1-amount": "2",
        "fixings-1-basis": "made",
        "fixings-1-measure": "form_area",
        "fixings-1-rate": "75.2514624",
        "fixings-2-role": "ribbon",
        "fixings-2-amount": "12 in",
        "fixings-2-basis": "made",
        "fixings-2-measure": "cut",
        "fixings-2-rate": "2",
    }
    assert client.post(address(empty), bag(**more)).status_code == 302
    rows = document_of(empty)["fixings"]
    assert [(row["measure"], row["amount"], row["rate"]) for row in rows] == [
        ("form_bead", "1", "3.1"),
        ("form_area", "2", "90"),
        ("cut", "304.8", "2"),
    ]
    more["fixings-0-basis"] = "job"
    more["fixings-2-rate"] = "1.5"
    more["fixings-1-amount"] = ""
    more["fixings-1-measure"] = "area"
    answer = client.post(address(empty), {**bag(**more), "edit_number": "1"})
    assert answer.status_code == 422
    page = text_of(answer)
    assert "Fill this in." in page
    more["fixings-1-measure"] = "form_area"
    page = text_of(client.post(address(empty), {**bag(**more), "edit_number": "1"}))
    assert "is counted per item made" in page
    assert "Enter a whole number, 1 to 10,000" in page


def live(version: DesignVersion, **sent: str) -> str:
    query = {"row": "pieces-0", **BAG, **sent}
    return address(version, "recipe_sizes") + "?" + "&".join(f"{k}={v}" for k, v in query.items())


def test_the_blank_is_answered_while_she_types(client, empty):
    page = text_of(client.get(live(empty, part="blank")))
    assert "Blank 12 × 12 in, 2 for each" in page
    assert "<html" not in page
    page = text_of(client.get(live(empty, part="blank", **{"pieces-0-size-D": "8"})))
    assert "Nearest that works: 7 1/2 in." in page
    # what is not typed yet is no mistake
    page = text_of(client.get(live(empty, part="blank", **{"pieces-0-size-D": ""})))
    assert "error" not in page
    assert "Enter the sizes to see the blank" in page
    page = client.get(live(empty, **{"pieces-0-form": "tuck_box"}))
    assert fields_of(page)["pieces-0-size-tuck"] == "1/2"
    # a row that is still to be made gives nothing to hold on to
    assert client.get(live(empty, **{"pieces-0-form": "castle"})).status_code == 200


@pytest.mark.parametrize("row", ["", "pieces", "pieces-x", "steps-0", "pieces-٣", "pieces-99999"])
def test_what_is_no_row_of_the_pieces_has_no_answer(client, empty, row):
    assert client.get(live(empty, row=row)).status_code == 404


def test_who_may_ask_for_sizes(
    empty, client, reader_client, stranger_client, anonymous_client, other_workshop
):
    place = live(empty)
    for method in ("get", "post"):
        assert getattr(reader_client, method)(place).status_code == 403
        assert getattr(stranger_client, method)(place).status_code == 404
        assert getattr(anonymous_client, method)(place).status_code == 302
    theirs = factories.make_recipe(other_workshop)
    strange = reverse("catalogue:recipe_sizes", args=["marlow", theirs.design_id, 1])
    assert client.get(strange + "?row=pieces-0").status_code == 404
    assert client.post(strange, simple()).status_code == 404


def test_rows_are_pasted_with_their_form_and_sizes(client, empty):
    sizes = "W 7 1/2; D = 4; H: 203,2 mm; loud"
    cells = "\t".join(["bag", "body", "", "", "1", *8 * [""], "Two-piece bag", sizes])
    typed = simple(paste_into="pieces", paste_text=cells)
    page = client.post(address(empty, "recipe_paste"), typed)
    assert "1 rows added to Pieces" in text_of(page)
    assert "Not in the list: loud" in text_of(page)
    fields = fields_of(page)
    row = next(
        key.removesuffix("-name") for key, value in fields.items()
        if key.startswith("pieces-") and key.endswith("-name") and value == "bag"
        and key != "pieces-0-name"
    )  # fmt: skip
    assert fields[f"{row}-shape"] == "form"
    assert fields[f"{row}-form"] == "two_piece_bag"
    assert (fields[f"{row}-size-W"], fields[f"{row}-size-H"]) == ("7 1/2", "203,2 mm")
    saved = client.post(address(empty), fields)
    assert not problems_of(saved)
    assert document_of(empty)["pieces"][1]["width_mm"] == "304.8"


def test_a_form_comes_along_from_the_library(client, version):
    sheet = version.design.workshop.materials.get(name="Mirror card")
    query = f"?form=two_piece_bag&W=7+1/2&D=4&H=200+mm&g=wide&sheet={sheet.pk}&ruler=1/16"
    page = client.get(address(version) + query)
    fields = fields_of(page)
    assert "not saved yet" in text_of(page)
    assert fields["pieces-4-name"] == "Two-piece bag"
    assert fields["pieces-4-role"] == "mirror"
    assert (fields["pieces-4-size-W"], fields["pieces-4-size-H"]) == ("7 1/2", "200 mm")
    # what cannot be read is as usual
    assert fields["pieces-4-size-g"] == "1/2"
    assert fields["pieces-4-size-ruler"] == "1/16"
    assert document_of(version) == FULL
    assert client.post(address(version), fields).status_code == 302
    assert document_of(version)["pieces"][4]["form"] == "two_piece_bag"


@pytest.mark.parametrize(
    "query",
    ["form=castle&W=1", "form=", "form=two_piece_bag&W=%00&D=" + "9" * 5000 + "&sheet=x'"],
)
def test_an_address_with_nonsense_is_no_harm(client, version, query):
    assert client.get(f"{address(version)}?{query}").status_code == 200
    assert document_of(version) == FULL


def test_a_form_for_a_frozen_version_goes_into_a_new_one(client, version):
    DesignVersion.objects.filter(pk=version.pk).update(frozen_at="2026-01-01T00:00Z")
    page = text_of(client.get(address(version) + "?form=tag&w=2&h=3"))
    new = reverse("catalogue:version_new", args=["marlow", version.design_id])
    assert f'action="{new}?form=tag&amp;w=2&amp;h=3"' in page
    opened = client.post(f"{new}?form=tag&w=2&h=3", follow=True)
    assert fields_of(opened)["pieces-4-form"] == "tag"


def test_a_form_is_sent_into_one_of_her_designs(
    client, version, other_workshop, reader_client, count_queries
):
    theirs = factories.make_recipe(other_workshop)
    away = factories.make_design(version.design.workshop, name="Old bag", retired_on="2026-01-01")
    factories.make_version(away)
    use = reverse("catalogue:shape_use", args=["marlow"])
    query = "?form=tag&w=2&h=3+1/2&evil=<b>&sheet=1"
    with count_queries() as few:
        page = text_of(client.get(use + query))
    assert "width 2 in, height 3 1/2 in" in page
    assert f"{address(version)}?form=tag&amp;w=2&amp;h=3+1%2F2&amp;sheet=1" in page
    assert "evil" not in page
    assert theirs.design.name not in page
    assert "Old bag" not in page
    for number in range(15):
        factories.make_version(factories.make_design(version.design.workshop, name=f"Bag {number}"))
    with count_queries() as many:
        client.get(use + query)
    assert len(many) == len(few)
    assert client.get(use + "?form=castle").status_code == 404
    assert reader_client.get(use + query).status_code == 200


def test_versions_with_other_sizes_are_compared_in_words(client, version):
    client.post(reverse("catalogue:version_new", args=["marlow", version.design_id]))
    made = DesignVersion.objects.get(number=2)
    changed = copy.deepcopy(FULL)
    changed["pieces"][3]["form_inputs"] |= {"W": "203.2"}
    write_recipe(made, changed)
    compare = reverse("catalogue:version_compare", args=["marlow", version.design_id])
    assert "large body: W 7 1/2 → 8 in, blank 12 × 12 → 12 1/2 × 12 in" in text_of(
        client.get(compare)
    )
    changed["pieces"][3] |= {"form": "tag", "form_inputs": {"w": "101.6", "h": "50.8"}}
    write_recipe(made, changed)
    words = text_of(client.get(compare))
    assert "large body: shape Two-piece bag → Tag, blank 12 × 12 → 4 × 2 in" in words
    changed["pieces"][3] |= {
        "shape": "rectangle", "form": "", "form_inputs": {}, "width_mm": "101.6",
        "height_mm": "50.8",
    }  # fmt: skip
    write_recipe(made, changed)
    words = text_of(client.get(compare))
    assert "folded from a shape → cut to size, shape Two-piece bag → none" in words


def test_undo_and_copy_bring_the_sizes_along(client, version):
    fields = fields_of(client.get(address(version)))
    client.post(address(version), {**fields, "pieces-3-size-W": "8"})
    assert document_of(version)["pieces"][3]["width_mm"] == "317.5"
    client.post(address(version, "recipe_undo", edit_number=0))
    assert document_of(version) == FULL
    client.post(reverse("catalogue:design_copy", args=["marlow", version.design_id]))
    copied = DesignVersion.objects.exclude(pk=version.pk).get()
    assert document_of(copied)["pieces"] == FULL["pieces"]


def test_two_people_who_change_a_size_see_each_others(client, helper_client, version):
    mine, theirs = (
        fields_of(client.get(address(version))),
        fields_of(helper_client.get(address(version))),
    )
    helper_client.post(address(version), {**theirs, "pieces-3-size-W": "8"})
    answer = client.post(address(version), {**mine, "pieces-3-size-H": "9"})
    assert answer.status_code == 409
    page = text_of(answer)
    assert "large body: W 7 1/2 → 8 in" in page
    assert fields_of(answer)["pieces-3-size-H"] == "9"


def test_a_folded_piece_is_told_in_words_to_those_who_may_only_read(reader_client, version):
    page = text_of(reader_client.get(address(version)))
    assert "Two-piece bag, width 7 1/2 in, depth 4 in, height 8 in, 2 blanks for each" in page
    assert "2 lines on the folded pieces, 2.8346 ml per yard" in page
    assert "1 coat on the folded pieces, 75.2515 ml per square yard" in page
    assert "2 × 12 in" in page


def test_a_stored_recipe_is_read_without_asking_twice(version, count_queries):
    loaded = DesignVersion.objects.with_recipe().get(pk=version.pk)
    with count_queries() as queries:
        recipe_document(loaded)
    assert len(queries) == 0
