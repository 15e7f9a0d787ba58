"""Changing the size of everything that is folded, on one page."""

import copy
import re
from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse

from catalogue.recipes.following import follows_in
from catalogue.recipes.models import DesignVersion, Piece, RecipeChange
from catalogue.recipes.resizing import shared_sizes
from catalogue.recipes.writing import write_recipe
from tests import factories
from tests.catalogue.page_forms import fields_of
from tests.catalogue.test_recipe_editor import address, document_of, text_of
from tests.thorough import tries


def piece(name: str, form: str, **sizes: str) -> dict[str, Any]:
    return {
        "name": name,
        "role": "panel" if name == "panel" else "body",
        "shape": "form",
        "form": form,
        "form_inputs": sizes,
    }


RECIPE: dict[str, Any] = {
    "finished_size": "7 1/2 x 4 x 8 in",
    "roles": [
        {"name": "body", "material": "Fern card"},
        {"name": "panel", "material": "Mirror card"},
        {"name": "glue", "material": "Wet glue"},
    ],
    "pieces": [
        piece("body", "two_piece_bag", W="190.5", D="101.6", H="203.2", g="12.7"),
        piece("lid", "bag_lid", W="190.5", D="101.6", lap="12.7", drop="101.6", H="203.2"),
        piece("panel", "decorative_panel", w="190.5", h="203.2", border="3.175"),
        {"name": "strip", "role": "panel", "width_mm": "190.5", "height_mm": "20"},
    ],
    "fixings": [
        {
            "name": "seams",
            "role": "glue",
            "measure": "form_bead",
            "amount": "1",
            "rate": "3.1",
            "waste_share": "0",
        }
    ],
}


@pytest.fixture
def version(workshop: Any) -> DesignVersion:
    for name in ("Fern card", "Mirror card"):
        factories.make_pack(factories.make_material(workshop, name=name))
    factories.make_material(workshop, name="Wet glue", kind="volume")
    version = factories.make_version(factories.make_design(workshop, name="Wren bag"))
    write_recipe(version, copy.deepcopy(RECIPE))
    return version


def size_page(version: DesignVersion) -> str:
    slug = version.design.workshop.slug
    return reverse("catalogue:version_size", args=[slug, version.design_id, version.number])


def sizes_of(version: DesignVersion) -> list[dict[str, str]]:
    return [row["form_inputs"] for row in document_of(version)["pieces"]]


def test_a_letter_with_one_value_is_one_entry_with_its_pieces(version):
    sizes = {size.key: size for size in shared_sizes(document_of(version))}
    assert sizes["W-0"].pieces == ("body", "lid")
    assert sizes["W-0"].value == "190.5"
    # the panel calls its width w: a letter of its own, unless it follows the face it is on
    assert sizes["w-2"].pieces == ("panel",)
    follows = follows_in(document_of(version), "in")
    asked = {size.key for size in shared_sizes(document_of(version), (), follows)}
    assert {"w-2", "h-2", "drop-1"}.isdisjoint(asked)
    assert {"W-0", "D-0", "H-0"} <= asked
    # tabs and the like come after the finished size
    groups = [size.asked.group for size in shared_sizes(document_of(version))]
    assert groups == sorted(groups, reverse=True)
    apart = {size.key: size.pieces for size in shared_sizes(document_of(version), ["W"])}
    assert (apart["W-0"], apart["W-1"]) == (("body",), ("lid",))
    assert apart["D-0"] == ("body", "lid")


def test_the_same_letter_with_another_value_is_another_entry(version):
    document = document_of(version)
    document["pieces"][1]["form_inputs"]["W"] = "200"
    found = [size for size in shared_sizes(document) if size.asked.name == "W"]
    assert [(size.value, size.pieces) for size in found] == [
        ("190.5", ("body",)),
        ("200", ("lid",)),
    ]


def test_a_size_is_changed_in_all_its_pieces_at_once_and_undone_at_once(client, version):
    before = document_of(version)
    fields = fields_of(client.get(size_page(version)))
    assert (fields["W-0"], fields["D-0"]) == ("7 1/2", "4")
    answer = client.post(
        size_page(version),
        {**fields, "W-0": "7", "finished_size": "7 x 4 x 8 in", "then": "save"},
        follow=True,
    )
    assert "The size of version 1 is changed." in text_of(answer)
    after = document_of(version)
    assert [row.get("W") for row in sizes_of(version)] == ["177.8", "177.8", None, None]
    # the blank is half an inch narrower: 11 1/2 x 12 in; the lid strip is as wide as the bag, the
    # panel 1/4 in less; the strip is a free rectangle
    assert [row["width_mm"] for row in after["pieces"]] == ["292.1", "177.8", "171.45", "190.5"]
    assert after["finished_size"] == "7 x 4 x 8 in"
    assert RecipeChange.objects.count() == 1
    client.post(address(version, "recipe_undo", edit_number=0))
    assert document_of(version) == before


def test_before_and_after_are_shown_and_nothing_is_saved(client, version):
    before = document_of(version)
    fields = fields_of(client.get(size_page(version)))
    page = text_of(client.post(size_page(version), {**fields, "W-0": "8"}))
    assert '<span class="soft">12 × 12 in, 2 for each</span>' in page
    assert '<strong class="figure-now">12 1/2 × 12 in, 2 for each</strong>' in page
    # wider than the sheet of 12 in: the reason instead of a number of sheets
    assert "body, 12 1/2 × 12 in, is larger than a sheet of Fern card, 12 × 12 in." in page
    assert page.count(">no sheet<") == 3
    small = {"W-0": "3", "D-0": "2", "H-0": "3"}  # the drop follows the depth
    page = text_of(client.post(size_page(version), {**fields, **small}))
    # by hand: before, two whole sheets of bodies and one for the lid of 7 1/2 x 8 1/2 in; now two
    # bodies of 5 1/2 x 5 in and a lid of 3 x 4 1/2 in beside each other on one
    assert '<span class="soft">3</span> → <strong class="figure-now">1</strong>' in page
    assert document_of(version) == before
    assert not RecipeChange.objects.exists()


def test_glue_measured_on_the_pieces_moves_with_the_size(client, version):
    fields = fields_of(client.get(size_page(version)))
    page = text_of(client.post(size_page(version), {**fields, "H-0": "7"}))
    assert "Glue line per item:" in page
    before, after = (Decimal(text) for text in _glue_of_one(page))
    # an inch less on the tab of each of the two blanks, and on both sides of the panel that
    # follows the face: 101.6 mm at 3.1 ml a metre is 0.315 ml
    assert abs(before - after - Decimal("0.31496")) <= Decimal("0.001")


def _glue_of_one(page: str) -> tuple[str, str]:
    """Return the ml for one before and after, out of the row of the glue."""
    cells = page.split("Wet glue</td>")[1]
    before = cells.split('<span class="soft">')[1].split(" ml")[0]
    after = cells.split('<strong class="figure-now">')[1].split(" ml")[0]
    return before, after


def test_a_letter_is_set_apart_and_together_again_with_everything_typed(client, version):
    fields = fields_of(client.get(size_page(version)))
    page = client.post(size_page(version), {**fields, "D-0": "3", "apart": "W"})
    apart = fields_of(page)
    assert apart["apart"] == "W"
    assert (apart["W-0"], apart["D-0"]) == ("7 1/2", "3")
    assert "W-1" in apart
    client.post(size_page(version), {**apart, "W-1": "8", "then": "save"})
    assert [row.get("W") for row in sizes_of(version)] == ["190.5", "203.2", None, None]
    assert sizes_of(version)[0]["D"] == "76.2"
    page = client.post(size_page(version), {**fields, "apart": "W", "together": "W"})
    assert "apart" not in fields_of(page)


def test_a_frozen_version_becomes_a_new_one(client, version):
    DesignVersion.objects.filter(pk=version.pk).update(frozen_at="2026-01-01T00:00Z")
    page = client.get(size_page(version))
    assert "saving creates a new version" in text_of(page)
    before = document_of(version)
    answer = client.post(
        size_page(version), {**fields_of(page), "W-0": "7", "then": "save"}, follow=True
    )
    assert "The size of version 2 is changed." in text_of(answer)
    made = DesignVersion.objects.get(number=2)
    assert sizes_of(made)[0]["W"] == "177.8"
    assert document_of(version) == before
    # nothing changed is no version
    page = client.get(size_page(version))
    answer = client.post(size_page(version), {**fields_of(page), "then": "save"})
    assert answer.status_code == 422
    assert "Nothing was changed" in text_of(answer)
    assert DesignVersion.objects.count() == 2


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"W-0": ""}, "Fill this in."),
        ({"W-0": "wide"}, "a length. Enter one"),
        ({"W-0": "-7"}, "below zero"),
        ({"W-0": "0"}, "above 0"),
        ({"W-0": "9" * 5000}, "too many digits"),
        ({"D-0": "8"}, "Nearest that works: 7 1/2 in."),
        ({"finished_size": "x" * 81}, "80"),
    ],
)
def test_a_size_in_the_way_is_told_beside_it_and_nothing_is_saved(client, version, typed, told):
    before = document_of(version)
    fields = fields_of(client.get(size_page(version)))
    for then, status in (("save", 422), ("show", 200)):
        answer = client.post(size_page(version), {**fields, **typed, "then": then})
        assert answer.status_code == status
        assert told in text_of(answer)
    assert document_of(version) == before


def test_entries_nobody_asked_for_change_nothing(client, version):
    before = document_of(version)
    fields = fields_of(client.get(size_page(version)))
    sent = {**fields, "W-7": "1", "Q-0": "1", "pieces-0-width_mm": "1", "apart": "<b>'\0"}
    answer = client.post(size_page(version), {**sent, "then": "save"})
    assert "Nothing was changed" in text_of(answer)
    assert document_of(version) == before


def test_what_somebody_else_saved_meanwhile_is_told_and_not_lost(client, helper_client, version):
    mine = fields_of(client.get(size_page(version)))
    theirs = fields_of(helper_client.get(size_page(version)))
    helper_client.post(size_page(version), {**theirs, "H-0": "9", "then": "save"})
    answer = client.post(size_page(version), {**mine, "W-0": "7", "then": "save"})
    assert answer.status_code == 409
    page = text_of(answer)
    assert "saved this recipe while you were typing" in page
    assert "H 8 → 9 in" in page
    assert sizes_of(version)[0]["W"] == "190.5"
    typed = fields_of(answer)
    assert (typed["W-0"], typed["edit_number"]) == ("7", "1")
    assert client.post(size_page(version), {**typed, "then": "save"}).status_code == 302
    assert sizes_of(version)[0]["W"] == "177.8"


def test_a_recipe_without_forms_says_where_to_begin(client, workshop):
    version = factories.make_recipe(workshop)
    page = text_of(client.get(size_page(version)))
    assert "Nothing here is folded from a shape yet." in page
    assert "Save size" not in page


def test_who_may_change_the_size(
    version, client, helper_client, reader_client, stranger_client, anonymous_client, other_workshop
):
    place = size_page(version)
    for method in ("get", "post"):
        assert getattr(helper_client, method)(place).status_code == 200
        assert getattr(reader_client, method)(place).status_code == 403
        assert getattr(stranger_client, method)(place).status_code == 404
        assert getattr(anonymous_client, method)(place).status_code == 302
    theirs = factories.make_recipe(other_workshop)
    strange = reverse("catalogue:version_size", args=["marlow", theirs.design_id, 1])
    assert client.get(strange).status_code == 404
    assert client.post(strange, {"then": "save"}).status_code == 404


def test_more_pieces_cost_no_more_queries(client, version, count_queries):
    pages = [size_page(version), reverse("catalogue:design", args=["marlow", version.design_id])]
    counts = []
    for _ in range(2):
        with count_queries() as queries:
            for page in pages:
                client.get(page)
        counts.append(len(queries))
        document = copy.deepcopy(RECIPE)
        document["pieces"] += [
            piece(f"tag {at}", "tag", w="50.8", h=str(60 + at))
            for at in range(tries(6, thorough=20))
        ]
        write_recipe(version, document)
    assert counts[0] == counts[1]


def test_a_design_shows_its_folded_pieces_drawn_with_their_sheet(client, reader_client, version):
    page_address = reverse("catalogue:design", args=["marlow", version.design_id])
    for one in (client, reader_client):
        page = text_of(one.get(page_address))
        assert "Two-piece bag, 12 × 12 in, cut 2" in page
        # blank and sheet are 12 x 12 in: nothing to spare
        assert "Exact fit: measure your sheet first" in page
        # a drawing of each, with a title of its own for those who cannot see it
        for number in (1, 2, 3):
            (title,) = re.findall(rf'<title id="folded{number}-title">(.+?)</title>', page)
            assert " in" in title
        assert "folded4" not in page
        assert "From the left edge" in page
        assert ("Change size" in page) == (one is client)


def test_a_blank_larger_than_its_sheet_is_told(client, version):
    document = copy.deepcopy(RECIPE)
    document["pieces"][0]["form_inputs"]["W"] = "203.2"
    write_recipe(version, document)
    page = text_of(client.get(reverse("catalogue:design", args=["marlow", version.design_id])))
    assert "The sheet is too small by 1/2 in across." in page


def test_the_cut_list_weighs_one_of_it(client, version):
    page_address = reverse("catalogue:design", args=["marlow", version.design_id])
    page = text_of(client.get(page_address))
    assert "Add the paper weight of Fern card, Mirror card to see the weight." in page
    version.design.workshop.materials.filter(name="Mirror card").update(grammage=200)
    page = text_of(client.get(page_address))
    # by hand: a panel of 7 1/4 x 7 3/4 in and a strip of 190.5 x 20 mm at 200 g/m2:
    # 184.15 x 196.85 = 36,249.9 mm2 and 3,810 mm2, together 8.0 g
    assert "8 g, not counting Fern card" in page
    assert ">7.2 g<" in page


def test_what_may_grow_comes_later_and_by_itself(client, reader_client, version):
    place = reverse("catalogue:version_free_sizes", args=["marlow", version.design_id, 1])
    for one in (client, reader_client):
        page = text_of(one.get(place))
        assert "<html" in page
        part = text_of(one.get(place, headers={"HX-Request": "true"}))
        assert "<html" not in part
        # the body fills its sheet: no side of it may grow
        assert "body" in part
        assert "None: any larger takes more sheets." in part
    theirs = reverse("catalogue:version_free_sizes", args=["marlow", version.design_id, 9])
    assert client.get(theirs).status_code == 404


@pytest.mark.parametrize("kept", [{"form": "castle"}, {"form_inputs": {"W": "10", "D": "20"}}])
def test_what_a_form_no_longer_takes_can_still_be_seen_and_mended(client, version, kept):
    Piece.objects.filter(form="two_piece_bag").update(**kept)
    design = reverse("catalogue:design", args=["marlow", version.design_id])
    for place in (design, address(version), size_page(version)):
        assert client.get(place).status_code == 200
    # what it costs is not guessed
    cost = client.get(reverse("pricing:cost", args=["marlow", version.design_id]))
    assert cost.status_code in (200, 422)
    assert "castle" in text_of(cost) or "Give H" in text_of(cost) or "side flaps" in text_of(cost)
    fields = fields_of(client.get(address(version)))
    mended = {"pieces-0-form": "tag", "pieces-0-size-w": "2", "pieces-0-size-h": "3"}
    assert client.post(address(version), {**fields, **mended}).status_code == 302
    assert client.get(design).status_code == 200
