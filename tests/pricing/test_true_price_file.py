"""Tags printed and decisions in a workshop file: they come back, and nothing that cannot be."""

import datetime
from decimal import Decimal

import pytest

from maker.calc.strict_json import WrongJson
from pricing.calc.costing.rates import Ask
from pricing.price_review.models import PriceDecision
from pricing.price_tags.models import TagPrint
from pricing.prices.services import set_price
from pricing.workshop_file.removing import remove_workshop
from pricing.workshop_file.services import export_workshop, import_workshop
from tests.factories import make_channel, make_recipe
from tests.pricing.quotes import make_quote


@pytest.fixture
def document(workshop, owner):
    channel, version = make_channel(workshop, name="Fair"), make_recipe(workshop)
    entries = [
        set_price(
            version=version,
            workshop=workshop,
            channel=channel,
            ask=Ask(9, bought_at_once=1),
            price=Decimal(price),
            colourway=None,
            by=owner,
        )
        for price in ("4.70", "4.80")
    ]
    TagPrint.objects.create(entry=entries[0], count=24)
    figures = {"workshop": workshop, "cost_each": Decimal("3.26"), "price_each": Decimal("4.70")}
    PriceDecision.objects.create(
        entry=entries[1], kind="until", until=datetime.date(2027, 1, 31), note="after “fairs”",
        **figures,
    )  # fmt: skip
    quote = make_quote(workshop)
    PriceDecision.objects.create(quote=quote, kind="leave", **figures)
    return export_workshop(workshop)


def test_they_come_back_as_they_were(document):
    again = import_workshop(document, name="Another")
    assert TagPrint.objects.of(again).get().entry.price == Decimal("4.70")
    until, leave = PriceDecision.objects.of(again).order_by("pk")
    assert (until.entry.price, until.until) == (Decimal("4.80"), datetime.date(2027, 1, 31))
    assert leave.quote.customer.workshop == again
    document["workshop"]["name"] = "Another"
    assert export_workshop(again) == document


def test_an_example_with_them_is_removed_whole(document):
    example = import_workshop(document, is_demo=True)
    remove_workshop(workshop=example)
    assert not PriceDecision.objects.filter(workshop=example.pk).exists()


@pytest.mark.parametrize(
    ("row", "change", "where"),
    [
        (0, {"until": None}, "price_decisions[0].until"),
        (0, {"quote": "quote 1"}, "price_decisions[0].price"),
        (1, {"quote": None}, "price_decisions[1].price"),
        (1, {"quote": "quote 9"}, "price_decisions[1].quote"),
        (0, {"price": "price 9"}, "price_decisions[0].price"),
        (0, {"kind": "forget"}, "price_decisions[0].kind"),
    ],
)
def test_what_cannot_be_is_refused_with_its_place(document, row, change, where):
    document["price_decisions"][row] |= change
    with pytest.raises(WrongJson) as refused:
        import_workshop(document, name="Wrong")
    assert refused.value.where == where
