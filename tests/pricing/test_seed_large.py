"""The large workshop is the demo many times over: whole, consistent and removable."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db.models import F

from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase, PurchaseLine
from catalogue.recipes.models import ColourwayMaterial, DesignVersion, Piece
from catalogue.stock.models import StockEntry
from catalogue.stock.services import replay_workshop
from maker.workshop.models import Workshop
from pricing.prices.models import PriceListEntry
from pricing.workshop_file.services import export_workshop, import_workshop
from tests import factories

pytestmark = pytest.mark.django_db

COUNTED = (Material, Purchase, PurchaseLine, StockEntry, DesignVersion, PriceListEntry)


@pytest.fixture
def small_and_large():
    call_command("load_demo", verbosity=0)
    small = Workshop.objects.exclude(name="Worked case").get()
    call_command("seed_large", times=3, verbosity=0)
    return small, Workshop.objects.get(name="Large workshop")


def test_everything_is_there_three_times(small_and_large):
    small, large = small_and_large
    for model in COUNTED:
        assert model.objects.of(large).count() == 3 * model.objects.of(small).count()
    assert large.channels.count() == small.channels.count()


def test_every_copy_points_inside_its_own_copy(small_and_large):
    _, large = small_and_large
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


def test_the_copied_figures_are_what_the_ledgers_say(small_and_large):
    _, large = small_and_large
    figures = ("pk", "on_hand", "stock_value", "average_cost", "fifo_cost", "latest_line_id")
    before = list(Material.objects.of(large).order_by("pk").values_list(*figures))
    replay_workshop(workshop=large)
    assert list(Material.objects.of(large).order_by("pk").values_list(*figures)) == before


def test_it_can_be_carried_over(small_and_large):
    _, large = small_and_large
    document = export_workshop(large)
    again = import_workshop(document, name="Another")
    assert export_workshop(again)["stock_entries"] == document["stock_entries"]


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
