"""Settlements of shops -> what each took, what it keeps, what is hers; what items cost there."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from maker.calc.money import minor_digits
from maker.workshop.models import Workshop
from pricing.calc.fairs.settling import Settled, settle
from pricing.consignment.models import SettledItem, Settlement, Shop
from pricing.finished_stock.models import FinishedItem


def settled(row: Settlement, workshop: Workshop) -> Settled:
    """Return what a settlement comes to; its items are loaded."""
    sold = [(each.count, each.price_each) for each in row.items.all()]
    return settle(sold, row.kept_share, minor_digits(workshop.currency))


def _kind(row: FinishedItem | SettledItem) -> tuple[Any, ...]:
    return row.version_id, row.colourway_name, sorted(row.choices.items())


def last_prices(shop: Shop, items: Sequence[FinishedItem]) -> dict[int, Decimal]:
    """Return what each of these cost at the shop when it was sold there last, by key of the item.

    One query. What was never sold there is left out, and so is a settlement that was undone.
    """
    wanted = {str(_kind(item)): item.pk for item in items}
    settled = SettledItem.objects.filter(
        settlement__shop=shop,
        settlement__undone_at__isnull=True,
        version__in={item.version_id for item in items},
    ).order_by("settlement__settled_on", "settlement_id", "pk")
    return {
        wanted[kind]: each.price_each for each in settled if (kind := str(_kind(each))) in wanted
    }
