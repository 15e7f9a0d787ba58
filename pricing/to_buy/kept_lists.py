"""Everything a shopping list is made from, as the database holds it."""

import datetime
from collections.abc import Hashable, Iterator
from typing import Any

from django.db.models import Count, Max, QuerySet

from catalogue.materials.models import Material, Pack
from catalogue.purchases.models import Purchase, PurchaseLine
from catalogue.stock.models import StockEntry
from catalogue.suppliers.models import Supplier
from maker.kept import as_stored
from maker.workshop.models import OverheadItem, Workshop
from pricing.fairs.models import Fair, FairDay, FairDesign
from pricing.finished_stock.models import FinishedLayer
from pricing.orders.materials import reserved_for_orders
from pricing.orders.models import Order


def list_content(workshop: Workshop, on: datetime.date) -> Hashable | None:
    """Return all that the list of a day is made from (eleven queries).

    The ledger only grows, so its last entry and their number say what is in it. None where it
    cannot be told whether a recipe that is planned for a fair is the same: it bears no stamp.
    """
    planned = as_stored(
        FairDesign.objects.filter(fair__workshop=workshop, fair__state=Fair.State.GOING)
        .filter(planned__gt=0)
        .order_by("pk")
        .values_list(
            *("version__recipe_stamp", "pk", "fair_id", "version_id", "planned", "choices"),
            *("position", "colourway__name"),
        )
    )
    if any(stamp is None for stamp, *_ in planned):
        return None
    return (
        on,
        planned,
        *(as_stored(rows) for rows in _rows(workshop, on)),
        *StockEntry.objects.of(workshop).aggregate(Count("pk"), Max("pk")).values(),
        tuple(reserved_for_orders(Order.objects.of(workshop)).items()),
    )


def _rows(workshop: Workshop, on: datetime.date) -> Iterator[QuerySet[Any, tuple[Any, ...]]]:
    yield Workshop.objects.filter(pk=workshop.pk).values_list()
    yield OverheadItem.objects.of(workshop).values_list()
    yield Material.objects.of(workshop).order_by("pk").values_list()
    yield Pack.objects.in_use().filter(material__workshop=workshop).order_by("pk").values_list()
    yield Supplier.objects.of(workshop).order_by("pk").values_list()
    drafts = PurchaseLine.objects.of(workshop).filter(purchase__state=Purchase.State.DRAFT)
    yield drafts.order_by("pk").values_list("material_id", "quantity")
    days = FairDay.objects.of(workshop).filter(fair__state=Fair.State.GOING, held_on__gte=on)
    yield days.in_order().values_list(
        "pk", "fair_id", "fair__stock_place_id", "fair__name", "held_on"
    )
    layers = FinishedLayer.objects.filter(batch__item__workshop=workshop).order_by("pk")
    yield layers.values_list(
        *("batch__item__version_id", "batch__item__colourway_name", "batch__item__choices"),
        *("place_id", "place__kind", "batch__order__state", "quantity"),
    )
