"""Rows of the ledger -> the values its replay speaks of; what is there now."""

from collections.abc import Iterable
from dataclasses import dataclass

from maker.workshop.models import Workshop
from pricing.calc.finished_stock.replay import Batch, Movement
from pricing.calc.finished_stock.worth import NOTHING, Worth
from pricing.finished_stock.models import (
    CLAIMING,
    FinishedBatch,
    FinishedItem,
    FinishedLayer,
    FinishedMove,
    Place,
)


def batch_values(batches: Iterable[FinishedBatch]) -> list[Batch]:
    """Return finished batches as the replay knows them."""
    return [
        Batch(row.pk, row.made_on or row.started_on, row.worth, row.order_id) for row in batches
    ]


def movement_values(row: FinishedMove) -> Movement:
    """Return a movement as the replay knows it."""
    added = None
    if row.kind == FinishedMove.Kind.REVALUED:
        added = Worth(row.added_material, row.added_wage, row.added_overhead)
    return Movement(
        key=row.pk,
        on=row.moved_on,
        place=row.place_id,
        change=row.change,
        batch=row.batch_id,
        to_place=row.to_place_id,
        order=row.order_id,
        added=added,
    )


@dataclass(frozen=True, slots=True)
class OnHand:
    """How many of an item are there, what they cost, and how many are kept for orders."""

    item: FinishedItem
    quantity: int
    worth: Worth
    reserved: int
    # name of a place -> how many
    places: tuple[tuple[Place, int], ...] = ()

    @property
    def free(self) -> int:
        """Return how many no order has a claim on."""
        return self.quantity - self.reserved


def on_hand(
    workshop: Workshop, place: Place | None = None, item: FinishedItem | None = None
) -> list[OnHand]:
    """Return what is there, by name: everywhere, or at one place (four queries).

    Items of which none is there are left out.
    """
    layers = FinishedLayer.objects.filter(batch__item__workshop=workshop)
    if place is not None:
        layers = layers.filter(place=place)
    if item is not None:
        layers = layers.filter(batch__item=item)
    counts: dict[int, int] = {}
    worths: dict[int, Worth] = {}
    kept: dict[int, int] = {}
    places: dict[int, dict[Place, int]] = {}
    for layer in layers.select_related("place", "batch__order"):
        key, order = layer.batch.item_id, layer.batch.order
        counts[key] = counts.get(key, 0) + layer.quantity
        worths[key] = worths.get(key, NOTHING) + layer.worth
        if order is not None and order.state in CLAIMING:
            kept[key] = kept.get(key, 0) + layer.quantity
        at = places.setdefault(key, {})
        at[layer.place] = at.get(layer.place, 0) + layer.quantity
    items = FinishedItem.objects.of(workshop).with_names().in_order()
    rows = items.filter(pk__in=counts) if item is None else items.filter(pk=item.pk)
    return [
        OnHand(
            row,
            counts[row.pk],
            worths[row.pk],
            kept.get(row.pk, 0),
            tuple(sorted(places[row.pk].items(), key=lambda each: each[0].pk)),
        )
        for row in rows
        if row.pk in counts
    ]
