"""What the example workshop shows: as large and as varied as one of two years, and all adds up."""

import datetime
import re
from decimal import Decimal

import pytest
from django.urls import reverse

from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase, PurchaseLine
from catalogue.recipes.models import DesignVersion, Step
from catalogue.stock.models import StockEntry
from maker.accounts.models import User
from pricing.calc.changes.repricing import Trigger
from pricing.calc.costing.rates import Ask
from pricing.channels.models import Channel
from pricing.closed_months.services import late_rows, month_rows
from pricing.costs.services import cost_and_price
from pricing.customers.models import Customer
from pricing.price_review.models import PriceDecision
from pricing.price_review.review import price_of, review_prices, shown_tags
from pricing.price_tags.models import TagPrint
from pricing.prices.models import PriceListEntry
from pricing.quotes.documents import charges_in, discount_in, quote_document
from pricing.quotes.models import DocumentSeries, Quote
from pricing.workshop_file.demo import DEMO_EMAIL, LATE_DAYS, demo_document
from tests import factories

TODAY = factories.today()
DEMO = "Tamsel Bridge Paperworks"

pytestmark = pytest.mark.django_db


def test_it_is_as_large_and_as_varied_as_a_workshop_of_two_years(demo):
    materials = Material.objects.of(demo)
    assert materials.count() >= 30
    assert set(materials.values_list("kind", flat=True)) == set(Material.Kind.values)
    assert set(materials.values_list("category", flat=True)) == set(Material.Category.values)
    assert demo.suppliers.count() == 8
    assert demo.designs.count() == 10
    versions = DesignVersion.objects.of(demo)
    assert versions.filter(number__gt=1).count() >= 5
    assert versions.filter(options__isnull=False).exists()
    assert versions.filter(colourways__isnull=False).values("design").distinct().count() >= 8
    steps = Step.objects.filter(version__in=versions)
    assert {"job", "sheet", "pass", "made", "good", "carton", "name", "rack", "night"} <= set(
        steps.values_list("basis", flat=True)
    )
    assert len(set(steps.values_list("caution", flat=True))) >= 6
    assert list(Channel.objects.of(demo).in_order().values_list("kind", flat=True)) == [
        "fair", "direct", "online", "wholesale",
    ]  # fmt: skip
    moves = set(StockEntry.objects.of(demo).values_list("kind", flat=True))
    assert moves == set(StockEntry.Kind.values)
    assert not materials.filter(on_hand__lt=0).exists()
    assert 2 <= materials.below_level().count() <= 12


def test_the_receipts_of_each_month_are_two_to_five_and_end_near_today(demo):
    receipts = Purchase.objects.of(demo)
    states = set(receipts.values_list("state", flat=True))
    assert states == set(Purchase.State.values)
    assert receipts.drafts().count() >= 2
    newest = receipts.newest_first().first().bought_on
    assert 0 <= (TODAY - newest).days <= 6
    # dates move with the day it is loaded, so months are counted as the file has them
    written = demo_document(today=datetime.date(2026, 11, 21))["receipts"]
    months = [row["bought_on"][:7] for row in written if row["state"] == "recorded"]
    assert len(set(months)) >= 25
    # the books were begun late in the first month
    assert all(2 <= months.count(month) <= 5 for month in sorted(set(months))[1:])
    assert any(row.get("discount") for row in written)
    assert any(row.get("tax") for row in written)


def test_what_came_back_broken_late_or_in_other_money_is_there(demo):
    """A part refund, a credited pack, a receipt in pounds, and one entered for a closed month."""
    back = StockEntry.objects.of(demo).get(refund__isnull=False)
    owed = back.purchase_line.amount
    assert 0 < back.refund < owed
    assert back.cost_out == back.purchase_line.landed
    credited = PurchaseLine.objects.of(demo).get(damaged_credited__gt=0)
    assert credited.amount_credited > 0
    foreign = Purchase.objects.of(demo).exclude(currency="").get()
    goods = sum(line.amount for line in foreign.lines.all())
    assert foreign.charged > goods + foreign.postage
    rows = month_rows(demo, TODAY)
    closed = [row for row in rows if row.closing]
    # closed on two evenings, and the last closed month has a receipt that came later
    assert len({row.closing.closed_at for row in closed}) == 2
    assert [row.month for row in closed if row.differs] == [closed[-1].month]
    (late,) = late_rows(demo)
    assert late.entry.kind == "bought"
    bought = {one.key: one.more for one in closed[-1].figures}["bought"]
    assert bought == late.entry.cost_in


@pytest.mark.parametrize("weeks", range(0, 53, 4))
def test_the_late_receipt_is_late_whenever_it_is_loaded(weeks):
    loaded = datetime.date(2026, 11, 21) + datetime.timedelta(weeks=weeks)
    entries = demo_document(today=loaded)["stock_entries"]
    late = [row for row in entries if row["kind"] == "bought" and _days_late(row) > LATE_DAYS]
    ((dated, entered),) = [(row["moved_on"][:7], row["made_at"][:7]) for row in late]
    assert dated < entered
    assert entered < f"{loaded:%Y-%m-%d}"


def _days_late(row):
    dated, entered = (datetime.date.fromisoformat(row[key][:10]) for key in ("moved_on", "made_at"))
    return (entered - dated).days


def test_every_fair_price_is_one_a_maker_would_ask(demo):
    fair = Channel.objects.of(demo).in_order().first()
    current = PriceListEntry.objects.of(demo).current().filter(channel=fair, bought_at_once=1)
    # every design, one of them with a name, and one in a colourway of its own
    assert current.values("design").distinct().count() == 10
    assert current.filter(choices__name="yes").count() == 1
    assert current.filter(colourway__isnull=False).count() == 1
    for entry in current:
        assert 1 <= entry.price <= 18, entry.design.name
        assert entry.floor_each < entry.price
    assert PriceListEntry.objects.of(demo).filter(replaced_at__isnull=False).exists()


def test_quotes_are_in_every_state_with_one_running_out(demo):
    quotes = Quote.objects.of(demo)
    assert 8 <= Customer.objects.of(demo).in_use().count() <= 10
    assert set(quotes.values_list("state", flat=True)) == {
        "draft", "sent", "replaced", "accepted", "declined",
    }  # fmt: skip
    assert quotes.waiting(TODAY).count() >= 3
    assert quotes.running_out(TODAY, TODAY + datetime.timedelta(days=7)).exists()
    assert quotes.expired(TODAY).exists()
    assert not quotes.filter(sent_on__gt=TODAY).exists()
    assert not quotes.filter(state="declined", reason="").exists()
    (revision,) = quotes.filter(replaces__isnull=False)
    assert (revision.replaces.state, revision.state) == ("replaced", "sent")
    assert quotes.filter(lines__names__gt="").exists()
    assert quotes.filter(is_rush=True).exists()
    given = sorted(set(quotes.exclude(number="").values_list("number", flat=True)))
    last = DocumentSeries.objects.get(workshop=demo, name="quote").last
    assert [number[-4:] for number in given] == [f"{n:04}" for n in range(1, last + 1)]


@pytest.mark.parametrize("days", range(7))
def test_what_runs_out_does_so_on_each_day_a_copy_may_be_loaded(db, days):
    """The demo's newest day is up to six days old; no quote may have expired by that."""
    today = datetime.date(2026, 11, 21) + datetime.timedelta(days=days)
    rows = demo_document(today=today)["quotes"]
    left = sorted(
        (datetime.date.fromisoformat(row["valid_until"]) - today).days
        for row in rows
        if row["state"] == "sent"
    )
    assert [day for day in left if 0 <= day <= 7]
    assert len([day for day in left if day < 0]) == 1


def test_the_figures_of_each_quote_add_up(demo):
    for quote in Quote.objects.of(demo).with_people():
        document = quote_document(quote, TODAY)
        public = document["public"]
        lines = sum(Decimal(line["amount"]) for line in public["lines"])
        beside = charges_in(public) - discount_in(public)
        assert lines + beside + Decimal(public["delivery"] or 0) == Decimal(public["total"])
        for line in public["lines"]:
            assert Decimal(line["price_each"]) * line["quantity"] == Decimal(line["amount"])
        assert Decimal(public["deposit"]) + Decimal(public["balance"]) == Decimal(public["total"])
        own = document["own"]
        assert Decimal(own["cost"]) < Decimal(own["floor"]) <= Decimal(public["total"])
        if quote.sent_on:
            assert document["quoted_on"] == quote.sent_on.isoformat()
            assert document["valid_until"] == quote.valid_until.isoformat()
            assert quote.total == Decimal(public["total"])


def test_every_design_can_be_costed_in_every_colourway_and_channel(demo):
    channels = list(Channel.objects.of(demo).with_tiers())
    for version in DesignVersion.objects.of(demo).with_recipe():
        for colourway in [None, *version.colourways.all()]:
            answer = cost_and_price(
                version=version,
                workshop=demo,
                ask=Ask(quantity=12),
                channel=channels[0],
                colourway=colourway,
            )
            assert answer.price.price_each > answer.price.floor_each > 0
    for channel in channels:
        answer = cost_and_price(
            version=version, workshop=demo, ask=Ask(quantity=1), channel=channel
        )
        assert answer.price.price_each > 0


def test_every_line_of_a_cost_leads_to_what_it_rests_on(demo, client):
    client.force_login(User.objects.get(email=DEMO_EMAIL))
    pages = {}
    for design in demo.designs.all():
        cost = client.get(reverse("pricing:cost", args=[demo.slug, design.pk])).content.decode()
        for address in re.findall(r'href="(/[^"]*/(?:recipe|receipts|materials)/[^"]*)"', cost):
            page, _, place = address.replace("&amp;", "&").partition("#")
            if page not in pages:
                response = client.get(page)
                assert response.status_code == 200, address
                pages[page] = response.content.decode()
            assert not place or f'id="{place}"' in pages[page], address
    assert len(pages) > 10


def test_the_days_move_by_whole_weeks(db):
    written = demo_document(today=datetime.date(2026, 11, 21))
    later = demo_document(today=datetime.date(2027, 3, 10))
    moved = {
        datetime.date.fromisoformat(new["moved_on"]) - datetime.date.fromisoformat(old["moved_on"])
        for old, new in zip(written["stock_entries"], later["stock_entries"], strict=True)
    }
    assert moved == {datetime.timedelta(days=105)}
    assert later["prices"][0]["set_at"][10:] == written["prices"][0]["set_at"][10:]
    earlier = demo_document(today=datetime.date(2026, 1, 1))
    assert max(row["bought_on"] for row in earlier["receipts"]) <= "2026-01-01"


def test_it_shows_prices_that_are_off_with_different_causes(demo):
    review = review_prices(workshop=demo, on=TODAY)
    triggers = {trigger for off in review.prices for trigger in off.checked.triggers}
    assert {Trigger.COST, Trigger.TIMING} <= triggers
    assert any(len(off.checked.triggers) == 1 for off in review.prices)
    assert len(review.prices) < review.checked / 2
    # tags with an old price on the table, others thrown away or for the price of today
    tags = shown_tags(review.tags)
    assert [each.entry.design.name for each in tags] == ["Harbour treat bag"]
    assert TagPrint.objects.of(demo).count() == 3
    decision = PriceDecision.objects.of(demo).get()
    assert review.settled == 1
    assert decision.until > TODAY
    # what the decision was made on is what the price costs still
    checked, _ = price_of(workshop=demo, entry=decision.entry, on=TODAY)
    assert checked.now.cost_each == pytest.approx(decision.cost_each, abs=Decimal("0.000001"))
