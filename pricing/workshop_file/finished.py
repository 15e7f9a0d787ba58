"""Finished stock of a workshop file: places, items, their batches and movements.

A batch speaks of the stock entries that took its materials by their keys, a movement of its batch
and places likewise; layers and worths are replayed.
"""

from typing import Any

from django.db import models

from catalogue.recipes.models import DesignVersion
from catalogue.stock.models import StockEntry
from maker.calc.refusal import Refusal
from maker.calc.strict_json import Fields, WrongJson, anything, whole
from maker.workshop.models import Workshop
from pricing.finished_stock.models import (
    BatchMaterial,
    BatchSpoiled,
    FinishedBatch,
    FinishedItem,
    FinishedMove,
    Place,
)
from pricing.finished_stock.services import replay_item
from pricing.orders.models import Order, OrderDelivery
from pricing.workshop_file import schema
from pricing.workshop_file.writing import (
    Registry,
    create,
    design_version,
    read_choices,
    read_columns,
)

Values = dict[str, Any]
Versions = dict[str, dict[int, DesignVersion]]
Kind = FinishedMove.Kind
ARRIVALS = (Kind.MADE, Kind.FOUND)


def place_keys(workshop: Workshop) -> dict[int, str]:
    """Return what places are called by in the file (one query)."""
    keys = Place.objects.of(workshop).order_by("pk").values_list("pk", flat=True)
    return {key: f"place {number}" for number, key in enumerate(keys, 1)}


def batch_keys(workshop: Workshop) -> dict[int, str]:
    """Return what batches are called by in the file (one query)."""
    keys = FinishedBatch.objects.of(workshop).order_by("item_id", "pk").values_list("pk", flat=True)
    return {key: f"batch {number}" for number, key in enumerate(keys, 1)}


def entries_of_batches(workshop: Workshop) -> set[int]:
    """Return the stock entries that took materials for batches, which need a key (one query)."""
    rows = BatchMaterial.objects.filter(batch__item__workshop=workshop)
    return set(rows.values_list("entry_id", flat=True))


def finished_values(
    workshop: Workshop,
    entries: dict[int, str],
    places: dict[int, str],
    fair_lines: dict[int, str],
    settled: dict[int, str],
) -> Values:
    """Return places and items with all that happened to them (seven queries)."""
    deliveries: dict[int, int] = {}
    parts = OrderDelivery.objects.filter(order__in=Order.objects.of(workshop))
    by_order: dict[int, int] = {}
    for key, order in parts.order_by("order_id", "position", "pk").values_list("pk", "order_id"):
        by_order[order] = by_order.get(order, 0) + 1
        deliveries[key] = by_order[order]
    batches = batch_keys(workshop)
    items = (
        FinishedItem.objects.of(workshop)
        .select_related("design", "version")
        .prefetch_related(
            models.Prefetch(
                "batches", FinishedBatch.objects.select_related("order").order_by("pk")
            ),
            models.Prefetch("batches__materials", BatchMaterial.objects.order_by("pk")),
            models.Prefetch("batches__spoiled", BatchSpoiled.objects.order_by("pk")),
            models.Prefetch("moves", FinishedMove.objects.select_related("order").order_by("pk")),
        )
        .order_by("pk")
    )
    return {
        "finished_places": [
            {"key": places[row.pk], **schema.PLACE.written(row)}
            for row in Place.objects.of(workshop).order_by("pk")
        ],
        "finished_items": [
            _item(row, entries, places, batches, deliveries, fair_lines, settled) for row in items
        ],
    }


def _item(
    row: FinishedItem,
    entries: dict[int, str],
    places: dict[int, str],
    batches: dict[int, str],
    deliveries: dict[int, int],
    fair_lines: dict[int, str],
    settled: dict[int, str],
) -> Values:
    moves = {each.pk: f"movement {place}" for place, each in enumerate(row.moves.all(), 1)}
    return {
        "design": row.design.name,
        "version": row.version.number,
        "choices": dict(sorted(row.choices.items())),
        **schema.FINISHED_ITEM.written(row),
        "batches": [
            {
                "key": batches[each.pk],
                "order": each.order.number if each.order else None,
                **schema.FINISHED_BATCH.written(each),
                "materials": [{"entry": entries[used.entry_id]} for used in each.materials.all()],
                "spoiled": [schema.BATCH_SPOILED.written(bad) for bad in each.spoiled.all()],
            }
            for each in row.batches.all()
        ],
        "moves": [
            {
                "key": moves[each.pk],
                "place": places[each.place_id],
                "to_place": places[each.to_place_id] if each.to_place_id else None,
                "batch": batches[each.batch_id] if each.batch_id else None,
                "order": each.order.number if each.order else None,
                "delivery": deliveries[each.delivery_id] if each.delivery_id else None,
                "fair_line": fair_lines.get(each.fair_line_id) if each.fair_line_id else None,
                "settled": settled.get(each.settled_id) if each.settled_id else None,
                "takes_back": moves[each.takes_back_id] if each.takes_back_id else None,
                **schema.FINISHED_MOVE.written(each),
            }
            for each in row.moves.all()
        ],
    }


def write_places(workshop: Workshop, rows: list[Fields]) -> Registry:
    """Store places; a workshop has one home. Returned are they, by key."""
    places = Registry("place")
    for row in rows:
        key = row.optional_text("key")
        place = Place(workshop=workshop, **read_columns(schema.PLACE, row))
        homes = [each for each in places.rows.values() if each.kind == Place.Kind.HOME]
        if place.kind == Place.Kind.HOME and homes:
            raise row.refuse("A workshop has one home.", "kind")
        places.add(key, place, row, "key")
    create(Place, places.rows.values())
    return places


def write_finished_items(
    workshop: Workshop,
    rows: list[Fields],
    designs: Registry,
    versions: Versions,
    orders: Registry,
    entries: Registry,
    places: Registry,
    fair_lines: Registry,
    settled: Registry,
) -> Registry:
    """Store finished items, their batches and movements, if nothing left that was not there.

    Returned are the batches, by key.
    """
    every = Registry("batch")
    known: set[Any] = set()
    used: set[int] = set()
    for row in rows:
        version = design_version(row, designs, versions)
        item = FinishedItem(
            workshop=workshop,
            design=version.design,
            version=version,
            choices=read_choices(row),
            **_columns_of_item(row),
        )
        what = (version.pk, item.colourway_name, tuple(item.choices.items()))
        if what in known:
            raise row.refuse("This item is there twice.", "design")
        known.add(what)
        item.save()
        batches = _write_batches(item, row, orders, entries, used, every)
        _write_moves(item, row, orders, places, batches, fair_lines, settled)
        row.nothing_else()
        try:
            replay_item(item)
        except Refusal as refusal:
            raise WrongJson(refusal.message, where=row.at("moves")) from refusal
    return every


def _columns_of_item(row: Fields) -> Values:
    return read_columns(schema.FINISHED_ITEM, row, "batches", "moves")


def _write_batches(
    item: FinishedItem,
    row: Fields,
    orders: Registry,
    entries: Registry,
    used: set[int],
    every: Registry,
) -> Registry:
    batches = Registry("batch")
    materials: list[BatchMaterial] = []
    spoiled: list[BatchSpoiled] = []
    for inner in row.rows("batches"):
        key = inner.optional_text("key")
        batch = FinishedBatch(
            item=item,
            order=orders.optional(inner, "order"),
            **read_columns(schema.FINISHED_BATCH, inner, "materials", "spoiled"),
        )
        if (batch.made_on is None) != (batch.quantity is None):
            raise inner.refuse("A batch that was finished says how many came out.", "quantity")
        for entry_row in inner.rows("materials"):
            entry: StockEntry = entries.of(entry_row, "entry")
            entry_row.nothing_else()
            if entry.kind != StockEntry.Kind.USED or entry.pk in used:
                raise entry_row.refuse("A batch uses what left stock for it alone.", "entry")
            used.add(entry.pk)
            materials.append(BatchMaterial(batch=batch, entry=entry))
        causes = set()
        for bad in inner.rows("spoiled"):
            values = read_columns(schema.BATCH_SPOILED, bad)
            if values["cause"] in causes or not values["count"]:
                raise bad.refuse("Each cause is there once, with a count.", "cause")
            causes.add(values["cause"])
            spoiled.append(BatchSpoiled(batch=batch, **values))
        batches.add(key, batch, inner, "key")
        every.add(key, batch, inner, "key")
    create(FinishedBatch, batches.rows.values())
    create(BatchMaterial, materials)
    create(BatchSpoiled, spoiled)
    return batches


def _write_moves(
    item: FinishedItem,
    row: Fields,
    orders: Registry,
    places: Registry,
    batches: Registry,
    fair_lines: Registry,
    settled: Registry,
) -> None:
    moves = Registry("movement before this one")
    undone: set[int] = set()
    for inner in row.rows("moves"):
        key = inner.optional_text("key")
        back = moves.optional(inner, "takes_back")
        move = FinishedMove(
            item=item,
            place=places.of(inner, "place"),
            to_place=places.optional(inner, "to_place"),
            batch=batches.optional(inner, "batch"),
            order=orders.optional(inner, "order"),
            delivery=_delivery(inner, orders),
            fair_line=fair_lines.optional(inner, "fair_line"),
            settled=settled.optional(inner, "settled"),
            takes_back=back,
            **read_columns(schema.FINISHED_MOVE, inner),
        )
        _verify(move, inner)
        if back is not None:
            if id(back) in undone:
                raise inner.refuse("That movement is undone already.", "takes_back")
            undone.add(id(back))
        moves.add(key, move, inner, "key")
    arrived = [
        each.batch_id or id(each.batch)
        for each in moves.rows.values()
        if each.kind in ARRIVALS and id(each) not in undone
    ]
    if len(arrived) != len(set(arrived)):
        raise row.refuse("A batch arrives once.", "moves")
    create(FinishedMove, moves.rows.values(), also=("takes_back",))


def _delivery(row: Fields, orders: Registry) -> OrderDelivery | None:
    """Return the delivery that is named by its place in its order."""
    order = orders.optional(row, "order")
    if row.take("delivery", anything, None) is None:
        return None
    parts = [] if order is None else list(order.deliveries.order_by("position", "pk"))
    return parts[row.take("delivery", whole(1, max(len(parts), 1))) - 1] if parts else None


def _verify(move: FinishedMove, row: Fields) -> None:
    if not move.change and move.kind not in (Kind.REVALUED, Kind.REVERSED):
        raise row.refuse("A movement moves something.", "change")
    if (move.kind == Kind.REVERSED) != (move.takes_back is not None):
        raise row.refuse("Movements of the kind “reversed”, and only they, undo one.", "kind")
    if move.kind in (*ARRIVALS, Kind.REVALUED) and move.batch is None:
        raise row.refuse("This is of a batch.", "batch")
    if move.kind in ARRIVALS and move.batch and move.change != move.batch.quantity:
        raise row.refuse("All good items of a batch arrive.", "change")
    inwards = (*ARRIVALS, Kind.CAME_BACK)
    if move.kind not in (Kind.REVERSED, Kind.REVALUED) and (move.change > 0) != (
        move.kind in inwards
    ):
        raise row.refuse("The sign does not fit the kind.", "change")
    if (move.to_place is not None) != (move.kind == Kind.MOVED) and move.kind != Kind.REVERSED:
        raise row.refuse("What is moved, and only that, goes to another place.", "to_place")
