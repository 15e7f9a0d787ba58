"""The date the cost page, its quantities and the command say, and what moves it."""

import datetime
import json
from decimal import Decimal
from io import StringIO

import pytest
from django.core.management import call_command
from django.urls import reverse

from catalogue.recipes.models import DesignVersion, Step
from maker.workshop.models import CalendarDate, Workshop
from pricing.calc.costing.rates import Ask
from pricing.costs.inputs import date_terms, supplier_terms
from pricing.costs.services import cost_and_price, ready_dates
from tests import factories
from tests.pricing.quotes import make_customer

pytestmark = pytest.mark.django_db
MONDAY = datetime.date(2026, 3, 2)
DAY = datetime.timedelta(days=1)


def designed(workshop, *, stock=None, minutes="10", lead=3, steps=()):
    """A design of one sheet each, with a step of so many minutes for each item."""
    supplier = factories.make_supplier(workshop, name="Paper Shop", lead_days=lead)
    card = factories.make_material(workshop, name="Card", supplier=supplier)
    factories.make_pack(card)
    if stock:
        card.on_hand = Decimal(stock)
        card.save(update_fields=["on_hand"])
    version = factories.make_recipe(workshop, card)
    version.design.name = "Box"
    version.design.save(update_fields=["name"])
    version.steps.update(name="fold", basis="made", minutes=Decimal(minutes))
    for place, step in enumerate(steps, 1):
        Step.objects.create(version=version, position=place, **step)
    return DesignVersion.objects.with_recipe().get(pk=version.pk)


def ready(version, quantity=12, on=MONDAY):
    workshop = Workshop.objects.get(pk=version.design.workshop_id)
    answer = cost_and_price(version=version, workshop=workshop, ask=Ask(quantity))
    return ready_dates([answer], workshop, on, supplier_terms(workshop))[0]


def test_with_everything_in_stock_nothing_is_waited_for(workshop):
    found = ready(designed(workshop, stock=1000))
    assert found.on == MONDAY + DAY
    assert found.reason == "2 h of work on Tue 3 Mar"


def test_only_what_is_short_is_waited_for_by_its_own_suppliers_days(workshop):
    found = ready(designed(workshop, lead=3))
    # ordered on Monday, here on Thursday, folded on Friday
    assert found.on == datetime.date(2026, 3, 6)
    assert found.reason == "Card from Paper Shop here Thu 5 Mar, 2 h of work on Fri 6 Mar"


def test_weekdays_off_days_off_and_short_days_are_respected(workshop):
    version = designed(workshop, stock=1000)
    workshop.tuesday_minutes = 0
    workshop.save()
    wednesday = datetime.date(2026, 3, 4)
    assert ready(version).on == wednesday
    make = CalendarDate.objects.create
    make(workshop=workshop, kind="off", first_on=wednesday, last_on=wednesday)
    assert ready(version).on == wednesday + DAY
    make(
        workshop=workshop,
        kind="hours",
        first_on=wednesday + DAY,
        last_on=wednesday + DAY,
        minutes=60,
    )
    assert ready(version).on == wednesday + 2 * DAY
    make(
        workshop=workshop, kind="holiday", first_on=wednesday + 2 * DAY, last_on=wednesday + 5 * DAY
    )
    # Monday 9 March is a holiday too, and Tuesdays are off
    assert ready(version).on == datetime.date(2026, 3, 11)


def test_the_last_drying_comes_after_the_last_work(workshop):
    night = {"name": "press", "basis": "night", "per": 20}
    found = ready(designed(workshop, stock=1000, steps=[night]))
    assert found.on == MONDAY + 2 * DAY
    assert found.reason.endswith("then 1 night of drying")


def test_a_rack_says_how_many_a_date(workshop):
    rack = {"name": "dry", "basis": "rack", "minutes": Decimal(60), "per": 2, "window_minutes": 120}
    found = ready(designed(workshop, stock=1000, steps=[rack]))
    # two loads of two a date: 12 items take Tuesday to Thursday
    assert found.on == datetime.date(2026, 3, 5)


def test_an_accepted_quote_that_is_needed_later_keeps_its_time(workshop):
    version = designed(workshop, stock=1000)
    customer = make_customer(workshop)
    quote = customer.quotes.create(
        number="Q-1", state="accepted", sent_on=MONDAY, needed_on=MONDAY + 3 * DAY,
        frozen={"own": {"minutes": "399.2"}},
    )  # fmt: skip
    # 400 minutes on Tuesday and Wednesday leave 20 for ours
    found = ready(version)
    assert found.on == datetime.date(2026, 3, 5)
    assert "promised earlier" in found.reason
    assert sum(each.minutes for each in date_terms(workshop, MONDAY).promises) == 400
    assert date_terms(workshop, MONDAY, without=quote.pk).promises == ()
    assert date_terms(workshop, MONDAY + 3 * DAY).promises == ()
    other = customer.quotes.create(number="Q-2", state="sent", sent_on=MONDAY)
    assert len(date_terms(workshop, MONDAY, without=other.pk).promises) == 1


def test_a_promise_that_travels_is_due_before_its_carrier(workshop):
    customer = make_customer(workshop)
    customer.quotes.create(
        number="Q-1", state="accepted", sent_on=MONDAY, delivery=Decimal(5),
        needed_on=datetime.date(2026, 3, 22), frozen={"own": {"minutes": "10"}},
    )  # fmt: skip
    # needed on a Sunday: here on Saturday at the latest, two carrier's days earlier Thursday
    (promise,) = date_terms(workshop, MONDAY).promises
    assert promise.due_on == datetime.date(2026, 3, 19)


def test_the_page_says_a_date_and_why(client, workshop):
    version = designed(workshop, stock=1000)
    page = client.get(
        reverse("pricing:cost", args=[workshop.slug, version.design_id]), {"quantity": "12"}
    ).content.decode()
    assert "<strong>Ready " in page
    assert "if accepted today: 2 h of work on " in page
    assert "All materials here" in page
    assert "Ready in" not in page
    quantities = client.get(
        reverse("pricing:cost_quantities", args=[workshop.slug, version.design_id])
    ).content.decode()
    assert 'data-label="Ready">' in quantities
    assert " days</td>" not in quantities


def test_without_hours_the_page_says_so_and_keeps_the_price(client, workshop):
    version = designed(workshop, stock=1000)
    Workshop.objects.update(**{f"{day}_minutes": 0 for day in (
        "monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")})  # fmt: skip
    address = reverse("pricing:cost", args=[workshop.slug, version.design_id])
    page = client.get(address, {"quantity": "12"}).content.decode()
    assert "You have no working hours" in page
    assert "Cost" in page
    quantities = reverse("pricing:cost_quantities", args=[workshop.slug, version.design_id])
    assert client.get(quantities).status_code == 200


def command(*words):
    output = StringIO()
    call_command("cost", *words, stdout=output)
    return json.loads(output.getvalue())


def test_the_command_takes_a_date_and_prints_one(workshop):
    designed(workshop, stock=1000)
    answer = command("Box", "--quantity", "12", "--from", "2026-03-02")
    assert answer["figures"]["ready_on"] == "2026-03-03"
    assert answer["explanation"]["lines"][-1]["value"] == "2026-03-03"


@pytest.mark.parametrize("word", ["soon", "2026-02-30", "0001-01-01", "9999-12-31", ""])
def test_a_date_that_is_none_is_refused(workshop, word):
    designed(workshop, stock=1000)
    if not word:
        assert command("Box", "--quantity", "12", "--from", word)["figures"]["ready_on"]
        return
    output = StringIO()
    with pytest.raises(SystemExit):
        call_command("cost", "Box", "--quantity", "12", "--from", word, stdout=output)
    assert json.loads(output.getvalue())["error"]["where"] == "from"
