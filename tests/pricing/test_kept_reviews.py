"""A review is kept while nothing changes that it was made from, and made anew with each change."""

import datetime
import uuid
from decimal import Decimal

import pytest
from django.utils import timezone

from catalogue.materials.models import Pack
from catalogue.recipes.models import DesignVersion
from maker.workshop.models import OverheadItem, Workshop
from pricing.channels.models import Channel, ChannelTier
from pricing.price_review import review
from pricing.price_review.models import PriceDecision
from pricing.price_review.review import look_through, review_prices, today_with_timings
from pricing.price_tags.models import TagPrint
from pricing.price_tags.services import remember_tags
from pricing.prices.models import PriceListEntry
from pricing.quotes.models import Quote
from pricing.times.models import TimedRun
from tests.factories import make_channel, make_recipe
from tests.pricing.quotes import make_line, make_quote, sent_quote
from tests.pricing.test_keeping_prices_true import priced

pytestmark = pytest.mark.django_db
TODAY = timezone.localdate


@pytest.fixture
def shop(workshop, owner):
    """A price that is off, its tags, an older one's tags, and a quote; every recipe is stamped."""
    channel = make_channel(workshop, name="Fair")
    entry = priced(workshop, channel, owner)
    priced(workshop, channel, owner)
    draft = make_quote(workshop, channel=channel)
    make_line(draft, make_recipe(workshop), quantity=9)
    sent_quote(draft, owner)
    remember_tags(printed=[(entry, entry.price, 12)], by=owner)
    for version in DesignVersion.objects.all():
        version.recipe_stamp = uuid.uuid4()
        version.save(update_fields=["recipe_stamp"])
    OverheadItem.objects.create(workshop=workshop, name="Rent", amount=700)
    workshop.wage_per_hour = Decimal(18)
    workshop.overhead_basis = Workshop.OverheadBasis.MONTHLY
    workshop.planned_hours_per_month = Decimal(100)
    workshop.save()
    return workshop


def kept(workshop):
    return review_prices(workshop=Workshop.objects.get(pk=workshop.pk), on=TODAY())


def anew(workshop):
    fresh = Workshop.objects.get(pk=workshop.pk)
    return look_through(fresh, today_with_timings(fresh, TODAY()))


def test_it_is_made_once_while_nothing_changes(shop, monkeypatch):
    first = kept(shop)
    assert (len(first.prices), len(first.quotes), first.checked) == (2, 1, 3)
    monkeypatch.setattr(review, "look_through", None)
    assert kept(shop) is first


def time_a_batch():
    now = timezone.now()
    for _ in range(3):
        TimedRun.objects.create(
            design=PriceListEntry.objects.earliest("pk").design,
            step_name="fold and glue",
            basis="made",
            started_at=now,
            finished_at=now,
            worked_seconds=10 * 40 * 60,
            count=10,
        )


def replace_a_price():
    old = PriceListEntry.objects.earliest("pk")
    PriceListEntry.objects.filter(pk=old.pk).update(replaced_at=timezone.now())
    old.pk, old._state.adding, old.price = None, True, old.price + 1
    old.save()


def decide():
    entry = PriceListEntry.objects.earliest("pk")
    PriceDecision.objects.create(
        workshop=entry.design.workshop,
        entry=entry,
        kind="until",
        until=TODAY() + datetime.timedelta(days=9),
        cost_each=1,
        price_each=1,
    )


def settle_tags():
    replace_a_price()
    kept(Workshop.objects.get())
    TagPrint.objects.update(settled_at=timezone.now())


def write_other_minutes():
    time_a_batch()
    kept(Workshop.objects.get())
    version = PriceListEntry.objects.earliest("pk").version
    version.steps.update(minutes=40)
    DesignVersion.objects.filter(pk=version.pk).update(recipe_stamp=uuid.uuid4())


def put_away_a_design():
    design = PriceListEntry.objects.earliest("pk").design
    design.retired_on = TODAY()
    design.save()


CHANGES = {
    "wage": lambda: Workshop.objects.update(wage_per_hour=19),
    "threshold": lambda: Workshop.objects.update(reprice_share=Decimal("0.9")),
    "overhead": lambda: OverheadItem.objects.update(amount=900),
    "what a pack costs": lambda: Pack.objects.update(price=7),
    "a sales channel's fee": lambda: Channel.objects.update(listing_fee=1),
    "a sales channel's margin": lambda: ChannelTier.objects.update(margin=Decimal("0.5")),
    "timed minutes": time_a_batch,
    "minutes of a recipe": write_other_minutes,
    "another price": replace_a_price,
    "when a price was set": lambda: PriceListEntry.objects.update(
        set_at=timezone.now() - datetime.timedelta(days=900)
    ),
    "a decision": decide,
    "tags replaced": settle_tags,
    "an archived design": put_away_a_design,
    "an answered quote": lambda: Quote.objects.update(state=Quote.State.DECLINED),
}


@pytest.mark.parametrize("change", CHANGES)
def test_each_change_is_seen(shop, change):
    before = kept(shop)
    CHANGES[change]()
    after = kept(shop)
    assert after != before
    assert after == anew(shop)


def test_another_day_is_looked_at_by_itself(shop):
    later = TODAY() + datetime.timedelta(days=400)
    assert kept(shop).quotes
    assert not review_prices(workshop=shop, on=later).quotes


def test_a_recipe_without_a_stamp_is_looked_at_each_time(shop):
    first = kept(shop)
    DesignVersion.objects.update(recipe_stamp=None)
    assert kept(shop) == first
    assert kept(shop) is not kept(shop)
