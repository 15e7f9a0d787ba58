"""Pages of cutting plans: asked for, shown sheet by sheet, printed, cut, and what is refused."""

import datetime
import io
import re
from decimal import Decimal
from typing import Any

import pdfplumber
import pikepdf
import pytest
from defusedxml import ElementTree
from django.test import Client

from catalogue.cutting_plans.asks import DesignAsk, SheetSupply
from catalogue.cutting_plans.models import CuttingPlan
from catalogue.cutting_plans.stored import read_groups
from catalogue.materials.models import Material
from catalogue.recipes.models import Colourway, ColourwayMaterial, Piece, Step
from maker.workshop.models import Workshop
from tests import factories
from tests.catalogue.cutting_asks import D, form_of, keep, loaded, make_plan, piece, shelve
from tests.catalogue.pages import text_of, who_gets_in

NEW = "/w/marlow/cutting-plans/new/"
TODAY = datetime.date(2026, 3, 31)


def test_a_plan_is_asked_for_and_answers_at_once(client: Client, workshop: Workshop) -> None:
    version = factories.make_recipe(workshop)
    response = client.post(NEW, form_of((version.design, 60)), follow=True)
    plan = CuttingPlan.objects.get()
    assert (plan.state, plan.workshop) == ("done", workshop)
    page = text_of(response)
    # by hand: nine squares of 4 in on a sheet of 12 in, so 60 take 7
    assert "7 sheets: the fewest possible." in page
    # the sheet of six has room for three that were spoiled on the others
    assert page.index("is last") < page.index("Layout 1: 6 times") < page.index("Layout 2: once")
    assert "Spare room for 3 more" in page
    assert "9 × body, 4 × 4 in" in page
    assert "fills the sheet exactly" in page
    assert plan.name == f"60 × {version.design.name}"


def test_the_cost_page_and_the_design_lead_to_a_plan(client: Client, workshop: Workshop) -> None:
    version = factories.make_recipe(workshop)
    address = f"{NEW}?design={version.design.pk}&quantity=60"
    page = text_of(client.get(f"/w/marlow/designs/{version.design.pk}/"))
    assert address in page
    page = text_of(client.get(address))
    assert 'value="60"' in page
    assert "60 pieces of 1 kind" in page


def test_designs_and_pieces_of_one_material_share_sheets(
    client: Client, workshop: Workshop, card: Material
) -> None:
    one, other = factories.make_recipe(workshop, card), factories.make_recipe(workshop, card)
    typed = {"name": "tag", "material": card.pk, "width": "4", "height": "4", "count": "3"}
    client.post(NEW, form_of((one.design, 3), (other.design, 3), pieces=[typed]))
    plan = CuttingPlan.objects.get()
    [group] = read_groups(plan.jobs)
    assert [kind.count for kind in group.job.pieces] == [3, 3, 3]
    assert plan.plans[0]["sheet_count"] == 1


def test_version_colourway_and_options_are_chosen(
    client: Client, workshop: Workshop, card: Material
) -> None:
    version = factories.make_recipe(workshop, card)
    blue = factories.make_material(workshop, name="Blue card")
    way = Colourway.objects.create(version=version, name="Blue")
    ColourwayMaterial.objects.create(colourway=way, role=version.roles.get(), material=blue)
    factories.make_version(version.design, number=2)
    detail = {"detail-0-design": version.design.pk, "detail-0-version": "1"}
    page = text_of(client.post(NEW, form_of((version.design, 9), step="look", **detail)))
    assert "As in the recipe" in page
    assert not CuttingPlan.objects.exists()
    client.post(NEW, form_of((version.design, 9), **detail, **{"detail-0-colourway": way.pk}))
    plan = CuttingPlan.objects.get()
    assert [group.title for group in read_groups(plan.jobs)] == ["Blue card"]
    assert plan.asked["designs"][0]["colourway"] == "Blue"
    again = client.get(f"{NEW}?plan={plan.pk}")
    assert f'value="{way.pk}" selected' in text_of(again)


def test_offcuts_are_used_first_and_direction_is_kept(workshop: Workshop, card: Material) -> None:
    Material.objects.filter(pk=card.pk).update(is_directional=True)
    card = Material.objects.with_costs().get(pk=card.pk)
    keep(card, "101.6", "203.2", 2)
    # lies across: 4 x 2 in would only do turned
    keep(card, "203.2", "50.8", 5)
    tall = piece(card, width_mm=D("50.8"), height_mm=D("101.6"), count=8)
    plan = make_plan(workshop, tall)
    [group] = read_groups(plan.jobs)
    assert {source.width_mm for source in group.sources if source.is_offcut} == {D("101.6")}
    assert [layout["sheet"] for layout in plan.plans[0]["layouts"]] == [
        "offcut 4 × 8 in of Bramble card"
    ]
    assert plan.plans[0]["cost"] == "0"


def test_only_what_is_on_the_shelf_may_be_too_little(
    client: Client, workshop: Workshop, card: Material
) -> None:
    shelve(card, 2)
    version = factories.make_recipe(workshop, card)
    sent = form_of((version.design, 60), **{f"m{card.pk}-supply": "shelf"})
    page = text_of(client.post(NEW, sent, follow=True))
    assert CuttingPlan.objects.get().state == "refused"
    assert "This can't be cut" in page


def test_another_sheet_may_stand_in_where_it_is_cheaper(workshop: Workshop, card: Material) -> None:
    cheap = factories.make_material(workshop, name="Plain card")
    factories.make_pack(cheap, price=D("1"))
    rows = {row.name: row for row in Material.objects.with_costs()}
    supply = {card.pk: SheetSupply(also=(rows["Plain card"],))}
    plan = make_plan(workshop, piece(rows["Bramble card"]), supplies=supply)
    assert [layout["sheet"] for layout in plan.plans[0]["layouts"]] == ["Plain card"]
    assert plan.plans[0]["cost"] == "0.1"


def test_what_cannot_be_compared_is_told(
    client: Client, workshop: Workshop, card: Material
) -> None:
    bare = factories.make_material(workshop, name="Bare card")
    version = factories.make_recipe(workshop, card)
    sent = form_of(
        (version.design, 9), **{f"m{card.pk}-supply": "buy", f"m{card.pk}-also": bare.pk}
    )
    response = client.post(NEW, sent)
    assert response.status_code == 422
    assert "“Bare card” has no price yet" in text_of(response)
    own = {"name": "tag", "material": bare.pk, "width": "4", "height": "4", "count": "3"}
    response = client.post(
        NEW,
        sent
        | form_of((version.design, 9), pieces=[own])
        | sent
        | {key: value for key, value in form_of(pieces=[own]).items() if key.startswith("pieces")},
    )
    assert response.status_code == 422
    assert "replace" in text_of(response)


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ({"width": "0"}, "above 0"),
        ({"width": "-4"}, "below zero"),
        ({"width": "1e9"}, "a number we can read"),
        ({"width": "200 m"}, "longer than 100 m"),
        ({"width": "13"}, "fits"),
        ({"height": ""}, "height too"),
        ({"count": "0"}, "least is 1"),
        ({"count": "99999999"}, "most is 1000000"),
        ({"count": "1.5"}, "a whole number. Enter one"),
        ({"material": "999999"}, "valid choice"),
        ({"name": ""}, ""),
        ({"name": "x" * 500}, "80"),
        ({"turning": "round"}, "valid choice"),
    ],
)
def test_what_cannot_be_meant_is_told(
    client: Client, card: Material, row: dict[str, str], told: str
) -> None:
    typed = {"name": "tag", "material": card.pk, "width": "4", "height": "4", "count": "3"}
    response = client.post(NEW, form_of(pieces=[typed | row]))
    assert response.status_code == 422
    assert told in text_of(response)
    assert "There is a problem" in text_of(response)
    assert not CuttingPlan.objects.exists()


def test_nothing_to_cut_and_absurd_forms_are_told(client: Client, card: Material) -> None:
    assert "Nothing here is cut" in text_of(client.post(NEW, form_of()))
    lost = client.post(NEW, {"step": "plan"})
    assert lost.status_code == 422
    many = form_of() | {"pieces-TOTAL_FORMS": "100000"}
    assert "No more than 500 rows" in text_of(client.post(NEW, many))
    for name, value in (("rounds", "9"), ("seconds", "99999"), ("form_key", "x")):
        typed = {"name": "tag", "material": card.pk, "width": "4", "height": "4", "count": "3"}
        response = client.post(NEW, form_of(pieces=[typed], **{name: value}))
        assert response.status_code == 422


def test_a_second_click_makes_no_second_plan(
    client: Client, workshop: Workshop, card: Material
) -> None:
    version = factories.make_recipe(workshop, card)
    sent = form_of((version.design, 9))
    first, second = client.post(NEW, sent), client.post(NEW, sent)
    assert first["Location"] == second["Location"]
    assert CuttingPlan.objects.count() == 1


def test_the_same_jobs_are_answered_from_the_plan_that_is_there(
    workshop: Workshop, card: Material, monkeypatch: pytest.MonkeyPatch
) -> None:
    card = Material.objects.with_costs().get(pk=card.pk)
    first = make_plan(workshop, piece(card))

    def never(*args: Any, **options: Any) -> None:
        raise AssertionError("planned again")

    monkeypatch.setattr("catalogue.cutting_plans.services.plan_at_once", never)
    second = make_plan(workshop, piece(card))
    assert second.plans == first.plans
    assert second.state == "done"


def test_lengths_are_cut_from_reels(client: Client, workshop: Workshop) -> None:
    ribbon = factories.make_material(workshop, name="Sage ribbon", kind="length")
    factories.make_pack(ribbon, name="reel", quantity=D(5), price=D(3))
    typed = {"name": "bow", "material": ribbon.pk, "width": "400 mm", "count": "25"}
    response = client.post(NEW, form_of(pieces=[typed]), follow=True)
    page = text_of(response)
    # by hand: 12 lengths of 400 mm in 5 m, so 25 take 3 reels
    assert "3 reels: the fewest possible." in page
    assert "Sage ribbon, reel of 5 m" in page
    assert CuttingPlan.objects.get().plans[0]["reel_count"] == 3


def test_the_list_says_what_to_do_first_and_asks_as_often_for_many(
    client: Client, workshop: Workshop, count_queries: Any
) -> None:
    assert "A cutting plan needs sheets" in text_of(client.get("/w/marlow/cutting-plans/"))
    card = factories.make_material(workshop)
    factories.make_pack(card)
    assert "No plans yet" in text_of(client.get("/w/marlow/cutting-plans/"))
    card = Material.objects.with_costs().get(pk=card.pk)
    make_plan(workshop, piece(card))
    with count_queries() as few:
        client.get("/w/marlow/cutting-plans/")
    for number in range(12):
        make_plan(workshop, piece(card), name=f"plan {number}")
    with count_queries() as many:
        page = client.get("/w/marlow/cutting-plans/")
    assert len(few) == len(many)
    assert "plan 11" in text_of(page)
    assert "plan 11" not in text_of(client.get("/w/marlow/cutting-plans/?search=plan+7"))
    assert client.get("/w/marlow/cutting-plans/?sort=cut_on&state=cut&page=99").status_code == 200


def test_pages_ask_as_often_whatever_is_on_them(
    client: Client, workshop: Workshop, count_queries: Any
) -> None:
    card = factories.make_material(workshop)
    factories.make_pack(card)
    card = Material.objects.with_costs().get(pk=card.pk)
    version = factories.make_recipe(workshop, card)
    counts = []
    for number in (1, 6):
        for at in range(number):
            row = {"name": f"part {at}", "width_mm": D(50), "height_mm": D(60 + at)}
            Piece.objects.create(version=version, role=version.roles.get(), **row)
        plan = make_plan(workshop, designs=[DesignAsk(loaded(version), 20 * number)])
        with count_queries() as asked:
            assert client.get(f"/w/marlow/cutting-plans/{plan.pk}/").status_code == 200
        with count_queries() as again:
            assert client.get(f"{NEW}?plan={plan.pk}").status_code == 200
        counts.append((len(asked), len(again)))
    assert counts[0] == counts[1]


def test_who_may_see_and_who_may_change(visitors: Any, workshop: Workshop, card: Material) -> None:
    plan = make_plan(workshop, piece(Material.objects.with_costs().get(pk=card.pk)))
    page = f"/w/marlow/cutting-plans/{plan.pk}/"
    sees = {"owner": 200, "helper": 200, "reader": 200, "stranger": 404, "nobody": 302}
    for address in (page, f"{page}pdf/", f"{page}layouts/1.svg"):
        assert who_gets_in(address, writes=False, clients=visitors) == sees
    writes = {"reader": 403, "stranger": 404, "nobody": 302}
    for address in ("cut/", "cut/take-back/", "offcuts/", "offcuts/take-back/", "stop/", "longer/"):
        got = who_gets_in(page + address, writes=True, clients=visitors)
        assert {name: got[name] for name in writes} == writes
    assert "Add offcuts" not in text_of(visitors["reader"].get(page))


def test_a_layout_is_a_file_of_its_own(client: Client, workshop: Workshop, card: Material) -> None:
    name = '<b>"&</b> tag'
    plan = make_plan(workshop, piece(Material.objects.with_costs().get(pk=card.pk), name=name))
    response = client.get(f"/w/marlow/cutting-plans/{plan.pk}/layouts/1.svg")
    root = ElementTree.fromstring(response.content)
    assert name in "".join(root.itertext())
    assert client.get(f"/w/marlow/cutting-plans/{plan.pk}/layouts/2.svg").status_code == 404
    assert '<b>"&</b>' not in client.get(f"/w/marlow/cutting-plans/{plan.pk}/").content.decode()


@pytest.mark.slow
def test_the_pdf_says_the_same_and_is_tagged(
    client: Client, workshop: Workshop, card: Material
) -> None:
    card = Material.objects.with_costs().get(pk=card.pk)
    plan = make_plan(workshop, piece(card, count=10), name="Ten panels")
    response = client.get(f"/w/marlow/cutting-plans/{plan.pk}/pdf/")
    assert response["Content-Type"] == "application/pdf"
    with pdfplumber.open(io.BytesIO(response.content)) as file:
        text = " ".join((page.extract_text() or "") for page in file.pages)
    text = re.sub(r"\s+", " ", text)
    assert "Cutting plan: Ten panels" in text
    assert "2 sheets: the fewest possible." in text
    assert "set the fence to 4 in and cut" in text
    with pikepdf.open(io.BytesIO(response.content)) as pdf:
        assert bool(pdf.Root.MarkInfo.Marked)
        assert "/StructTreeRoot" in pdf.Root


def test_a_hundred_thousand_pieces_and_hundreds_of_kinds(
    client: Client, workshop: Workshop, card: Material
) -> None:
    row = Material.objects.with_costs().get(pk=card.pk)
    plan = make_plan(workshop, piece(row, count=100_000))
    assert plan.state == "done"
    # by hand: 100,000 / 9, up
    assert plan.plans[0]["sheet_count"] == 11_112
    kinds = [
        {
            "name": f"p{at}", "material": card.pk, "width": f"{20 + at % 91} mm",
            "height": f"{20 + at % 83} mm", "count": 200,
        }
        for at in range(500)
    ]  # fmt: skip
    response = client.post(NEW, form_of(pieces=kinds))
    assert response.status_code == 302
    waiting = CuttingPlan.objects.newest_first()[0]
    assert (waiting.state, waiting.plans) == ("waiting", None)
    assert client.get(response["Location"]).status_code == 200


def test_prices_are_decimals(workshop: Workshop, card: Material) -> None:
    plan = make_plan(workshop, piece(Material.objects.with_costs().get(pk=card.pk)))
    assert read_groups(plan.jobs)[0].sources[0].price == Decimal("0.5")


def test_the_page_of_a_plan_begins_with_what_it_comes_to(
    client: Client, workshop: Workshop, card: Material
) -> None:
    shelve(card, 5)
    version = factories.make_recipe(workshop, card)
    Step.objects.create(
        version=version, name="cut", basis="sheet", role=version.roles.get(), minutes=D("2.5")
    )
    client.post(NEW, form_of((version.design, 60)))
    response = client.get(f"/w/marlow/cutting-plans/{CuttingPlan.objects.get().pk}/")
    # by hand: 7 sheets at what those in stock cost, 1.00, and 2.5 minutes each; two are missing
    figures = {one.label: one.value_text for one in response.context["figures"]}
    assert figures["Sheets"] == "7"
    assert figures["To buy"] == "2"
    assert figures["Cost"] == "€7.00"
    assert figures["Cutting time"] == "18"
    page = text_of(response)
    places = [
        page.index(words)
        for words in ("Cutting time", "buy 2 sheets", "the fewest possible", "Why?", "Layout 1:")
    ]
    assert places == sorted(places)
    # both layouts lie closed in the strip, each with a drawing of its own
    assert page.count('<details class="layout">') == page.count('class="layout-small"') == 2


def test_a_recipe_without_times_or_prices_promises_none(
    client: Client, workshop: Workshop, card: Material
) -> None:
    plan = make_plan(workshop, piece(card, count=10))
    labels = [
        one.label for one in client.get(f"/w/marlow/cutting-plans/{plan.pk}/").context["figures"]
    ]
    assert "Cutting time" not in labels
