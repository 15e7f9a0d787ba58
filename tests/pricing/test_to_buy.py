"""What to buy: one list over all suppliers, a draft from it, stock that only lies there."""

import datetime
import uuid
from decimal import Decimal

import pytest
from django.urls import reverse

from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase
from catalogue.stock.models import StockEntry
from catalogue.stock.services import replay_ledger
from pricing.fairs.models import Fair
from pricing.orders.models import OrderNeed
from pricing.orders.services import accept
from pricing.to_buy.services import buying_list
from tests.factories import make_material, make_pack, make_recipe, make_supplier, today
from tests.pricing.quotes import make_line, make_quote, sent_quote

D = Decimal
PAGE = "/w/marlow/to-buy/"
SLOW = "/w/marlow/to-buy/slow/"
DAY = datetime.timedelta(days=1)


def moved(material, kind, change, days_ago, cost=None, takes_back=None):
    return StockEntry.objects.create(
        material=material,
        kind=kind,
        change=D(change),
        cost_in=None if cost is None else D(cost),
        moved_on=today() - days_ago * DAY,
        takes_back=takes_back,
    )


@pytest.fixture
def card(workshop):
    """A card used six a week, 19 left, from a shop that takes two weeks."""
    shop = make_supplier(
        workshop, name="Card Barn", lead_days=14, carriage=D(4), carriage_free_from=D(50)
    )
    card = make_material(workshop, name="Moss card", supplier=shop)
    make_pack(card, name="pad of 10", quantity=D(10), price=D(6))
    moved(card, "opening", 67, 60, cost=34)
    for week, amount in enumerate((3, 6, 9, 2, 10, 6, 6, 6), 0):
        moved(card, "used", -amount, 7 * week + 3)
    replay_ledger(card)
    return Material.objects.get(pk=card.pk)


def bought(workshop):
    return {
        line.material.name: line
        for one in buying_list(workshop=workshop, on=today()).suppliers
        for line in one.lines
    }


def test_a_material_at_its_point_is_on_the_list_and_says_why(client, card):
    page = client.get(PAGE).content.decode()
    assert "Card Barn" in page
    assert "19 sheets in stock." in page
    assert "Use: 6 sheets a week." in page
    assert "14 days to deliver" in page
    assert "cushion for 95%" in page


def test_with_enough_in_stock_nothing_is_bought(client, card, workshop):
    moved(card, "bought", 50, 1, cost=25)
    replay_ledger(card)
    assert not bought(workshop)
    assert "Nothing to buy now." in client.get(PAGE).content.decode()


def test_what_orders_reserve_is_bought_too(client, owner, workshop):
    material = make_material(workshop, name="Rare card")
    make_pack(material, name="sheet", quantity=D(1), price=D(2))
    quote = make_quote(workshop)
    make_line(quote, make_recipe(workshop), quantity=20)
    order = accept(quote=sent_quote(quote, owner), who="Ada", on=today(), today=today())
    OrderNeed.objects.create(order=order, material=material, amount=D(9), taken=D(2))
    assert bought(workshop)["Rare card"].count == 7
    assert "Rare card" in client.get("/w/marlow/").content.decode()


def test_what_the_next_fair_is_planned_for_is_bought_too(client, workshop):
    recipe = make_recipe(workshop)
    card = recipe.roles.get().material
    assert not bought(workshop)
    fair = Fair.objects.create(workshop=workshop, name="Harvest fair", state=Fair.State.GOING)
    fair.days.create(held_on=today() + 9 * DAY, opens="10:00", closes="16:00")
    fair.designs.create(version=recipe, price=D(9), planned=40)
    line = bought(workshop)[card.name]
    assert 0 < line.found.position.for_fairs <= line.quantity
    page = client.get(PAGE).content.decode()
    assert "Harvest fair" in page
    assert "for the next fair" in page
    # one that is over, or not decided, needs nothing
    Fair.objects.update(state=Fair.State.MAYBE)
    assert not bought(workshop)


def test_one_click_makes_a_draft_and_the_second_finds_it(client, card, workshop):
    (one,) = buying_list(workshop=workshop, on=today()).suppliers
    address = reverse("pricing:to_buy_draft", args=["marlow", card.supplier_id])
    key = {"form_key": str(uuid.uuid4())}
    first = client.post(address, key)
    draft = Purchase.objects.get()
    assert first["Location"] == reverse("catalogue:purchase", args=["marlow", draft.pk])
    assert client.post(address, key)["Location"] == first["Location"]
    assert Purchase.objects.count() == 1
    (line,) = draft.lines.all()
    assert (draft.state, draft.postage) == (Purchase.State.DRAFT, one.postage)
    assert (line.quantity, line.amount) == (one.lines[0].quantity, one.lines[0].cost)
    # what is in the draft is not bought again
    assert not bought(workshop)
    again = client.post(address, {"form_key": "no key"}, follow=True).content.decode()
    assert "Nothing to buy from Card Barn any more." in again


def test_the_dearer_shop_is_left_out_where_its_postage_eats_the_saving(card, workshop):
    near = make_supplier(workshop, name="Near", carriage=D(0))
    make_pack(card, name="pad of 10, near", quantity=D(10), price=D("6.1"), supplier=near)
    (one,) = buying_list(workshop=workshop, on=today()).suppliers
    # 6.10 a pad without postage beside 6.00 and 4.00 postage below 50.00
    assert one.supplier is not None
    assert one.supplier.name in {"Near", "Card Barn"}
    packs = one.lines[0].count
    assert one.goods + one.postage == min(D("6.1") * packs, D(6) * packs + one.postage)


def test_a_material_without_a_pack_is_told_and_not_lost(client, workshop):
    material = make_material(workshop, name="Loose card", reorder_level=D(5))
    assert material.packs.count() == 0
    page = client.get(PAGE).content.decode()
    assert "No pack to buy" in page
    assert "Loose card" in page


def test_slow_stock_has_its_value_and_a_design_it_would_do_for(client, workshop):
    old = make_material(workshop, name="Sleeping card", category="paper")
    moved(old, "opening", 40, 400, cost="22.5")
    replay_ledger(old)
    recipe = make_recipe(workshop)
    page = client.get(PAGE).content.decode()
    assert "1 material, €22.50" in page
    assert f'href="{SLOW}"' in page
    page = client.get(SLOW).content.decode()
    assert "never used" in page
    assert "22.50" in page
    role = recipe.roles.get()
    role.material = Material.objects.get(pk=old.pk)
    role.save()
    page = client.get(SLOW, headers={"HX-Request": "true"}).content.decode()
    assert "<html" not in page
    assert f'{recipe.design.name}</bdi></a> <span class="soft">uses it</span>' in page


def test_long_slow_stock_is_paged_the_most_valuable_first(client, workshop):
    for number in range(30):
        old = make_material(workshop, name=f"Sleeping card {number:02}")
        moved(old, "opening", 40, 400, cost=100 - number)
        replay_ledger(old)
    assert "30 materials, €2,565.00" in client.get(PAGE).content.decode()
    pages = [client.get(f"{SLOW}?page={number}").context["slow"] for number in (1, 2)]
    names = [row.material.name for page in pages for row in page]
    assert names == [f"Sleeping card {number:02}" for number in range(30)]
    part = client.get(SLOW, headers={"HX-Request": "true"}).content.decode()
    assert f'<a href="{SLOW}">See all 30 materials</a>' in part


def test_what_was_undone_and_long_ago_is_no_use_of_slow_stock(client, workshop):
    """Told alike by the list itself and by the sum on the page of what to buy."""
    card = make_material(workshop, name="Card")
    moved(card, "opening", 40, 400, cost=40)
    moved(card, "used", -1, 120)
    undone = moved(card, "used", -30, 5)
    moved(card, "reversed", 30, 5, takes_back=undone)
    replay_ledger(card)
    (row,) = client.get(SLOW).context["slow"]
    assert (row.since, row.cover) == ("120 days ago", "–")
    assert buying_list(workshop=workshop, on=today()).slow == 1


def test_new_stock_is_not_slow_yet(client, workshop):
    new = make_material(workshop, name="New card")
    moved(new, "opening", 40, 20, cost="22.5")
    replay_ledger(new)
    assert "Slow stock" not in client.get(PAGE).content.decode()
    assert "Nothing lies unused." in client.get(SLOW).content.decode()


def test_a_reader_sees_the_list_and_no_button(reader_client, card):
    page = reader_client.get(PAGE).content.decode()
    assert "Moss card" in page
    assert "Create draft receipt" not in page


def test_more_materials_cost_no_more_queries(client, card, workshop, count_queries):
    with count_queries() as one:
        client.get(PAGE)
    for number in range(4):
        other = make_material(workshop, name=f"Card {number}", supplier=card.supplier)
        make_pack(other, name="pad", quantity=D(10), price=D(5))
        moved(other, "opening", 30, 300, cost=15)
        moved(other, "used", -30, 5)
        replay_ledger(other)
    with count_queries() as five:
        client.get(PAGE)
    assert len(five) == len(one)


def test_more_items_of_a_fair_cost_no_more_queries(client, workshop, count_queries):
    material = make_material(workshop)
    make_pack(material)
    fair = Fair.objects.create(workshop=workshop, name="Harvest fair", state=Fair.State.GOING)
    fair.days.create(held_on=today() + 9 * DAY, opens="10:00", closes="16:00")

    def plan_one_more():
        fair.designs.create(version=make_recipe(workshop, material), price=D(9), planned=40)
        client.get(PAGE)

    plan_one_more()
    with count_queries() as one:
        client.get(PAGE)
    for _ in range(3):
        plan_one_more()
    with count_queries() as four:
        client.get(PAGE)
    assert len(four) == len(one)


def test_the_rules_are_a_page_of_the_settings(client, workshop):
    page = "/w/marlow/settings/supplies/"
    typed = {
        "buying_chance": "0.98",
        "order_cost": "4",
        "holding_share": "25",
        "slow_days": "90",
        "slow_weeks": "26",
        "tax_year_month": "4",
        "tax_year_day": "31",
        "edit_number": "0",
    }
    assert "Enter a date it has" in client.post(page, typed).content.decode()
    assert client.post(page, typed | {"tax_year_day": "6"}).status_code == 302
    workshop.refresh_from_db()
    kept = (workshop.buying_chance, workshop.tax_year_month, workshop.tax_year_day)
    assert kept == (D("0.98"), 4, 6)


def test_nothing_is_slow_where_nothing_ever_moved(client, workshop):
    make_material(workshop, name="New card")
    assert "Nothing lies unused." in client.get(SLOW).content.decode()
