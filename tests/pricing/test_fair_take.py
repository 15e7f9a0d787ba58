"""What to take to a fair: from her own past days, a first guess, and what is finished already."""

import datetime
from decimal import Decimal
from fractions import Fraction

import pytest
from django.urls import reverse
from django.utils import timezone

from pricing.calc.fairs.choosing import Limits
from pricing.calc.finished_stock.worth import Worth
from pricing.fairs.models import Fair, FairDesign
from pricing.fairs.planning import plan_for
from pricing.fairs.results import results_of
from pricing.finished_stock.services import enter_opening, item_for
from tests.factories import make_channel, make_recipe, today
from tests.pricing.fair_rows import make_fair, make_item, make_sale


@pytest.fixture
def bag(workshop):
    return make_recipe(workshop)


def fair_with(workshop, bag, counts, *, name="Mill market", **fields):
    """A fair over, on whose days so many bags sold."""
    fair = make_fair(workshop, name=name, days=len(counts), state=Fair.State.OVER)
    item = make_item(fair, bag, **fields)
    for day, count in zip(fair.days.in_order(), counts, strict=True):
        make_sale(day, (item, count))
    return fair


def planned(fair, limits=None):
    results = results_of(Fair.objects.of(fair.workshop), fair.workshop)
    return plan_for(fair, results, fair.workshop, limits or Limits())


def test_days_of_the_same_fair_count_alone_once_there_are_three(workshop, bag):
    fair_with(workshop, bag, [50, 60], name="Somewhere else")
    last = fair_with(workshop, bag, [4, 6, 8], name="Alder green fair")
    fair = make_fair(workshop, name="Alder green fair", last_year=last)
    make_item(fair, bag)
    (one,) = planned(fair).items
    assert one.source == "3 days at this fair"
    assert one.taking.mean == 6
    assert one.taking.season == {count: Fraction(1, 3) for count in (4, 6, 8)}


def test_her_guess_holds_until_there_are_three_days(workshop, bag):
    fair_with(workshop, bag, [50])
    fair = make_fair(workshop)
    item = make_item(fair, bag, low=2, likely=3, high=4)
    (one,) = planned(fair).items
    assert one.source == "your guess, 2 to 4 a day"
    assert one.taking.mean == 3
    FairDesign.objects.filter(pk=item.pk).update(low=None, likely=None, high=None)
    (one,) = planned(fair).items
    assert (one.source, one.taking.mean) == ("1 day at your fairs", 50)


def test_nothing_to_go_by_is_said(workshop, bag, client):
    fair = make_fair(workshop)
    make_item(fair, bag)
    plan = planned(fair)
    assert not plan.items
    assert len(plan.unknown) == 1
    page = client.get(reverse("pricing:fair_take", args=[workshop.slug, fair.pk]))
    assert "There are no sales to go by yet" in page.content.decode()


def test_what_sold_out_counts_with_what_was_missed(workshop, bag):
    before = make_fair(workshop, name="Mill market", state=Fair.State.OVER)
    item = make_item(before, bag)
    day = before.days.get()
    make_sale(day, (item, 10))
    # open from 10 to 17: half of the day's visitors by 13:30
    half = timezone.make_aware(datetime.datetime.combine(day.held_on, datetime.time(13, 30)))
    make_sale(day, (item, 0), kind="sold_out", way="none", received=0, happened_at=half)
    fair = make_fair(workshop)
    make_item(fair, bag)
    (one,) = planned(fair).items
    assert one.taking.mean == 20
    assert one.past[0].ran_out


def test_dated_stock_is_taken_in_smaller_numbers(workshop, bag):
    fair_with(workshop, bag, [2, 4, 6, 8, 10])
    fair = make_fair(workshop)
    item = make_item(fair, bag, handling_each=Decimal("0.4"))
    (everyday,) = planned(fair).items
    FairDesign.objects.filter(pk=item.pk).update(is_dated=True)
    (dated,) = planned(fair).items
    assert dated.taking.count < everyday.taking.count
    assert dated.taking.one_more.loss == item.cost_each + Decimal("0.4")


def test_days_that_are_alike_want_another_number(workshop, bag):
    fair_with(workshop, bag, [2, 4, 6, 8, 10])
    fair = make_fair(workshop, days=2)
    make_item(fair, bag, handling_each=Decimal("0.4"))
    (one,) = planned(fair).items
    ratio = one.taking.one_more.ratio
    assert one.chance(one.taking.count) >= ratio > one.chance(one.taking.count - 1)
    assert one.taking.count_if_alike >= one.taking.count


def test_what_is_finished_needs_no_hours(workshop, bag):
    enter_opening(
        item=item_for(bag), quantity=5, on=today(), today=today(),
        worth=Worth(Decimal(1), Decimal(1), Decimal(1)),
    )  # fmt: skip
    fair_with(workshop, bag, [9, 9, 9])
    fair = make_fair(workshop)
    make_item(fair, bag, minutes_each=10)
    plan = planned(fair, Limits(minutes=Decimal(25)))
    assert plan.items[0].in_stock == 5
    assert plan.chosen.counts == (7,)
    gain = plan.items[0].taking.one_more.gain
    # an hour more makes the two that are still wanted
    assert plan.more == {"minutes": pytest.approx(2 * gain)}
    assert plan.given_up == 2 * gain


def test_what_to_take_is_saved_and_leads_on_to_cutting_tags_and_packing(workshop, bag, client):
    fair_with(workshop, bag, [4, 5, 6])
    fair = make_fair(workshop, table_metres=Decimal("0.4"))
    item = make_item(fair, bag, table_mm=100)
    address = reverse("pricing:fair_take", args=[workshop.slug, fair.pk])
    page = client.get(address).content.decode()
    assert f'name="plan_{item.pk}" value="4"' in page
    assert "10 cm more of table" in page
    wider = client.get(address, {"table": "2"}).content.decode()
    assert f'name="plan_{item.pk}" value="6"' in wider
    client.post(reverse("pricing:fair_plan", args=[workshop.slug, fair.pk]), {f"plan_{item.pk}": 6})
    item.refresh_from_db()
    assert item.planned == 6
    packing = client.get(reverse("pricing:fair_packing", args=[workshop.slug, fair.pk]))
    text = packing.content.decode()
    assert "Plan cutting for 6 items" in text
    cutting = client.get(packing.context["plan_url"]).content.decode()
    assert bag.design.name in cutting
    assert 'value="6"' in cutting
    tags = client.get(reverse("pricing:tag_sheet", args=[workshop.slug]), {"fair": fair.pk})
    assert 'value="6"' in tags.content.decode()
    assert 'value="6.50"' in tags.content.decode()


def test_what_is_needed_for_show_must_fit(workshop, bag, client):
    fair_with(workshop, bag, [4, 5, 6])
    fair = make_fair(workshop, table_metres=Decimal("0.2"))
    make_item(fair, bag, table_mm=100, least_for_show=3)
    page = client.get(reverse("pricing:fair_take", args=[workshop.slug, fair.pk]))
    assert "need more than there is" in page.content.decode()


@pytest.mark.parametrize("sent", ["six", "-1", "1.5"])
def test_a_count_that_is_none_is_refused(workshop, bag, client, sent):
    fair = make_fair(workshop)
    item = make_item(fair, bag, planned=3)
    client.post(
        reverse("pricing:fair_plan", args=[workshop.slug, fair.pk]), {f"plan_{item.pk}": sent}
    )
    item.refresh_from_db()
    assert item.planned == 3


def test_a_viewer_sees_what_to_take_and_saves_nothing(workshop, bag, reader_client):
    fair = make_fair(workshop)
    make_item(fair, bag, low=1, likely=2, high=3)
    page = reader_client.get(reverse("pricing:fair_take", args=[workshop.slug, fair.pk]))
    assert page.status_code == 200
    plan = reader_client.post(reverse("pricing:fair_plan", args=[workshop.slug, fair.pk]), {})
    assert plan.status_code == 403


def test_a_first_fair_is_planned_by_typing_how_many(workshop, bag, client):
    fair = make_fair(workshop)
    item = make_item(fair, bag)
    take = reverse("pricing:fair_take", args=[workshop.slug, fair.pk])
    assert f'name="plan_{item.pk}" value=""' in client.get(take).content.decode()
    answer = client.post(
        reverse("pricing:fair_plan", args=[workshop.slug, fair.pk]), {f"plan_{item.pk}": "12"}
    )
    packing = reverse("pricing:fair_packing", args=[workshop.slug, fair.pk])
    assert answer["Location"] == packing
    text = client.get(packing).content.decode()
    for words in (
        "Plan cutting for 12 items",
        "Print 12 tags",
        "Print price board",
        "Change float",
    ):
        assert words in text
    assert f'name="plan_{item.pk}" value="12"' in client.get(take).content.decode()


def test_a_new_fair_sells_by_the_channel_for_fairs(workshop, client):
    make_channel(workshop, name="Web shop", kind="online")
    fairs = make_channel(workshop, name="Saturday fair", kind="fair")
    page = client.get(reverse("pricing:fair_new", args=[workshop.slug]))
    assert page.context["form"]["channel"].value() == fairs.pk
