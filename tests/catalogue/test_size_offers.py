"""Sizes offered where she decides: growth for nothing, savings, a form that becomes a design."""

import copy
import re
from decimal import Decimal
from fractions import Fraction

import pytest
from django.urls import reverse

from catalogue.calc.flat_patterns import FORMS, flat_pattern
from catalogue.materials.models import Material
from catalogue.recipes.growing import offers_for
from catalogue.recipes.models import DesignVersion
from catalogue.recipes.resizing import shared_sizes
from catalogue.recipes.writing import write_recipe
from catalogue.shapes.answer import advice_for, without_bound
from tests import factories
from tests.catalogue.page_forms import fields_of
from tests.catalogue.test_recipe_editor import document_of, text_of
from tests.catalogue.test_recipe_size import RECIPE, piece, size_page, sizes_of, version

__all__ = ["version"]  # the fixture of the page these are on


def in_words(client, place, **more):
    fields = fields_of(client.get(place))
    answer = client.post(place, {**fields, **more})
    return answer, text_of(answer)


def test_growth_for_nothing_stops_at_the_piece_that_has_least_room(version):
    # by hand, sheets of 12 x 12 in: tags of 2 x 2 1/2 in are 6 in a row, 4 rows, and stay so up
    # to a height of 3 in; 5 rows need 2.4 in, 2 3/8 on a ruler of sixteenths. One of 2 x 3 in has
    # all of its room already; together they have the least of both.
    document = copy.deepcopy(RECIPE)
    document["pieces"] = [
        piece("small", "tag", w="50.8", h="63.5"),
        piece("large", "tag", w="50.8", h="76.2"),
    ]
    write_recipe(version, document)
    loaded = type(version).objects.with_recipe().get(pk=version.pk)
    kept = document_of(version)
    found = offers_for(loaded, kept, shared_sizes(kept), [], version.design.workshop)
    offers = {(one.key, one.text): one.value for one in found}
    assert offers[("h-0", "up to 3 in: free")] == "76.2"
    assert offers[("h-0", "2 3/8 in: saves sheets")] == "60.325"
    assert not any(key == "h-1" and "free" in text for key, text in offers)
    # 6 in a row is all there is of the width they have in common
    assert not any(key == "w-0" and "free" in text for key, text in offers)


def test_a_size_of_something_else_is_not_advised():
    # a handle of 1 in would lie 13 to a 12 in sheet at 7/8; a base card belongs to its bag
    twelve = Material(name="card", width_mm=Decimal("304.8"), height_mm=Decimal("304.8"))
    for form, sizes in (
        ("handle_strip", {"length": Fraction(11), "width": Fraction(1)}),
        ("base_card", {"W": Fraction(25, 4), "D": Fraction(4)}),
        ("decorative_panel", {"w": Fraction(25, 4), "h": Fraction(4)}),
    ):
        pattern = flat_pattern(form, sizes, unit="in")
        advice = advice_for(FORMS[form], pattern, sizes, twelve, None)
        told = {each.name for each in (*advice.free, *advice.saving)}
        bound = {one.name for one in FORMS[form].inputs if one.is_bound}
        assert told & bound, form
        loose = without_bound(FORMS[form], advice)
        assert {each.name for each in (*loose.free, *loose.saving)} == told - bound


def test_an_offer_is_taken_with_one_tap_and_saves_nothing(client, version):
    document = copy.deepcopy(RECIPE)
    document["pieces"] = [piece("tag", "tag", w="50.8", h="63.5")]
    write_recipe(version, document)
    place = size_page(version)
    page = text_of(client.get(place))
    (offer,) = re.findall(r'name="take" value="(h-0=76\.2)"', page)
    answer, page = in_words(client, place, take=offer)
    assert answer.status_code == 200
    assert re.search(r'name="h-0" value="3"', page)
    assert "2 × 3 in" in page
    assert sizes_of(version)[0]["h"] == "63.5"


@pytest.mark.parametrize(
    "take", ["", "h-0", "h-0=", "=3", "h-0=NaN", "h-0=1e9", "then=save", "finished_size=1", "x-9=3"]
)
def test_an_offer_nobody_made_changes_nothing(client, version, take):
    place = size_page(version)
    before = document_of(version)
    answer, page = in_words(client, place, take=take)
    assert answer.status_code == 200
    assert document_of(version) == before
    assert 'name="W-0" value="7 1/2"' in page


def test_a_design_says_what_it_is_before_anything_else(client, reader_client, version):
    place = reverse("catalogue:design", args=["marlow", version.design_id])
    for one in (client, reader_client):
        page = text_of(one.get(place))
        # the whole item, then the cut list, then each piece behind its small picture
        order = [
            page.index('class="item-picture"'),
            page.index("What is where"),
            page.index(">Blank</th>"),
            page.index('<details class="folded-piece">'),
            page.rindex(">Recipe"),
        ]
        assert order == sorted(order)
        assert page.count('<details class="folded-piece">') == 3


def test_a_design_of_free_rectangles_is_drawn_flat_above_its_cut_list(client, version):
    document = copy.deepcopy(RECIPE)
    document["pieces"], document["fixings"] = document["pieces"][3:], []
    write_recipe(version, document)
    page = text_of(client.get(reverse("catalogue:design", args=["marlow", version.design_id])))
    assert "Cut list per item" in page
    assert page.count('class="item-picture"') == 1
    assert "Folded pieces" not in page


def test_a_form_of_the_library_becomes_a_priced_design(client, workshop):
    material = factories.make_material(workshop, name="Fern card")
    factories.make_pack(material)
    use = reverse("catalogue:shape_use", args=["marlow"])
    asked = f"{use}?form=two_piece_bag&W=7+1/2&D=4&H=8&sheet={material.pk}"
    # without a design it leads to a new one at once; beside others that is one of the choices
    place = client.get(asked)["Location"]
    factories.make_version(factories.make_design(workshop, name="Other bag"))
    (start,) = re.findall(r'href="([^"]+)">Start a new design', text_of(client.get(asked)))
    assert start.replace("&amp;", "&") == place
    fields = fields_of(client.get(place))
    assert fields["material"] == str(material.pk)
    assert (fields["form"], fields["name"]) == ("two_piece_bag", "Two-piece bag")
    assert [fields[f"size-{name}"] for name in "WDH"] == ["7 1/2", "4", "8"]
    # without the minutes it comes back with everything else
    assert client.post(place, {**fields, "minutes": ""}).status_code == 422
    made = client.post(place, {**fields, "name": "Heron bag", "minutes": "12"})
    assert made.status_code == 302
    version = DesignVersion.objects.get(design__name="Heron bag")
    (body,) = version.pieces.all()
    assert (body.form, body.width_mm, body.form_inputs["W"]) == (
        "two_piece_bag",
        Decimal("304.8"),
        "190.5",
    )
    assert "Heron bag" in text_of(client.get(made.url))


def test_a_blank_larger_than_the_sheet_is_told_before_a_design_is_made(client, workshop):
    factories.make_pack(factories.make_material(workshop, name="Fern card"))
    place = reverse("catalogue:design_new", args=["marlow"]) + "?form=two_piece_bag&W=9&D=4&H=8"
    answer = client.post(place, {**fields_of(client.get(place)), "minutes": "12"})
    assert answer.status_code == 422
    assert "Body does not fit on a sheet of Fern card" in text_of(answer)
    assert not DesignVersion.objects.exists()
