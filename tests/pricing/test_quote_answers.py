"""Answers to quotes: accepted, declined, expired, revised, quoted again, and taken back."""

import datetime

import pytest
from django.urls import reverse

from pricing.customers.models import Customer
from pricing.quotes.documents import quote_document
from pricing.quotes.models import DocumentSeries, Quote
from pricing.quotes.sending import (
    CannotBeSent,
    Expired,
    NotAnswered,
    NotWaiting,
    accept_quote,
    decline_quote,
    quote_again,
    reopen_quote,
    revise_quote,
)
from pricing.quotes.services import (
    Head,
    NotADraft,
    NotThisQuote,
    discard_draft,
    save_quote,
)
from tests.factories import make_recipe, today
from tests.pricing.quotes import make_customer, make_line, make_quote, sent_quote

DAY = datetime.timedelta(days=1)


def loaded(quote):
    return Quote.objects.with_people().get(pk=quote.pk)


def document(quote, on=None):
    return quote_document(loaded(quote), on or today())


@pytest.fixture
def quote(workshop):
    made = make_quote(workshop)
    make_line(made, make_recipe(workshop), 9)
    return made


def accept(quote, on=None, at=None):
    return accept_quote(quote=quote, who="Ada", on=on or today(), today=at or today())


def test_accepting_twice_accepts_once(owner, quote):
    sent = sent_quote(quote, owner)
    accept(sent)
    with pytest.raises(NotWaiting, match="already accepted"):
        accept(sent)


def test_a_revision_keeps_the_number_and_takes_the_place(owner, quote):
    first = sent_quote(quote, owner)
    revision = revise_quote(quote=first, today=today())
    assert (revision.number, revision.revision, revision.state) == (first.number, 2, "draft")
    assert [line.quantity for line in revision.lines.all()] == [9]
    # until it is sent the first one holds
    assert Quote.objects.get(pk=first.pk).state == "sent"
    assert revise_quote(quote=first, today=today()) == revision
    second = sent_quote(revision, owner)
    assert str(second) == f"{first.number}, revision 2"
    assert DocumentSeries.objects.get().last == 1
    said = document(first)
    assert (said["state"], said["replaced_by"]) == ("replaced", 2)
    assert said["public"]["total"] == "42.30"
    for answer in (
        lambda: accept(first),
        lambda: decline_quote(quote=first, reason="price", note="", on=today(), today=today()),
    ):
        with pytest.raises(NotWaiting, match="replaced by a revision"):
            answer()
    with pytest.raises(NotWaiting, match="newest one"):
        revise_quote(quote=first, today=today())
    with pytest.raises(NotADraft):
        reopen_quote(quote=first)


def test_the_same_is_quoted_again(client, owner, quote):
    quote.own_notes, quote.intro = "only this once", "Dear both"
    quote.save()
    with pytest.raises(NotWaiting, match="draft"):
        quote_again(quote=quote, today=today())
    sent = sent_quote(quote, owner)
    page = client.get(reverse("pricing:quote", args=[quote.workshop.slug, sent.pk]))
    assert "Quote the same again" in page.content.decode()
    key = str(page.context["again_key"])
    again = reverse("pricing:quote_same_again", args=[quote.workshop.slug, sent.pk])
    first = client.post(again, {"form_key": key})
    made = Quote.objects.exclude(pk=sent.pk).get()
    # a quote of its own: no number yet, no revision, what was said to the customer kept
    assert (made.number, made.revision, made.replaces, made.state) == ("", 1, None, "draft")
    assert (made.customer, made.intro, made.own_notes) == (sent.customer, "Dear both", "")
    assert [line.quantity for line in made.lines.all()] == [9]
    assert made.lines.get().frozen == {}
    # a second click opens the same draft
    assert client.post(again, {"form_key": key}).url == first.url
    assert Quote.objects.count() == 2
    Customer.objects.filter(pk=sent.customer_id).update(retired_on=today())
    refused = client.post(again, {"form_key": ""}, follow=True).content.decode()
    assert "is archived" in refused
    assert Quote.objects.count() == 2


def test_a_revision_thrown_away_comes_back(owner, quote):
    first = sent_quote(quote, owner)
    revision = revise_quote(quote=first, today=today())
    discard_draft(quote=revision)
    assert revise_quote(quote=first, today=today()) == revision
    revision.refresh_from_db()
    assert revision.state == "draft"


def test_a_revision_does_not_take_the_place_of_an_accepted_quote(owner, quote):
    first = sent_quote(quote, owner)
    revision = revise_quote(quote=first, today=today())
    accept(first)
    with pytest.raises(CannotBeSent, match="was accepted meanwhile"):
        sent_quote(revision, owner)
    assert Quote.objects.get(pk=first.pk).state == "accepted"
    with pytest.raises(NotWaiting, match="Undo the acceptance"):
        revise_quote(quote=first, today=today())


def test_a_revision_stays_with_its_customer(workshop, owner, quote):
    revision = revise_quote(quote=sent_quote(quote, owner), today=today())
    other = make_customer(workshop)
    with pytest.raises(NotThisQuote, match="stays with its customer"):
        save_quote(quote=revision, head=Head(customer=other), edit_number=revision.edit_number)


def test_an_expired_quote_is_accepted_only_by_a_day_in_time(owner, quote):
    sent = sent_quote(quote, owner)
    late = sent.valid_until + DAY
    assert document(sent, late)["state"] == "expired"
    with pytest.raises(Expired, match="Make a revision with a later date"):
        accept(sent, on=late, at=late)
    accepted = accept(sent, on=sent.valid_until, at=late)
    assert accepted.decided_on == sent.valid_until


def test_an_answer_is_of_a_day_that_can_be(owner, quote):
    sent = sent_quote(quote, owner)
    with pytest.raises(NotWaiting, match="in the future"):
        accept(sent, on=today() + DAY)
    with pytest.raises(NotWaiting, match="before the quote was sent"):
        accept(sent, on=today() - DAY)


def test_a_draft_is_not_answered(quote):
    with pytest.raises(NotWaiting, match="a sent quote"):
        accept(quote)
    with pytest.raises(NotAnswered):
        reopen_quote(quote=quote)


def test_a_no_is_kept_with_its_reason_and_taken_back(owner, quote):
    sent = sent_quote(quote, owner)
    decline_quote(quote=sent, reason="date", note="too late", on=today(), today=today())
    stored = Quote.objects.get(pk=sent.pk)
    assert (stored.state, stored.reason, stored.reason_note) == ("declined", "date", "too late")
    reopen_quote(quote=sent)
    stored.refresh_from_db()
    assert (stored.state, stored.reason, stored.decided_on) == ("sent", "", None)
    accept(stored)
