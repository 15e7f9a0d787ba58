"""A price that does not pay its own quantity is marked wherever it is shown, and kept on purpose.

The margin rises with the quantity and a second sheet starts at ten, so the list holds ten to
sixteen down at the price of nine. By hand: a sheet is 30.00 and enough for nine, ten minutes are
3.20; nine cost 58.80, 6.5333 each, with 5% margin 6.90 in steps of 0.05; ten cost 92.00, 9.20
each; sixteen 111.20, 6.95 each; seventeen 114.40, 6.7294 each; nineteen begin a third sheet.
"""

import re
from decimal import Decimal
from urllib.parse import urlencode

import pytest
from django.urls import reverse
from django.utils import timezone

from pricing.channels.models import ChannelTier
from pricing.price_review.services import change_prices
from pricing.prices.models import PriceListEntry
from pricing.prices.services import BelowLowestPrice
from tests.factories import make_channel, make_material, make_pack, make_recipe
from tests.pricing.quotes import make_line, make_quote

D = Decimal
BELOW = [*range(10, 17), *range(19, 25)]


@pytest.fixture
def version(workshop):
    card = make_material(workshop)
    make_pack(card, quantity=D(1), price=D(30))
    return make_recipe(workshop, card)


@pytest.fixture
def channel(workshop):
    channel = make_channel(workshop, name="Fair", tier={"margin": D("0.05")})
    ChannelTier.objects.create(channel=channel, bought_at_once=10, margin=D("0.40"))
    return channel


def address(workshop, version, name, **question):
    base = reverse(f"pricing:{name}", args=[workshop.slug, version.design_id])
    return f"{base}?{urlencode(question)}"


def quantities_page(client, workshop, version, **question):
    asked = {"quantity": 10, "up_to": 27, "steps": "1,9,10,17", **question}
    return client.get(address(workshop, version, "quantities", **asked))


def test_every_row_and_the_headline_say_which_quantities_lose(client, workshop, version, channel):
    response = quantities_page(client, workshop, version)
    every_quantity = response.context["every_quantity"]
    assert [
        quantity_row.quantity for quantity_row in every_quantity.rows if quantity_row.is_below_floor
    ] == BELOW
    page = response.content.decode()
    assert "as calculated" not in response.context["figures"][0].note
    assert "below its lowest price, €9.20" in response.context["figures"][0].note
    assert "For 10–16 and 19–24 the list is below the lowest price of up to €9.20" in page
    said = {row.quantity: row.below_lowest for row in response.context["rows"]}
    assert said == {
        1: "",
        9: "",
        10: "Below the lowest price of up to €9.20 for 10–16.",
        # three sheets and 19 x 3.20 are 150.80, 7.9368 each: up to the next coin
        17: "Below the lowest price of up to €7.94 for 19–24.",
    }
    whole = {row["quantities"]: row["below_lowest"] for row in response.context["breaks"]}
    assert whole["9–27"] == "Below the lowest price of up to €9.20 for 10–16 and 19–24."


def test_a_list_that_pays_is_not_marked(client, workshop, version, channel):
    response = quantities_page(client, workshop, version, up_to=9, quantity=9, steps="1,9")
    assert "elow the lowest" not in response.content.decode()
    assert "elow its lowest" not in response.content.decode()


def test_the_list_is_kept_only_where_the_page_has_said_so(client, workshop, version, channel):
    to = address(workshop, version, "quantities_publish", quantity=10, up_to=27, steps="9,10")
    page = client.post(to, follow=True).content.decode()
    assert "is below its lowest price of €9.20" in page
    assert not PriceListEntry.objects.exists()
    shown = quantities_page(client, workshop, version, steps="9,10").content.decode()
    assert 'name="below" value="meant"' in shown
    assert re.search(r"Save these prices for [^<]+ anyway</button>", shown)
    client.post(to, {"below": "meant"})
    assert PriceListEntry.objects.current().count() == 2


def test_a_row_that_loses_only_further_on_is_refused_too(client, workshop, version, channel):
    # nine pay at 6.90, but the row holds for ten as well
    to = address(workshop, version, "quantities_publish", quantity=9, up_to=12, steps="9")
    assert "is below its lowest price" in client.post(to, follow=True).content.decode()
    assert not PriceListEntry.objects.exists()


def set_by_hand(client, workshop, version, price, **more):
    to = address(workshop, version, "price_set", quantity=9)
    return client.post(to, {"price": price, **more})


def test_a_price_set_by_hand_is_asked_about_first(client, workshop, version, channel):
    response = set_by_hand(client, workshop, version, "6.50")
    page = response.content.decode()
    assert response.status_code == 422
    assert "at €6.50 is below its lowest price of €6.54" in page
    assert "Nothing is saved yet" in page
    assert not PriceListEntry.objects.exists()
    assert set_by_hand(client, workshop, version, "6.50", below="meant").status_code == 302
    assert PriceListEntry.objects.get().price == D("6.50")
    listed = client.get(reverse("pricing:price_list", args=[workshop.slug])).content.decode()
    assert "1 price was set below its lowest price" in listed
    assert "price below" in listed


def test_the_lowest_price_as_it_is_written_is_not_below(client, workshop, version, channel):
    assert set_by_hand(client, workshop, version, "6.54").status_code == 302
    assert PriceListEntry.objects.get().price == D("6.54")


def test_a_changed_price_is_asked_about_first(client, workshop, version, channel, owner):
    set_by_hand(client, workshop, version, "7")
    entry = PriceListEntry.objects.get()
    to = reverse("pricing:price_review_decide", args=[workshop.slug, entry.pk])
    response = client.post(to, {"kind": "change", "price": "6"})
    page = response.content.decode()
    assert "at €6.00 is below its lowest price of €6.54" in page
    assert "Save it below the lowest price" in page
    with pytest.raises(BelowLowestPrice):
        change_prices(workshop=workshop, wanted={entry.pk: D(6)}, by=owner, on=timezone.localdate())
    assert PriceListEntry.objects.current().get().price == 7
    client.post(to, {"kind": "change", "price": "6", "below": "on"})
    assert PriceListEntry.objects.current().get().price == 6


def test_channels_and_what_if_say_it_in_the_headline(client, workshop, version, channel):
    asked = {"quantity": 10, "customer_each": "8"}
    compared = client.get(address(workshop, version, "design_channels", **asked))
    notes = [figure.note for figure in compared.context["figures"]]
    assert any("below the lowest price of €9.20" in note for note in notes)
    dearer = client.get(address(workshop, version, "what_if", quantity=9, minutes=50))
    notes = [figure.note for figure in dearer.context["figures"]]
    # 30.00 and 135 minutes at 0.32 are 73.20, 8.1333 each
    assert any("below the lowest price, €8.14" in note for note in notes)


def test_a_line_of_a_quote_says_so_though_the_total_pays(client, workshop, version, channel):
    quote = make_quote(workshop, channel=channel)
    make_line(quote, make_recipe(workshop), 9, price_asked=D("50"))
    make_line(quote, version, 10, price_asked=D("8"))
    for name in ("quote", "quote_edit", "quote_send"):
        response = client.get(reverse(f"pricing:{name}", args=[workshop.slug, quote.pk]))
        page = response.content.decode()
        assert f"Line 2, {version.design.name}: €8.00 each is below its lowest price" in page, name
        assert "Below the lowest price" not in page
