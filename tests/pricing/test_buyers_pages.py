"""Made at once and bought at once on the pages about a price, in channels and in the command."""

import json
from contextlib import suppress
from decimal import Decimal
from io import StringIO

import pytest
from django.core.management import call_command
from django.urls import reverse

from pricing.calc.price.ingredients import from_plain
from pricing.channels.models import Channel
from pricing.prices.models import PriceListEntry
from tests.factories import make_channel, make_recipe

D = Decimal
CARD_READER = {"fee_share": D("0.026"), "fixed_fee": D("0.30"), "price_step": D("0.05")}


@pytest.fixture
def version(workshop):
    """Nine cost 29.30, worked by hand in test_cost_page: 3.2556 each."""
    return make_recipe(workshop)


@pytest.fixture
def fair(workshop):
    return make_channel(workshop, name="Fair", kind="fair", bought_at_once=1, tier=CARD_READER)


def page_of(workshop, version, name="cost", **question):
    query = "&".join(f"{key}={value}" for key, value in question.items())
    return f"{reverse(f'pricing:{name}', args=[workshop.slug, version.design_id])}?{query}"


def test_each_buyer_at_a_fair_pays_a_fee(client, workshop, version, fair):
    response = client.get(page_of(workshop, version, quantity=9))
    price = response.context["price"]
    # (3.2556 + 0.30) / 0.974 = 3.6505; of 3.65 the fee is 0.3949, taken as 0.39
    assert price.floor_each == D("3.65")
    assert price.terms.sales == 9
    page = response.content.decode()
    assert "9 buyers" in page
    assert "For buyers of 1 or more." in page


def test_coins_and_a_deposit_are_those_of_one_buyer(client, workshop, version):
    workshop.cash_step = D("0.05")
    workshop.save()
    tier = {"price_step": D("0.01"), "margin": D("0.31"), "deposit_share": D("0.4")}
    make_channel(workshop, name="Threes", bought_at_once=3, tier=tier)
    response = client.get(page_of(workshop, version, quantity=9))
    shown = {figure.label: figure for figure in response.context["figures"]}
    # 29.30 / 9 / 0.69 = 4.7182: three are 14.16, 14.15 in coins; 40 % of them 5.664, up to 6
    assert response.context["price"].price_each == D("4.72")
    assert (shown["Paid in cash"].value_text, shown["Deposit"].value_text) == ("€14.15", "€6.00")
    assert shown["Deposit"].note == "per buyer"


def test_an_order_of_as_many_is_one_payment(client, workshop, version, fair):
    response = client.get(page_of(workshop, version, quantity=9, bought_at_once=9))
    # (29.30 + 0.30) / 0.974 / 9 = 3.3766
    assert response.context["price"].floor_each == D("3.38")
    assert "9 buyers" not in response.content.decode()


def test_a_price_no_buyer_pays_enough_with_is_asked_about(client, workshop, version, fair):
    """3.40 is enough for nine in one payment, not for nine buyers."""
    address = page_of(workshop, version, "price_set", quantity=9)
    refused = client.post(address, {"price": "3.40"})
    assert refused.status_code == 422
    assert "below its lowest price of €3.65" in refused.content.decode()
    assert not PriceListEntry.objects.exists()
    client.post(address, {"price": "3.65"})
    entry = PriceListEntry.objects.get()
    assert (entry.made_at_once, entry.bought_at_once, entry.floor_each) == (9, 1, D("3.65"))
    assert from_plain(entry.basis).bought_at_once == 1


def test_a_kept_price_leads_back_to_both(client, workshop, version, fair):
    client.post(page_of(workshop, version, "price_set", quantity=9), {"price": "5"})
    listed = client.get(reverse("pricing:price_list", args=[workshop.slug])).content.decode()
    assert "quantity=9&amp;bought_at_once=1" in listed


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("0", "The least is 1"),
        ("1.5", "a whole number. Enter one"),
        ("9999999", "The most is 1000000"),
    ],
)
def test_a_bad_number_of_items_is_kept_and_explained(client, workshop, version, fair, typed, words):
    page = client.get(page_of(workshop, version, quantity=9, bought_at_once=typed)).content.decode()
    assert words in page
    assert f'value="{typed}"' in page


def test_who_buys_more_than_a_batch_has_it_made_at_once(client, workshop, version, fair):
    answer = client.get(page_of(workshop, version, quantity=9, bought_at_once=20)).context["answer"]
    assert (answer.ask.quantity, answer.ask.bought) == (20, 20)


def test_a_page_begins_with_the_usual_batch_and_the_usual_buyer(client, workshop, version):
    version.design.made_at_once = 20
    version.design.save()
    shops = make_channel(workshop, name="Shops", bought_at_once=48)
    answer = client.get(page_of(workshop, version)).context["answer"]
    assert (answer.ask.quantity, answer.ask.bought) == (48, 48)
    shops.bought_at_once = None
    shops.save()
    answer = client.get(page_of(workshop, version)).context["answer"]
    assert (answer.ask.quantity, answer.ask.bought) == (20, 20)


def test_the_list_of_every_quantity_is_for_buyers_of_a_batch(client, workshop, version, fair):
    question = {"quantity": 9, "up_to": 20, "steps": "1, 5, 18"}
    response = client.get(page_of(workshop, version, "quantities", **question))
    every_quantity = response.context["every_quantity"]
    assert [every_quantity.row(many).made_at_once for many in (1, 5, 9, 18)] == [9, 9, 9, 18]
    assert every_quantity.row(1).cost_each == every_quantity.row(9).cost_each
    assert "Made at once: 9, or more if one buyer takes more" in response.content.decode()
    # thirty cents a payment are shared by nine
    fees = [every_quantity.row(many).floor_each for many in (1, 9)]
    assert fees == [D("3.65"), D("3.38")]
    client.post(page_of(workshop, version, "quantities_publish", **question))
    kept = PriceListEntry.objects.order_by("bought_at_once")
    assert [(row.bought_at_once, row.made_at_once) for row in kept] == [(1, 9), (5, 9), (18, 18)]
    assert all(row.price >= row.floor_each for row in kept)


def test_the_list_of_what_is_ordered_is_made_to_order(client, workshop, version):
    make_channel(workshop, name="Orders", tier=CARD_READER)
    response = client.get(page_of(workshop, version, "quantities", quantity=9, up_to=20))
    every_quantity = response.context["every_quantity"]
    assert [every_quantity.row(many).made_at_once for many in (1, 5, 9)] == [1, 5, 9]
    assert response.context["asked"] == 9


def test_channels_side_by_side_sell_as_they_usually_do(client, workshop, version, fair):
    make_channel(workshop, name="Orders", tier=CARD_READER)
    response = client.get(page_of(workshop, version, "design_channels", quantity=9))
    bought = {row["channel"]: row["bought_at_once"] for row in response.context["own_prices"]}
    assert bought == {"Fair": 1, "Orders": 9}
    asks = [row["hers"] for row in response.context["own_prices"]]
    assert asks[0] > asks[1]


def test_the_paper_for_a_buyer_is_of_what_the_buyer_takes(client, workshop, version, fair):
    one = client.get(page_of(workshop, version, "for_customer", quantity=9)).context["told"]
    assert (one["quantity"], one["total"]) == ("1", "")
    three = client.get(page_of(workshop, version, "for_customer", quantity=9, bought_at_once=3))
    told = three.context["told"]
    assert told["quantity"] == "3"
    each = D(told["price_each"].removeprefix("€"))
    assert D(told["total"].removeprefix("€")) == 3 * each


@pytest.mark.parametrize(
    ("kind", "typed", "kept"),
    [
        ("fair", "", 1),
        ("online", "", 1),
        ("direct", "", None),
        ("fair", "3", 3),
        ("direct", "6", 6),
    ],
)
def test_a_channel_says_what_one_buyer_takes(client, workshop, kind, typed, kept):
    row = {"bought_at_once": "1", "margin": "30", "payments_per_sale": "1"}
    data = {
        "name": "New", "kind": kind, "bought_at_once": typed,
        "tiers-TOTAL_FORMS": "1", "tiers-INITIAL_FORMS": "0",
        **{f"tiers-0-{key}": value for key, value in row.items()},
    }  # fmt: skip
    assert (
        client.post(reverse("pricing:channel_new", args=[workshop.slug]), data).status_code == 302
    )
    assert Channel.objects.get().bought_at_once == kept
    listed = client.get(reverse("pricing:channel_list", args=[workshop.slug])).content.decode()
    assert f"bought at once: {kept or 'the whole order'}" in listed


def test_the_usual_channels_know_what_one_buyer_takes(client, workshop):
    client.post(reverse("pricing:channel_usual", args=[workshop.slug]))
    usual = {row.kind: row.bought_at_once for row in Channel.objects.of(workshop)}
    assert usual == {"fair": 1, "direct": None, "online": 1, "wholesale": None}


@pytest.mark.parametrize(("typed", "kept"), [("24", 24), ("", 1)])
def test_a_design_has_its_usual_batch(client, workshop, version, typed, kept):
    design = version.design
    design.made_at_once = 5
    design.save()
    address = reverse("catalogue:design_edit", args=[workshop.slug, design.pk])
    fields = {"name": design.name, "edit_number": "0", "made_at_once": typed}
    assert client.post(address, fields).status_code == 302
    design.refresh_from_db()
    assert design.made_at_once == kept


def test_a_price_from_before_buyers_were_told_apart_is_reviewed_as_it_is_sold(
    client, workshop, version, fair
):
    """It was set against one payment for nine; each buyer pays a fee."""
    client.post(
        page_of(workshop, version, "price_set", quantity=9, bought_at_once=9), {"price": "3.60"}
    )
    entry = PriceListEntry.objects.get()
    old = {key: value for key, value in entry.basis.items() if key != "bought_at_once"}
    old |= {"form": 1}
    tier = old["channel"]["tiers"][0]
    tier["from_quantity"], tier["payments"] = tier.pop("bought_at_once"), 1
    del tier["payments_per_sale"]
    PriceListEntry.objects.update(basis=old, bought_at_once=1)
    page = client.get(reverse("pricing:price_review", args=[workshop.slug])).content.decode()
    assert "below the lowest price, €3.65" in page
    fair.bought_at_once = None
    fair.save()
    page = client.get(reverse("pricing:price_review", args=[workshop.slug])).content.decode()
    assert "below the lowest price" not in page


def run(*words):
    output = StringIO()
    with suppress(SystemExit):
        call_command("cost", *words, stdout=output)
    return json.loads(output.getvalue())


def test_the_command_takes_what_one_buyer_takes(workshop, version, fair):
    design = version.design.name
    usual = run(design, "--quantity", "9")["figures"]
    one = run(design, "--quantity", "9", "--bought-at-once", "1")["figures"]
    assert usual == one
    order = run(design, "--quantity", "9", "--bought-at-once", "9")["figures"]
    # (29.30 + 2.70) / 0.974 / 9 and (29.30 + 0.30) / 0.974 / 9
    assert (one["floor_each"], order["floor_each"]) == ("3.6505", "3.3767")
    assert one["cost"] == order["cost"]
    assert D(one["fees"]) > D(order["fees"])


@pytest.mark.parametrize("typed", ["0", "-1", "x", "1.5", "1000001"])
def test_the_command_refuses_no_buyer(workshop, version, fair, typed):
    found = run(version.design.name, "--quantity", "9", f"--bought-at-once={typed}")
    assert found["error"]["where"] in {"bought_at_once", "quantity"}
