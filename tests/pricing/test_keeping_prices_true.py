"""Prices, quotes and tags that are off: found with their cause, decided about, changed."""

import datetime
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from catalogue.materials.models import Pack
from pricing.calc.changes.repricing import Trigger
from pricing.calc.costing.rates import Ask
from pricing.price_review.models import PriceDecision
from pricing.price_review.review import review_prices
from pricing.price_review.services import NothingToDecide, change_prices, leave_price
from pricing.price_tags.services import remember_tags
from pricing.prices.models import PriceListEntry
from pricing.prices.services import set_price
from pricing.times.models import TimedRun
from tests.factories import make_channel, make_material, make_pack, make_recipe

TODAY = timezone.localdate


@pytest.fixture
def channel(workshop):
    return make_channel(workshop, name="Fair")


def priced(workshop, channel, by, **fields):
    """Keep the worked-out price of nine of a design: 4.70, cost 29.30."""
    version = make_recipe(workshop, **fields)
    return set_price(
        version=version,
        workshop=workshop,
        channel=channel,
        ask=Ask(9, bought_at_once=1),
        price=Decimal("4.70"),
        colourway=None,
        by=by,
    )


def raise_wage(workshop, to):
    workshop.wage_per_hour = Decimal(to)
    workshop.save(update_fields=["wage_per_hour"])


def page_of(client, workshop):
    return client.get(reverse("pricing:price_review", args=[workshop.slug]))


def test_nothing_is_off_while_nothing_changes(client, workshop, channel, owner):
    priced(workshop, channel, owner)
    page = page_of(client, workshop).content.decode()
    assert "Your price is up to date" in page


def test_a_higher_wage_is_found_with_cause_margin_and_restoring_price(
    client, workshop, channel, owner
):
    priced(workshop, channel, owner)
    raise_wage(workshop, "18")
    row = page_of(client, workshop).context["rows"][0]
    # by hand: 0.50 + 90 x 22.20 / 60 = 33.80, for one 3.7556; / 0.7 = 5.3651 -> 5.40
    assert row["cost_now"] == "€3.76"
    assert row["needed"] == "€5.40"
    # 4.70 x 9 = 42.30; (42.30 - 33.80) / 42.30 = 20.1 %, it was 30.7 %
    assert row["margin_now"] == "20.1%"
    assert row["margin_then"] == "30.7%"
    assert row["causes"].startswith("hourly wage +€0.50")


def test_a_change_within_the_threshold_is_left_alone(client, workshop, channel, owner):
    priced(workshop, channel, owner)
    raise_wage(workshop, "15.90")  # 1.35 of 29.30: 4.6 %
    assert not page_of(client, workshop).context["rows"]
    workshop.reprice_share = Decimal("0.04")
    workshop.save(update_fields=["reprice_share"])
    assert page_of(client, workshop).context["rows"]


def test_a_dearer_material_is_named(client, workshop, channel, owner):
    card = make_material(workshop, name="Fern dot")
    make_pack(card)
    version = make_recipe(workshop, card)
    set_price(
        version=version,
        workshop=workshop,
        channel=channel,
        ask=Ask(9, bought_at_once=1),
        price=Decimal("4.70"),
        colourway=None,
        by=owner,
    )
    Pack.objects.filter(material=card).update(price=Decimal(50))
    row = page_of(client, workshop).context["rows"][0]
    assert "Fern dot" in row["causes"]
    assert "+€0.50" in row["causes"]  # (5.00 - 0.50) / 9


def test_an_old_price_is_found_by_its_age(client, workshop, channel, owner):
    entry = priced(workshop, channel, owner)
    old = timezone.now() - datetime.timedelta(days=200)
    PriceListEntry.objects.filter(pk=entry.pk).update(set_at=old)
    assert page_of(client, workshop).context["rows"][0]["reason"] == "not reviewed for a long time"


def test_ticked_prices_change_in_one_go_and_the_old_ones_stay_readable(
    client, workshop, channel, owner
):
    entries = [priced(workshop, channel, owner) for _ in range(3)]
    raise_wage(workshop, "18")
    to = reverse("pricing:price_review_change", args=[workshop.slug])
    picked = [entry.pk for entry in entries[:2]]
    client.post(to, {"entry": picked})
    prices = dict(PriceListEntry.objects.of(workshop).current().values_list("design_id", "price"))
    assert [prices[entry.design_id] for entry in entries] == [
        Decimal("5.40"),
        Decimal("5.40"),
        Decimal("4.70"),
    ]
    assert PriceListEntry.objects.of(workshop).count() == 5
    again = client.post(to, {"entry": picked}, follow=True)
    assert "since been replaced" in again.content.decode()
    assert PriceListEntry.objects.of(workshop).count() == 5


def test_a_changed_price_is_what_setting_it_anew_would_keep(workshop, channel, owner):
    entry = priced(workshop, channel, owner)
    raise_wage(workshop, "18")
    (made,) = change_prices(workshop=workshop, wanted={entry.pk: None}, by=owner, on=TODAY())
    anew = set_price(
        version=entry.version,
        workshop=workshop,
        channel=channel,
        ask=Ask(9, bought_at_once=1),
        price=made.price,
        colourway=None,
        by=owner,
    )
    assert anew.pk == made.pk  # nothing differs, so nothing new was kept


def test_left_until_a_day_it_comes_back_then(client, workshop, channel, owner):
    entry = priced(workshop, channel, owner)
    raise_wage(workshop, "18")
    until = TODAY() + datetime.timedelta(days=30)
    to = reverse("pricing:price_review_decide", args=[workshop.slug, entry.pk])
    client.post(to, {"kind": "until", "until": until.isoformat(), "note": "after the fair"})
    review = review_prices(workshop=workshop, on=TODAY())
    assert (len(review.prices), review.settled) == (0, 1)
    assert len(review_prices(workshop=workshop, on=until).prices) == 1
    decision = PriceDecision.objects.get()
    assert (decision.note, decision.price_needed) == ("after the fair", Decimal("5.40"))
    undo = reverse("pricing:price_review_undo", args=[workshop.slug, decision.pk])
    client.post(undo)
    assert len(review_prices(workshop=workshop, on=TODAY()).prices) == 1


def test_left_as_it_is_it_comes_back_when_the_cost_moves_on(client, workshop, channel, owner):
    entry = priced(workshop, channel, owner)
    raise_wage(workshop, "18")
    to = reverse("pricing:price_review_decide", args=[workshop.slug, entry.pk])
    client.post(to, {"kind": "leave"})
    assert not review_prices(workshop=workshop, on=TODAY()).prices
    raise_wage(workshop, "21")
    assert len(review_prices(workshop=workshop, on=TODAY()).prices) == 1


@pytest.mark.parametrize(
    "given",
    [
        {"kind": "until"},
        {"kind": "until", "until": "2001-01-01"},
        {"kind": "change", "price": "0"},
        {"kind": "change", "price": "lots"},
        {"kind": "forget"},
    ],
)
def test_a_decision_that_cannot_be_read_is_kept_and_explained(
    client, workshop, channel, owner, given
):
    entry = priced(workshop, channel, owner)
    raise_wage(workshop, "18")
    to = reverse("pricing:price_review_decide", args=[workshop.slug, entry.pk])
    response = client.post(to, given)
    assert response.status_code == 422
    assert not PriceDecision.objects.exists()
    assert PriceListEntry.objects.of(workshop).count() == 1


def test_tags_with_an_old_price_are_told_until_they_are_off_the_table(
    client, workshop, channel, owner
):
    entry = priced(workshop, channel, owner)
    remember_tags(
        printed=[(entry, Decimal("4.70"), 24), (entry, Decimal("9.99"), 5)],
        by=owner,
    )
    raise_wage(workshop, "18")
    change_prices(workshop=workshop, wanted={entry.pk: None}, by=owner, on=TODAY())
    (row,) = page_of(client, workshop).context["tags"]
    assert (row["print"].count, row["price"]) == (24, "€4.70")
    client.post(reverse("pricing:price_review_tags", args=[workshop.slug, row["print"].pk]))
    assert not page_of(client, workshop).context["tags"]


def test_a_reader_looks_and_decides_nothing(reader_client, workshop, channel, owner):
    entry = priced(workshop, channel, owner)
    raise_wage(workshop, "18")
    assert page_of(reader_client, workshop).status_code == 200
    for name, args in (
        ("price_review_change", [workshop.slug]),
        ("price_review_decide", [workshop.slug, entry.pk]),
    ):
        refused = reader_client.post(reverse(f"pricing:{name}", args=args), {"kind": "leave"})
        assert refused.status_code == 403


def test_another_workshops_price_is_not_there(stranger_client, workshop, channel, owner):
    entry = priced(workshop, channel, owner)
    to = reverse("pricing:price_review_decide", args=[workshop.slug, entry.pk])
    assert stranger_client.get(to).status_code == 404


def test_more_prices_cost_no_more_queries(client, workshop, channel, owner, count_queries):
    priced(workshop, channel, owner)
    raise_wage(workshop, "18")
    page_of(client, workshop)
    with count_queries() as few:
        page_of(client, workshop)
    for _ in range(5):
        raise_wage(workshop, "15")
        workshop.refresh_from_db()
        priced(workshop, channel, owner)
    raise_wage(workshop, "18")
    page_of(client, workshop)
    with count_queries() as many:
        assert len(page_of(client, workshop).context["rows"]) == 6
    assert len(many) == len(few)


def test_timed_minutes_that_differ_are_found_from_the_third_batch_on(workshop, channel, owner):
    entry = priced(workshop, channel, owner)

    def time_a_batch():
        now = timezone.now()
        TimedRun.objects.create(
            design=entry.design,
            step_name="fold and glue",
            basis="made",
            started_at=now,
            finished_at=now,
            worked_seconds=10 * 20 * 60,  # ten pieces, twice the minutes of the recipe
            count=10,
        )

    for _ in range(2):
        time_a_batch()
    assert not review_prices(workshop=workshop, on=TODAY()).prices
    time_a_batch()
    (off,) = review_prices(workshop=workshop, on=TODAY()).prices
    assert off.checked.triggers == (Trigger.TIMING,)
    # by hand: 10 -> 13 -> 15.1 -> 16.57 minutes
    assert off.checked.timing_drift == Decimal("0.657")


def test_home_says_how_much_is_off(client, workshop, channel, owner):
    priced(workshop, channel, owner)
    raise_wage(workshop, "18")
    to = reverse("pricing:price_review_summary", args=[workshop.slug])
    assert "<strong>1 price</strong>." in client.get(to).content.decode()
    assert to in client.get(reverse("pricing:home", args=[workshop.slug])).content.decode()


def test_a_price_without_what_it_was_set_against_is_not_called_true(
    client, workshop, channel, owner
):
    entry = priced(workshop, channel, owner)
    PriceListEntry.objects.filter(pk=entry.pk).update(basis=None)
    page = page_of(client, workshop).content.decode()
    assert "None of the 1 prices can be checked" in page


def test_a_channel_put_away_is_not_looked_at(client, workshop, channel, owner):
    priced(workshop, channel, owner)
    raise_wage(workshop, "18")
    assert page_of(client, workshop).context["rows"]
    channel.retired_on = TODAY()
    channel.save(update_fields=["retired_on"])
    assert page_of(client, workshop).context["review"].checked == 0


def test_a_price_below_the_floor_is_kept_and_said(client, workshop, channel, owner):
    entry = priced(workshop, channel, owner)
    to = reverse("pricing:price_review_decide", args=[workshop.slug, entry.pk])
    # by hand: 29.30 for nine, 3.26 for one
    page = client.post(to, {"kind": "change", "price": "3.20"}).content.decode()
    assert "is below its lowest price of €3.26" in page
    client.post(to, {"kind": "change", "price": "3.20", "below": "on"})
    assert PriceListEntry.objects.of(workshop).current().get().price == Decimal("3.20")


def test_a_price_replaced_while_she_decides_is_not_left(workshop, channel, owner):
    entry = priced(workshop, channel, owner)
    raise_wage(workshop, "18")
    change_prices(workshop=workshop, wanted={entry.pk: None}, by=owner, on=TODAY())
    # `entry` was read before that, as by the page of somebody else
    with pytest.raises(NothingToDecide):
        leave_price(workshop=workshop, entry=entry, until=None, note="", by=owner, on=TODAY())
    assert not PriceDecision.objects.filter(kind="leave").exists()
