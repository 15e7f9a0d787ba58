"""Fairs on the calendar: their hours are not there for orders."""

import datetime

import pytest
from django.urls import reverse

from pricing.costs.inputs import date_terms
from pricing.fairs.models import Fair, FairDay
from tests.factories import today
from tests.pricing.fair_rows import make_fair

DAY = datetime.timedelta(days=1)


@pytest.fixture
def workshop(workshop):
    for name in ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"):
        setattr(workshop, f"{name}_minutes", 600)
    workshop.save()
    return workshop


def minutes_on(workshop, on):
    return date_terms(workshop, today()).bench.calendar.minutes_on(on)


def test_the_hours_at_the_table_and_on_the_way_are_not_there_for_orders(workshop):
    # open 10 to 17, an hour on the way and half an hour packing: 510 minutes
    make_fair(workshop, drive_hours=1, pack_hours="0.5")
    assert minutes_on(workshop, today()) == 600 - 510
    FairDay.objects.update(drive_hours=4)
    assert minutes_on(workshop, today()) == 0


def test_preparing_takes_from_the_days_before(workshop):
    make_fair(workshop, prepare_hours=14)
    assert minutes_on(workshop, today() - DAY) == 0
    assert minutes_on(workshop, today() - 2 * DAY) == 600 - 240
    assert minutes_on(workshop, today() - 3 * DAY) == 600


@pytest.mark.parametrize("state", [Fair.State.MAYBE, Fair.State.NOT_GOING, Fair.State.OVER])
def test_only_a_fair_she_goes_to_takes_hours(workshop, state):
    make_fair(workshop, state=state, prepare_hours=3)
    assert minutes_on(workshop, today()) == 600


def test_a_fair_is_on_the_calendar_and_in_the_feed(workshop, client):
    fair = make_fair(workshop, days=2)
    page = client.get(reverse("pricing:calendar", args=[workshop.slug])).content.decode()
    assert "Alder green fair, 10:00 to 17:00" in page
    assert reverse("pricing:fair", args=[workshop.slug, fair.pk]) in page
    Fair.objects.update(state=Fair.State.NOT_GOING)
    page = client.get(reverse("pricing:calendar", args=[workshop.slug])).content.decode()
    assert "Alder green fair" not in page
