"""Finished items of an order: its deliveries take them out, what it reserved first."""

import datetime
from collections.abc import Iterable, Mapping

from catalogue.recipes.models import DesignVersion
from pricing.finished_stock.models import (
    CLAIMING,
    FinishedItem,
    FinishedLayer,
    FinishedMove,
    Place,
)
from pricing.finished_stock.services import take_out, undo
from pricing.orders.models import Order, OrderDelivery
from pricing.prices.inputs import Item, item_of
from pricing.quotes.models import QuoteLine

Items = dict[tuple[int, Item], FinishedItem]


def items_of(lines: Iterable[QuoteLine]) -> Items:
    """Return the finished items of lines, those that exist (one query)."""
    rows = FinishedItem.objects.filter(version__in={line.version_id for line in lines})
    return {
        (row.version_id, Item(row.colourway_name, tuple(sorted(row.choices.items())))): row
        for row in rows
    }


def what_of(line: QuoteLine, versions: Mapping[int, DesignVersion]) -> tuple[int, Item]:
    """Return what tells the item of a line from others."""
    version = versions[line.version_id]
    return line.version_id, item_of(version, line.colourway_name, line.choices)


def versions_of(lines: Iterable[QuoteLine]) -> dict[int, DesignVersion]:
    """Return the versions of lines with what their items are told by (three queries)."""
    rows = DesignVersion.objects.prefetch_related("options__choices")
    return rows.in_bulk({line.version_id for line in lines})


def send_out(
    order: Order, delivery: OrderDelivery, on: datetime.date, today: datetime.date
) -> None:
    """Take what leaves with a delivery out of finished stock, as far as it is there.

    Who keeps no finished stock is not held up. What other orders reserved stays.
    """
    home = Place.objects.of(order.workshop).filter(kind=Place.Kind.HOME).first()
    if home is None:
        return
    rows = list(delivery.lines.select_related("line"))
    lines = [row.line for row in rows]
    versions, items = versions_of(lines), items_of(lines)
    wanted: dict[int, int] = {}
    for row in rows:
        item = items.get(what_of(row.line, versions))
        if item is not None:
            wanted[item.pk] = wanted.get(item.pk, 0) + row.quantity
    known = {item.pk: item for item in items.values()}
    for key in sorted(wanted):
        count = min(wanted[key], _free_for(order, key, home, on))
        if count:
            take_out(
                item=known[key],
                place=home,
                quantity=count,
                kind=FinishedMove.Kind.DELIVERED,
                on=on,
                today=today,
                order=order.pk,
                delivery=delivery.pk,
            )


def _free_for(order: Order, item: int, home: Place, on: datetime.date) -> int:
    """Return how many of an item may leave with an order: its own, and those of nobody else."""
    layers = FinishedLayer.objects.filter(place=home, batch__item=item, batch__made_on__lte=on)
    count = 0
    for layer in layers.select_related("batch__order"):
        whose = layer.batch.order
        if whose is None or whose.pk == order.pk or whose.state not in CLAIMING:
            count += layer.quantity
    return count


def take_in_again(delivery: OrderDelivery) -> None:
    """Undo what a delivery took out."""
    rows = FinishedMove.objects.standing().filter(delivery=delivery).order_by("item_id", "pk")
    for row in rows.select_related("item"):
        undo(move=row, reason="delivery undone")
