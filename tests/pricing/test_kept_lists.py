"""What to buy is kept while nothing changes that it was made from; and page by page it is all."""

import re
import uuid
from dataclasses import replace
from decimal import Decimal

import pytest

from catalogue.materials.models import Material, Pack
from catalogue.purchases.models import Purchase, PurchaseLine
from catalogue.recipes.models import DesignVersion
from catalogue.stock.services import replay_ledger
from catalogue.suppliers.models import Supplier
from maker.kept import Kept
from maker.workshop.models import Workshop
from pricing.fairs.models import Fair, FairDay
from pricing.finished_stock import asked
from pricing.to_buy import services
from pricing.to_buy.services import buying_list
from tests.factories import make_material, make_pack, make_recipe, make_supplier, today
from tests.pricing.test_to_buy import DAY, PAGE, card, moved

__all__ = ["card"]
D = Decimal


def listed(workshop):
    """Return what the list says, with what a page shows of each material."""
    found = buying_list(workshop=Workshop.objects.get(pk=workshop.pk), on=today())
    words = [
        (line.material.name, line.material.colour, line.pack.name)
        for one in found.suppliers
        for line in one.lines
    ]
    day = found.fair.day
    return found, words, (day.fair.name, day.held_on) if day else None


def use_more(card):
    moved(card, "used", -9, 1)
    replay_ledger(card)


def draft_some(card):
    draft = Purchase.objects.create(
        workshop=card.workshop, supplier=card.supplier, bought_on=today(), state="draft"
    )
    PurchaseLine.objects.create(purchase=draft, material=card, quantity=3, amount=2)


def other_recipe(card):
    version = DesignVersion.objects.get()
    version.pieces.update(count=4)
    DesignVersion.objects.update(recipe_stamp=uuid.uuid4())


CHANGES = {
    "what was used": use_more,
    "what a pack costs": lambda card: Pack.objects.update(price=7),
    "how a pack is called": lambda card: Pack.objects.update(name="pad"),
    "how a material is called": lambda card: Material.objects.update(name="Fern card"),
    "how it looks": lambda card: Material.objects.update(colour="#123456"),
    "how long a supplier takes": lambda card: Supplier.objects.update(lead_days=40),
    "free postage": lambda card: Supplier.objects.update(carriage_free_from=9_000),
    "a level of her own": lambda card: Material.objects.update(reorder_level=90),
    "a draft": draft_some,
    "how sure she wants to be": lambda card: Workshop.objects.update(buying_chance=D("0.8")),
    "what is planned for a fair": lambda card: card.workshop.fairs.get().designs.update(planned=90),
    "the recipe of that": other_recipe,
    "how the fair is called": lambda card: Fair.objects.update(name="Frost fair"),
    "the date of the fair": lambda card: FairDay.objects.update(held_on=today() + 10 * DAY),
    "no fair": lambda card: Fair.objects.update(state=Fair.State.MAYBE),
}


@pytest.fixture
def with_fair(workshop, card):
    """A fair is planned for; each recipe is stamped."""
    fair = Fair.objects.create(workshop=workshop, name="Harvest fair", state=Fair.State.GOING)
    fair.days.create(held_on=today() + 9 * DAY, opens="10:00", closes="16:00")
    fair.designs.create(version=make_recipe(workshop, card), price=D(9), planned=40)
    DesignVersion.objects.update(recipe_stamp=uuid.uuid4())
    return card


@pytest.mark.parametrize("change", CHANGES)
def test_each_change_is_seen(workshop, with_fair, change, monkeypatch):
    before = listed(workshop)
    CHANGES[change](with_fair)
    after = listed(workshop)
    assert after != before
    monkeypatch.setattr(services, "_LISTS", Kept(0))
    assert listed(workshop) == after


def test_it_is_made_once_while_nothing_changes(workshop, with_fair, monkeypatch):
    first, *_ = listed(workshop)
    assert first.suppliers
    monkeypatch.setattr(services, "stands_of", None)
    assert listed(workshop)[0] is first


def test_sheets_that_may_be_planned_better_are_planned_again(workshop, with_fair, monkeypatch):
    planner = asked.sheet_planner

    def unproven():
        plan_sheets = planner()
        return lambda job: replace(plan_sheets(job), proven=False)

    monkeypatch.setattr(asked, "sheet_planner", unproven)
    DesignVersion.objects.update(recipe_stamp=uuid.uuid4())
    version = DesignVersion.objects.get()
    version.pieces.update(width_mm=D("93.7"))
    assert listed(workshop)[0] is not listed(workshop)[0]


def test_page_by_page_it_is_the_whole_list_with_one_total(client, workshop):
    for number in range(23):
        shop = make_supplier(workshop, name=f"Shop {number:02}")
        row = make_material(workshop, name=f"Card {number:02}", supplier=shop, reorder_level=D(5))
        make_pack(row, name="pad", quantity=D(10), price=D(6))
    for number in range(4):
        make_material(workshop, name=f"Loose {number}", reorder_level=D(5))
    pages = [client.get(PAGE, {"page": page}).content.decode() for page in (1, 2, 3)]
    named = [re.findall(r"<bdi>((?:Card|Loose) \d+)</bdi></a>", page) for page in pages]
    assert [len(each) for each in named] == [10, 10, 7]
    assert sorted(name for page in named for name in page) == sorted(
        Material.objects.values_list("name", flat=True)
    )
    assert all("€138.00 in all" in page for page in pages)
    assert [page.count("No pack to buy") for page in pages] == [0, 0, 1]
    # of a page that is not there, the last one
    assert client.get(PAGE, {"page": 9}).content.decode().count("Loose 3</bdi></a>") == 1
