"""The ledger of finished items itself: locking an item, entering a row, replaying what follows.

Every movement locks its item, adds a row and replays the item's whole ledger, so that one of an
earlier date moves what comes after it as if it had been entered in time. The newest one that needs
only what is there is replayed onto what is kept: the same to the last digit, however long the
ledger. A movement that was undone and the one that undoes it are both left out. The ledger never
goes below nothing: `NotThere`.
"""

import datetime
from collections.abc import Iterable, Mapping
from decimal import Decimal

from django.db import transaction
from django.db.models import QuerySet, Sum
from django.db.models.functions import Coalesce

from catalogue.recipes.models import DesignVersion
from maker.accounts.models import User
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop
from pricing.calc.finished_stock.replay import Layer, Replayed, replay
from pricing.finished_stock.inputs import batch_values, movement_values
from pricing.finished_stock.models import FinishedItem, FinishedLayer, FinishedMove, Place
from pricing.prices.inputs import item_of

ZERO = Decimal(0)
HOME_NAME = "Home"
WORTH = ("material_value", "wage_value", "overhead_value")
Kind = FinishedMove.Kind


class NothingMoved(Refusal):
    """A movement needs a whole number above zero."""


class BatchMovedOn(Refusal):
    """The batch is not as the page showed it: it was finished or undone."""


def home_of(workshop: Workshop) -> Place:
    """Return the place at home, made at its first use; call it where something is written."""
    place, _ = Place.objects.get_or_create(
        workshop=workshop, kind=Place.Kind.HOME, defaults={"name": HOME_NAME}
    )
    return place


def item_for(
    version: DesignVersion, colourway_name: str = "", choices: Mapping[str, str] | None = None
) -> FinishedItem:
    """Return the finished item of a version, made at its first use.

    An option nobody answered is as usual. `version` comes with its design and options.
    """
    what = item_of(version, colourway_name, choices or {})
    item, _ = FinishedItem.objects.get_or_create(
        version=version,
        colourway_name=what.colourway,
        choices=dict(what.choices),
        defaults={"workshop_id": version.design.workshop_id, "design_id": version.design_id},
    )
    return item


def least_from(item: FinishedItem, place: Place, on: datetime.date) -> int:
    """Return the fewest that are at a place from the end of a date on (two queries)."""
    if not _has_later(item, on):
        layers = FinishedLayer.objects.filter(batch__item=item, place=place)
        return layers.aggregate(count=Sum("quantity"))["count"] or 0
    moves = item.moves.standing().in_ledger_order()
    balance, least = 0, None
    for moved_on, at, to, change in moves.values_list(
        "moved_on", "place_id", "to_place_id", "change"
    ):
        if moved_on > on and least is None:
            least = balance
        if at == place.pk:
            balance += change
        elif to == place.pk:
            balance -= change
        if least is not None:
            least = min(least, balance)
    return balance if least is None else least


def _has_later(item: FinishedItem, on: datetime.date) -> bool:
    return item.moves.standing().filter(moved_on__gt=on).exists()


def balance_on(item: FinishedItem, place: Place, on: datetime.date) -> int:
    """Return how many were at a place at the end of a date (one query)."""
    moves = item.moves.standing().filter(moved_on__lte=on)
    balance = 0
    for at, to, change in moves.values_list("place_id", "to_place_id", "change"):
        if at == place.pk:
            balance += change
        elif to == place.pk:
            balance -= change
    return balance


def reverse(move: FinishedMove, *, by: User | None, reason: str) -> FinishedMove:
    back = FinishedMove(
        item_id=move.item_id,
        place_id=move.place_id,
        to_place_id=move.to_place_id,
        batch_id=move.batch_id,
        order_id=move.order_id,
        delivery_id=move.delivery_id,
        fair_line_id=move.fair_line_id,
        settled_id=move.settled_id,
        kind=Kind.REVERSED,
        change=-move.change,
        moved_on=move.moved_on,
        added_material=-move.added_material,
        added_wage=-move.added_wage,
        added_overhead=-move.added_overhead,
        reason=reason,
        takes_back=move,
        made_by=by,
    )
    back.save()
    return back


def enter(
    item: FinishedItem,
    place: Place,
    kind: str,
    change: int,
    on: datetime.date,
    **columns: object,
) -> FinishedMove:
    row = FinishedMove.objects.create(
        item=item, place=place, kind=kind, change=change, moved_on=on, **columns
    )
    replay_with(item, row)
    return row


def replay_with(item: FinishedItem, row: FinishedMove) -> None:
    """Replay a locked item after one more movement, whose worth it sets. Refusals: NotThere."""
    move = movement_values(row)
    if move.needs_gone or _has_later(item, row.moved_on):
        replay_item(item)
        row.refresh_from_db()
        return
    kept = list(_layers_of(item))
    places: dict[int, list[Layer]] = {}
    for each in kept:
        (batch,) = batch_values([each.batch])
        places.setdefault(each.place_id, []).append(Layer(batch, each.quantity, each.worth))
    arriving = batch_values(item.batches.filter(pk=row.batch_id)) if row.batch_id else ()
    state = replay([move], arriving, Replayed(places))
    row.worth = state.worths[row.pk]
    row.save(update_fields=WORTH)
    _keep_layers(kept, state)


def replay_item(item: FinishedItem) -> Replayed:
    """Work out worth of every movement and what is left of each batch where, of a locked item.

    Refusals: NotThere.
    """
    batches = batch_values(item.batches.standing())
    rows = list(item.moves.standing().in_ledger_order())
    state = replay([movement_values(row) for row in rows], batches)
    changed = []
    for row in rows:
        worth = state.worths[row.pk]
        if row.worth != worth:
            row.worth = worth
            changed.append(row)
    FinishedMove.objects.bulk_update(changed, WORTH, 200)
    item.moves.exclude(pk__in=[row.pk for row in rows]).update(
        material_value=ZERO, wage_value=ZERO, overhead_value=ZERO
    )
    _keep_layers(list(_layers_of(item)), state)
    return state


def _layers_of(item: FinishedItem) -> QuerySet[FinishedLayer]:
    """Return what is kept of an item, in the order in which batches leave."""
    made_on = Coalesce("batch__made_on", "batch__started_on")
    layers = FinishedLayer.objects.filter(batch__item=item).select_related("batch")
    return layers.order_by("place_id", made_on, "batch_id")


def _keep_layers(kept: Iterable[FinishedLayer], state: Replayed) -> None:
    """Store what is left of each batch where; rows that say so already stay as they are."""
    there = {(row.place_id, row.batch_id): row for row in kept}
    new = []
    for place, stack in state.places.items():
        for layer in stack:
            row = there.pop((place, layer.batch.key), None)
            if row is None:
                new.append(
                    FinishedLayer(batch_id=layer.batch.key, place_id=place, quantity=layer.count)
                )
                new[-1].worth = layer.worth
            elif (row.quantity, row.worth) != (layer.count, layer.worth):
                row.quantity, row.worth = layer.count, layer.worth
                row.save(update_fields=["quantity", *WORTH])
    if there:
        FinishedLayer.objects.filter(pk__in=[row.pk for row in there.values()]).delete()
    if new:
        FinishedLayer.objects.bulk_create(new)


@transaction.atomic
def replay_finished(*, workshop: Workshop) -> None:
    """Replay the ledgers of all items of a workshop: what is kept is a cache of them."""
    for item in FinishedItem.objects.of(workshop).order_by("pk"):
        replay_item(item)


def lock_item(item: FinishedItem) -> FinishedItem:
    rows = FinishedItem.objects.select_for_update(of=("self",), no_key=True)
    return rows.select_related("workshop", "design").get(pk=item.pk)


def refuse_nothing(quantity: int) -> None:
    if quantity < 1:
        raise NothingMoved("Enter at least 1.", where="quantity")
