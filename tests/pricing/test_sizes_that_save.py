"""A size that saves a sheet is said where the price is worked out: planned, bounded, sensible."""

from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse

from catalogue.calc.cutting import watch
from catalogue.recipes import saving
from catalogue.recipes.models import DesignVersion
from catalogue.recipes.writing import write_recipe
from pricing.calc.costing.rates import Ask
from pricing.costs import sizes
from pricing.costs.services import cost_and_price
from tests import factories
from tests.catalogue.page_forms import fields_of
from tests.work import WorkClock

BODY = {"W": "63.5", "D": "38.1", "H": "101.6", "g": "12.7"}
POCKET = {"W": "101.6", "H": "101.6", "d": "19.05", "g": "12.7", "tuck": "12.7"}


def folded(name: str, form: str, **given: str) -> dict[str, Any]:
    return {"name": name, "role": "body", "shape": "form", "form": form, "form_inputs": given}


@pytest.fixture
def make(workshop):
    material = factories.make_material(workshop, name="Fern card")
    factories.make_pack(material)

    def made(*pieces: dict[str, Any]) -> DesignVersion:
        version = factories.make_version(factories.make_design(workshop))
        recipe = {
            "roles": [{"name": "body", "material": "Fern card"}],
            "pieces": list(pieces),
            "steps": [{"name": "fold", "minutes": "5"}],
        }
        write_recipe(version, recipe)
        return DesignVersion.objects.with_recipe().get(pk=version.pk)

    return made


def told(version: DesignVersion, workshop: Any, quantity: int) -> list[tuple[Any, ...]]:
    answer = cost_and_price(version=version, workshop=workshop, ask=Ask(quantity=quantity))
    return [
        (one.saving.candidate.title, one.saving.after_mm, one.saving.sheets_before,
         one.saving.sheets)
        for one in sizes.sizes_that_save(answer, version)
    ]  # fmt: skip


def test_the_least_decrease_that_saves_is_told(make, workshop):
    version = make(folded("pocket", "pocket_box", **{**POCKET, "d": "31.75", "H": "88.9"}))
    # by hand, in inches: 2 W + 2 d + g is 11, 2 d + H + tuck 6 1/2: one to a sheet of 12, five
    # for 5; at 6 high, H 3, there are two to a sheet, three for 5, and no width changes that
    assert told(version, workshop, 5) == [("height", Decimal("76.2"), 5, 3)]


def test_a_pocket_of_3_and_a_half_saves_a_sheet_with_what_follows_it(make, workshop):
    # the pocket of the worked bag of 7 1/2 x 4 x 8 in with its flap and panel. At 3 1/2 high its
    # blank is 10 x 5 1/2 and the panel that follows 3 3/4 x 3 1/4; plain rows of each piece by
    # itself know nothing of it: two pockets are on a sheet either way
    pieces = (
        folded("pocket", "pocket_box", **POCKET),
        folded("flap", "flap_extension", W="101.6", tuck="12.7", reach="25.4"),
        folded("front panel", "decorative_panel", w="101.6", h="101.6", border="3.175"),
    )
    assert told(make(*pieces), workshop, 10) == [("height", Decimal("88.9"), 7, 6)]


def test_a_plain_piece_is_told_too_with_the_way_to_its_recipe(client, make, workshop):
    plain = {"name": "card", "role": "body", "width_mm": "158.75", "height_mm": "152.4"}
    version = make(plain)
    # 6 1/4 x 6 in: one and a bit across, two up; at 6 in wide four to a sheet. Two lying beside
    # one that stands want 6 1/4 + 5 3/4 = 12 in: three to a sheet
    assert told(version, workshop, 12) == [
        ("width", Decimal("152.4"), 6, 3),
        ("height", Decimal("146.05"), 6, 4),
    ]
    place = reverse("pricing:cost_sizes", args=["marlow", version.design_id])
    page = client.get(place, {"quantity": "12"}).content.decode()
    assert "3 instead of 6" in page
    assert reverse("catalogue:recipe", args=["marlow", version.design_id, 1]) + "#pieces" in page


def test_what_follows_a_size_is_planned_with_it(make, workshop):
    panel = folded("front panel", "decorative_panel", w="63.5", h="101.6", border="3.175")
    version = make(folded("body", "one_piece_bag", **BODY), panel)
    document_keys = [one.key for one in _candidates(version, workshop)]
    # the panel's sizes are those of the bag, so they are none of their own
    assert document_keys == ["W-0", "D-0", "H-0"]
    for one in _candidates(version, workshop):
        smaller = one.resize(one.size_mm - Decimal("3.175"))
        panel_before = next(p for p in _recipe(version, workshop).pieces if "panel" in p.name)
        panel_after = next(p for p in smaller.pieces if "panel" in p.name)
        assert (panel_after != panel_before) is (one.key in ("W-0", "H-0"))


def _recipe(version, workshop):
    return cost_and_price(version=version, workshop=workshop, ask=Ask(quantity=1)).recipe


def _candidates(version, workshop):
    from catalogue.recipes.inputs import recipe_document

    rows = [piece.pk for piece in version.pieces.all()]
    return saving.candidates(recipe_document(version), _recipe(version, workshop), rows, "in")


@pytest.mark.parametrize(
    ("form", "given"),
    [
        # a handle of 1 in would lie closer at 7/8, a base card of 6 1/4 in at 6: neither is asked
        ("handle_strip", {"length": "279.4", "width": "25.4"}),
        ("base_card", {"W": "158.75", "D": "101.6"}),
        ("decorative_panel", {"w": "158.75", "h": "152.4"}),
    ],
)
def test_a_size_that_belongs_to_something_else_is_not_told(make, workshop, form, given):
    version = make(folded("part", form, **given))
    bound = {"width", "inside width of the bag", "inside depth of the bag"}
    bound |= {"width of the face", "height of the face"}
    assert not bound & {row[0] for row in told(version, workshop, 60)}


def test_no_size_goes_below_85_hundredths_or_the_limits_of_its_form(make, workshop):
    # 7 1/8 in would have to be 6, which is 84.2 %
    far = {"name": "card", "role": "body", "width_mm": "180.975", "height_mm": "152.4"}
    assert told(make(far), workshop, 12) == []
    # a bag as deep as it is wide: W cannot shrink under D, so nothing is told of it
    version = make(folded("body", "one_piece_bag", W="63.5", D="63.5", H="76.2", g="12.7"))
    assert not {"width"} & {row[0] for row in told(version, workshop, 12)}


def test_planning_is_bounded_however_large_the_recipe_is(make, workshop, monkeypatch):
    pieces = [folded(f"tag {at}", "tag", w=f"{60 + at}", h=f"{90 + 2 * at}") for at in range(30)]
    version = make(*pieces)
    # sheets of thirty different tags: hundreds of steps of HiGHS would take minutes for each plan
    monkeypatch.setattr(watch, "usual_clock", WorkClock(steps_a_second=16))
    answer = cost_and_price(version=version, workshop=workshop, ask=Ask(quantity=7))
    planned = []
    real = sizes.sheets_for

    def counted(parts, **options):
        planned.append(1)
        return real(parts, **options)

    monkeypatch.setattr(sizes, "sheets_for", counted)
    found = sizes.sizes_that_save(answer, version)
    assert len(planned) <= saving.MOST_PLANS
    assert len(found) <= sizes.MOST_SHOWN
    for one in found:
        assert one.cost_each < one.cost_each_before
        assert one.saving.after_mm >= one.saving.candidate.size_mm * Decimal("0.85")


def test_it_comes_after_the_page_and_works_as_a_link(client, reader_client, make, workshop):
    version = make(folded("pocket", "pocket_box", **{**POCKET, "d": "31.75", "H": "88.9"}))
    page = client.get(reverse("pricing:cost", args=["marlow", version.design_id]), {"quantity": 5})
    place = reverse("pricing:cost_sizes", args=["marlow", version.design_id])
    assert f'href="{place}?quantity=5"' in page.content.decode()
    assert "instead of" not in page.content.decode()
    for one in (client, reader_client):
        whole = one.get(place, {"quantity": 5}).content.decode()
        part = one.get(place, {"quantity": 5}, headers={"HX-Request": "true"}).content.decode()
        assert "<html" in whole
        assert "<html" not in part
        for text in (whole, part):
            assert "3 instead of 5" in text
            assert ("?take=" in text) is (one is client)
    # nothing to tell, nothing in the page
    quiet = make({"name": "card", "role": "body", "width_mm": "304.8", "height_mm": "304.8"})
    place = reverse("pricing:cost_sizes", args=["marlow", quiet.design_id])
    assert client.get(place, headers={"HX-Request": "true"}).content.decode().strip() == ""
    assert "No size up to 15" in client.get(place).content.decode()
    for wrong in ("x", "0", "-3", "1e9"):
        assert client.get(place, {"quantity": wrong}).status_code == 200


def test_its_link_shows_the_size_taken_and_saves_nothing(client, make, workshop):
    version = make(folded("pocket", "pocket_box", **{**POCKET, "d": "31.75", "H": "88.9"}))
    place = reverse("catalogue:version_size", args=["marlow", version.design_id, 1])
    fields = fields_of(client.get(place, {"take": "H-0=76.2"}))
    assert (fields["H-0"], fields["W-0"]) == ("3", "4")
    assert version.pieces.get().form_inputs["H"] == "88.9"
    for wrong in ("", "H-0", "x-9=1", "H-0=NaN"):
        assert fields_of(client.get(place, {"take": wrong}))["H-0"] == "3 1/2"


def test_more_pieces_cost_no_more_queries(client, make, workshop, count_queries):
    counts = []
    for more in (1, 6):
        pieces = [folded(f"tag {at}", "tag", w=f"{60 + at}", h="90") for at in range(more)]
        version = make(*pieces)
        with count_queries() as queries:
            client.get(reverse("pricing:cost_sizes", args=["marlow", version.design_id]))
        counts.append(len(queries))
    assert counts[0] == counts[1]


def test_who_may_see(client, reader_client, stranger_client, anonymous_client, make):
    version = make(folded("body", "one_piece_bag", **BODY))
    place = reverse("pricing:cost_sizes", args=["marlow", version.design_id])
    assert client.get(place).status_code == 200
    assert reader_client.get(place).status_code == 200
    assert stranger_client.get(place).status_code == 404
    assert anonymous_client.get(place).status_code == 302
