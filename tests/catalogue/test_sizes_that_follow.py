"""Sizes typed once go along: parts take them from their whole and keep following it."""

import copy
import re
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from django.urls import reverse

from catalogue.recipes.following import following_a_save, follows_in
from catalogue.recipes.models import DesignVersion, RecipeChange
from catalogue.recipes.writing import write_recipe
from tests.catalogue.page_forms import fields_of
from tests.catalogue.test_recipe_editor import address, document_of, text_of
from tests.catalogue.test_recipe_size import RECIPE, piece, size_page, sizes_of, version

__all__ = ["version"]  # the fixture of the page these are on


def with_pieces(version: DesignVersion, *pieces: dict[str, Any]) -> DesignVersion:
    document = copy.deepcopy(RECIPE)
    document["pieces"] = [copy.deepcopy(RECIPE["pieces"][0]), *pieces]
    write_recipe(version, document)
    return DesignVersion.objects.with_recipe().get(pk=version.pk)


def followed(version: DesignVersion) -> dict[str, tuple[str, ...]]:
    document = document_of(version)
    rows = document["pieces"]
    return {
        f"{rows[one.row]['name']}: {one.companion.name} of {rows[one.whole]['name']}": one.names
        for one in follows_in(document, "in")
    }


def test_a_part_follows_as_long_as_it_has_the_sizes_of_its_whole(version):
    assert followed(version) == {
        "lid: lid of body": ("W", "D", "H", "drop"),
        "panel: front panel of body": ("w", "h", "border"),
    }
    document = copy.deepcopy(RECIPE)
    document["pieces"][1]["form_inputs"]["drop"] = "90"
    document["pieces"][2]["form_inputs"]["w"] = "190"
    write_recipe(version, document)
    # a drop of its own follows no more; a panel that does not cover the face is on none
    assert followed(version) == {"lid: lid of body": ("W", "D", "H")}


def test_a_panel_on_a_side_follows_the_side_also_when_the_bag_is_square(version):
    square = {"W": "101.6", "D": "101.6", "H": "203.2"}
    document = copy.deepcopy(RECIPE)
    document["pieces"] = [
        piece("body", "two_piece_bag", **square),
        piece("front", "decorative_panel", w="101.6", h="203.2"),
        piece("panel of a side", "decorative_panel", w="101.6", h="203.2"),
    ]
    write_recipe(version, document)
    assert list(followed(version)) == [
        "front: front panel of body",
        "panel of a side: side panel of body",
    ]


def test_parts_of_parts_follow_too(client, version):
    # pocket, flap and panel as on the worked bag of 7 1/2 x 4 x 8 in
    pocket = piece("pocket", "pocket_box", W="101.6", H="101.6", d="19.05", tuck="12.7")
    with_pieces(
        version,
        piece("flap", "flap_extension", W="101.6", tuck="12.7", reach="25.4"),
        piece("panel", "decorative_panel", w="101.6", h="101.6"),
        pocket,
    )
    place = size_page(version)
    fields = fields_of(client.get(place))
    saved = client.post(place, {**fields, "H-0": "6", "then": "save"})
    assert saved.status_code == 302
    _, flap, panel, pocket = sizes_of(version)
    # half of 6 in is 3: pocket 3 x 3/4 x 3, flap a quarter of that wide pocket down
    assert (pocket["W"], pocket["H"], pocket["d"]) == ("76.2", "76.2", "19.05")
    assert (flap["W"], flap["reach"]) == ("76.2", "19.05")
    assert (panel["w"], panel["h"]) == ("76.2", "76.2")


def test_all_that_follows_moves_when_the_size_is_changed_and_is_undone_at_once(client, version):
    before = document_of(version)
    fields = fields_of(client.get(size_page(version)))
    sent = {**fields, "W-0": "7", "D-0": "3", "then": "save"}
    assert client.post(size_page(version), sent).status_code == 302
    _, lid, panel, _ = sizes_of(version)
    assert (lid["W"], lid["D"], lid["drop"]) == ("177.8", "76.2", "76.2")
    assert (panel["w"], panel["h"]) == ("177.8", "203.2")
    assert RecipeChange.objects.count() == 1
    client.post(address(version, "recipe_undo", edit_number=0))
    assert document_of(version) == before


def test_a_piece_is_set_apart_and_follows_again(client, version):
    place = size_page(version)
    page = client.get(place)
    assert "front panel of body" in text_of(page)
    fields = fields_of(page)
    assert "w-2" not in fields
    apart = client.post(place, {**fields, "W-0": "7", "own": "2"})
    typed = fields_of(apart)
    assert (typed["own"], typed["w-2"], typed["W-0"]) == ("2", "7 1/2", "7")
    assert "Let it follow body" in text_of(apart)
    again = client.post(place, {**typed, "follow": "2"})
    assert "w-2" not in fields_of(again)
    saved = client.post(place, {**typed, "w-2": "6", "then": "save"})
    assert saved.status_code == 302
    assert [sizes_of(version)[2][name] for name in ("w", "h")] == ["152.4", "203.2"]


@pytest.mark.parametrize("own", ["x", "-1", "99", "2; drop", "9999999"])
def test_places_nobody_has_change_nothing(client, version, own):
    before = document_of(version)
    fields = fields_of(client.get(size_page(version)))
    assert client.post(size_page(version), {**fields, "own": own}).status_code == 200
    assert document_of(version) == before


def test_what_is_changed_in_the_recipe_itself_is_followed_and_told(client, version):
    place = address(version)
    fields = fields_of(client.get(place))
    answer = client.post(place, {**fields, "pieces-0-size-H": "7"}, follow=True)
    assert "lid, panel got the new sizes." in text_of(answer)
    body, lid, panel, _ = sizes_of(version)
    assert (body["H"], lid["H"], panel["h"]) == ("177.8", "177.8", "177.8")
    assert lid["drop"] == "101.6"
    client.post(address(version, "recipe_undo", edit_number=0))
    assert sizes_of(version)[2]["h"] == "203.2"


def test_what_is_typed_for_a_part_itself_is_kept(version):
    before = document_of(version)
    after = copy.deepcopy(before)
    after["pieces"][0]["form_inputs"]["H"] = "177.8"
    after["pieces"][2]["form_inputs"]["h"] = "150"
    made, names = following_a_save(before, after, "in")
    assert names == ["lid"]
    assert made["pieces"][2]["form_inputs"]["h"] == "150"
    # nor does anything move that was not touched, whatever the order is
    turned = copy.deepcopy(before)
    turned["pieces"].reverse()
    assert following_a_save(before, turned, "in") == (turned, [])


def test_links_between_forms_carry_the_sizes(client, workshop):
    place = reverse("catalogue:shape", args=["marlow", "two_piece_bag"])
    page = client.get(place, {"W": "7 1/2", "D": "4", "H": "8"}).content.decode()
    links = {
        name: parse_qs(urlsplit(href.replace("&amp;", "&")).query)
        for href, name in re.findall(r'<li><a href="([^"]+)">([A-Z][a-z ]+)</a>', page)
    }
    assert links["Lid"] == {"W": ["7 1/2"], "D": ["4"], "H": ["8"], "drop": ["4"]}
    assert links["Side panel"] == {"w": ["4"], "h": ["8"]}
    assert links["Handle"] == {"length": ["23 1/2"], "width": ["1"]}
    assert links["Pocket"] == {"W": ["4"], "H": ["4"], "d": ["3/4"]}
    # a size in the way is carried nowhere
    page = client.get(place, {"W": "3", "D": "4", "H": "8"}).content.decode()
    assert "Often used with" not in page
    assert "drop=" not in page


HTMX = {"HX-Request": "true"}


def test_a_new_piece_takes_the_sizes_of_what_it_goes_with(client, version):
    with_pieces(version)
    place = address(version)
    fields = fields_of(client.get(place))
    row = {"pieces-1-shape": "form", "pieces-1-form": "decorative_panel", "pieces-1-name": ""}
    sizes = address(version, "recipe_sizes") + "?row=pieces-1"
    part = client.post(sizes, {**fields, **row}, headers=HTMX)
    page = text_of(part)
    assert "<html" not in page
    assert fields_of(part)["pieces-1-size-w"] == "7 1/2"
    assert "side panel of body" in page
    # the name says which of them is meant; a button takes the other
    part = client.post(sizes, {**fields, **row, "pieces-1-name": "side"}, headers=HTMX)
    assert fields_of(part)["pieces-1-size-w"] == "4"
    typed = {**fields, **row, **fields_of(part)}
    take = {"take_sizes": "pieces-1=pieces-0:front panel"}
    part = client.post(sizes, {**typed, **take}, headers=HTMX)
    assert fields_of(part)["pieces-1-size-w"] == "7 1/2"
    # what was typed is left as it is
    own = {**typed, "pieces-1-size-w": "3", "pieces-1-size-h": "3"}
    assert fields_of(client.post(sizes, own, headers=HTMX))["pieces-1-size-w"] == "3"
    # and without JavaScript the whole page has the same
    whole = client.post(address(version, "recipe_sizes"), {**typed, **take})
    assert "<html" in text_of(whole)
    assert fields_of(whole)["pieces-1-size-w"] == "7 1/2"


def test_a_part_is_added_with_name_material_and_sizes(client, version):
    with_pieces(version)
    place = address(version)
    page = client.get(place)
    assert 'value="pieces-0:lid"' in text_of(page)
    sizes = address(version, "recipe_sizes")
    added = client.post(sizes, {**fields_of(page), "add_part": "pieces-0:lid"})
    fields = fields_of(added)
    at = next(name for name in fields if fields[name] == "bag_lid").removesuffix("-form")
    assert (fields[f"{at}-name"], fields[f"{at}-role"]) == ("lid", "body")
    assert (fields[f"{at}-size-W"], fields[f"{at}-size-drop"]) == ("7 1/2", "4")
    assert 'value="pieces-0:lid"' not in text_of(added)
    assert client.post(place, fields).status_code == 302
    assert followed(version)["lid: lid of body"] == ("W", "D", "H", "drop")


@pytest.mark.parametrize(
    "asked", ["", "pieces-0", "pieces-9:lid", "pieces-0:castle", "x:lid", "\0"]
)
def test_a_part_nobody_offered_is_not_added(client, version, asked):
    fields = fields_of(client.get(address(version)))
    answer = client.post(address(version, "recipe_sizes"), {**fields, "add_part": asked})
    assert answer.status_code == 200
    assert fields_of(answer)["pieces-TOTAL_FORMS"] == fields["pieces-TOTAL_FORMS"]


def test_the_edge_of_a_drop_is_a_choice_of_the_shape(client, version):
    place = address(version)
    fields = fields_of(client.get(place))
    assert fields["pieces-1-size-edge"] == ""
    assert client.post(place, {**fields, "pieces-1-size-edge": "2"}).status_code == 302
    lid = document_of(version)["pieces"][1]
    assert lid["form_inputs"]["edge"] == "2"
    # the blank is the same, the point is cut from it
    assert (lid["width_mm"], lid["height_mm"]) == ("190.5", "215.9")
    again = fields_of(client.get(place))
    assert again["pieces-1-size-edge"] == "2"
    # straight once more is as it was, and the change is told in words
    assert client.post(place, {**again, "pieces-1-size-edge": ""}).status_code == 302
    assert "edge" not in document_of(version)["pieces"][1]["form_inputs"]
    page = reverse("catalogue:shape", args=["marlow", "bag_lid"])
    drawn = text_of(client.get(page, {"W": "7 1/2", "D": "4", "drop": "4", "edge": "3"}))
    assert "Curved edge: cut it by the printed template." in drawn
    assert "of radius" in drawn
