"""What a quote says: lines in words, totals, and that a sent one stays as it was."""

import datetime
import json
from decimal import Decimal

import pytest

from catalogue.recipes.models import Colourway, Option, OptionChoice
from pricing.quotes.documents import quote_document
from pricing.quotes.inputs import newer_versions, work_out
from pricing.quotes.models import Quote
from pricing.quotes.printing import customer_pdf, own_pdf
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
