"""Channels: entry, what is refused, two people, order, putting away."""

from decimal import Decimal
from urllib.parse import urlencode

import pytest
from django.urls import reverse

from pricing.channels.inputs import NO_CHANNEL, channel_rates
from pricing.channels.models import Channel, ChannelTier
from pricing.channels.services import ChannelsAlreadyThere, add_usual_channels
from tests.factories import make_channel


def tier(number=0, **fields):
    values = {
        "bought_at_once": "1",
        "margin": "30",
        "fee_share": "1.75",
        "fixed_fee": "0.20",
        "payments_per_sale": "2",
        "price_step": "0.05",
        "deposit_share": "40",
        "deposit_step": "1",
        **fields,
    }
    return {f"tiers-{number}-{key}": value for key, value in values.items()}


def post(client, workshop, *, pk=None, rows=1, **fields):
    data = {
        "name": "Harvest fair",
        "kind": "fair",
        "tiers-TOTAL_FORMS": str(rows),
        "tiers-INITIAL_FORMS": "0",
        **tier(),
        **fields,
    }
    name, args = (
        ("pricing:channel", [workshop.slug, pk]) if pk else ("pricing:channel_new", [workshop.slug])
    )
    return client.post(reverse(name, args=args), data)


def test_a_channel_is_stored_with_shares(client, workshop):
    assert post(client, workshop, rush_share="20").status_code == 302
    row = Channel.objects.get()
    assert row.rush_share == Decimal("0.2")
    values = channel_rates(Channel.objects.with_tiers().get())
    assert values.tiers[0].margin == Decimal("0.3")
    assert values.tiers[0].fee_share == Decimal("0.0175")
    assert values.tiers[0].fixed_fee == Decimal("0.2")
    assert values.tiers[0].payments_per_sale == 2


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"name": ""}, "Fill this in"),
        ({"name": "x" * 10_000}, "at most 80"),
        (tier(margin="100"), "The most is 99"),
        (tier(margin="-1"), "The least is 0"),
        (tier(margin="lots"), "a number. Enter one"),
        (tier(bought_at_once="5"), "start at quantity 1"),
        (tier(bought_at_once="1.5"), "a whole number. Enter one"),
        (tier(payments_per_sale="0"), "The least is 1"),
        (tier(price_step="0.333"), "no coin that small"),
        (tier(deposit_step="0.001"), "no coin that small"),
        ({"kind": "moon"}, "valid choice"),
        ({"tiers-TOTAL_FORMS": "100000"}, "rows fit"),
    ],
)
def test_bad_input_is_kept_and_explained(client, workshop, fields, words):
    response = post(client, workshop, **fields)
    assert response.status_code == 422
    page = response.content.decode()
    assert words in page
    assert "There is a problem" in page
    assert not Channel.objects.exists()


def test_two_rows_from_the_same_quantity_are_refused(client, workshop):
    response = post(client, workshop, rows=2, **tier(1))
    assert "same quantity" in response.content.decode()


@pytest.mark.parametrize("name", ["Harvest fair", "harvest FAIR"])
def test_a_name_is_used_once_however_it_is_capitalised(client, workshop, name):
    make_channel(workshop, name=name)
    assert "already have a channel" in post(client, workshop).content.decode()


def test_the_page_keeps_its_name_while_the_name_is_emptied(client, workshop):
    row = make_channel(workshop, name="Harvest fair")
    page = post(client, workshop, pk=row.pk, name="").content.decode()
    assert "<h1>Harvest fair</h1>" in page


def test_the_second_of_two_people_is_told_and_loses_nothing(client, workshop):
    row = make_channel(workshop, name="Fair")
    assert post(client, workshop, pk=row.pk, edit_number="0", name="Hers").status_code == 302
    response = post(client, workshop, pk=row.pk, edit_number="0", name="His", **tier(margin="12"))
    page = response.content.decode()
    assert response.status_code == 422
    assert "His" in page
    assert "Hers" in page
    assert 'value="12"' in page
    row.refresh_from_db()
    assert row.name == "Hers"
    # sent again, knowingly
    assert post(client, workshop, pk=row.pk, edit_number="1", name="His").status_code == 302
    row.refresh_from_db()
    assert row.name == "His"


def test_the_usual_channels_come_once(workshop):
    assert len(add_usual_channels(workshop=workshop)) == 4
    with pytest.raises(ChannelsAlreadyThere):
        add_usual_channels(workshop=workshop)
    assert Channel.objects.count() == 4


def test_a_second_click_on_the_usual_channels_changes_nothing(client, workshop):
    address = reverse("pricing:channel_usual", args=[workshop.slug])
    client.post(address)
    client.post(address)
    assert Channel.objects.count() == 4


def test_channels_move_and_are_put_away_with_undo(client, workshop):
    first, second = make_channel(workshop, position=0), make_channel(workshop, position=1)
    client.post(reverse("pricing:channel_move", args=[workshop.slug, second.pk]), {"by": "-1"})
    assert [row.pk for row in Channel.objects.of(workshop).in_order()] == [second.pk, first.pk]
    client.post(reverse("pricing:channel_retire", args=[workshop.slug, first.pk]))
    assert [row.pk for row in Channel.objects.in_use()] == [second.pk]
    client.post(reverse("pricing:channel_restore", args=[workshop.slug, first.pk]))
    assert Channel.objects.in_use().count() == 2


def test_a_reader_looks_and_does_not_touch(reader_client, workshop):
    row = make_channel(workshop)
    assert (
        reader_client.get(reverse("pricing:channel_list", args=[workshop.slug])).status_code == 200
    )
    assert post(reader_client, workshop).status_code == 403
    assert post(reader_client, workshop, pk=row.pk).status_code == 403


def test_strangers_and_visitors_are_kept_out(
    stranger_client, anonymous_client, workshop, other_workshop
):
    row = make_channel(workshop)
    address = reverse("pricing:channel", args=[workshop.slug, row.pk])
    assert stranger_client.get(address).status_code == 404
    # her own workshop's address with somebody else's row
    foreign = reverse("pricing:channel", args=[other_workshop.slug, row.pk])
    assert stranger_client.get(foreign).status_code == 404
    assert anonymous_client.get(address).status_code == 302


def test_more_channels_cost_no_more_queries(client, workshop, count_queries):
    make_channel(workshop)
    address = reverse("pricing:channel_list", args=[workshop.slug])
    client.get(address)
    with count_queries() as few:
        client.get(address)
    for _ in range(8):
        ChannelTier.objects.create(channel=make_channel(workshop), bought_at_once=10)
    with count_queries() as many:
        client.get(address)
    assert len(many) == len(few)


def test_without_channels_the_price_has_thirty_percent_and_no_fees():
    assert channel_rates(None) == NO_CHANNEL


def test_moving_a_channel_that_was_put_away_meanwhile_is_explained(client, workshop):
    channel = make_channel(workshop, name="Fair", retired_on="2026-06-30")
    make_channel(workshop, name="Orders")
    address = reverse("pricing:channel_move", args=[workshop.slug, channel.pk])
    page = client.post(address, {"by": "1"}, follow=True)
    assert "“Fair” is archived" in page.content.decode()


def test_the_margin_is_also_said_as_a_mark_up_on_cost(client, workshop):
    # mark-up = margin / (1 - margin): a quarter of the price is a third of the cost
    make_channel(workshop, tier={"margin": Decimal("0.25")})
    page = client.get(reverse("pricing:channel_list", args=[workshop.slug])).content.decode()
    assert "33.33% mark-up" in page


def test_from_a_price_she_comes_back_to_it(client, workshop):
    price = reverse("pricing:cost", args=[workshop.slug, 7]) + "?quantity=12"
    listed = reverse("pricing:channel_list", args=[workshop.slug])
    page = client.get(listed, {"next": price}).content.decode()
    assert f'<a href="{price}">Back to where you were</a>' in page
    assert "channels/new/?next=%2Fw%2F" in page
    usual = reverse("pricing:channel_usual", args=[workshop.slug])
    answer = client.post(usual, {"next": price}, follow=True)
    assert f'<a href="{price}">Back to where you were</a>' in answer.content.decode()
    assert "Their fees are examples" in answer.content.decode()
    new = reverse("pricing:channel_new", args=[workshop.slug]) + f"?{urlencode({'next': price})}"
    data = {"name": "Fair", "kind": "fair", "tiers-TOTAL_FORMS": "1", "tiers-INITIAL_FORMS": "0"}
    answer = client.post(new, {**data, **tier()}, follow=True)
    assert f'<a href="{price}">Back to where you were</a>' in answer.content.decode()


def test_nobody_is_led_to_another_site(client, workshop):
    listed = reverse("pricing:channel_list", args=[workshop.slug])
    page = client.get(listed, {"next": "https://elsewhere.example/"}).content.decode()
    assert "elsewhere.example" not in page
    assert "Back to where you were" not in page
