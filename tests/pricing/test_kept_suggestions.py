"""Designs for an enquiry are worked out once while nothing changes that they follow from."""

import uuid
from dataclasses import replace
from decimal import Decimal

import pytest

from catalogue.designs.models import Design
from catalogue.materials.models import Material, Pack
from catalogue.recipes.models import DesignVersion, Step
from catalogue.sheet_plans.services import sheet_planner
from maker.kept import Kept
from maker.workshop.models import Workshop
from pricing.channels.models import Channel, ChannelTier
from pricing.enquiries import inputs
from pricing.enquiries.inputs import suggestions_for
from pricing.enquiries.models import Enquiry
from pricing.enquiries.views import usual_channel
from pricing.prices.models import PriceListEntry
from tests.factories import make_channel, make_recipe, today
from tests.pricing.test_enquiries import make_enquiry

pytestmark = pytest.mark.django_db


@pytest.fixture
def enquiry(workshop):
    make_channel(workshop, name="Orders")
    make_recipe(workshop)
    DesignVersion.objects.update(recipe_stamp=uuid.uuid4())
    return make_enquiry(workshop, quantities="20", budget_each=Decimal(9))


def found(enquiry):
    """Return what is found, and what a page shows of it."""
    row = Enquiry.objects.with_people().get(pk=enquiry.pk)
    suggested = suggestions_for(row, usual_channel(row.workshop))
    return suggested, [
        (
            each.version.design.name,
            each.usual and each.usual.price_each,
            each.does,
            each.too_small_mm,
            each.cautions,
        )
        for each in suggested.suggestions
    ]


def list_a_price(enquiry):
    version = DesignVersion.objects.get()
    PriceListEntry.objects.create(
        design=version.design,
        version=version,
        channel=Channel.objects.get(),
        price=Decimal("8.15"),
        cost_each=5,
        floor_each=6,
        target_each=8,
    )


def other_minutes(enquiry):
    Step.objects.update(minutes=31)
    DesignVersion.objects.update(recipe_stamp=uuid.uuid4())


CHANGES = {
    "quantity": lambda enquiry: Enquiry.objects.update(quantities="1"),
    "budget": lambda enquiry: Enquiry.objects.update(budget_each=1),
    "wage": lambda enquiry: Workshop.objects.update(wage_per_hour=40),
    "pack": lambda enquiry: Pack.objects.update(price=90),
    "cost": lambda enquiry: Material.objects.update(average_cost=9),
    "sheet": lambda enquiry: Material.objects.update(width_mm=102, height_mm=102),
    "margin": lambda enquiry: ChannelTier.objects.update(margin=Decimal("0.6")),
    "name": lambda enquiry: Design.objects.update(name="Fern bag"),
    "caution": lambda enquiry: Design.objects.update(caution="Keep from fire."),
    "archived": lambda enquiry: Design.objects.update(retired_on=today()),
    "recipe": other_minutes,
    "price of the list": list_a_price,
}


@pytest.mark.parametrize("change", CHANGES)
def test_each_change_is_seen(enquiry, change, monkeypatch):
    first, before = found(enquiry)
    assert before
    assert found(enquiry)[0] is first
    CHANGES[change](enquiry)
    _, after = found(enquiry)
    assert after != before
    monkeypatch.setattr(inputs, "_SUGGESTED", Kept(0))
    assert found(enquiry)[1] == after


def test_prices_on_sheets_that_may_be_planned_better_are_not_kept(enquiry, monkeypatch):
    planner = sheet_planner()
    monkeypatch.setattr(
        inputs, "sheet_planner", lambda: lambda job: replace(planner(job), proven=False)
    )
    Material.objects.update(width_mm=Decimal("287.3"))
    assert found(enquiry)[0] is not found(enquiry)[0]
