"""What the next fair still has to be made for, as materials."""

import datetime
from dataclasses import dataclass, field
from decimal import Decimal

from catalogue.recipes.models import DesignVersion
from catalogue.sheet_plans.services import sheet_planner
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop
from pricing.fairs.models import Fair, FairDay, FairDesign
from pricing.fairs.planning import stock_of
from pricing.finished_stock.asked import estimate_batch

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class FairNeed:
    """The next day at a fair, and what making what is planned for it takes of each material."""

    day: FairDay | None = None
    amounts: dict[int, Decimal] = field(default_factory=dict)


def next_fair_need(workshop: Workshop, on: datetime.date) -> FairNeed:
    """Return what has to be made for the next fair that is not finished yet, as materials.

    What is there and free is taken off; a recipe that cannot be worked out is left out.
    """
    days = FairDay.objects.of(workshop).filter(fair__state=Fair.State.GOING, held_on__gte=on)
    day = days.with_fair().in_order().first()
    if day is None:
        return FairNeed()
    fair = day.fair
    planned = list(FairDesign.objects.filter(fair=fair, planned__gt=0).with_items().in_order())
    if not planned:
        return FairNeed(day)
    there = stock_of(planned, fair)
    rows = DesignVersion.objects.filter(pk__in={one.version_id for one in planned})
    versions = {version.pk: version for version in rows.with_recipe()}
    planner = sheet_planner()
    amounts: dict[int, Decimal] = {}
    for one in planned:
        colourway = one.colourway.name if one.colourway else ""
        to_make = (one.planned or 0) - there[one.pk]
        if to_make <= 0:
            continue
        try:
            found = estimate_batch(
                versions[one.version_id], workshop, to_make, colourway, one.choices, planner
            )
        except Refusal:
            continue
        for key, amount in found.amounts.items():
            amounts[key] = amounts.get(key, ZERO) + amount
    return FairNeed(day, amounts)
