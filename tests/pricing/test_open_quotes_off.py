"""Open quotes that are off: cause, margin and restoring price of the whole, and the decision."""

import datetime
from decimal import Decimal

import pytest
from django.urls import reverse

from pricing.price_review.models import PriceDecision
from pricing.price_review.review import review_prices
from pricing.price_review.services import NothingToDecide, leave_quote
from pricing.quotes.models import Quote
from tests.factories import make_channel, make_recipe, today
from tests.pricing.quotes import make_line, make_quote, sent_quote


@pytest.fixture
def quote(workshop, owner):
    """Nine for 4.70 each, 29.30 of cost, sent; then the wage goes from 15 to 18 an hour."""
    channel = make_channel(workshop, name="Orders")
    draft = make_quote(workshop, channel=channel)
    make_line(draft, make_recipe(workshop), quantity=9)
    sent = sent_quote(draft, owner)
    workshop.wage_per_hour = Decimal(18)
    workshop.save(update_fields=["wage_per_hour"])
    return sent


def address(workshop, quote):
    return reverse("pricing:price_review_quote", args=[workshop.slug, quote.pk])


def test_it_is_listed_with_cause_margin_and_restoring_price(client, workshop, quote):
    page = client.get(reverse("pricing:price_review", args=[workshop.slug]))
    (row,) = page.context["quotes"]
    # by hand: 0.50 + 90 x 22.20 / 60 = 33.80; for one 3.7556, / 0.7 = 5.3651 -> 5.40, x 9
    assert (row["cost_then"], row["cost_now"]) == ("€29.30", "€33.80")
    assert (row["asked"], row["needed"]) == ("€42.30", "€48.60")
    # (42.30 - 29.30) / 42.30 and (42.30 - 33.80) / 42.30
    assert (row["margin_then"], row["margin_now"]) == ("30.7%", "20.1%")
    assert row["causes"] == "hourly wage +€4.50"
    assert "€48.60" in page.content.decode()


def test_it_is_left_until_its_day_and_comes_back(client, workshop, quote):
    assert "€48.60" in client.get(address(workshop, quote)).content.decode()
    until = today() + datetime.timedelta(days=5)
    client.post(
        address(workshop, quote), {"kind": "until", "until": until, "note": "said on phone"}
    )
    assert not review_prices(workshop=workshop, on=today()).quotes
    assert review_prices(workshop=workshop, on=until).quotes
    decision = PriceDecision.objects.get()
    assert (decision.quote, decision.cost_each) == (quote, Decimal("33.80"))
    client.post(reverse("pricing:price_review_undo", args=[workshop.slug, decision.pk]))
    assert review_prices(workshop=workshop, on=today()).quotes


def test_a_day_that_is_over_is_kept_and_explained(client, workshop, quote):
    answer = client.post(address(workshop, quote), {"kind": "until", "until": today()})
    assert answer.status_code == 422
    assert "future date" in answer.content.decode()
    assert not PriceDecision.objects.exists()


def test_one_answered_meanwhile_is_not_left(workshop, quote, owner):
    (off,) = review_prices(workshop=workshop, on=today()).quotes
    Quote.objects.filter(pk=quote.pk).update(state=Quote.State.DECLINED)
    with pytest.raises(NothingToDecide):
        leave_quote(workshop=workshop, off=off, until=None, note="", by=owner, on=today())


def test_readers_look_and_strangers_do_not(
    reader_client, stranger_client, anonymous_client, workshop, quote
):
    page = reader_client.get(reverse("pricing:price_review", args=[workshop.slug])).content.decode()
    assert "€48.60" in page
    assert ">Decide<" not in page
    assert reader_client.post(address(workshop, quote), {"kind": "leave"}).status_code == 403
    assert stranger_client.get(address(workshop, quote)).status_code == 404
    assert anonymous_client.get(address(workshop, quote)).status_code == 302


def test_more_quotes_cost_no_more_queries(client, workshop, quote, owner, count_queries):
    to = reverse("pricing:price_review", args=[workshop.slug])
    client.get(to)
    with count_queries() as few:
        client.get(to)
    workshop.wage_per_hour = Decimal(15)
    workshop.save(update_fields=["wage_per_hour"])
    for _ in range(3):
        draft = make_quote(workshop, channel=quote.channel)
        make_line(draft, make_recipe(workshop), quantity=9)
        make_line(draft, make_recipe(workshop), quantity=20)
        sent_quote(draft, owner)
    workshop.wage_per_hour = Decimal(18)
    workshop.save(update_fields=["wage_per_hour"])
    client.get(to)
    with count_queries() as many:
        assert len(client.get(to).context["quotes"]) == 4
    assert len(many) == len(few)
