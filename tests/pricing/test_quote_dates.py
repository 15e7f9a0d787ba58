"""What a quote says of its date: the last date to accept it, the earliest there is, and why."""

import datetime
from decimal import Decimal

import pytest
from django.urls import reverse

from maker.calc.strict_json import WrongJson
from pricing.quotes.dates import promise_of
from pricing.quotes.documents import quote_document, worked_dates
from pricing.quotes.drawing import own_figures
from pricing.quotes.inputs import work_out
from pricing.quotes.models import Quote
from pricing.quotes.printing import customer_pdf, own_pdf
from pricing.workshop_file.frozen import check_frozen
from tests.pricing import quote_documents
from tests.pricing.quotes import make_customer, make_line, make_quote, sent_quote
from tests.pricing.test_quote_pdf import text_of
from tests.pricing.test_ready_dates import designed

pytestmark = pytest.mark.django_db
MONDAY = datetime.date(2026, 3, 2)
day = datetime.date
WEEKS_LATER = day(2026, 3, 23)


@pytest.fixture
def at(monkeypatch):
    """Make it another day for the pages."""

    def at(on):
        monkeypatch.setattr("django.utils.timezone.localdate", lambda *_: on)

    at(MONDAY)
    return at


def drafted(workshop, *, needed_on, valid_until=WEEKS_LATER, minutes="10", **fields):
    """Twelve boxes with all card in stock, so many minutes each; one spare workshop day."""
    quote = make_quote(workshop)
    make_line(quote, designed(workshop, stock=1000, minutes=minutes))
    Quote.objects.filter(pk=quote.pk).update(needed_on=needed_on, valid_until=valid_until, **fields)
    return Quote.objects.with_people().get(pk=quote.pk)


def papers(quote, today=MONDAY):
    document = quote_document(quote, today)
    return " ".join(text_of(customer_pdf(document)).split()), " ".join(
        text_of(own_pdf(document)).split()
    )


def dates(quote, today=MONDAY):
    return worked_dates(work_out(quote), today)


def test_the_paper_says_the_last_date_to_accept_not_that_it_is_valid_until(workshop):
    # collected on Friday 13 March; Thursday stays spare, 2 hours on Wednesday: a yes on Tuesday
    quote = drafted(workshop, needed_on=day(2026, 3, 13))
    assert dates(quote).yes_by == day(2026, 3, 10)
    for text in papers(quote):
        assert "Ready for 13 March 2026 if accepted by 10 March 2026" in text
        assert "accepted by 23 March" not in text
        assert "Prices are valid until 23 March 2026" in text


def test_a_quote_that_is_valid_for_less_says_that_date(workshop):
    quote = drafted(workshop, needed_on=day(2026, 3, 13), valid_until=day(2026, 3, 9))
    for text in papers(quote):
        assert "Ready for 13 March 2026 if accepted by 9 March 2026" in text


def test_seven_days_of_work_are_not_promised_in_two(workshop):
    today = day(2026, 12, 14)
    quote = drafted(
        workshop, needed_on=day(2027, 1, 2), valid_until=day(2026, 12, 31), minutes="122.5"
    )
    # spare: Friday 1 January; seven dates of 210 min from Wednesday 23 to Thursday 31 December
    assert dates(quote, today).yes_by == day(2026, 12, 22)
    for text in papers(quote, today):
        assert "Ready for 2 January 2027 if accepted by 22 December 2026" in text
        assert "accepted by 31 December" not in text


def test_a_date_that_cannot_be_met_is_said_with_the_earliest_and_why(client, workshop, at):
    quote = drafted(workshop, needed_on=day(2026, 3, 6), minutes="122.5")
    found = dates(quote)
    # 3 to 11 March at 210 min a date, Thursday spare
    assert (found.yes_by, found.arrives_on) == (None, day(2026, 3, 13))
    customers, own = papers(quote)
    for text in (customers, own):
        assert "6 March 2026 can no longer be met" in text
        assert "The earliest date is 13 March 2026, if accepted on 2 March 2026" in text
        assert "Ready for" not in text
    assert "24.5 h of work; 1 spare workshop day" in own
    assert "24.5 h" not in customers
    page = client.get(reverse("pricing:quote", args=[workshop.slug, quote.pk])).content.decode()
    assert "Fri 6 Mar 2026 can no longer be met: 24.5 h of work" in page
    assert "The earliest date is Fri 13 Mar 2026" in page
    assert " days" not in page.split("Quote details")[0].split("<main")[1].replace(
        "workshop days", ""
    )


def test_a_date_that_is_over_is_never_promised(client, workshop, at):
    quote = drafted(workshop, needed_on=MONDAY - datetime.timedelta(1))
    for text in papers(quote):
        assert "Ready for" not in text
        assert "The date needed, 1 March 2026" in text
    page = client.get(reverse("pricing:quote", args=[workshop.slug, quote.pk])).content.decode()
    assert "Sun 1 Mar 2026 has passed" in page


def test_the_page_says_what_would_help(client, workshop, at):
    quote = drafted(workshop, needed_on=day(2026, 3, 20), minutes="60")
    page = client.get(reverse("pricing:quote", args=[workshop.slug, quote.pk])).content.decode()
    # 720 min at 210: from Friday 13 to Wednesday 18 March; Thursday stays spare
    assert "For Fri 20 Mar 2026 it must be accepted by Thu 12 Mar 2026" in page
    assert "before it expires on Mon 23 Mar 2026" in page
    dates = client.get(reverse("pricing:quote_dates", args=[workshop.slug, quote.pk]))
    dates = dates.content.decode()
    assert "1 spare day less" in dates
    # without it Wednesday is Thursday, and work begins on Monday 16: a yes on Sunday will do
    assert "3 calendar days" in dates
    # and nothing of it where the date is sure
    Quote.objects.filter(pk=quote.pk).update(valid_until=day(2026, 3, 5))
    page = client.get(reverse("pricing:quote", args=[workshop.slug, quote.pk])).content.decode()
    assert "must be accepted" not in page


def test_what_travels_leaves_the_carriers_days_before(workshop):
    # needed on a Sunday: there on Saturday 14, handed over on Thursday 12, Wednesday spare
    quote = drafted(workshop, needed_on=day(2026, 3, 15), delivery=Decimal(5))
    assert dates(quote).latest.handed_over_on == (day(2026, 3, 12),)
    assert dates(quote).yes_by == day(2026, 3, 9)
    assert "2 days with the carrier" in dates(quote).why


def test_what_was_promised_before_must_find_its_time(workshop):
    quote = drafted(workshop, needed_on=day(2026, 3, 13))
    make_customer(workshop).quotes.create(
        number="Q-1", state="accepted", sent_on=MONDAY, needed_on=day(2026, 3, 13),
        frozen={"own": {"minutes": "1600"}},
    )  # fmt: skip
    # 3 to 12 March have 1,680 minutes, 120 of them are ours
    found = dates(quote)
    assert (found.yes_by, found.latest.promised_left) == (None, 40)
    assert "26.7 h promised earlier" in found.why.replace(" of work promised", " promised")


def test_a_sent_quote_keeps_its_dates_and_a_late_answer_is_warned_of(client, owner, workshop, at):
    quote = sent_quote(drafted(workshop, needed_on=day(2026, 3, 13)), owner, on=MONDAY)
    assert quote.frozen["own"]["dates"]["yes_by"] == "2026-03-10"
    assert quote.frozen["public"]["dates"] == {"yes_by": "2026-03-10", "earliest_on": "2026-03-05"}
    check_frozen(quote.frozen, "frozen")
    before = papers(quote)
    workshop.monday_minutes = workshop.wednesday_minutes = 0
    workshop.save()
    quote = Quote.objects.with_people().get(pk=quote.pk)
    assert papers(quote, day(2026, 3, 9)) == before
    address = reverse("pricing:quote", args=[workshop.slug, quote.pk])
    at(day(2026, 3, 10))
    assert "no longer be met" not in client.get(address).content.decode()
    at(day(2026, 3, 11))
    page = client.get(address).content.decode()
    assert "can no longer be met: the last date to accept was Tue 10 Mar 2026" in page
    at(day(2026, 3, 14))
    assert "It was needed on Fri 13 Mar 2026." in client.get(address).content.decode()
    for text in papers(quote, day(2026, 3, 14)):
        assert "Ready for" not in text


def test_a_quote_of_before_still_reads(client, owner, workshop, at):
    quote = sent_quote(drafted(workshop, needed_on=day(2026, 3, 13)), owner, on=MONDAY)
    frozen = quote.frozen
    del frozen["public"]["dates"], frozen["own"]["dates"], frozen["cancel"]
    frozen["own"]["ready_in_days"] = 7
    check_frozen(frozen, "frozen")
    Quote.objects.filter(pk=quote.pk).update(frozen=frozen)
    quote = Quote.objects.with_people().get(pk=quote.pk)
    address = reverse("pricing:quote", args=[workshop.slug, quote.pk])
    assert client.get(address).status_code == 200
    for text in papers(quote):
        assert "We will agree a delivery date when you accept." in text


@pytest.mark.parametrize(
    ("change", "where"),
    [
        (lambda document: document["own"].update(ready_in_days=7), "frozen.public"),
        (lambda said: said["own"]["dates"].update(yes_by="soon"), "frozen.own.dates.yes_by"),
        (lambda document: document["public"].pop("dates"), "frozen.public.dates"),
    ],
)
def test_dates_of_a_file_are_checked(owner, workshop, change, where):
    quote = sent_quote(drafted(workshop, needed_on=day(2026, 3, 13)), owner, on=MONDAY)
    change(quote.frozen)
    with pytest.raises(WrongJson) as refused:
        check_frozen(quote.frozen, "frozen")
    assert refused.value.where.startswith(where)


@pytest.mark.parametrize(
    ("needed_on", "valid_until", "dates", "promised"),
    [
        (None, "2026-12-11", {"yes_by": None}, "agreed"),
        ("2027-01-20", "2026-12-11", {"yes_by": "2026-12-15"}, "met"),
        ("2027-01-20", "2026-12-15", {"yes_by": "2026-12-15"}, "met"),
        ("2027-01-20", "2026-12-16", {"yes_by": "2026-12-15"}, "earlier"),
        ("2027-01-20", None, {"yes_by": "2026-12-15"}, "earlier"),
        ("2027-01-20", "2026-12-11", {"yes_by": None}, "missed"),
        ("2027-01-20", "2026-12-11", None, "met"),
        ("2026-12-10", "2026-12-11", None, "agreed"),
    ],
)
def test_what_is_promised(needed_on, valid_until, dates, promised):
    document = quote_documents.quote_document(needed_on=needed_on, valid_until=valid_until)
    document["public"]["dates"] = dates
    assert promise_of(document) == promised
    assert promise_of(document | {"is_past": True}) == ("past" if needed_on else "agreed")


def test_other_quantities_of_a_line_say_dates(client, workshop, at):
    quote = drafted(workshop, needed_on=None)
    line = quote.lines.get()
    page = client.post(
        reverse("pricing:quote_line_steps", args=[workshop.slug, quote.pk]),
        {"line": line.pk, "design": line.design_id, "quantity": "12"},
    ).content.decode()
    assert "Tue 3 Mar 2026" in page
    assert ">Ready</th>" in page
    assert "Days" not in page


def test_figures_of_a_sent_quote_say_that_its_dates_are_as_sent(workshop):
    document = quote_document(drafted(workshop, needed_on=day(2026, 3, 13)), MONDAY)
    for is_sent, said in ((False, "for Fri 13 Mar 2026"), (True, "as sent, for Fri 13 Mar 2026")):
        notes = {each.label: each.note for each in own_figures(document, is_sent=is_sent)}
        assert notes["Last date to accept"] == said
        assert notes["Earliest date"].startswith("as sent, if") is is_sent
