"""The price board: each group on a page, its prices large, and nothing of what things cost."""

from decimal import Decimal
from io import BytesIO

import pdfplumber
import pytest
from django.urls import reverse

from catalogue.recipes.models import Colourway, Piece
from maker.heavy_pages.marks import HeavyAddresses
from pricing.fairs.models import Fair, FairDesign
from pricing.prices.models import PriceListEntry
from tests.factories import make_channel, make_recipe, make_version
from tests.fair_tables import Table

D = Decimal


def address(workshop):
    return reverse("pricing:price_board", args=[workshop.slug])


def price(version, channel, amount, **fields):
    return PriceListEntry.objects.create(
        **{
            "design": version.design,
            "version": version,
            "channel": channel,
            "price": D(amount),
            "cost_each": D("5.13"),
            "floor_each": D("6.17"),
            "target_each": D("9.71"),
            "includes_tax": version.design.workshop.prices_include_tax,
            **fields,
        }
    )


def pages_of(response):
    assert response["Content-Type"] == "application/pdf", response.content[:200]
    with pdfplumber.open(BytesIO(response.content)) as opened:
        return [(page.width, page.extract_text(), page.chars) for page in opened.pages]


@pytest.fixture
def channel(workshop):
    return make_channel(workshop, name="Fair")


def make_bag(workshop):
    version = make_recipe(workshop)
    Piece.objects.filter(version=version).update(shape="form", form="one_piece_bag")
    return version


def test_each_group_has_a_page_and_prices_are_the_largest_type(client, workshop, channel):
    bag, other = make_bag(workshop), make_recipe(workshop)
    price(bag, channel, "12.50")
    price(bag, channel, "11.00", bought_at_once=6)
    price(other, channel, "3.20")
    (_, bags, letters), (_, others, _) = pages_of(client.get(address(workshop)))
    assert "Bags" in bags
    assert bag.design.name in bags
    assert "€12.50" in bags
    assert "6 or more: €11.00 each" in " ".join(bags.split())
    assert "More" in others
    assert "€3.20" in others
    sizes = {each["size"] for each in letters if each["text"] == "€"}
    assert max(sizes) == max(each["size"] for each in letters)
    assert max(sizes) >= 30


@pytest.mark.parametrize(("locale", "width"), [("en_GB", 595), ("en_US", 612)])
def test_nothing_of_her_own_figures_is_on_it(client, workshop, channel, locale, width):
    workshop.locale, workshop.wage_per_hour = locale, D("23.45")
    workshop.save()
    price(make_bag(workshop), channel, "12.50")
    ((paper, text, _),) = pages_of(client.get(address(workshop)))
    assert round(paper) == width
    for figure in ("5.13", "6.17", "9.71", "23.45", "cost", "margin", "lowest", "wage"):
        assert figure not in text.lower(), figure


def test_items_that_cost_the_same_are_one_row(client, workshop, channel):
    bag = make_bag(workshop)
    ways = [Colourway.objects.create(version=bag, name=name) for name in ("Dusk", "Dawn", "Noon")]
    for way in ways[:2]:
        price(bag, channel, "12.50", colourway=way)
    ((_, text, _),) = pages_of(client.get(address(workshop)))
    assert text.count(bag.design.name) == 1
    assert "Dusk" not in text
    price(bag, channel, "14.00", colourway=ways[2])
    ((_, text, _),) = pages_of(client.get(address(workshop)))
    assert text.count(bag.design.name) == 2
    assert "Dusk / Dawn" in text
    assert "Noon" in text


def test_many_rows_go_over_to_more_pages_and_all_are_there(client, workshop, channel):
    bags = [make_bag(workshop) for _ in range(30)]
    for bag in bags:
        price(bag, channel, "2.00")
    pages = pages_of(client.get(address(workshop)))
    assert 2 <= len(pages) <= 4
    text = "\n".join(each for _, each, _ in pages)
    assert all(bag.design.name in text for bag in bags)
    # no page with a row or two at the end
    assert pages[-1][1].count("€2.00") >= 3


def test_a_long_price_stays_beside_its_name(client, workshop, channel):
    workshop.currency = "KWD"
    workshop.save()
    bag = make_bag(workshop)
    price(bag, channel, "1234567.125")
    response = client.get(address(workshop))
    with pdfplumber.open(BytesIO(response.content)) as opened:
        (page,) = opened.pages
        words = page.extract_words()
        name = max(each["x1"] for each in words if each["text"] in bag.design.name.split())
        amount = [each for each in words if "1,234,567.125" in each["text"]]
        assert amount[0]["x0"] > name
        assert amount[0]["x1"] <= page.width - 40


def test_only_the_channel_that_is_asked_for(client, workshop, channel):
    bag, web = make_bag(workshop), make_channel(workshop, name="Web", position=1)
    price(bag, channel, "12.50")
    price(bag, web, "15.00")
    ((_, text, _),) = pages_of(client.get(address(workshop), {"channel": web.pk}))
    assert "€15.00" in text
    assert "€12.50" not in text
    for wrong in ("99999", "x", "-1"):
        assert client.get(address(workshop), {"channel": wrong}).status_code == 404


def test_without_prices_or_channels_it_says_what_to_do(client, workshop):
    response = client.get(address(workshop), follow=True)
    assert "Add a sales channel" in response.content.decode()
    make_channel(workshop, name="Fair")
    response = client.get(address(workshop), follow=True)
    assert "has no prices yet" in response.content.decode()


def test_a_fairs_board_has_its_items_at_their_prices_there_and_its_bundles(client, workshop):
    table = Table(workshop, is_open=False)
    FairDesign.objects.filter(pk=table.starbox.pk).update(price=D("12.50"))
    make_bag(workshop)
    ((_, text, _),) = pages_of(client.get(address(workshop), {"fair": table.fair.pk}))
    for words in ("Marlow Paperworks", "Paper lantern", "6.50", "Star box", "12.50", "22.50"):
        assert words in text
    assert "2 × Paper lantern, Star box" in text
    assert "11.00" not in text
    empty = Fair.objects.create(workshop=workshop, name="Mill market")
    answer = client.get(address(workshop), {"fair": empty.pk})
    assert answer["Location"] == reverse("pricing:fair_items", args=[workshop.slug, empty.pk])
    assert client.get(address(workshop), {"fair": "9999"}).status_code == 404


def test_an_item_on_the_table_in_two_versions_is_no_price_for_more_of_it(client, workshop):
    table = Table(workshop, is_open=False)
    design = table.starbox.version.design
    for number, amount in ((2, "11.00"), (3, "12.50")):
        version = make_version(design, number=number)
        FairDesign.objects.create(
            fair=table.fair, version=version, price=D(amount), position=number
        )
    ((_, text, _),) = pages_of(client.get(address(workshop), {"fair": table.fair.pk}))
    assert "or more" not in text
    assert (text.count("11.00"), text.count("12.50")) == (1, 1)


def test_more_designs_take_no_more_queries(client, workshop, channel, count_queries):
    def queries():
        with count_queries() as counted:
            client.get(address(workshop))
        return len(counted)

    price(make_bag(workshop), channel, "2.00")
    queries()
    few = queries()
    for _ in range(4):
        price(make_bag(workshop), channel, "2.00")
    assert queries() == few


def test_who_may_open_it_and_where_it_is_linked(
    client, anonymous_client, reader_client, stranger_client, workshop, channel
):
    price(make_bag(workshop), channel, "2.00")
    assert anonymous_client.get(address(workshop)).status_code == 302
    assert stranger_client.get(address(workshop)).status_code == 404
    assert reader_client.get(address(workshop)).status_code == 200
    for page in ("price_list", "tag_sheet"):
        shown = client.get(reverse(f"pricing:{page}", args=[workshop.slug])).content.decode()
        assert address(workshop) in shown
    assert HeavyAddresses().hold("GET", address(workshop), "")
