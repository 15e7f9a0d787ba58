"""Sending quotes: numbers without gaps, once for each quote, and what a sent one refuses."""

import datetime
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import IntegrityError, connections, transaction

from catalogue.recipes.models import Colourway
from maker.web.editing import ChangedMeanwhile
from pricing.quotes.documents import quote_document
from pricing.quotes.models import DocumentSeries, Quote
from pricing.quotes.sending import (
    AlreadySent,
    CannotBeSent,
    accept_quote,
)
from pricing.quotes.services import (
    Head,
    NotADraft,
    NotThisQuote,
    QuoteLineInput,
    TooMuch,
    add_line,
    change_line,
    discard_draft,
    remove_line,
    restore_draft,
    save_quote,
)
from tests.factories import make_recipe, today
from tests.pricing.quotes import make_line, make_quote, sent_quote

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


def test_numbers_are_given_without_gaps_and_begin_anew_each_year(workshop, other_workshop, owner):
    numbers = []
    for on in (today(), today(), datetime.date(today().year + 1, 1, 15)):
        made = make_quote(workshop)
        make_line(made, make_recipe(workshop), 1)
        made.valid_until = on + 9 * DAY
        made.save()
        # a draft that cannot be sent takes no number
        with pytest.raises(CannotBeSent):
            sent_quote(make_quote(workshop), owner, on)
        numbers.append(sent_quote(made, owner, on).number)
    year = today().year
    assert numbers == [f"Q-{year}-0001", f"Q-{year}-0002", f"Q-{year + 1}-0001"]
    theirs = make_quote(other_workshop)
    make_line(theirs, make_recipe(other_workshop), 1)
    assert sent_quote(theirs, owner).number == f"Q-{year}-0001"


def test_without_a_prefix_the_number_begins_with_the_year(workshop, owner, quote):
    workshop.quote_prefix = ""
    workshop.save()
    assert sent_quote(quote, owner).number == f"{today().year}-0001"


def test_sending_twice_sends_once(owner, quote):
    sent_quote(quote, owner)
    with pytest.raises(AlreadySent, match="already sent"):
        sent_quote(quote, owner)
    assert DocumentSeries.objects.get().last == 1


@pytest.mark.django_db(transaction=True)
def test_two_people_sending_at_once_get_two_numbers(workshop, owner):
    drafts = []
    for _ in range(4):
        made = make_quote(workshop)
        make_line(made, make_recipe(workshop), 1)
        drafts.append(made)

    def send(draft):
        try:
            return sent_quote(draft, owner).number
        finally:
            connections.close_all()

    with ThreadPoolExecutor(4) as people:
        numbers = list(people.map(send, drafts))
    assert sorted(numbers) == [f"Q-{today().year}-{each:04}" for each in range(1, 5)]


@pytest.mark.django_db(transaction=True)
def test_two_people_sending_one_quote_send_it_once(workshop, owner, quote):
    def send(_):
        try:
            sent_quote(quote, owner)
        except AlreadySent:
            return "already"
        else:
            return "sent"
        finally:
            connections.close_all()

    with ThreadPoolExecutor(2) as people:
        assert sorted(people.map(send, range(2))) == ["already", "sent"]
    assert DocumentSeries.objects.get().last == 1


def test_a_failed_transaction_gives_its_number_back(workshop, owner, quote):
    with transaction.atomic():
        assert sent_quote(quote, owner).number == f"Q-{today().year}-0001"
        transaction.set_rollback(True)
    assert sent_quote(quote, owner).number == f"Q-{today().year}-0001"


def test_only_the_first_of_two_saves_counts(workshop, quote):
    now = Quote.objects.get(pk=quote.pk)
    head = Head(customer=quote.customer, title="First", valid_until=today())
    save_quote(quote=quote, head=head, edit_number=now.edit_number)
    with pytest.raises(ChangedMeanwhile):
        save_quote(quote=quote, head=head, edit_number=now.edit_number)
    line = QuoteLineInput(version=quote.lines.get().version, quantity=1)
    with pytest.raises(ChangedMeanwhile):
        add_line(quote=quote, line=line, edit_number=now.edit_number)


def test_a_sent_quote_is_not_changed(owner, quote):
    line = quote.lines.get()
    sent = sent_quote(quote, owner)
    entry = QuoteLineInput(version=line.version, quantity=1)
    for change in (
        lambda: save_quote(
            quote=sent, head=Head(customer=sent.customer), edit_number=sent.edit_number
        ),
        lambda: add_line(quote=sent, line=entry, edit_number=sent.edit_number),
        lambda: change_line(row=line, line=entry, edit_number=sent.edit_number),
        lambda: remove_line(row=line),
        lambda: discard_draft(quote=sent),
    ):
        with pytest.raises(NotADraft, match="Make a revision"):
            change()
    assert sent.lines.get().quantity == 9


def test_thrown_away_drafts_come_back_and_are_not_sent(owner, quote):
    discard_draft(quote=quote)
    with pytest.raises(NotADraft, match="Restore it"):
        sent_quote(quote, owner)
    restore_draft(quote=quote)
    assert sent_quote(quote, owner).number


def test_lines_taken_off_are_gone_once_it_is_sent(workshop, owner, quote):
    line = make_line(quote, make_recipe(workshop), 5)
    remove_line(row=line)
    sent = sent_quote(quote, owner)
    assert sent.lines.count() == 1
    assert len(document(sent)["public"]["lines"]) == 1


def test_more_names_than_pieces_are_refused(workshop, quote):
    with pytest.raises(TooMuch, match="3 names for 2 pieces"):
        make_line(quote, make_recipe(workshop), 2, names="Ada\nBo\n\nCy")


def test_foreign_designs_and_colourways_are_refused(workshop, other_workshop, quote):
    with pytest.raises(NotThisQuote):
        make_line(quote, make_recipe(other_workshop), 2)
    way = Colourway.objects.create(version=make_recipe(workshop), name="Plum")
    with pytest.raises(NotThisQuote):
        make_line(quote, make_recipe(workshop), 2, colourway=way)


def test_the_database_refuses_a_sent_quote_without_a_number(quote):
    with pytest.raises(IntegrityError), transaction.atomic():
        Quote.objects.filter(pk=quote.pk).update(state="sent")
