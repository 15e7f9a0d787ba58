"""Where the pieces of an item sit, as somebody says: drawn so, kept by name, undone."""

from decimal import Decimal

import pytest
from django.urls import reverse

from catalogue.calc.folded.own_places import OwnPlace, read_places, with_own_places
from catalogue.calc.folded.places import How, ItemPiece
from catalogue.calc.folded.space import dot, taken
from catalogue.calc.folded.whole import whole_item
from catalogue.calc.recipes.form_blank import form_pattern
from catalogue.recipes.item_picture import item_of, seat_words
from catalogue.recipes.models import DesignVersion
from catalogue.recipes.services import copy_recipe, new_version
from catalogue.recipes.writing import write_recipe
from maker.calc.strict_json import WrongJson
from pricing.workshop_file.services import export_workshop, import_workshop
from tests import factories

D = Decimal
TRAY = {"L": "100", "W": "60", "H": "40"}
ON_THE_RIGHT = {
    "how": "face",
    "on": "box",
    "face": "right",
    "x": "0.25",
    "y": "0.75",
    "turn": "0",
    "layers": 5,
}


@pytest.fixture
def version(workshop):
    factories.make_pack(factories.make_material(workshop, name="Card"))
    version = factories.make_version(factories.make_design(workshop, name="Small box"))
    write_recipe(
        version,
        {
            "roles": [{"name": "body", "material": "Card"}],
            "pieces": [
                {
                    "name": "box",
                    "role": "body",
                    "shape": "form",
                    "form": "tray",
                    "form_inputs": TRAY,
                },
                {
                    "name": "badge",
                    "role": "body",
                    "shape": "die",
                    "width_mm": "20",
                    "height_mm": "20",
                    "count": 2,
                },
            ],
        },
    )
    return version


def address(version, name, **more):
    return reverse(
        f"catalogue:{name}",
        kwargs={
            "workshop": "marlow",
            "design": version.design_id,
            "number": version.number,
            **more,
        },
    )


def own(**change):
    return read_places({"badge": [{**ON_THE_RIGHT, **change}]})


def pieces():
    tray = form_pattern("tray", TRAY, "mm")
    blank = tray.pieces[0]
    return (
        ItemPiece("box", float(blank.width), float(blank.height), tray),
        ItemPiece("badge", 20, 20, is_die=True),
    )


def test_a_copy_is_drawn_where_it_was_said():
    """A quarter of the face from its left, three quarters up, five layers in front: by hand."""
    whole = whole_item(with_own_places(pieces(), own()))
    face = whole.faces[0]["right"]
    badge = [facet for facet in whole.facets if facet.lie and facet.lie.piece == 1]
    points = [point for facet in badge for point in facet.points]
    middle = tuple((min(p[i] for p in points) + max(p[i] for p in points)) / 2 for i in range(3))
    away = taken(middle, face.origin)
    assert dot(away, face.across) == pytest.approx(face.width / 4, abs=0.05)
    assert dot(away, face.up) == pytest.approx(face.height * 3 / 4, abs=0.05)
    largest = 100.0
    assert dot(away, face.out) == pytest.approx(5 * 0.004 * largest, rel=0.1)


def test_what_it_sat_on_being_gone_it_sits_where_is_usual():
    seats = whole_item(with_own_places(pieces(), own(on="lid"))).seats
    assert seats == whole_item(pieces()).seats


def test_a_face_a_smaller_shape_has_not_is_no_failure():
    assert whole_item(with_own_places(pieces(), own(face="roof"))).facets


def test_a_second_copy_has_faces_of_its_own():
    strip = ItemPiece("pocket", 30, 20, count=2)
    badge = ItemPiece("star", 5, 5, is_die=True)
    said = read_places({"star": [{**ON_THE_RIGHT, "on": "pocket", "face": "front 2"}]})
    whole = whole_item(with_own_places((pieces()[0], strip, badge), said))
    assert "front 2" in whole.faces[1]
    star = next(facet for facet in whole.facets if facet.lie and facet.lie.piece == 2)
    assert dot(star.normal, whole.faces[1]["front 2"].out) == pytest.approx(1)


@pytest.mark.parametrize(
    ("wrong", "where"),
    [
        ({"x": "1.5"}, "places.badge[0].x"),
        ({"how": "glued"}, "places.badge[0].how"),
        ({"layers": 99}, "places.badge[0].layers"),
        ({"colour": "red"}, "places.badge[0].colour"),
    ],
)
def test_a_wrong_place_is_refused_with_where(wrong, where):
    with pytest.raises(WrongJson) as refused:
        own(**wrong)
    assert refused.value.where == where


def said_on_the_page(**change):
    sent = {"place": "face:0:right", "x": "25", "y": "75", "turn": "0", "layers": "5", **change}
    return {f"copy0-{key}": value for key, value in sent.items()}


def test_a_place_is_said_on_its_page_and_undone(client, version):
    DesignVersion.objects.update(frozen_at="2026-01-01T00:00Z")
    page = client.get(address(version, "place", at=1)).content.decode()
    assert "As the program places it" in page
    assert "Place of copy 2" in page
    saved = client.post(
        address(version, "place", at=1), {**said_on_the_page(), "edit_number": "0"}, follow=True
    )
    assert "Place of badge saved." in saved.content.decode()
    assert "badge on the right" in saved.content.decode()
    kept = DesignVersion.objects.get()
    assert read_places(kept.places)["badge"] == (
        OwnPlace(How.FACE, "box", "right", D("0.25"), D("0.75"), D(0), 5),
        None,
    )
    assert (kept.edit_number, kept.frozen_at) == (version.edit_number, kept.frozen_at)
    client.post(address(version, "places_undo", edit_number=1))
    assert DesignVersion.objects.get().places == {}
    client.post(address(version, "places_undo", edit_number=2))
    assert DesignVersion.objects.get().places == kept.places


def test_the_picture_answers_before_anything_is_saved(client, version):
    answer = client.get(
        address(version, "place", at=1), said_on_the_page(), headers={"HX-Request": "true"}
    ).content.decode()
    assert "badge on the right" in answer
    assert "<html" not in answer
    assert DesignVersion.objects.get().places == {}


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"x": "140"}, "The most is 100"),
        ({"turn": "a bit"}, "copy0-turn"),
        ({"place": "face:0:roof"}, "Select a valid choice"),
    ],
)
def test_what_cannot_be_read_is_told_beside_it(client, version, typed, told):
    answer = client.post(
        address(version, "place", at=1), {**said_on_the_page(**typed), "edit_number": "0"}
    )
    assert answer.status_code == 422
    assert told in answer.content.decode()
    assert DesignVersion.objects.get().places == {}


def test_two_people_at_once_lose_nothing(client, version):
    DesignVersion.objects.update(places_edit_number=3)
    answer = client.post(
        address(version, "place", at=1), {**said_on_the_page(), "edit_number": "2"}
    )
    assert answer.status_code == 409
    assert 'value="25"' in answer.content.decode()
    assert client.post(address(version, "places_undo", edit_number=1), follow=True)
    assert DesignVersion.objects.get().places == {}


def test_what_the_others_sit_on_and_a_piece_that_is_not_there_have_no_page(client, version):
    for at in (0, 7):
        assert client.get(address(version, "place", at=at)).status_code == 404


def test_a_copy_of_the_recipe_has_the_places_too(workshop, version):
    version.places = {"badge": [ON_THE_RIGHT]}
    version.save()
    assert new_version(version=version).places == version.places
    other = factories.make_version(factories.make_design(workshop))
    copy_recipe(version=version, to=other)
    assert DesignVersion.objects.get(pk=other.pk).places == version.places
    loaded = DesignVersion.objects.with_what_is_seen().get(pk=other.pk)
    item = item_of(loaded)
    assert "badge on the right" in seat_words(item, whole_item(item.pieces))[1]


def test_the_workshop_file_brings_places_along_and_refuses_wrong_ones(workshop, version, owner):
    version.places = {"badge": [ON_THE_RIGHT, None]}
    version.save()
    document = export_workshop(workshop)
    document["workshop"]["name"] = "Another one"
    made = import_workshop(owner=owner, document=document)
    arrived = DesignVersion.objects.get(design__workshop=made)
    assert arrived.places == version.places
    document["designs"][0]["versions"][0]["places"]["badge"][0]["y"] = "high"
    document["workshop"]["name"] = "A third one"
    with pytest.raises(WrongJson) as refused:
        import_workshop(owner=owner, document=document)
    assert refused.value.where == "designs[0].versions[0].places.badge[0].y"
