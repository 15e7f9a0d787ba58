"""A first fair, from nothing: its channel and stall fee at once, and what it must take."""

from decimal import Decimal

from django.urls import reverse

from pricing.channels.models import Channel
from pricing.fairs.models import Fair, FairCost
from pricing.fairs.results import mix_before, results_of
from tests.catalogue.pages import rows, text_of
from tests.factories import make_channel, make_recipe
from tests.pricing.fair_rows import make_fair, make_item

DAY = {"held_on": "2026-12-12", "opens": "10:00", "closes": "16:00"}


def test_a_new_fair_knows_where_it_sells_and_takes_its_stall_fee(client, workshop):
    make_channel(workshop, name="To order", kind=Channel.Kind.DIRECT)
    fairs = make_channel(workshop, name="Fairs", kind=Channel.Kind.FAIR)
    new = reverse("pricing:fair_new", args=[workshop.slug])
    page = text_of(client.get(new))
    assert f'<option value="{fairs.pk}" selected>Fairs</option>' in page
    # no fair was before
    assert "Same fair last time" not in page
    sent = {"name": "Quay market", "state": "going", "channel": fairs.pk, "stall_fee": "45,50"}
    shown = client.post(new, sent | rows("days", [DAY]), follow=True)
    fair = Fair.objects.get()
    cost = fair.costs.get()
    assert (fair.channel, cost.kind, cost.amount) == (fairs, FairCost.Kind.STALL, Decimal("45.50"))
    assert "€45.50" in text_of(shown)
    edit = reverse("pricing:fair_edit", args=[workshop.slug, fair.pk])
    # from now on it is among the costs
    assert 'name="stall_fee"' not in text_of(client.get(edit))


def test_a_fair_has_a_name(client, workshop):
    new = reverse("pricing:fair_new", args=[workshop.slug])
    page = client.post(new, {"name": "", "state": "going"} | rows("days", [DAY]))
    assert "Enter the name of the fair." in text_of(page)


def test_a_stall_fee_below_nothing_is_refused_and_stores_nothing(client, workshop):
    new = reverse("pricing:fair_new", args=[workshop.slug])
    sent = {"name": "Quay market", "state": "going", "stall_fee": "-5"}
    assert client.post(new, sent | rows("days", [DAY])).status_code == 422
    assert not Fair.objects.exists()


def test_a_first_fair_says_how_many_items_pay_for_it(client, workshop):
    """By hand: prices 4 and 10, costs 1 and 4, no fees: 3 and 6 are left of one.

    Guessed 20 and 10 sold: (20 x 3 + 10 x 6) / 30 = 4 each, so a stall of 45 takes 12 items
    (45 / 4 = 11.25); of each the same (3 + 6) / 2 = 4.5, so 10.
    """
    fair = make_fair(workshop)
    FairCost.objects.filter(fair=fair).delete()
    FairCost.objects.create(fair=fair, kind=FairCost.Kind.STALL, amount=45)
    page = reverse("pricing:fair", args=[workshop.slug, fair.pk])
    assert "Put items on the table" in text_of(client.get(page))
    small = make_item(
        fair, make_recipe(workshop), price=Decimal(4), cost_each=Decimal(1), bag_each=0
    )
    large = make_item(
        fair, make_recipe(workshop), price=Decimal(10), cost_each=Decimal(4), bag_each=0
    )
    guesses = {small: (15, 20, 25), large: (5, 10, 15)}

    def goals():
        (result,) = results_of(Fair.objects.filter(pk=fair.pk), workshop)
        return mix_before([result], result.fair)[0]

    assert (goals().price_each, goals().gain_each) == (7, Decimal("4.5"))
    for item, (item.low, item.likely, item.high) in guesses.items():
        item.save()
    assert (goals().price_each, goals().gain_each) == (6, 4)
    words = " ".join(text_of(client.get(page)).split())
    assert "An average item of what you put on the table: €6.00, leaving €4.00." in words
    assert '<td role="cell" class="number" data-label="Items">12</td>' in words


def test_a_fair_without_channel_or_prices_leads_to_them_and_back(client, workshop):
    fair = make_fair(workshop)
    Fair.objects.filter(pk=fair.pk).update(channel=None)
    version = make_recipe(workshop)
    items = reverse("pricing:fair_items", args=[workshop.slug, fair.pk])
    channels = reverse("pricing:channel_list", args=[workshop.slug])
    Channel.objects.all().delete()
    assert f'href="{channels}?next={items}"' in text_of(client.get(items))
    fairs = make_channel(workshop, name="Fairs", kind=Channel.Kind.FAIR)
    assert f'name="channel" value="{fairs.pk}"' in text_of(client.get(items))
    choose = reverse("pricing:fair_channel", args=[workshop.slug, fair.pk])
    for wrong in ("", "0", "x", "9" * 30):
        shown = client.post(choose, {"channel": wrong}, follow=True)
        assert "Choose a sales channel." in text_of(shown)
    shown = text_of(client.post(choose, {"channel": fairs.pk}, follow=True))
    fair.refresh_from_db()
    assert fair.channel == fairs
    assert "This fair takes its prices from Fairs." in shown
    query = f"channel={fairs.pk}&bought_at_once=1&next={items}"
    cost = reverse("pricing:cost", args=[workshop.slug, version.design_id])
    assert f'href="{cost}?{query}"' in shown
    assert "No price yet for <bdi>Fairs</bdi>" in shown
    price = reverse("pricing:price_set", args=[workshop.slug, version.design_id])
    # the price page sends on what it was asked
    assert "next=" in text_of(client.get(f"{cost}?{query}")).split(f'action="{price}?')[1][:200]
    shown = client.post(f"{price}?{query}", {"price": "90"}, follow=True)
    assert shown.redirect_chain[-1][0] == items
    assert "Add ticked items" in text_of(shown)
    assert "No price yet" not in text_of(shown)
    # nowhere else
    client.post(f"{price}?channel={fairs.pk}&next=https://example.test/", {"price": "91"})
    away = client.post(f"{price}?channel={fairs.pk}&next=//example.test/", {"price": "91"})
    assert "example.test" not in away["Location"].split("#")[0].split("?")[0]


def test_a_viewer_chooses_no_channel(reader_client, workshop):
    fair = make_fair(workshop)
    choose = reverse("pricing:fair_channel", args=[workshop.slug, fair.pk])
    assert reader_client.post(choose, {"channel": "1"}).status_code == 403


def test_more_designs_without_a_price_cost_no_more_queries(client, workshop, count_queries):
    fair = make_fair(workshop, channel=make_channel(workshop, name="Fairs"))
    items = reverse("pricing:fair_items", args=[workshop.slug, fair.pk])
    make_recipe(workshop)
    with count_queries() as few:
        client.get(items)
    for _ in range(3):
        make_recipe(workshop)
    with count_queries() as many:
        client.get(items)
    assert len(many) == len(few)
