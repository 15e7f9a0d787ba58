"""What keeps a quote from being sent, and how to put it right."""

import datetime

import pytest

from catalogue.recipes.inputs import recipe_document
from catalogue.recipes.models import Colourway
from catalogue.recipes.services import save_recipe
from pricing.quotes.documents import quote_document
from pricing.quotes.inputs import CannotBeWorkedOut
from pricing.quotes.models import DocumentSeries, Quote
from pricing.quotes.sending import CannotBeSent
from pricing.quotes.services import OutOfUse
from tests.factories import make_channel, make_material, make_recipe, today
from tests.pricing.quotes import make_line, make_quote, sent_quote

DAY = datetime.timedelta(days=1)


@pytest.fixture
def quote(workshop):
    made = make_quote(workshop)
    make_line(made, make_recipe(workshop), 9)
    return made


def refusal_of(quote, owner, on=None):
    with pytest.raises(CannotBeSent) as refusal:
        sent_quote(quote, owner, on)
    stored = Quote.objects.get(pk=quote.pk)
    assert (stored.state, stored.number, stored.frozen) == ("draft", "", {})
    assert not DocumentSeries.objects.filter(last__gt=0).exists()
    return refusal.value.message


def test_a_quote_of_nothing_is_not_sent(workshop, owner):
    assert "Add a line" in refusal_of(make_quote(workshop), owner)


def test_a_day_that_is_over_is_not_promised(owner, quote):
    quote.valid_until = today() - DAY
    quote.save()
    assert "Choose a later date" in refusal_of(quote, owner)


def test_a_missing_last_day_is_asked_for(owner, quote):
    quote.valid_until = None
    quote.save()
    assert "Enter one" in refusal_of(quote, owner)


def test_a_customer_put_away_gets_no_quote(workshop, owner, quote):
    quote.customer.retired_on = today()
    quote.customer.save()
    assert "Restore the customer" in refusal_of(quote, owner)
    with pytest.raises(OutOfUse):
        make_quote(workshop, customer=quote.customer)


def test_a_design_put_away_is_not_promised(owner, quote):
    design = quote.lines.get().design
    design.retired_on = today()
    design.save()
    assert "restore the design, or take the line off" in refusal_of(quote, owner)


def test_a_margin_no_price_can_leave_is_explained(workshop, owner, quote):
    quote.channel = make_channel(workshop, tier={"margin": "0.9", "fee_share": "0.2"})
    quote.save()
    words = refusal_of(quote, owner)
    assert words.startswith("Line 1: ")
    assert "80%" in words
    with pytest.raises(CannotBeWorkedOut):
        quote_document(Quote.objects.with_people().get(pk=quote.pk), today())


def test_a_quantity_the_channel_does_not_sell_is_explained(workshop, owner, quote):
    quote.channel = make_channel(workshop, tier={"bought_at_once": 50})
    quote.save()
    assert "it starts at 50" in refusal_of(quote, owner)


def test_a_material_without_a_cost_is_explained(workshop, owner):
    made = make_quote(workshop)
    make_line(made, make_recipe(workshop, make_material(workshop, name="Plum card")), 2)
    assert "Plum card" in refusal_of(made, owner)


def test_an_option_the_recipe_lost_since_is_explained(workshop, owner, quote):
    line = quote.lines.get()
    line.choices = {"closure": "dot"}
    line.save()
    assert "no option" in refusal_of(quote, owner)


def test_a_colourway_the_recipe_lost_since_is_explained_not_forgotten(workshop, owner):
    version = make_recipe(workshop)
    way = Colourway.objects.create(version=version, name="Plum")
    made = make_quote(workshop)
    make_line(made, version, 2, colourway=way)
    before = recipe_document(type(version).objects.with_recipe().get(pk=version.pk))
    save_recipe(version=version, document=before | {"colourways": []}, edit_number=0, by=owner)
    words = refusal_of(made, owner)
    assert "“Plum”" in words
    assert "Choose another" in words
