"""Rows of fairs for tests."""

import datetime
from decimal import Decimal
from typing import Any

from django.utils import timezone

from catalogue.recipes.models import DesignVersion
from maker.workshop.models import Workshop
from pricing.fairs.models import Fair, FairCoin, FairDay, FairDesign, FairSale, FairSaleLine
from tests.factories import make_channel, today

FLOAT = {"0.50": 20, "1": 20, "5": 6}


def make_fair(workshop: Workshop, *, days: int = 1, **fields: Any) -> Fair:
    """Make a fair with days from today on, a float and a channel."""
    channel = fields.pop("channel", None) or make_channel(workshop)
    fair = Fair.objects.create(
        workshop=workshop,
        channel=channel,
        **{"name": "Alder green fair", "state": Fair.State.GOING, **fields},
    )
    for place in range(days):
        FairDay.objects.create(
            fair=fair,
            held_on=today() + datetime.timedelta(days=place),
            opens=datetime.time(10),
            closes=datetime.time(17),
        )
    for value, count in FLOAT.items():
        FairCoin.objects.create(fair=fair, value=Decimal(value), count=count)
    return fair


def make_item(fair: Fair, version: DesignVersion, **fields: Any) -> FairDesign:
    """Put a version of a design on the table of a fair."""
    usual = {"price": Decimal("6.50"), "cost_each": Decimal("3.41"), "bag_each": Decimal("0.06")}
    return FairDesign.objects.create(fair=fair, version=version, **{**usual, **fields})


def make_sale(day: FairDay, *lines: tuple[FairDesign, int], **fields: Any) -> FairSale:
    """Store a sale of items at their prices."""
    fields.setdefault("received", sum((item.price * count for item, count in lines), Decimal(0)))
    fields.setdefault("happened_at", timezone.now())
    sale = FairSale.objects.create(day=day, **fields)
    FairSaleLine.objects.bulk_create(
        FairSaleLine(sale=sale, item=item, quantity=count, price_each=item.price)
        for item, count in lines
    )
    return sale
