"""What the next fair still has to be made for, as materials."""

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from catalogue.materials.models import Material
from catalogue.recipes.models import DesignVersion
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop
from pricing.fairs.models import Fair, FairDay, FairDesign
from pricing.fairs.planning import stock_of
from pricing.finished_stock.asked import Estimator

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class FairNeed:
    """The next day at a fair, and what making what is planned for it takes of each material.

    `is_proven` says whether the sheets are planned as well as can be.
    """

    day: FairDay | None = None
    amounts: dict[int, Decimal] = field(default_factory=dict)
    is_proven: bool = True


def next_fair_need(
    workshop: Workshop, on: datetime.date, materials: Mapping[int, Material]
) -> FairNeed:
    """Return what has to be made for the next fair that is not finished yet, as materials.

    What is there and free is taken off; a recipe that cannot be worked out is left out.
    """
    days = FairDay.objects.of(workshop).filter(fair__state=Fair.State.GOING, held_on__gte=on)
    day = days.with_fair().in_order().first()
    if day is None:
        return FairNeed()
    fair = day.fair
    fair.workshop = workshop
    rows = FairDesign.objects.filter(fair=fair, planned__gt=0).select_related("colourway")
    planned = list(rows.in_order())
    if not planned:
        return FairNeed(day)
    try:
        estimator = Estimator(workshop)
    except Refusal:
        return FairNeed(day)
    rows_of_versions = DesignVersion.objects.with_recipe(materials)
    versions = rows_of_versions.in_bulk({one.version_id for one in planned})
    for one in planned:
        one.version = versions[one.version_id]
    there = stock_of(planned, fair)
    amounts: dict[int, Decimal] = {}
    for one in planned:
        colourway = one.colourway.name if one.colourway else ""
        to_make = (one.planned or 0) - there[one.pk]
        if to_make <= 0:
            continue
        try:
            found = estimator.batch(one.version, to_make, colourway, one.choices)
        except Refusal:
            continue
        for key, amount in found.amounts.items():
            amounts[key] = amounts.get(key, ZERO) + amount
    return FairNeed(day, amounts, estimator.is_proven)
