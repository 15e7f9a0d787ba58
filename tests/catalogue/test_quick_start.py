"""A first price asks how many pieces one item takes, or takes a shape with all its pieces."""

import re
from decimal import Decimal

import pytest
from django.urls import reverse

from catalogue.calc.flat_patterns import FORMS
from catalogue.designs.models import Design
from catalogue.designs.quick_start import parts_of
from catalogue.recipes.inputs import recipe_document
from catalogue.recipes.models import DesignVersion
from tests import factories
from tests.catalogue.page_forms import fields_of
from tests.catalogue.test_recipe_editor import text_of

HTMX = {"HX-Request": "true"}
BAG = {"form": "two_piece_bag", "size-W": "7 1/2", "size-D": "4", "size-H": "8"}


@pytest.fixture
def card(workshop):
    material = factories.make_material(workshop, name="Fern card")
    factories.make_pack(material)
    return material


@pytest.fixture
def place():
    return reverse("catalogue:design_new", args=["marlow"])


def with_shape(client, place, **typed):
    """Return the entries of the page after a shape was chosen, as a person without scripts."""
    fields = fields_of(client.get(place))
    answer = client.post(place, {**fields, **typed, "then": "shape"})
    assert answer.status_code == 200
    return {**fields_of(answer), **typed}


def made():
    version = DesignVersion.objects.with_recipe().get()
    return recipe_document(version)


def test_a_plain_piece_is_counted_as_often_as_one_item_takes_it(client, place, card):
    fields = fields_of(client.get(place))
    assert "2 if an item has two such halves." in text_of(client.get(place))
    typed = {"name": "Bag", "width": "12", "height": "12", "count": "2", "minutes": "9"}
    answer = client.post(place, {**fields, **typed}, follow=True)
    (piece,) = made()["pieces"]
    assert piece["count"] == 2
    # the price page says what it rests on, and a dozen takes 24 whole sheets
    assert "To cut for one item: 2 of 12 × 12 in (body)." in text_of(answer)
    assert answer.context["answer"].cost.sheets == 24


def test_a_bag_of_two_halves_is_two_halves(client, place, card):
    fields = with_shape(client, place, **BAG)
    assert "width" not in fields
    assert "count" not in fields
    answer = client.post(place, {**fields, "name": "Bag", "minutes": "9"}, follow=True)
    assert "To cut for one item: 2 of 12 × 12 in (body)." in text_of(answer)
    assert answer.context["answer"].cost.sheets == 24
    (piece,) = made()["pieces"]
    assert (piece["form"], piece["width_mm"], piece["count"]) == ("two_piece_bag", "304.8", 1)
    # scores are in its drawing, allowances as is usual in inches
    assert piece["form_inputs"]["g"] == "12.7"


def test_glue_comes_along_by_its_line(client, workshop, place, card):
    glue = factories.make_material(workshop, name="Wet glue", kind="volume")
    factories.make_pack(glue)
    fields = with_shape(client, place, **BAG)
    assert fields["glue"] == str(glue.pk)
    client.post(place, {**fields, "name": "Bag", "minutes": "9"})
    (fixing,) = made()["fixings"]
    assert (fixing["measure"], fixing["rate"], fixing["role"]) == ("form_bead", "3.1", "glue")
    # of two glues she chooses; a flat piece is not glued
    factories.make_material(workshop, name="Paint", kind="volume")
    assert with_shape(client, place, **BAG)["glue"] == ""
    assert "glue" not in fields_of(client.get(place))


def test_parts_that_are_ticked_come_with_their_sizes(client, place, card):
    fields = with_shape(client, place, **BAG)
    typed = {**fields, "name": "Bag", "minutes": "9", "parts": ["lid", "handle", "side panel"]}
    answer = client.post(place, typed, follow=True)
    body, lid, handle, panel = made()["pieces"]
    assert (lid["name"], lid["width_mm"], lid["height_mm"]) == ("lid", "190.5", "215.9")
    # 23 1/2 in is longer than the sheet: two strips of 12 in lapped by 1/2
    assert (handle["form_inputs"]["strips"], handle["width_mm"]) == ("2", "304.8")
    assert (panel["form_inputs"]["w"], panel["form_inputs"]["h"]) == ("101.6", "203.2")
    assert "2 of 12 × 1 in (handle)" in text_of(answer)
    # and they follow the bag from there
    assert body["name"] == "body"
    page = client.get(
        reverse("catalogue:version_size", args=["marlow", Design.objects.get().pk, 1])
    )
    for words in ("lid of body", "handle of body", "side panel of body"):
        assert words in text_of(page)


@pytest.mark.parametrize(
    ("form", "needed"),
    [
        ("sleeve", ["drawer"]),
        ("drawer", ["sleeve"]),
        ("frustum", ["base"]),
        ("hex_tube", ["base card"]),
        ("two_piece_bag", []),
        ("bag_lid", []),
    ],
)
def test_what_one_is_not_finished_without_is_ticked_already(client, place, card, form, needed):
    fields = with_shape(client, place, form=form)
    assert sorted(_ticked(client, place, form)) == sorted(needed)
    assert {one.name for one in parts_of(FORMS[form]) if one.is_needed} == set(needed)
    assert fields["form"] == form


def _ticked(client, place, form):
    page = client.get(place, {"form": form}).content.decode()
    boxes = re.findall(r'<input type="checkbox" name="parts"[^>]*>', page)
    return [re.search(r'value="([^"]+)"', box)[1] for box in boxes if "checked" in box]


def test_a_sleeve_alone_is_not_priced_as_a_box_without_a_word(client, place, card):
    sizes = {"form": "sleeve", "size-Wd": "2 1/2", "size-Hd": "7/8", "size-Ld": "3 3/4"}
    fields = with_shape(client, place, **sizes)
    typed = {**fields, "name": "Box", "minutes": "9", "parts": ["drawer"]}
    client.post(place, typed)
    sleeve, drawer = made()["pieces"]
    assert (sleeve["form"], drawer["form"]) == ("sleeve", "drawer")
    assert drawer["form_inputs"]["H"] == "22.225"


def test_the_page_asks_for_the_shape_and_tells_its_blanks_while_she_types(client, place, card):
    fields = {**fields_of(client.get(place)), "form": "two_piece_bag"}
    part = text_of(client.get(place, {**fields, "part": "shape"}, headers=HTMX))
    assert "<html" not in part
    assert 'name="size-W"' in part
    assert "<title>Two-piece bag, folded</title>" in part
    blank = client.get(place, {**fields, **BAG, "parts": "lid", "part": "blank"}, headers=HTMX)
    assert "2 of 12 × 12 in (body)" in text_of(blank)
    assert "1 of 7 1/2 × 8 1/2 in (lid)" in text_of(blank)
    wrong = {**fields, **BAG, "size-D": "9", "part": "blank"}
    told = text_of(client.get(place, wrong, headers=HTMX))
    assert "Nearest that works: 7 1/2 in." in told
    # nothing typed yet is nothing wrong yet
    assert "error" not in text_of(client.get(place, {**fields, "part": "blank"}, headers=HTMX))
    # sizes of the shape before go along where they have the letter
    lid = {**fields, **BAG, "form": "bag_lid", "part": "shape"}
    assert re.search(r'name="size-W" value="7 1/2"', text_of(client.get(place, lid, headers=HTMX)))
    # without the header it is the page itself
    assert "<html" in text_of(client.get(place, {"part": "blank"}))
    assert not Design.objects.exists()


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"size-W": ""}, "Fill this in."),
        ({"size-W": "wide"}, "a length. Enter one"),
        ({"size-D": "9"}, "Nearest that works: 7 1/2 in."),
        ({"size-W": "9"}, "Body does not fit on a sheet of Fern card, 12 in × 12 in."),
        ({"parts": ["castle"]}, "not one of the available choices"),
        ({"form": "castle"}, "not one of the available choices"),
        ({"glue": "99"}, None),
    ],
)
def test_what_is_in_the_way_is_kept_and_told(client, place, card, typed, told):
    fields = with_shape(client, place, **BAG)
    answer = client.post(place, {**fields, "name": "Bag", "minutes": "9", **typed})
    if told is None:  # there is no glue to choose, so nothing is read of it
        assert answer.status_code == 302
        return
    assert answer.status_code == 422
    assert told in text_of(answer)
    assert fields_of(answer)["name"] == "Bag"
    assert not Design.objects.exists()


@pytest.mark.parametrize(
    ("query", "shape"),
    [("form=castle", ""), ("form=tag", "tag"), ("form=two_piece_bag&W=1&D=4&H=x", "two_piece_bag")],
)
def test_an_address_brings_what_can_be_read_of_it(client, place, card, query, shape):
    fields = fields_of(client.get(f"{place}?{query}"))
    assert fields["form"] == shape
    assert ("width" in fields) is (shape == "")
    if shape == "two_piece_bag":
        assert (fields["size-W"], fields["size-D"], fields["size-H"]) == ("1", "4", "")


def test_more_materials_cost_no_more_queries(client, workshop, place, card, count_queries):
    counts = []
    for _ in range(2):
        with count_queries() as queries:
            client.get(place, {"form": "two_piece_bag"})
        counts.append(len(queries))
        for kind in ("sheet", "volume"):
            for _ in range(5):
                factories.make_material(workshop, kind=kind)
    assert counts[0] == counts[1]


def test_a_blank_is_never_thinner_than_said(client, place, card):
    # a plain piece keeps its exact sides
    fields = fields_of(client.get(place))
    typed = {"name": "Tag", "width": "2 1/16", "height": "3", "count": "4", "minutes": "1"}
    client.post(place, {**fields, **typed})
    (piece,) = DesignVersion.objects.with_recipe().get().pieces.all()
    assert (piece.width_mm, piece.count) == (Decimal("52.3875"), 4)
