"""Sending and answering quotes: numbers without gaps, what stays, what cannot be answered."""

import datetime
import json
from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal

import pytest
from django.db import IntegrityError, connections, transaction
from django.urls import reverse

from catalogue.recipes.models import Colourway, Option, OptionChoice
from maker.web.editing import ChangedMeanwhile
from pricing.customers.models import Customer
from pricing.quotes.documents import quote_document
from pricing.quotes.inputs import newer_versions, work_out
from pricing.quotes.models import DocumentSeries, Quote
from pricing.quotes.printing import customer_pdf, own_pdf
from pricing.quotes.sending import (
    AlreadySent,
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
    QuoteLineInput,
    TooMuch,
    add_line,
    change_line,
    discard_draft,
    remove_line,
    restore_draft,
    save_quote,
)
from tests.factories import make_channel, make_material, make_pack, make_recipe, today
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


def test_what_was_sent_stays_whatever_changes_later(workshop, owner, quote):
    workshop.terms = "Old terms"
    quote.terms = "Old terms"
    quote.save()
    sent = sent_quote(quote, owner)
    before = document(sent)
    line = sent.lines.get()
    workshop.wage_per_hour, workshop.terms, workshop.name = Decimal(99), "New terms", "New name"
    workshop.tax_registered, workshop.tax_rate = True, Decimal("0.2")
    workshop.save()
    sent.customer.name, sent.customer.address = "Renamed", "Moved"
    sent.customer.save()
    line.design.name = "Renamed design"
    line.design.save()
    line.version.steps.update(minutes=Decimal(500))
    assert document(sent) == before
    assert before["public"]["lines"][0]["price_each"] == "4.70"
    assert sent.frozen["basis"]["rates"]["wage_per_hour"] == "15"
    line.version.refresh_from_db()
    assert line.version.frozen_at is not None
    assert sent.total == Decimal("42.30")


def test_the_document_of_a_draft_is_that_of_the_quote_sent_the_same_day(owner, quote):
    draft = document(quote)
    sent = sent_quote(quote, owner)
    said = document(sent)
    assert said == draft | {"number": sent.number, "state": "sent"}
    assert json.loads(json.dumps(said)) == said


def test_the_customers_part_holds_none_of_her_own_figures(owner, quote):
    said = document(sent_quote(quote, owner))
    public = json.dumps(said["public"])
    assert set(said["public"]["lines"][0]) == {
        *("design", "code", "description", "choices", "colourway", "finished_size", "quantity"),
        *("names", "price_each", "amount", "caution", "drawing"),
    }
    for figure in (said["own"]["cost"], said["own"]["profit"], said["own"]["floor"]):
        assert figure not in public


def test_lines_and_delivery_are_the_total(workshop, quote):
    quote.delivery = Decimal("7.35")
    quote.save()
    make_line(quote, make_recipe(workshop), 5)
    public = document(quote)["public"]
    amounts = [Decimal(line["amount"]) for line in public["lines"]]
    assert sum(amounts) + Decimal(public["delivery"]) == Decimal(public["total"])
    assert Decimal(public["deposit"]) + Decimal(public["balance"]) == Decimal(public["total"])


def test_choices_and_colourway_are_said_in_words(workshop, owner):
    version = make_recipe(workshop)
    option = Option.objects.create(version=version, key="closure", name="Closure")
    OptionChoice.objects.create(option=option, key="none", name="none", is_default=True)
    OptionChoice.objects.create(
        option=option, key="dot", name="dot", caution="Small dots.", position=1
    )
    way = Colourway.objects.create(version=version, name="Plum")
    made = make_quote(workshop)
    make_line(made, version, 3, choices={"closure": "dot"}, colourway=way, names="Ada\nBo")
    line = document(sent_quote(made, owner))["public"]["lines"][0]
    assert line["choices"] == ["Closure: dot"]
    assert line["colourway"] == "Plum"
    assert line["names"] == ["Ada", "Bo"]
    assert line["caution"] == "Small dots."


def test_a_recipe_changed_since_changes_a_draft_and_says_so_for_a_newer_version(workshop, quote):
    line = quote.lines.get()
    before = document(quote)["public"]["total"]
    line.version.steps.update(minutes=Decimal(20))
    assert document(quote)["public"]["total"] != before
    assert newer_versions(work_out(loaded(quote))) == {}
    line.design.versions.create(number=2)
    assert newer_versions(work_out(loaded(quote))) == {line.pk: 2}


def test_a_million_pieces_are_quoted(workshop, owner):
    made = make_quote(workshop)
    make_line(made, make_recipe(workshop), 1_000_000)
    sent = sent_quote(made, owner)
    assert sent.total == Decimal(document(sent)["public"]["total"]) > 1_000_000


def test_a_currency_without_decimals(workshop, owner):
    workshop.currency, workshop.locale = "JPY", "ja_JP"
    workshop.wage_per_hour = Decimal(1500)
    workshop.save()
    made = make_quote(workshop, channel=make_channel(workshop, tier={"price_step": 10}))
    make_line(made, make_recipe(workshop), 9)
    public = document(sent_quote(made, owner))["public"]
    assert public["total"].isdigit()
    assert Decimal(public["lines"][0]["price_each"]) % 10 == 0


def test_right_to_left_names_and_emoji_come_through_whole(workshop, owner):
    customer = make_customer(workshop, name="מאיה כהן 🎀", address="‏רחוב 3\nحيفا")
    made = make_quote(workshop, customer=customer, title="مناسبة 🎂")
    make_line(made, make_recipe(workshop), 3, names="זוהר\n👩‍👧\nمريم")
    said = document(sent_quote(made, owner))
    assert said["customer"]["name"] == "מאיה כהן 🎀"
    assert said["public"]["lines"][0]["names"] == ["זוהר", "👩‍👧", "مريم"]
    assert customer_pdf(said).startswith(b"%PDF-")
    assert own_pdf(said).startswith(b"%PDF-")


def test_terms_of_fifty_pages_are_kept_whole(owner, quote):
    terms = "\n".join(f"{number}. Handmade things vary a little." for number in range(500))[:20_000]
    quote.terms = terms
    quote.save()
    assert document(sent_quote(quote, owner))["terms"] == terms


# twice, and two people


def test_sending_twice_sends_once(owner, quote):
    sent_quote(quote, owner)
    with pytest.raises(AlreadySent, match="already sent"):
        sent_quote(quote, owner)
    assert DocumentSeries.objects.get().last == 1


def test_accepting_twice_accepts_once(owner, quote):
    sent = sent_quote(quote, owner)
    accept(sent)
    with pytest.raises(NotWaiting, match="already accepted"):
        accept(sent)


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


# after it was sent


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


def test_thrown_away_drafts_come_back_and_are_not_sent(owner, quote):
    discard_draft(quote=quote)
    with pytest.raises(NotADraft, match="Restore it"):
        sent_quote(quote, owner)
    restore_draft(quote=quote)
    assert sent_quote(quote, owner).number


# lines


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


def test_a_price_she_names_is_asked(workshop, owner, quote):
    line = quote.lines.get()
    line.price_asked = Decimal("3.00")
    line.save()
    said = document(sent_quote(quote, owner))
    assert said["public"]["lines"][0]["price_each"] == "3.00"
    # cost 29.30 over nine, up to the cent
    assert said["own"]["lines"][0]["floor_each"] == "3.26"
    assert said["own"]["lines"][0]["target_each"] == "4.70"


def test_a_hundred_lines_are_read_in_as_many_queries_as_one(workshop, quote, count_queries):
    def queries():
        fresh = loaded(quote)
        with count_queries() as counted:
            assert work_out(fresh).price is not None
        return len(counted)

    one = queries()
    version = quote.lines.get().version
    for number in range(20):
        make_line(quote, version, 10 + number)
    assert queries() == one


def test_a_receipt_changes_a_draft_and_not_a_sent_quote(workshop, owner):
    card = make_material(workshop)
    pack = make_pack(card)
    version = make_recipe(workshop, card)
    draft, sent = make_quote(workshop), make_quote(workshop)
    for each in (draft, sent):
        make_line(each, version, 900)
    sent = sent_quote(sent, owner)
    before = document(draft)["public"]["total"]
    pack.price = Decimal(50)
    pack.save()
    assert document(draft)["public"]["total"] > before
    assert document(sent)["public"]["total"] == before


def test_the_database_refuses_a_sent_quote_without_a_number(quote):
    with pytest.raises(IntegrityError), transaction.atomic():
        Quote.objects.filter(pk=quote.pk).update(state="sent")
