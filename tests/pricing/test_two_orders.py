"""“Two orders, one week”: which to take, or both made together, with the hours that saves."""

import datetime
from decimal import Decimal

import pytest
from django.urls import reverse

from catalogue.recipes.models import Step
from catalogue.sheet_plans.services import sheet_planner
from pricing.orders.services import accept
from pricing.orders.together import (
    Candidate,
    NothingToCompare,
    choices_of,
    without_promises_of,
)
from pricing.quotes.dates import count_for
from pricing.quotes.inputs import work_out
from pricing.quotes.models import Quote
from tests.factories import make_recipe, today
from tests.pricing.quotes import make_line, make_quote, sent_quote

DAY = datetime.timedelta(days=1)
# a Monday: what is to buy is here the same day
MONDAY = datetime.date(2026, 11, 23)


@pytest.fixture
def version(workshop):
    """Ten minutes an item and an hour of set-up; 100 minutes on every day of the week."""
    for day in ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"):
        setattr(workshop, f"{day}_minutes", 100)
    workshop.buffer_days = workshop.proof_days = workshop.transit_days = 0
    workshop.purchase_lead_days = 0
    workshop.save()
    made = make_recipe(workshop)
    Step.objects.create(version=made, name="set up", minutes=60, basis="job", position=1)
    return made


def quoted(workshop, version, quantity, price="6", **fields):
    made = make_quote(workshop, title=f"{quantity} boxes", **fields)
    make_line(made, version, quantity, price_asked=Decimal(price))
    return Quote.objects.with_people().get(pk=made.pk)


def compared(planner, *candidates):
    quotes = [each.quote for each in candidates]
    counted = without_promises_of(count_for(quotes[0], MONDAY), quotes)
    return choices_of(candidates, counted, MONDAY, planner)


def candidate(quote, planner, days, *, is_promised=False):
    worked = work_out(quote, plan_sheets=planner)
    return Candidate(quote, worked, MONDAY + days * DAY, is_promised)


def test_both_share_the_set_up_and_the_hours_saved_are_told(workshop, version):
    planner = sheet_planner()
    one = candidate(quoted(workshop, version, 20), planner, 20)
    two = candidate(quoted(workshop, version, 30), planner, 22)
    best, *others = compared(planner, one, two)
    assert (best.places, best.is_shared, best.fits) == ((0, 1), True, True)
    assert (best.minutes, best.saved) == (560, 60)
    assert dict(best.saved_at)["set-up"] == 60
    apart = next(each for each in others if len(each.places) == 2)
    alone = sum(each.profit for each in others if len(each.places) == 1)
    assert (apart.profit, apart.minutes, apart.fits) == (alone, 620, True)
    # an hour less is paid, and perhaps a sheet or two is saved besides
    assert best.profit > apart.profit
    assert all(each.saved == 0 for each in others)


def test_where_only_one_fits_it_is_the_one_that_brings_more(workshop, version):
    planner = sheet_planner()
    # each takes 260 or 360 minutes, three or four days; both 560, six
    one = candidate(quoted(workshop, version, 20, "12"), planner, 5)
    two = candidate(quoted(workshop, version, 30, "6"), planner, 5)
    found = compared(planner, one, two)
    fits = {(each.places, each.is_shared): each.fits for each in found}
    assert fits == {
        ((0,), False): True,
        ((1,), False): True,
        ((0, 1), False): False,
        ((0, 1), True): False,
    }
    assert found[0].places == (0,)
    assert found[0].profit > found[1].profit
    assert found[-1].places == (0, 1)


def test_made_together_can_fit_where_one_after_the_other_does_not(workshop, version):
    planner = sheet_planner()
    # 560 minutes in the six days from Tuesday on; apart they are 620
    one = candidate(quoted(workshop, version, 20), planner, 7)
    two = candidate(quoted(workshop, version, 30), planner, 7)
    found = compared(planner, one, two)
    both = {each.is_shared: each.fits for each in found if len(each.places) == 2}
    assert both == {True: True, False: False}
    assert found[0].is_shared


def test_what_is_promised_is_always_taken(workshop, version):
    planner = sheet_planner()
    one = candidate(quoted(workshop, version, 20, "12"), planner, 5)
    two = candidate(quoted(workshop, version, 30, "6"), planner, 5, is_promised=True)
    found = compared(planner, one, two)
    assert [each.places for each in found] == [(1,), (0, 1), (0, 1)]


def test_too_few_and_too_many_are_refused(workshop, version):
    planner = sheet_planner()
    one = candidate(quoted(workshop, version, 2), planner, 5)
    for count in (1, 4):
        with pytest.raises(NothingToCompare, match="Choose 2 to 3"):
            compared(planner, *[one] * count)


def test_the_page(client, reader_client, owner, workshop, version):
    page = reverse("pricing:orders_together", args=[workshop.slug])
    assert "No quote and no order" in client.get(page).content.decode()
    quotes = [quoted(workshop, version, count) for count in (20, 30)]
    Quote.objects.filter(pk__in=[q.pk for q in quotes]).update(needed_on=today() + 40 * DAY)
    picked = "&".join(f"pick={quote.pk}" for quote in quotes)
    shown = reader_client.get(f"{page}?{picked}").content.decode()
    assert "Take both and make them together" in shown
    assert "1 h" in shown
    alone = client.get(f"{page}?pick={quotes[0].pk}").content.decode()
    assert "checked" in alone
    assert "Compared" not in alone
    wrong = client.get(f"{page}?pick={quotes[0].pk}&pick=99999999").content.decode()
    assert "Choose 2 to 3" in wrong
    order = accept(quote=sent_quote(quotes[0], owner), who="A", on=today(), today=today())
    shown = client.get(f"{page}?{picked}").content.decode()
    assert f"order {order}" in shown
    calendar = client.get(reverse("pricing:calendar", args=[workshop.slug])).content.decode()
    assert page in calendar
