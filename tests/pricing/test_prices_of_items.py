"""Prices belong to a design with its options and colourway: one never replaces another's.

By hand, as on the cost page: nine of the plain design cost 29.30 (one sheet 0.50, 90 minutes at
0.32), 4.70 each at 30% in steps of 0.05. A name takes two minutes more: nine cost 35.06, 5.60.
"""

from decimal import Decimal
from urllib.parse import urlencode

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from catalogue.recipes.models import Colourway, ColourwayMaterial, Option, OptionChoice, Step
from catalogue.recipes.services import new_version
from maker.calc.strict_json import WrongJson
from pricing.price_review.review import review_prices
from pricing.price_review.services import change_prices
from pricing.price_tags.models import TagPrint
from pricing.prices.inputs import entry_name, item_of, price_book
from pricing.prices.models import PriceListEntry
from pricing.quotes.models import Quote
from pricing.workshop_file.services import export_workshop, import_workshop
from tests.factories import make_channel, make_material, make_pack, make_recipe
from tests.pricing.quotes import make_line, make_quote

D = Decimal
NAMED = {"option_name": "yes"}


@pytest.fixture
def channel(workshop):
    return make_channel(workshop, name="Fair")


@pytest.fixture
def version(workshop):
    return with_names(make_recipe(workshop))


def with_names(version):
    """Let a design be made with a name, which takes two minutes more, and in blue."""
    option = Option.objects.create(version=version, key="name", name="Name")
    for position, (key, name) in enumerate((("no", "no name"), ("yes", "with a name"))):
        OptionChoice.objects.create(
            option=option, key=key, name=name, is_default=key == "no", position=position
        )
    Step.objects.create(
        version=version,
        position=1,
        name="write the name",
        minutes=D(2),
        only_with=OptionChoice.objects.get(option=option, key="yes"),
    )
    blue = make_material(version.design.workshop)
    make_pack(blue, price=D(10))
    way = Colourway.objects.create(version=version, name="Blue")
    ColourwayMaterial.objects.create(colourway=way, role=version.roles.get(), material=blue)
    return version


def address(workshop, version, name, **question):
    base = reverse(f"pricing:{name}", args=[workshop.slug, version.design_id])
    return f"{base}?{urlencode(question)}"


def publish(client, workshop, version, **question):
    asked = {"quantity": 9, "up_to": 12, "steps": "1,9", **question}
    return client.post(address(workshop, version, "quantities_publish", **asked), follow=True)


def current(workshop):
    rows = PriceListEntry.objects.of(workshop).current().with_items().in_order()
    return [(entry_name(row), row.bought_at_once, row.price) for row in rows]


def test_the_named_version_does_not_replace_the_unnamed_prices(client, workshop, version, channel):
    name = version.design.name
    publish(client, workshop, version)
    page = publish(client, workshop, version, **NAMED).content.decode()
    assert f"{name} (Name: with a name), from 1, 9" in page
    assert "are unchanged" not in page
    blue = Colourway.objects.get()
    publish(client, workshop, version, colourway=blue.pk)
    prices = {(row[0], row[1]): row[2] for row in current(workshop)}
    assert set(prices) == {
        (each, many)
        for each in (name, f"{name} (Name: with a name)", f"{name} (Blue)")
        for many in (1, 9)
    }
    assert prices[name, 9] == D("4.70")
    assert prices[f"{name} (Name: with a name)", 9] == D("5.60")
    listed = client.get(reverse("pricing:price_list", args=[workshop.slug])).content.decode()
    assert "Name: with a name" in listed
    assert "Blue" in listed


def test_the_same_item_is_replaced_also_by_a_later_version(client, workshop, version, channel):
    publish(client, workshop, version, **NAMED)
    later = new_version(version=version)
    Step.objects.filter(version=later, name="fold and glue").update(minutes=D(12))
    publish(client, workshop, later, **NAMED)
    assert len(current(workshop)) == 2
    assert {row.version.number for row in PriceListEntry.objects.current()} == {later.number}


def test_the_database_refuses_two_current_prices_of_one_item(workshop, version, channel, client):
    publish(client, workshop, version, steps="9")
    row = PriceListEntry.objects.get()
    row.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save()
    row.choices = {"name": "yes"}
    row.save()
    row.pk, row.colourway = None, Colourway.objects.get()
    row.save()
    assert PriceListEntry.objects.current().count() == 3


def test_the_book_finds_the_price_of_an_item_and_a_quantity(client, workshop, version, channel):
    publish(client, workshop, version)
    publish(client, workshop, version, **NAMED)
    book = price_book(channel, [version.design_id])
    plain, named = (item_of(version, "", {"name": key}) for key in ("no", "yes"))
    assert book.price_for(version, plain, 20).price == D("4.70")
    assert book.price_for(version, named, 20).price == D("5.60")
    assert book.price_for(version, plain, 8).bought_at_once == 1
    assert book.price_for(version, item_of(version, "Blue", {}), 20) is None
    # nobody answered: as usual
    assert item_of(version, "", {}) == plain


def test_undo_brings_an_item_back_beside_the_others(client, workshop, version, channel):
    publish(client, workshop, version, steps="9")
    entry = PriceListEntry.objects.get()
    client.post(reverse("pricing:price_remove", args=[workshop.slug, entry.pk]))
    publish(client, workshop, version, steps="9", **NAMED)
    client.post(reverse("pricing:price_restore", args=[workshop.slug, entry.pk]))
    assert len(current(workshop)) == 2


def test_tags_are_printed_for_an_item(client, workshop, version, channel):
    publish(client, workshop, version, steps="1")
    publish(client, workshop, version, steps="1", **NAMED)
    name = version.design.name
    to = reverse("pricing:tag_sheet", args=[workshop.slug])
    rows = [form.initial.get("design") for form in client.get(to).context["formset"].forms]
    assert rows[:2] == [name, f"{name} (Name: with a name)"]
    data = {
        "sheet": "own-0", "start_at": "1", "channel": str(channel.pk),
        "tags-TOTAL_FORMS": "1", "tags-INITIAL_FORMS": "0",
        "tags-0-design": f"{name} (Name: with a name)", "tags-0-count": "3",
    }  # fmt: skip
    sheet = next(iter(client.get(to).context["form"].geometries))
    response = client.post(to, {**data, "sheet": sheet})
    assert response["Content-Type"] == "application/pdf"
    printed = TagPrint.objects.get()
    assert printed.entry.choices == {"name": "yes"}
    # changing the plain price makes no tag of the named one old
    plain = PriceListEntry.objects.current().get(choices={"name": "no"})
    change_prices(workshop=workshop, wanted={plain.pk: D(9)}, by=None, on=timezone.localdate())
    assert review_prices(workshop=workshop, on=timezone.localdate()).tags == ()
    named = PriceListEntry.objects.current().get(choices={"name": "yes"})
    change_prices(workshop=workshop, wanted={named.pk: D(12)}, by=None, on=timezone.localdate())
    assert review_prices(workshop=workshop, on=timezone.localdate()).tags == (printed.pk,)


def test_a_design_with_several_items_and_no_plain_price_asks_which(
    client, workshop, version, channel
):
    publish(client, workshop, version, steps="1", **NAMED)
    publish(client, workshop, version, steps="1", colourway=Colourway.objects.get().pk)
    to = reverse("pricing:tag_sheet", args=[workshop.slug])
    sheet = next(iter(client.get(to).context["form"].geometries))
    page = client.post(
        to,
        {
            "sheet": sheet, "start_at": "1",
            "tags-TOTAL_FORMS": "1", "tags-INITIAL_FORMS": "0",
            "tags-0-design": version.design.name, "tags-0-count": "3",
        },
    ).content.decode()  # fmt: skip
    assert "It has several prices. Choose one" in page


def test_items_travel_in_a_workshop_file(client, workshop, version, channel):
    publish(client, workshop, version, steps="9")
    publish(client, workshop, version, steps="9", **NAMED)
    document = export_workshop(workshop)
    copy = import_workshop(document, name="Copy")
    assert [row[1:] for row in current(copy)] == [row[1:] for row in current(workshop)]
    document["prices"][1]["choices"] = document["prices"][0]["choices"]
    with pytest.raises(WrongJson) as refused:
        import_workshop(document, name="Another")
    assert refused.value.where == "prices[1].replaced_at"


def test_more_items_take_no_more_queries(client, workshop, version, channel, count_queries):
    pages = [
        reverse(f"pricing:{name}", args=[workshop.slug])
        for name in ("price_list", "tag_sheet", "price_review")
    ]

    def counted():
        for page in pages:
            client.get(page)
        with count_queries() as found:
            for page in pages:
                client.get(page)
        return len(found)

    publish(client, workshop, version, steps="9")
    few = counted()
    publish(client, workshop, version, steps="1,2,9", **NAMED)
    publish(client, workshop, with_names(make_recipe(workshop)), steps="9", **NAMED)
    assert counted() == few


def quote_page(client, workshop, channel, *lines):
    """Return the page of a draft with lines of (version, quantity, more)."""
    quote = make_quote(workshop, channel=channel)
    for version, quantity, more in lines:
        make_line(quote, version, quantity, **more)
    return client.get(reverse("pricing:quote", args=[workshop.slug, quote.pk]))


def test_a_quote_offers_the_price_of_the_item_and_shows_the_other(
    client, workshop, version, channel
):
    publish(client, workshop, version, steps="9")
    publish(client, workshop, version, steps="9", **NAMED)
    PriceListEntry.objects.filter(choices={"name": "yes"}).update(price=D("7.10"))
    page = quote_page(client, workshop, channel, (version, 10, {"choices": {"name": "yes"}}))
    (line,) = page.context["lines"]
    assert line["price_each"] == "7.10"
    assert line["price_words"].startswith("price list; suggested €")
    # below the list's first quantity it is worked out, and says nothing of a list
    (few,) = quote_page(client, workshop, channel, (version, 8, {})).context["lines"]
    assert few["price_words"] == "suggested"
    # a price of her own is shown beside both
    page = quote_page(client, workshop, channel, (version, 9, {"price_asked": D(6)}))
    (own,) = page.context["lines"]
    assert own["price_words"] == "your price; price list €4.70; suggested €4.70"


def test_the_quantity_is_that_of_the_design_in_the_whole_order(client, workshop, version, channel):
    publish(client, workshop, version, steps="1,9")
    publish(client, workshop, version, steps="1,9", **NAMED)
    PriceListEntry.objects.filter(bought_at_once=9).update(price=D("4.20"))
    lines = quote_page(
        client,
        workshop,
        channel,
        (version, 5, {"choices": {"name": "yes"}}),
        (version, 4, {}),
    ).context["lines"]
    assert [line["price_each"] for line in lines] == ["4.20", "4.20"]
    assert [line["price_words"].partition(";")[0] for line in lines] == ["price list"] * 2


def test_a_rush_order_is_worked_out_because_the_list_knows_no_rush(
    client, workshop, version, channel
):
    publish(client, workshop, version, steps="9")
    quote = make_quote(workshop, channel=channel)
    make_line(quote, version, 9)
    Quote.objects.filter(pk=quote.pk).update(is_rush=True)
    page = client.get(reverse("pricing:quote", args=[workshop.slug, quote.pk]))
    assert page.context["lines"][0]["price_words"] == "suggested"


def test_more_that_costs_less_by_the_list_is_offered(client, workshop, version, channel):
    publish(client, workshop, version, steps="1,9")
    PriceListEntry.objects.filter(bought_at_once=1).update(price=D("9.00"))
    page = quote_page(client, workshop, channel, (version, 8, {}))
    # eight at 9.00 are 72.00, nine at 4.70 are 42.30
    assert "9 “" in page.context["offers"][0]
    assert "€42.30 instead of €72.00" in page.context["offers"][0]
