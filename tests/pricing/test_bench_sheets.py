"""The bench sheet as a paper: what it says, how long it is, and that no money is on it."""

import re
from decimal import Decimal
from io import BytesIO

import pypdfium2
import pytest
from django.urls import reverse

from catalogue.calc.recipes.form_blank import form_blank
from catalogue.cutting_plans.asks import DesignAsk
from catalogue.recipes.models import Colourway, ColourwayMaterial, Piece, Role, Step
from maker.heavy_pages.marks import HeavyAddresses
from pricing.orders.services import accept
from tests.catalogue.cutting_asks import loaded, make_plan, piece
from tests.factories import add_fixing, make_material, make_pack, make_recipe, today
from tests.pricing.quotes import make_line, make_quote, sent_quote

D = Decimal
BAG = {"W": "60", "D": "30", "H": "110"}


def address(name, workshop, pk):
    return reverse(f"pricing:{name}", args=[workshop.slug, pk])


def pages_of(response):
    assert response.status_code == 200
    assert response["Content-Type"] == "application/pdf"
    opened = pypdfium2.PdfDocument(BytesIO(response.content))
    return [page.get_textpage().get_text_range().replace("\r", "") for page in opened]


def text_of(response):
    return "\n".join(pages_of(response))


@pytest.fixture
def bag(workshop):
    """A folded bag of cream card at 7.77 a sheet, tied and dried, with a blade."""
    workshop.unit, workshop.wage_per_hour = "mm", D("23.45")
    workshop.save()
    card = make_material(workshop, name="Cream card", width_mm=D(420), height_mm=D(297))
    make_pack(card, price=D("77.70"))
    version = make_recipe(workshop, card)
    version.reject_share = D("0.05")
    version.save()
    blank = form_blank("one_piece_bag", BAG)
    Piece.objects.filter(version=version).update(
        name="body", shape="form", form="one_piece_bag", form_inputs=BAG,
        width_mm=blank.width_mm, height_mm=blank.height_mm,
    )  # fmt: skip
    twine = make_material(workshop, name="Twine", kind="length")
    make_pack(twine, price=D("3.21"))
    add_fixing(version, twine, measure="cut", amount=D(350), rate=D(1))
    Step.objects.create(
        version=version, name="slit the base", minutes=D(2), caution="blade", position=2
    )
    Step.objects.create(
        version=version, name="dry the seam", basis="rack", minutes=D(25), per=8, position=3
    )
    return loaded(version)


def test_the_sheet_of_a_batch_says_what_to_cut_score_take_and_do(client, workshop, bag):
    page = address("bench_sheet", workshop, bag.design_id)
    pages = pages_of(client.get(page, {"quantity": "30"}))
    assert len(pages) == 1
    (text,) = pages
    # 5 % of 30, up: two spares
    for part in (
        bag.design.name, "Make 32 (30 and 2 spares)", "Cream card", "32", "Score and fold",
        "Twine: ", "cut 32 of 350 mm", "fold and glue", "slit the base", "blade",
        "4 loads of 8, dry 25 min", "waits", "Planned min", "Actual min",
        "Blades: cut away from your hand", "Good ones counted", "Spoiled",
    ):  # fmt: skip
        assert part in text, part
    # front, half a side, side, back, half, side: 60, +15, +15, +60, +15, +15 mm from the left
    scored = re.findall(r"^\d ([\d.]+) (mountain|valley)", text, re.MULTILINE)
    across = [("60", "mountain"), ("75", "valley"), ("90", "mountain")]
    across += [("150", "mountain"), ("165", "valley"), ("180", "mountain")]
    assert scored[:6] == across
    # 32 x 10 min and 32 x 2 min
    assert "320" in text
    assert "384" in text


@pytest.mark.parametrize("steps", [6, 12, 18])
def test_a_last_page_holds_the_steps_with_the_checks(client, workshop, bag, steps):
    for number in range(steps):
        Step.objects.create(version=bag, name=f"step {number}", minutes=D(1), position=9)
    pages = pages_of(client.get(address("bench_sheet", workshop, bag.design_id)))
    assert len(pages) <= 2
    assert "Check and pack" in pages[-1]
    assert "fold and glue" in pages[-1]


@pytest.mark.parametrize("shop", ["mm", "in"])
def test_no_money_is_on_it(client, workshop, bag, shop):
    workshop.unit = shop
    workshop.save()
    text = text_of(client.get(address("bench_sheet", workshop, bag.design_id)))
    for word in ("€", "EUR", "7.77", "77.70", "3.21", "23.45", "cost", "price", "margin", "wage"):
        assert word not in text.lower(), word


def test_a_material_without_a_cost_has_its_bench_sheet(client, workshop):
    version = make_recipe(workshop, make_material(workshop, name="Gift of a friend"))
    response = client.get(address("bench_sheet", workshop, version.design_id))
    assert "Gift of a friend" in text_of(response)


def test_the_colourway_asked_for_is_cut(client, workshop, bag):
    blue = make_material(workshop, name="Blue card", width_mm=D(420), height_mm=D(297))
    way = Colourway.objects.create(version=bag, name="Dusk")
    role = Role.objects.get(version=bag, name="body")
    ColourwayMaterial.objects.create(colourway=way, role=role, material=blue)
    page = address("bench_sheet", workshop, bag.design_id)
    text = text_of(client.get(page, {"colourway": way.pk, "quantity": 4}))
    assert "Dusk" in text
    assert "Blue card" in text
    assert "Cream card" not in text


def test_what_cannot_be_read_leads_back_to_the_price_page_with_the_reason(client, workshop, bag):
    page = address("bench_sheet", workshop, bag.design_id)
    response = client.get(page, {"quantity": "many"}, follow=True)
    assert response.redirect_chain[0][0].startswith(address("cost", workshop, bag.design_id))
    assert "Correct what is marked" in response.content.decode()


@pytest.fixture
def order(workshop, owner, bag):
    quote = make_quote(workshop, title="Favours for Saturday")
    make_line(quote, bag, quantity=20, names="Ida\nBo\nשלום")
    make_line(quote, make_recipe(workshop), quantity=6)
    return accept(quote=sent_quote(quote, owner), who="Ada", on=today(), today=today())


def test_the_sheet_of_an_order_has_all_its_lines_names_and_deliveries(client, workshop, order, bag):
    order.due_on, order.notes = today(), "Ring before you come"
    order.save()
    pages = pages_of(client.get(address("order_bench_sheet", workshop, order.pk)))
    assert len(pages) <= 2
    text = "\n".join(pages)
    for part in (
        f"Order {order}", order.quote.customer.name, "Favours for Saturday",
        "Ring before you come", f"Due {today():%-d %b %Y}", bag.design.name,
        "Make 21 (20 and 1 spare)",
        "Names (3)", "Ida", "Bo", "Make 6", "Deliveries", f"20 × {bag.design.name}",
    ):  # fmt: skip
        assert part in text, part
    assert "€" not in text


def test_the_sheet_of_an_order_takes_as_many_queries_for_more_lines(
    client, workshop, owner, bag, count_queries
):
    def queries(lines):
        quote = make_quote(workshop)
        for _ in range(lines):
            make_line(quote, bag, quantity=5)
        made = accept(quote=sent_quote(quote, owner), who="Ada", on=today(), today=today())
        with count_queries() as counted:
            client.get(address("order_bench_sheet", workshop, made.pk))
        return len(counted)

    assert queries(1) == queries(4)


def test_the_sheet_of_a_cutting_plan_is_for_its_designs(client, workshop, bag):
    plan = make_plan(workshop, designs=[DesignAsk(bag, 12)], name="Saturday's bags")
    text = text_of(client.get(address("plan_bench_sheet", workshop, plan.pk)))
    assert "Saturday's bags" in text
    assert "Make 13" in text
    page = client.get(reverse("catalogue:plan", args=[workshop.slug, plan.pk]))
    assert address("plan_bench_sheet", workshop, plan.pk) in page.content.decode()


def test_a_plan_of_loose_pieces_or_of_a_design_that_is_gone_says_so(client, workshop, bag):
    card = make_material(workshop)
    make_pack(card)
    loose = make_plan(workshop, piece(card))
    response = client.get(address("plan_bench_sheet", workshop, loose.pk), follow=True)
    assert "A bench sheet needs a design." in response.content.decode()
    gone = make_plan(workshop, designs=[DesignAsk(bag, 12)])
    bag.design.name = "Renamed"
    bag.design.save()
    response = client.get(address("plan_bench_sheet", workshop, gone.pk), follow=True)
    assert "there any more. Plan it anew." in response.content.decode()


@pytest.mark.parametrize("kind", ["bench_sheet", "order_bench_sheet"])
def test_who_may_open_it(
    anonymous_client, reader_client, stranger_client, workshop, order, bag, kind
):
    page = address(kind, workshop, bag.design_id if kind == "bench_sheet" else order.pk)
    assert anonymous_client.get(page).status_code == 302
    assert stranger_client.get(page).status_code == 404
    assert reader_client.get(page).status_code == 200
    assert reader_client.post(page).status_code == 405


def test_pages_lead_to_it_and_light_pages_do_not_wait_for_it(client, workshop, order, bag):
    sheet = address("bench_sheet", workshop, bag.design_id)
    for page in (
        address("cost", workshop, bag.design_id),
        reverse("catalogue:design", args=[workshop.slug, bag.design_id]),
    ):
        assert sheet in client.get(page).content.decode()
    of_order = address("order_bench_sheet", workshop, order.pk)
    assert of_order in client.get(address("order", workshop, order.pk)).content.decode()
    heavy = HeavyAddresses()
    for page in (sheet, of_order, address("plan_bench_sheet", workshop, 1)):
        assert heavy.hold("GET", page, "")
