"""Finished items leave, or come back, with what happened at the table."""

import datetime
from contextlib import suppress

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from maker.accounts.models import User
from pricing.fairs.models import FairDay, FairSale, FairSaleLine
from pricing.finished_stock.models import FinishedItem, FinishedMove, Place
from pricing.finished_stock.services import (
    NotThere,
    bring_back,
    home_of,
    item_for,
    least_from,
    take_out,
    undo,
)

GONE = {
    FairSale.Kind.SALE: FinishedMove.Kind.SOLD,
    FairSale.Kind.SWAP: FinishedMove.Kind.SOLD,
    FairSale.Kind.GIVEN: FinishedMove.Kind.GIVEN,
    FairSale.Kind.BROKEN: FinishedMove.Kind.SPOILED,
}


def take_from_stock(sale: FairSale, *, by: User | None) -> None:
    """Let the items of a sale leave, and those that came back whole come in.

    From the fair's place as many as are there, the others from home; what the ledger lacks is
    entered as found, so that what was sold is never lost. What an undone sale could not give back
    moves no second time. Refusals: those of the ledger.
    """
    days = FairDay.objects.select_related("fair__workshop", "fair__stock_place")
    day = days.get(pk=sale.day_id)
    fair, home, today = day.fair, home_of(day.fair.workshop), timezone.localdate()
    on = min(day.held_on, today)
    kind, reason = GONE.get(FairSale.Kind(sale.kind)), f"{fair}"[:200]
    rows = sale.lines.select_related("item__version__design", "item__colourway")
    moved = _moved_of(sale)
    lines = [
        line
        for line in rows.prefetch_related("item__version__options__choices").order_by("pk")
        if line.quantity and not (line.came_back and line.is_spoiled)
    ]
    # items are locked in one order, whoever moves them
    for item, line in sorted(
        ((_item_of(line), line) for line in lines), key=lambda each: each[0].pk
    ):
        count = line.quantity * sale.payments - moved.get(line.pk, 0)
        if not count:
            continue
        if line.came_back:
            # what never left by the books comes in when stock is counted
            with suppress(NotThere), transaction.atomic():
                bring_back(
                    item=item, place=fair.stock_place or home, quantity=count, on=on, today=today,
                    reason=reason, by=by, fair_line=line.pk,
                )  # fmt: skip
            continue
        if kind is None:
            continue
        at_fair = _at(item, fair.stock_place, count, on)
        for place, some in ((fair.stock_place, at_fair), (home, count - at_fair)):
            if place is not None and some:
                take_out(
                    item=item, place=place, quantity=some, kind=kind, on=on, today=today,
                    reason=reason, by=by, fair_line=line.pk, may_find=True,
                )  # fmt: skip


def _at(item: FinishedItem, place: Place | None, most: int, on: datetime.date) -> int:
    return 0 if place is None else max(min(least_from(item, place, on), most), 0)


def _moved_of(sale: FairSale) -> dict[int, int]:
    """Return how many of each line have moved already."""
    rows = FinishedMove.objects.filter(fair_line__sale=sale).standing()
    moved: dict[int, int] = {}
    for line, change in rows.values_list("fair_line", "change"):
        moved[line] = moved.get(line, 0) + abs(change)
    return moved


def give_back_stock(sale: FairSale, *, by: User | None) -> None:
    """Undo the movements of a sale, and those that an undone one of the fair could not before.

    What came back and was sold again since, or what was sold and came back, stays moved: the money
    is undone all the same, and a count finds the difference.
    """
    undone = Q(
        fair_line__sale__day__fair=sale.day.fair_id, fair_line__sale__undone_at__isnull=False
    )
    moves = FinishedMove.objects.filter(Q(fair_line__sale=sale) | undone).standing()
    for move in moves.select_related("item").order_by("item_id", "-pk"):
        with suppress(NotThere), transaction.atomic():
            undo(move=move, by=by, reason="sale undone")


def _item_of(line: FairSaleLine) -> FinishedItem:
    design = line.item
    colourway = design.colourway.name if design.colourway else ""
    return item_for(design.version, colourway, design.choices)
