"""What prices were worked out from goes through a file: materials by name, amounts to the digit."""

import copy
from decimal import Decimal
from pathlib import Path

import pytest
from django.conf import settings

from catalogue.materials.models import Material
from catalogue.recipes.models import DesignVersion
from maker.calc.strict_json import WrongJson, parse
from pricing.calc.costing.rates import Ask
from pricing.calc.price.ingredients import OF_STOCK, from_plain
from pricing.channels.models import Channel
from pricing.prices.models import PriceListEntry
from pricing.prices.services import set_price
from pricing.quotes.models import Quote
from pricing.workshop_file.bases import with_ids
from pricing.workshop_file.services import document_text, export_workshop, import_workshop
from tests.pricing.quotes import make_line, make_quote, sent_quote

WORKED_CASE = Path(settings.BASE_DIR) / "fixtures" / "worked_case.json"
NOTHING = object()

pytestmark = pytest.mark.django_db


@pytest.fixture
def priced(owner):
    """The worked case with a price on its list and a quote that was sent."""
    workshop = import_workshop(parse(WORKED_CASE.read_bytes()))
    version = DesignVersion.objects.of(workshop).with_recipe().get()
    channel = Channel.objects.of(workshop).with_tiers().get()
    set_price(
        version=version,
        workshop=workshop,
        channel=channel,
        ask=Ask(60, bought_at_once=60),
        price=Decimal("10.55"),
        colourway=None,
        by=owner,
    )
    quote = make_quote(workshop, channel=channel)
    make_line(quote, version, 60)
    sent_quote(quote, owner)
    return workshop


def kept(workshop):
    """The bases of the price and of the quote's line."""
    (entry,) = PriceListEntry.objects.of(workshop)
    (quote,) = Quote.objects.of(workshop)
    return [entry.basis, *quote.frozen["basis"]["lines"]]


def stock_of(basis):
    return [item for item in basis["items"] if item["kind"] in OF_STOCK]


def test_the_file_names_materials_and_no_id_of_the_database(priced):
    document = export_workshop(priced)
    names = set(Material.objects.of(priced).values_list("name", flat=True))
    bases = [document["prices"][0]["basis"], *document["quotes"][0]["frozen"]["basis"]["lines"]]
    for basis in bases:
        assert {item["identity"] for item in stock_of(basis)} <= names
        assert len(stock_of(basis)) > 3
        assert basis["channel"]["id"] is None


def test_an_import_points_to_its_own_materials_with_the_same_figures(priced):
    again = import_workshop(export_workshop(priced), name="Another")
    own = {str(pk): name for pk, name in Material.objects.of(again).values_list("pk", "name")}
    for before, after in zip(kept(priced), kept(again), strict=True):
        for item in stock_of(after):
            assert own[item["identity"]] == item["name"]
        old, new = from_plain(before), from_plain(after)
        assert new.cost == old.cost > 0
        assert new.price_exact == old.price_exact
        assert new.channel.id == Channel.objects.of(again).get().pk
        assert (new.work, new.rates, new.choices) == (old.work, old.rates, old.choices)


def test_it_comes_back_byte_by_byte(priced):
    document = export_workshop(priced)
    again = import_workshop(parse(document_text(document).encode()), name="Another")
    document["workshop"]["name"] = "Another"
    assert document_text(export_workshop(again)) == document_text(document)


def test_a_material_that_is_gone_keeps_a_name_that_is_no_ones_number(priced):
    entry = PriceListEntry.objects.of(priced).get()
    entry.basis["items"][0]["identity"] = "999999"
    name = entry.basis["items"][0]["name"]
    entry.save()
    document = export_workshop(priced)
    again = import_workshop(document, name="Another")
    basis = PriceListEntry.objects.of(again).get().basis
    assert basis["items"][0]["identity"] == f"{name} (gone)"
    assert export_workshop(again)["prices"] == document["prices"]


def test_a_price_without_a_basis_stays_without(priced):
    PriceListEntry.objects.of(priced).update(basis=None)
    again = import_workshop(export_workshop(priced), name="Another")
    assert PriceListEntry.objects.of(again).get().basis is None


BASIS = ("prices", 0, "basis")
LINES = ("quotes", 0, "frozen", "basis", "lines")
WRONG = {
    "no object": (BASIS, [], "prices[0].basis"),
    "another form": ((*BASIS, "form"), 3, "prices[0].basis.form"),
    "of no pieces": ((*BASIS, "quantity"), 0, "prices[0].basis.quantity"),
    "a number that is no text": ((*BASIS, "delivery"), 0, "prices[0].basis.delivery"),
    "a number without end": ((*BASIS, "price_each"), "Infinity", "prices[0].basis.price_each"),
    "an exponent": ((*BASIS, "price_each"), "1e999999", "prices[0].basis.price_each"),
    "below nothing": ((*BASIS, "price_each"), "-1", "prices[0].basis.price_each"),
    "a key left out": ((*BASIS, "work"), NOTHING, "prices[0].basis.work"),
    "a key too many": ((*BASIS, "margin"), "0.3", "prices[0].basis.margin"),
    "a kind that is none": (
        (*BASIS, "items", 0, "kind"), "gold", "prices[0].basis.items[0].kind",
    ),
    "a material by number": (
        (*BASIS, "items", 0, "identity"), "1", "prices[0].basis.items[0].identity",
    ),
    "two tiers": ((*BASIS, "channel", "tiers"), [], "prices[0].basis.channel.tiers"),
    "payments without end": (
        (*BASIS, "channel", "tiers", 0, "payments_per_sale"), 10**9,
        "prices[0].basis.channel.tiers[0].payments_per_sale",
    ),
    "a channel by number": ((*BASIS, "channel", "id"), 7, "prices[0].basis.channel.id"),
    "a choice of nothing": ((*BASIS, "choices"), [["handle"]], "prices[0].basis.choices[0]"),
    "yes as a text": (
        (*BASIS, "rates", "tax_per_line"), "yes", "prices[0].basis.rates.tax_per_line",
    ),
    "a line too few": (LINES, [], "quotes[0].frozen.basis.lines"),
    "a line that is none": (
        (*LINES, 0, "rates"), {}, "quotes[0].frozen.basis.lines[0].rates.wage_per_hour",
    ),
}  # fmt: skip


@pytest.fixture
def document(priced):
    return export_workshop(priced)


def test_what_no_price_is_worked_out_from_is_refused_with_its_place(document):
    """One workshop for all of them, because making it takes longer than a refusal."""
    for name, (path, value, where) in WRONG.items():
        changed = copy.deepcopy(document)
        *parents, last = path
        place = changed
        for step in parents:
            place = place[step]
        if value is NOTHING:
            del place[last]
        else:
            place[last] = value
        with pytest.raises(WrongJson) as refused:
            import_workshop(changed, name="Another")
        assert refused.value.where == where, name
    assert PriceListEntry.objects.count() == 1


def test_reading_leaves_the_document_as_it_was(document):
    basis = document["prices"][0]["basis"]
    before = copy.deepcopy(basis)
    with_ids(basis, "basis", {item["identity"]: 5 for item in stock_of(basis)}, None)
    assert basis == before
