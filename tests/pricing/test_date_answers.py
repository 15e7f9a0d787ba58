"""What a quote and an order say of their dates, and the three ways out."""

import datetime

import pytest
from django.urls import reverse

from catalogue.recipes.models import Option, OptionChoice, Step
from catalogue.sheet_plans.services import sheet_planner
from pricing.calc.schedule.changes import least_in_time
from pricing.orders.date_views import parts_of
from pricing.orders.inputs import lines_now
from pricing.orders.services import DeliveryInput, accept, save_deliveries
from pricing.quotes.date_answers import answer_for
from pricing.quotes.date_views import asked_date
from pricing.quotes.dates import count_for
from pricing.quotes.inputs import work_out
from pricing.quotes.models import Quote
from pricing.quotes.ways_out import Layer, Part, left_out, ways_out
from tests.factories import make_recipe, today
from tests.pricing.quotes import make_line, make_quote, sent_quote

DAY = datetime.timedelta(days=1)
# a Monday: what is to buy is here the same day
MONDAY = datetime.date(2026, 11, 23)


def layer_of(quote):
    planner = sheet_planner()
    row = Quote.objects.with_people().get(pk=quote.pk)
    worked = work_out(row, plan_sheets=planner)
    return Layer(worked, count_for(row, MONDAY), MONDAY, planner)


@pytest.fixture
def quote(workshop):
    """60 items of ten minutes: 600 minutes of work, at 100 minutes on every day of the week."""
    for day in ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"):
        setattr(workshop, f"{day}_minutes", 100)
    workshop.buffer_days = workshop.proof_days = workshop.transit_days = 0
    workshop.purchase_lead_days = 0
    workshop.save()
    made = make_quote(workshop, title="Boxes")
    make_line(made, make_recipe(workshop), 60)
    return made


def parts(layer, days):
    return [Part(layer.quantities, MONDAY + days * DAY)]


def test_enough_time_needs_no_way_out(quote):
    layer = layer_of(quote)
    answer = answer_for(layer, parts(layer, 30), MONDAY)
    facts = dict(answer.facts)
    assert not answer.is_late
    assert answer.ways == ()
    assert "calendar days to spare" in facts["Against the date needed"]
    assert facts["Held up by"]
    # one more hour on each day is 160 for 100 minutes: of all changes it moves the date most
    assert dict(answer.changes)["1 more hour every workday"].endswith("most of all")


def test_what_is_left_out_makes_room(quote):
    layer = layer_of(quote)
    # 600 minutes take six days of 100 after today; on the fifth only 400 were done the evening
    # before, so that 40 can be ready and 20 are too many
    ways = ways_out(layer, parts(layer, 5), MONDAY)
    assert ways.fewer == 20
    assert ways.later == 20
    assert ways.rest_by > MONDAY + 5 * DAY
    smaller = [Part((40,), MONDAY + 5 * DAY)]
    assert layer.latest(layer.job(smaller)).yes_on >= MONDAY
    one_more = [Part((41,), MONDAY + 5 * DAY)]
    late = layer.latest(layer.job(one_more)).yes_on
    assert late is None or late < MONDAY
    said = dict(answer_for(layer, parts(layer, 5), MONDAY).ways)
    assert said["Fewer items"] == "leave out 20 of 60"
    assert said["A part later"].startswith("20 of 60 by ")
    assert said["Simpler items"] == "nothing to leave out"


def test_where_nothing_helps_it_says_so(quote):
    layer = layer_of(quote)
    said = dict(answer_for(layer, parts(layer, 0), MONDAY).ways)
    assert said["Fewer items"] == said["A part later"] == "not enough by itself"


def test_a_simpler_answer_to_an_option_saves_its_minutes(workshop, quote):
    version = quote.lines.get().version
    option = Option.objects.create(version=version, key="closing", name="Closing")
    tied, _ = (
        OptionChoice.objects.create(option=option, key=key, name=key, is_default=key == "tied")
        for key in ("tied", "dot")
    )
    Step.objects.create(version=version, name="tie", minutes=5, only_with=tied, position=1)
    layer = layer_of(quote)
    ways = ways_out(layer, parts(layer, 7), MONDAY)
    assert [each.endswith("with closing: dot") for each in ways.simpler.words] == [True]
    assert ways.simpler.is_enough  # 600 minutes by the seventh morning


def test_parts_made_together_take_what_the_whole_takes(quote):
    layer = layer_of(quote)
    day = MONDAY + 30 * DAY
    whole = layer.job([Part((60,), day)])
    split = layer.job([Part((25,), day), Part((35,), day + 9 * DAY)])
    assert split.minutes == whole.minutes
    assert [each.due_on for each in split.deliveries][-1] > split.deliveries[0].due_on


def test_plain_lines_are_left_out_before_named_ones():
    assert left_out((10, 20, 5), (0, 3, 0), 12) == (0, 20, 3)
    assert left_out((10, 20), (0, 3), 12) == (0, 18)


@pytest.mark.parametrize("needed", [0, 1, 18, 37, 79])
def test_the_least_that_fits_is_found_with_few_tries(needed):
    tried = []

    def fits(count):
        tried.append(count)
        return count >= needed

    assert least_in_time(fits, 79) == needed
    assert len(tried) <= 9
    assert least_in_time(lambda count: count >= 80, 79) is None


def test_an_order_in_parts_is_counted_by_its_deliveries(client, workshop, owner, quote):
    order = accept(quote=sent_quote(quote, owner), who="A", on=today(), today=today())
    (line,), (row,) = order.quote.lines.kept(), order.deliveries.all()
    days = [today() + 8 * DAY, today() + 20 * DAY]
    save_deliveries(
        order=order,
        deliveries=[
            DeliveryInput(row, days[0], "", "", {line.pk: 25}),
            DeliveryInput(None, days[1], "", "", {line.pk: 35}),
        ],
        edit_number=type(order).objects.get(pk=order.pk).edit_number,
    )
    found = parts_of(order, lines_now(order))
    assert found == [Part((25,), days[0]), Part((35,), days[1])]
    page = reverse("pricing:order_dates", args=[workshop.slug, order.pk])
    shown = client.get(page).content.decode()
    assert "Latest date to begin" in shown
    part = client.get(page, headers={"HX-Request": "true"}).content.decode()
    assert "<html" not in part
    order_page = client.get(reverse("pricing:order", args=[workshop.slug, order.pk]))
    assert page in order_page.content.decode()


def test_the_page_of_a_quote(client, reader_client, workshop, quote):
    page = reverse("pricing:quote_dates", args=[workshop.slug, quote.pk])
    shown = client.get(page).content.decode()
    assert "Earliest delivery" in shown
    assert "Last date to accept" not in shown  # no date is asked for
    Quote.objects.filter(pk=quote.pk).update(needed_on=today() + 5 * DAY)
    shown = reader_client.get(page).content.decode()
    assert "Ways to meet the date" in shown
    assert "A part later" in shown
    later = f"{page}?yes_on={(today() + 30 * DAY).isoformat()}"
    assert "not enough by itself" in client.get(later).content.decode()
    quote_page = client.get(reverse("pricing:quote", args=[workshop.slug, quote.pk]))
    assert page in quote_page.content.decode()


@pytest.mark.parametrize("text", ["", "soon", "2026-02-31", "0001-01-01", "9999-01-01"])
def test_a_date_of_an_address_that_cannot_be_is_today(text):
    assert asked_date(text, today()) == today()
