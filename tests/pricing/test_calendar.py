"""The calendar: what is on which date, a month's page, and the feed of a secret address."""

import datetime

import icalendar
import pytest
from django.urls import reverse

from maker.workshop.models import CalendarDate
from pricing.calendar.events import events_between
from pricing.calendar.feed import calendar_file
from pricing.calendar.models import CalendarFeed, hash_of
from pricing.calendar.months import month_of
from pricing.orders.invoicing import issue_invoice
from pricing.orders.services import accept, cancel_order
from pricing.quotes.models import Quote
from tests.factories import make_recipe, today
from tests.pricing.quotes import make_customer, make_line, make_quote, sent_quote

DAY = datetime.timedelta(days=1)


@pytest.fixture
def order(workshop, owner):
    made = make_quote(workshop, customer=make_customer(workshop, name="Äpfel & “Birnen”; KG, " * 5))
    Quote.objects.filter(pk=made.pk).update(needed_on=today() + 20 * DAY)
    make_line(made, make_recipe(workshop), quantity=3)
    return accept(quote=sent_quote(made, owner), who="Ada", on=today(), today=today())


def keys(workshop, first=0, last=60):
    return [
        event.key.partition("-")[0]
        for event in events_between(workshop, today() + first * DAY, today() + last * DAY)
    ]


def test_everything_with_a_date_is_on_it(workshop, owner, order):
    waiting = make_quote(workshop)
    make_line(waiting, order.quote.lines.get().version, quantity=2)
    sent_quote(waiting, owner)
    (delivery,) = order.deliveries.all()
    issue_invoice(delivery=delivery, on=today(), today=today(), due_on=today() + 30 * DAY)
    CalendarDate.objects.create(
        workshop=workshop, first_on=today() + 2 * DAY, last_on=today() + 5 * DAY, note="Coast"
    )
    assert sorted(keys(workshop)) == ["date", "delivery", "invoice", "quote"]
    assert keys(workshop, 20, 20) == ["delivery"]
    assert keys(workshop, 4, 4) == ["date"]
    cancel_order(order=order, on=today(), today=today(), reason="", owed=0)
    assert sorted(keys(workshop)) == ["date", "quote"]


def test_nothing_of_another_workshop_is_on_it(other_workshop, order):
    assert keys(other_workshop) == []


@pytest.mark.parametrize(
    ("asked", "first"),
    [
        ("2026-12", datetime.date(2026, 12, 1)),
        ("2026-13", None),
        ("", None),
        ("0000-01", None),
        ("9999-12", None),
        ("２０２６-12", None),
    ],
)
def test_a_month_that_there_is_not_is_this_one(asked, first):
    day = datetime.date(2027, 2, 14)
    found = month_of(asked, day)
    assert found.first == (first or day.replace(day=1))
    assert found.start.weekday() == 0
    assert found.end.weekday() == 6
    assert found.start <= found.first <= found.end


def test_the_months_of_a_year_follow_each_other():
    month = month_of("2026-01", today())
    seen = [month.first.month]
    for _ in range(11):
        month = month_of(month.after, today())
        seen.append(month.first.month)
    assert seen == list(range(1, 13))
    assert month.before == "2026-11"


def test_a_month_on_its_page(client, owner, workshop, order):
    client.force_login(owner)
    address = reverse("pricing:calendar", args=[workshop.slug])
    due = today() + 20 * DAY
    page = client.get(address, {"month": f"{due:%Y-%m}"}).content.decode()
    assert f"Deliver {order}" in page
    assert reverse("pricing:order", args=[workshop.slug, order.pk]) in page
    assert client.get(address, {"month": "nonsense"}).status_code == 200


def test_a_feed_is_read_by_its_secret_alone_until_it_is_renewed(client, owner, workshop, order):
    client.force_login(owner)
    new = reverse("pricing:calendar_feed_new", args=[workshop.slug])
    page = client.post(new)
    assert "no-store" in page["Cache-Control"]
    address = page.context["address"]
    feed = CalendarFeed.objects.get()
    token = address.rpartition("/")[2].removesuffix(".ics")
    assert feed.token_hash == hash_of(token)
    assert token not in str(CalendarFeed.objects.values().get())
    client.logout()
    answer = client.get(address)
    assert answer["Content-Type"].startswith("text/calendar")
    assert answer["X-Robots-Tag"] == "noindex"
    assert order.number in answer.content.decode().replace("\r\n ", "")
    client.force_login(owner)
    client.post(new)
    assert client.get(address).status_code == 404
    end = reverse("pricing:calendar_feed_end", args=[workshop.slug])
    client.post(end)
    assert not CalendarFeed.objects.exists()


def test_a_viewer_makes_no_feed(reader_client, workshop):
    new = reverse("pricing:calendar_feed_new", args=[workshop.slug])
    assert reader_client.post(new).status_code == 403


def test_the_file_keeps_to_the_standard(workshop, order):
    # RFC 5545: lines of at most 75 octets end in CR LF (3.1); dates without time as VALUE=DATE
    # (3.3.4); the end of an entry is the date after its last one (3.6.1)
    CalendarDate.objects.create(
        workshop=workshop, first_on=datetime.date(2026, 3, 28), last_on=datetime.date(2026, 3, 30)
    )
    now = datetime.datetime(2026, 3, 1, 12, tzinfo=datetime.UTC)
    events = events_between(workshop, datetime.date(2026, 1, 1), today() + 60 * DAY)
    content = calendar_file(workshop, events, now, "https://shop.example")
    lines = content.split(b"\r\n")
    assert b"\n" not in b"".join(lines)
    assert max(map(len, lines)) <= 75
    read = icalendar.Calendar.from_ical(content)
    entries = {str(entry["uid"]).partition("-")[0]: entry for entry in read.walk("VEVENT")}
    # three dates over the night the clocks change are still three dates
    assert entries["date"].decoded("dtstart") == datetime.date(2026, 3, 28)
    assert entries["date"].decoded("dtend") == datetime.date(2026, 3, 31)
    assert str(entries["delivery"]["summary"]) == next(
        event.text for event in events if event.kind == "delivery"
    )
    assert str(entries["delivery"]["url"]).startswith("https://shop.example/w/marlow/orders/")
    assert len({str(entry["uid"]) for entry in read.walk("VEVENT")}) == len(events)
