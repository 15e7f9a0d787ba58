"""Items of a fair in finished stock: taken from home to the fair's place, and home again.

How many were taken and came home are counts that may be entered late, more than once, and before or
after sales arrive; stock follows them. What should be at the fair is what was taken, less what left
the table, less what came home: the rest is missing and stays there until somebody says what became
of it.
"""

import datetime
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from django.db import transaction
from django.db.models import F, QuerySet, Sum

from maker.accounts.models import User
from maker.workshop.models import Workshop
from pricing.fairs.models import Fair, FairDesign, FairSale, FairSaleLine
from pricing.finished_stock.models import CLAIMING, FinishedItem, FinishedLayer, Place
from pricing.finished_stock.services import home_of, least_from, lock_item, move
from pricing.prices.inputs import Item, item_of

Kind = FairSale.Kind
# kinds whose items are not on the table any more
OVER_THE_TABLE = (Kind.SALE, Kind.SWAP, Kind.GIVEN, Kind.BROKEN)
What = tuple[int, Item]


@dataclass(slots=True)
class Gone:
    """How many of an item left the table by the books, by source, and how many came back whole."""

    by_source: dict[str, int] = field(default_factory=dict)
    given: int = 0
    broken: int = 0
    back: int = 0

    @property
    def net(self) -> int:
        """Return how many fewer lie on the table."""
        return sum(self.by_source.values()) + self.given + self.broken - self.back

    def add(self, kind: str, source: str, count: int) -> None:
        """Count items that went over the table."""
        if kind == Kind.GIVEN:
            self.given += count
        elif kind == Kind.BROKEN:
            self.broken += count
        elif kind in OVER_THE_TABLE:
            self.by_source[source] = self.by_source.get(source, 0) + count


def gone_of(lines: QuerySet[FairSaleLine]) -> dict[int, Gone]:
    """Return what is gone by item (one query)."""
    rows = (
        lines.filter(sale__undone_at__isnull=True)
        .values("item_id", "came_back", "is_spoiled", "sale__kind", "sale__source")
        .annotate(count=Sum(F("quantity") * F("sale__payments")))
    )
    found: dict[int, Gone] = {}
    for row in rows:
        gone = found.setdefault(row["item_id"], Gone())
        if not row["came_back"]:
            gone.add(row["sale__kind"], row["sale__source"], row["count"])
        elif not row["is_spoiled"]:
            gone.back += row["count"]
    return found


def what_of(item: FairDesign) -> What:
    """Return what an item is as finished stock knows it; it comes from `with_items()`."""
    colourway = item.colourway.name if item.colourway else ""
    return item.version_id, item_of(item.version, colourway, item.choices)


def free_for(fair: Fair) -> dict[What, int]:
    """Return how many of each item are at home or at the fair and no order's (one query).

    What lies in a shop or at another fair cannot be taken.
    """
    here: dict[What, int] = {}
    free: dict[What, int] = {}
    layers = FinishedLayer.objects.filter(batch__item__workshop=fair.workshop)
    for version, colourway, choices, place, kind, order, count in layers.values_list(
        "batch__item__version",
        "batch__item__colourway_name",
        "batch__item__choices",
        "place",
        "place__kind",
        "batch__order__state",
        "quantity",
    ):
        what = version, Item(colourway, tuple(sorted(choices.items())))
        is_here = kind == Place.Kind.HOME or place == fair.stock_place_id
        here[what] = here.get(what, 0) + (count if is_here else 0)
        free[what] = free.get(what, 0) + (0 if order in CLAIMING else count)
    return {what: max(min(count, free[what]), 0) for what, count in here.items()}


def what_is(item: FinishedItem) -> What:
    """Return the same of a finished item."""
    return item.version_id, Item(item.colourway_name, tuple(sorted(item.choices.items())))


@transaction.atomic
def save_counts(
    *,
    fair: Fair,
    counts: Mapping[int, tuple[int | None, int | None]],
    today: datetime.date,
    by: User | None,
) -> None:
    """Store how many were taken and came home, by key of the item; finished stock follows."""
    held = Fair.objects.select_for_update(of=("self",)).select_related("workshop").get(pk=fair.pk)
    # a sale holds its day: what sells meanwhile has either left already or sees what moved
    list(held.days.select_for_update(of=("self",)).order_by("pk"))
    rows = list(held.designs.filter(pk__in=counts).with_items().order_by("pk"))
    for row in rows:
        row.taken, row.brought_home = counts[row.pk]
        row.save(update_fields=["taken", "brought_home"])
    _follow(held, rows, today, by)


def _follow(fair: Fair, rows: Iterable[FairDesign], today: datetime.date, by: User | None) -> None:
    known = _finished(fair.workshop)
    gone = gone_of(FairSaleLine.objects.filter(sale__day__fair=fair.pk))
    dates = list(fair.days.in_order().values_list("held_on", flat=True)) or [today]
    out_on, home_on = (min(on, today) for on in (dates[0], dates[-1]))
    wanted = [(known[what], _at_fair(row, gone)) for row in rows if (what := what_of(row)) in known]
    for item, count in sorted(wanted, key=lambda each: each[0].pk):
        lock_item(item)
        place = fair.stock_place
        more = count - (0 if place is None else _count_at(item, place))
        if more > 0:
            place = place or _place_for(fair)
            _carry(item, home_of(fair.workshop), place, more, out_on, today, by)
        elif more < 0 and place is not None:
            _carry(item, place, home_of(fair.workshop), -more, home_on, today, by)


def _at_fair(row: FairDesign, gone: Mapping[int, Gone]) -> int:
    if row.taken is None:
        return 0
    left = row.taken - (gone[row.pk].net if row.pk in gone else 0)
    return max(left - (row.brought_home or 0), 0)


def _finished(workshop: Workshop) -> dict[What, FinishedItem]:
    """Return the items of which some are finished (one query)."""
    there = FinishedLayer.objects.values("batch__item")
    rows = FinishedItem.objects.of(workshop).filter(pk__in=there).select_related("workshop")
    return {what_is(row): row for row in rows}


def _count_at(item: FinishedItem, place: Place) -> int:
    layers = FinishedLayer.objects.filter(batch__item=item, place=place)
    return layers.aggregate(count=Sum("quantity"))["count"] or 0


def _place_for(fair: Fair) -> Place:
    fair.stock_place = Place.objects.create(
        workshop=fair.workshop, name=fair.name, kind=Place.Kind.FAIR
    )
    fair.save(update_fields=["stock_place"])
    return fair.stock_place


def _carry(
    item: FinishedItem,
    start: Place,
    end: Place,
    count: int,
    on: datetime.date,
    today: datetime.date,
    by: User | None,
) -> None:
    """Move as many as are there: on a date of the fair, and what was not there then, today."""
    for date in dict.fromkeys((on, today)):
        some = min(count, least_from(item, start, date))
        if some > 0:
            move(item=item, from_place=start, to_place=end, quantity=some, on=date, today=today,
                 reason="taken and brought home", by=by)  # fmt: skip
            count -= some
