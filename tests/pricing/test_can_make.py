"""What can be made from what is in stock: as it is, with colours swapped, out of a mixed pad."""

from decimal import Decimal

import pytest

from catalogue.designs.models import Design
from catalogue.materials.models import Material
from catalogue.recipes.models import DesignVersion
from pricing.can_make.services import can_make, from_pad, stock_of
from pricing.orders.models import OrderNeed
from pricing.orders.services import accept
from tests.factories import make_design, make_material, make_recipe, today
from tests.pricing.quotes import make_line, make_quote, sent_quote

D = Decimal
PAGE = "/w/marlow/can-make/"


@pytest.fixture
def recipe(workshop):
    return make_recipe(workshop)


@pytest.fixture
def card(recipe):
    return recipe.roles.get().material


def hold(material, amount):
    Material.objects.filter(pk=material.pk).update(on_hand=D(amount))


def loaded(recipe):
    return DesignVersion.objects.with_recipe().get(pk=recipe.pk)


def found(workshop, recipe):
    version = loaded(recipe)
    return can_make(version, workshop, stock_of(workshop, [version], alike=True), "")


def sheets_for(workshop, recipe, card, count):
    """What so many take, from the function that batches are taken from stock with."""
    from pricing.finished_stock.asked import Estimator

    return Estimator(workshop).batch(loaded(recipe), count).amounts[card.pk]


def test_stock_is_enough_for_so_many_and_not_one_more(workshop, recipe, card):
    hold(card, 3)
    exact = found(workshop, recipe).exact
    assert exact > 0
    assert sheets_for(workshop, recipe, card, exact) <= 3
    assert sheets_for(workshop, recipe, card, exact + 1) > 3
    hold(card, 0)
    assert found(workshop, recipe).exact == 0


def test_what_orders_reserve_is_not_free(workshop, owner, recipe, card):
    hold(card, 6)
    before = found(workshop, recipe).exact
    quote = make_quote(workshop)
    make_line(quote, recipe, quantity=1)
    order = accept(quote=sent_quote(quote, owner), who="Ada", on=today(), today=today())
    order.needs.all().delete()
    OrderNeed.objects.create(order=order, material=card, amount=D(3))
    assert found(workshop, recipe).exact < before


def test_a_card_like_it_would_do_and_a_smaller_one_would_not(client, workshop, recipe, card):
    hold(card, 1)
    size = {"width_mm": card.width_mm, "height_mm": card.height_mm, "category": card.category}
    hold(make_material(workshop, name="Sage card", **size), 5)
    hold(make_material(workshop, name="Scrap card", **size | {"width_mm": D(20)}), 50)
    answer = found(workshop, recipe)
    (row,) = answer.rows
    assert [other.name for other, _ in row.others] == ["Sage card"]
    assert answer.swapped is not None
    assert answer.swapped >= answer.exact
    page = client.get(PAGE, {"design": recipe.design_id}).content.decode()
    assert "Sage card" in page
    assert "with other colours" in page


@pytest.mark.parametrize("sheets", range(1, 8))
def test_other_colours_never_make_fewer(workshop, recipe, card, sheets):
    """The estimate with swaps goes by the usual batch, which may waste more of a sheet."""
    hold(card, sheets)
    size = {"width_mm": card.width_mm, "height_mm": card.height_mm, "category": card.category}
    hold(make_material(workshop, name="Sage card", **size), "0.5")
    answer = found(workshop, recipe)
    assert answer.swapped is not None
    assert answer.swapped >= answer.exact


def test_a_mixed_pad_counts_by_print(client, workshop, recipe, card):
    alone = from_pad(loaded(recipe), workshop, "", card, [1])
    assert alone > 0
    assert from_pad(loaded(recipe), workshop, "", card, [1, 1, 0, 1]) == 3 * alone
    asked = {"design": recipe.design_id, "pad": card.pk, "prints": "3 x 1"}
    page = client.get(PAGE, asked).content.decode()
    assert f"3 sheets make <strong>{3 * alone}</strong> that match" in page


@pytest.mark.parametrize("prints", ["", "many", "2, -1", "9999 x 9999", "1" * 300])
def test_what_a_pad_holds_is_asked_again(client, recipe, card, prints):
    asked = {"design": recipe.design_id, "pad": card.pk, "prints": prints}
    answer = client.get(PAGE, asked)
    assert answer.status_code == 200
    assert answer.context["colours"].errors["prints"]


def test_all_designs_stand_side_by_side(client, workshop, recipe, card, reader_client):
    hold(card, 8)
    for browser in (client, reader_client):
        page = browser.get(PAGE).content.decode()
        assert recipe.design.name in page
        assert card.name in page


def test_page_by_page_these_are_all_designs(client, workshop):
    card = make_recipe(workshop).roles.get().material
    for _ in range(29):
        make_recipe(workshop, card)
    make_design(workshop, name="Without a recipe")
    hold(card, 8)
    pages = [client.get(PAGE, {"page": page}) for page in (1, 2)]
    shown = [[row.design.name for row in page.context["tonight"]] for page in pages]
    assert [len(names) for names in shown] == [25, 5]
    assert sorted(shown[0] + shown[1]) == sorted(
        Design.objects.filter(versions__isnull=False).values_list("name", flat=True)
    )
    # with what is alike, the designs stay in the order of names
    assert max(map(str.casefold, shown[0])) < min(map(str.casefold, shown[1]))
    assert 'rel="next"' in pages[0].content.decode()


def test_of_many_that_would_do_the_largest_stocks_are_named(client, workshop, recipe, card):
    hold(card, 5)
    for number in range(11):
        hold(make_material(workshop, name=f"Alike {number:02}"), number + 1)
    (row,) = client.get(PAGE, {"design": recipe.design_id}).context["rows"]
    assert [other.name for other, _ in row["others"]] == [f"Alike {n:02}" for n in range(10, 2, -1)]
    assert row["more"] == 3


def test_an_address_of_nothing_shows_all(client, recipe):
    assert client.get(PAGE, {"design": "x"}).status_code == 200
    assert client.get(PAGE, {"design": "999999"}).status_code == 200


def test_more_designs_cost_no_more_queries(client, workshop, recipe, count_queries):
    client.get(PAGE)
    with count_queries() as one:
        client.get(PAGE)
    for _ in range(3):
        make_recipe(workshop)
    client.get(PAGE)
    with count_queries() as four:
        answer = client.get(PAGE)
    assert len(answer.context["tonight"]) == 4
    assert len(four) == len(one)


def test_without_hours_every_design_says_so(client, workshop, recipe):
    workshop.overhead_items.create(name="Rent", amount=D(900))
    workshop.overhead_basis = workshop.OverheadBasis.MONTHLY
    workshop.planned_hours_per_month = 0
    workshop.save()
    (row,) = client.get(PAGE).context["tonight"]
    assert "0 hours" in row.problem
