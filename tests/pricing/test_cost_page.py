"""The cost page: answers, keeps the question in the address, explains what it cannot answer."""

from dataclasses import replace
from decimal import Decimal

import pytest
from django.urls import reverse

from catalogue.calc.cutting.planning import plan_cuts
from catalogue.recipes.models import Option, OptionChoice, Packing, Step
from maker.calc.explanation import Line
from pricing.calc.costing.rates import Ask
from pricing.costs.drawing import sheet_rows, value_text
from pricing.costs.services import cost_and_price
from tests.factories import (
    add_fixing,
    make_channel,
    make_design,
    make_material,
    make_pack,
    make_recipe,
    make_supplier,
    make_version,
)


@pytest.fixture
def version(workshop):
    return make_recipe(workshop)


def address(workshop, asked, /, **question):
    from urllib.parse import urlencode

    base = reverse("pricing:cost", args=[workshop.slug, asked.design_id])
    return f"{base}?{urlencode(question)}"


def test_the_page_answers_with_cost_and_price(client, workshop, version):
    make_channel(workshop, name="Fair")
    response = client.get(address(workshop, version, quantity=9))
    page = response.content.decode()
    # worked by hand: one sheet of 0.50 holds nine pieces of 4 x 4 in; 9 x 10 min at
    # (15.00 + 4.20) / 60 = 28.80; together 29.30, for one 3.2556; at 30 % margin 4.6508 -> 4.70
    assert response.context["answer"].cost.sheets == 1
    assert response.context["answer"].cost.cost == Decimal("29.30")
    assert response.context["price"].price_each == Decimal("4.70")
    assert "€4.70" in page
    assert "Fewest possible" in page


def test_without_a_question_a_dozen_is_worked_out(client, workshop, version):
    response = client.get(reverse("pricing:cost", args=[workshop.slug, version.design_id]))
    assert response.context["answer"].ask.quantity == 12


def test_a_part_is_sent_while_she_types(client, workshop, version):
    response = client.get(address(workshop, version, quantity=9), headers={"HX-Request": "true"})
    page = response.content.decode()
    assert "<html" not in page
    assert 'id="answer"' in page


@pytest.mark.parametrize(
    ("quantity", "words"),
    [
        ("", "Fill this in"),
        ("0", "The least is 1"),
        ("-3", "The least is 1"),
        ("1.5", "a whole number. Enter one"),
        ("1000001", "The most is 1000000"),
        ("a dozen", "a number. Enter one"),
        ("1e3", "a number we can read"),
        ("9" * 400, "too many digits"),
    ],
)
def test_a_bad_quantity_is_kept_and_explained(client, workshop, version, quantity, words):
    response = client.get(address(workshop, version, quantity=quantity))
    page = response.content.decode()
    assert words in page
    assert f'value="{quantity}"' in page or not quantity
    assert "Error: " in page


def test_a_bad_question_leaves_the_last_good_answer_standing(client, workshop, version):
    response = client.get(address(workshop, version, quantity="x"), headers={"HX-Request": "true"})
    assert response["HX-Retarget"] == "#live-problems"
    assert "Error: " in response.content.decode()
    assert 'id="answer"' not in response.content.decode()


def test_an_impossible_margin_is_explained_and_the_cost_still_shown(client, workshop, version):
    make_channel(workshop, tier={"margin": Decimal("0.9"), "fee_share": Decimal("0.2")})
    response = client.get(address(workshop, version, quantity=9))
    page = response.content.decode()
    assert response.status_code == 200
    assert "No price possible" in page
    assert "110%" in page
    assert "80%" in page  # the margin must stay below it
    assert response.context["answer"].cost.cost == Decimal("29.30")


def test_a_material_without_a_price_says_how_to_mend_it(client, workshop):
    version = make_recipe(workshop, make_material(workshop, name="Plum card"))
    page = client.get(address(workshop, version)).content.decode()
    assert "Plum card" in page
    assert "Enter a receipt" in page


def test_a_piece_larger_than_its_sheet_is_explained(client, workshop, version):
    piece = version.pieces.get()
    piece.width_mm = Decimal(400)
    piece.height_mm = Decimal(400)
    piece.save()
    page = client.get(address(workshop, version)).content.decode()
    assert "There is a problem" in page
    assert "body" in page


def test_options_change_the_answer(client, workshop, version):
    option = Option.objects.create(version=version, key="closure", name="Closure")
    OptionChoice.objects.create(option=option, key="none", name="None", is_default=True)
    dot = OptionChoice.objects.create(option=option, key="dot", name="Dot", position=1)
    material = make_material(workshop, kind="pairs", name="dots")
    make_pack(material, quantity=Decimal(10), price=Decimal(10))
    add_fixing(version, material, only_with=dot)
    plain = client.get(address(workshop, version, quantity=9))
    with_dot = client.get(address(workshop, version, quantity=9, option_closure="dot"))
    assert with_dot.context["answer"].cost.cost - plain.context["answer"].cost.cost == 9
    bad = client.get(address(workshop, version, option_closure="zip"))
    assert "valid choice" in bad.content.decode()


def test_figures_open_to_the_pack_and_the_step(client, workshop, version):
    page = client.get(address(workshop, version)).content.decode()
    material = version.roles.get().material
    assert reverse("catalogue:material", args=[workshop.slug, material.pk]) in page
    assert "fold and glue" in page


def test_another_version_can_be_asked_for(client, workshop, version):
    newer = make_version(version.design, number=2)
    Step.objects.create(version=newer, name="only work", minutes=Decimal(6))
    now = client.get(address(workshop, version, quantity=1))
    then = client.get(address(workshop, version, quantity=1, version=1))
    assert now.context["answer"].cost.minutes == 6
    assert then.context["answer"].cost.minutes == 10
    assert client.get(address(workshop, version, version=9)).status_code == 404


def test_a_design_without_a_version_is_not_found(client, workshop):
    design = make_design(workshop)
    assert client.get(reverse("pricing:cost", args=[workshop.slug, design.pk])).status_code == 404


def test_other_quantities_stand_side_by_side(client, workshop, version):
    make_channel(workshop)
    response = client.get(
        reverse("pricing:cost_quantities", args=[workshop.slug, version.design_id]) + "?quantity=7"
    )
    rows = response.context["rows"]
    assert [row["quantity"] for row in rows] == [1, 7, 12, 60, 250]
    assert [row["is_asked"] for row in rows] == [False, True, False, False, False]


def test_packing_and_buying_are_shown(client, workshop, version):
    Packing.objects.create(
        version=version, name="box", kind="carton", holds=5, cost_each=Decimal("0.85")
    )
    page = client.get(address(workshop, version, quantity=12)).content.decode()
    assert "1 x pack of 10" in page
    assert "box" in page


@pytest.mark.parametrize("currency", ["JPY", "KWD"])
def test_currencies_with_other_decimals(client, workshop, version, currency):
    workshop.currency = currency
    workshop.save()
    make_channel(workshop, tier={"price_step": Decimal(0)})
    response = client.get(address(workshop, version, quantity=9))
    digits = {"JPY": 0, "KWD": 3}[currency]
    assert -response.context["price"].price_each.as_tuple().exponent == digits


def test_who_may_see(client, reader_client, stranger_client, anonymous_client, workshop, version):
    page = address(workshop, version)
    shown = reader_client.get(page)
    assert shown.status_code == 200
    assert "Save price" not in shown.content.decode()
    assert "Plan cutting" in client.get(page).content.decode()
    assert "Plan cutting" not in shown.content.decode()
    assert stranger_client.get(page).status_code == 404
    assert anonymous_client.get(page).status_code == 302


def test_a_bigger_recipe_costs_no_more_queries(client, workshop, version, count_queries):
    make_channel(workshop)
    page = address(workshop, version)
    client.get(page)
    with count_queries() as few:
        client.get(page)
    for number in range(10):
        material = make_material(workshop, kind="count", name=f"gem {number}")
        make_pack(material)
        add_fixing(version, material)
        Step.objects.create(version=version, name=f"step {number}", minutes=Decimal(1))
    with count_queries() as many:
        assert client.get(page).status_code == 200
    assert len(many) == len(few)


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        ("1", "sheet", ("1", "sheet")),
        ("62", "sheet", ("62", "sheets")),
        ("48", "pass", ("48", "passes")),
        ("10", "day", ("10", "days")),
        ("17.32", "min", ("17.32", "min")),
        # a learning factor is used with four decimals, a cost of one is shown with them
        ("0.7359", "", ("0.7359", "")),
        # people read coins, and four decimals of what one sheet or minute costs
        ("6.3963", "money", ("€6.40", "")),
        ("383.780828", "money", ("€383.78", "")),
        ("105.5", "money", ("€105.50", "")),
        ("0.522917", "money", ("€0.5229", "")),
    ],
)
def test_a_figure_is_written_rounded(workshop, value, unit, shown):
    assert value_text(Line("figure", Decimal(value), unit), workshop) == shown


def test_sheets_say_how_sure_they_are_and_what_is_not_used(client, workshop, version):
    # one piece of 4 x 4 in on a sheet of 12 x 12 in: 8 of 9 parts are not used
    page = client.get(address(workshop, version, quantity=1)).content.decode()
    assert "88.9%" in page
    assert "Fewest possible" in page
    plan = reverse("catalogue:plan_new", args=[workshop.slug])
    assert f'href="{plan}?design={version.design_id}&amp;quantity=1"' in page
    # nine fill it to the edge
    response = client.get(address(workshop, version, quantity=9))
    assert [row.unused for row in response.context["sheets"]] == ["0%"]
    full = response.content.decode()
    assert "Exact fit:" in full
    assert "Exact fit:" not in page


def test_a_plan_that_is_not_proved_says_how_far_it_may_be_off(workshop, version):
    def plan_sheets(job):
        return replace(plan_cuts(job), sheet_count=5, lower_bound=Decimal(3), proven=False)

    loaded = type(version).objects.of(workshop).with_recipe().get()
    answer = cost_and_price(version=loaded, workshop=workshop, ask=Ask(9), plan_sheets=plan_sheets)
    (row,) = sheet_rows(answer, workshop, {})
    assert row.sheets == 5
    assert row.proof.startswith("Best found, at most 2 above the fewest; a longer search may")


def test_the_same_sheets_may_be_enough_for_more(client, workshop, version):
    page = reverse("pricing:cost_quantities", args=[workshop.slug, version.design_id])
    response = client.get(page + "?quantity=7")
    # nine pieces fit on a sheet
    assert response.context["more"]["most"] == 9
    assert "up to 9" in response.content.decode()
    assert "up to 9" not in client.get(page + "?quantity=9").content.decode()


def test_offcuts_are_credited_when_the_workshop_says_so(client, workshop, version):
    workshop.offcut_value = workshop.OffcutValue.AREA
    workshop.offcut_least_mm = Decimal(50)
    workshop.save()
    response = client.get(address(workshop, version, quantity=3))
    # three of nine parts of the sheet at 0.50 are used
    cost = response.context["answer"].cost
    assert round(cost.sheets_cost, 6) == Decimal("0.166667")
    assert "kept" in response.content.decode()


def test_carriage_is_part_of_what_there_is_to_buy(client, workshop, version):
    supplier = make_supplier(
        workshop, name="Paper Barn", carriage=Decimal("4.90"), carriage_free_from=Decimal("7.10")
    )
    material = version.roles.get().material
    material.supplier = supplier
    material.save()
    response = client.get(address(workshop, version, quantity=12))
    page = response.content.decode()
    goods = response.context["shopping_cash"]
    assert response.context["shopping_total"] == goods + Decimal("4.90")
    assert goods == 5
    assert "€2.10 more for free postage. Add something" in page


def test_the_answer_comes_first_and_the_sums_are_closed(client, workshop, version):
    make_channel(workshop, name="Fair")
    page = client.get(address(workshop, version, quantity=1)).content.decode()
    places = [
        page.index(words)
        for words in (
            "Suggested price",
            "Save a price for Fair",
            "Where the money goes",
            "What to change first",
            "Other quantities",
            "Line by line",
        )
    ]
    assert places == sorted(places)
    assert '<details class="panel opens" id="how">' in page


def test_what_could_bring_the_price_down_most_is_first(client, workshop, version):
    version = make_recipe(workshop, make_material(workshop, name="Scrap card"))
    make_pack(version.roles.get().material)
    make_channel(workshop, name="Fair")
    response = client.get(address(workshop, version, quantity=1))
    # one sheet of 0.50 of which eight ninths are waste: 0.4444 / 0.7 = 0.63 of the price
    assert response.context["to_change"] == [
        {"label": "sheets of Scrap card", "share": "13.5%", "saving": "€0.63"}
    ]


def test_choices_asked_now_and_then_are_folded_until_one_is_used(client, workshop, version):
    closed = client.get(address(workshop, version, quantity=9)).content.decode()
    assert '<details class="ask-more">' in closed
    for question in ({"rush": "on"}, {"delivery": "abc"}, {"bought_at_once": "3"}):
        asked = client.get(address(workshop, version, quantity=9, **question)).content.decode()
        assert '<details class="ask-more" open>' in asked


def test_after_saving_the_page_says_what_is_saved_where_the_button_is(client, workshop, version):
    channel = make_channel(workshop, name="Fair")
    question = address(workshop, version, quantity=9, channel=channel.pk)
    assert "For buyers of 9 or more." in client.get(question).content.decode()
    setting = reverse("pricing:price_set", args=[workshop.slug, version.design_id])
    response = client.post(f"{setting}?quantity=9&channel={channel.pk}", {"price": "5.20"})
    assert response.url.endswith("#save-price")
    page = client.get(question).content.decode()
    assert "Saved: €5.20 each since" in page
    # what is kept for one channel is not said of another
    other = make_channel(workshop, name="Shop")
    elsewhere = client.get(address(workshop, version, quantity=9, channel=other.pk))
    assert "Saved: " not in elsewhere.content.decode()
