"""The large workshop is the demo many times over: whole, consistent and removable."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db.models import F

from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase, PurchaseLine
from catalogue.recipes.models import ColourwayMaterial, Piece
from catalogue.stock.models import StockEntry
from catalogue.stock.services import replay_workshop
from maker.workshop.models import Workshop
from pricing.prices.models import PriceListEntry
from pricing.workshop_file.demo import demo_document
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def large():
    call_command("seed_large", times=3, verbosity=0)
    return Workshop.objects.get()


def test_every_copy_points_inside_its_own_copy(large):
    for rows in (
        StockEntry.objects.of(large).exclude(purchase_line__isnull=True)
        .exclude(purchase_line__material=F("material")),
        StockEntry.objects.of(large).exclude(takes_back__isnull=True)
        .exclude(takes_back__material=F("material")),
        Material.objects.of(large).exclude(latest_line__isnull=True)
        .exclude(latest_line__material=F("pk")),
        PurchaseLine.objects.of(large).exclude(pack__isnull=True)
        .exclude(pack__material=F("material")),
        Piece.objects.exclude(role__version=F("version")),
        ColourwayMaterial.objects.exclude(role__version=F("colourway__version")),
        PriceListEntry.objects.of(large).exclude(version__design=F("design")),
    ):  # fmt: skip
        assert not rows.exists()
    shelves = Material.objects.of(large).exclude(latest_line__isnull=True)
    assert shelves.count() % 3 == 0
    assert shelves.exists()


def test_everything_is_there_three_times_with_the_figures_the_ledgers_give(large):
    demo = demo_document(today=factories.today())
    assert Material.objects.of(large).count() == 3 * len(demo["materials"])
    assert Purchase.objects.of(large).count() == 3 * len(demo["receipts"])
    assert StockEntry.objects.of(large).count() == 3 * len(demo["stock_entries"])
    assert large.designs.count() == 3 * len(demo["designs"])
    assert PriceListEntry.objects.of(large).count() == 3 * len(demo["prices"])
    assert large.channels.count() == len(demo["channels"])
    figures = ("pk", "on_hand", "stock_value", "average_cost", "fifo_cost", "latest_line_id")
    before = list(Material.objects.of(large).order_by("pk").values_list(*figures))
    replay_workshop(workshop=large)
    assert list(Material.objects.of(large).order_by("pk").values_list(*figures)) == before


def test_it_has_an_owner_when_one_is_named_and_goes_with_the_examples(db):
    owner = factories.make_user("bench@example.test")
    output = StringIO()
    call_command("seed_large", times=1, owner="bench@example.test", stdout=output)
    assert "40 materials" in output.getvalue()
    assert owner.memberships.get().workshop.is_demo
    call_command("remove_demo", verbosity=0)
    assert not Workshop.objects.exists()


@pytest.mark.parametrize("options", [{"times": 0}, {"times": 501}, {"owner": "nobody"}])
def test_what_cannot_be_made_is_said(db, options):
    with pytest.raises(CommandError):
        call_command("seed_large", **options)
    assert not Workshop.objects.exists()
