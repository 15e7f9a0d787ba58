"""What happened at the tables of fairs, read as plain values: two queries for any number of fairs.

A busy year is thousands of payments, and every page that compares fairs needs them all, so they are
never made into rows of models here.
"""

import datetime
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import NamedTuple

from pricing.fairs.models import FairSale, FairSaleLine


class SoldLine(NamedTuple):
    """So many of an item in one payment; `item` is its key on the table."""

    item: int
    quantity: int
    price_each: Decimal
    came_back: bool
    is_spoiled: bool


class Sold(NamedTuple):
    """A payment, refund, gift or order with its lines; undone ones are never read."""

    happened_at: datetime.datetime
    kind: str
    way: str
    source: str
    payments: int
    received: Decimal
    problem: str
    lines: Sequence[SoldLine]

    @property
    def items(self) -> int:
        """Return how many items are in one of its payments."""
        return sum(line.quantity for line in self.lines)


Days = Mapping[int, Sequence[Sold]]


def sold_at(fairs: Iterable[int]) -> Days:
    """Return what happened by key of the day, as it happened (two queries)."""
    keys = list(fairs)
    lines: dict[int, list[SoldLine]] = {}
    rows = FairSaleLine.objects.filter(sale__day__fair__in=keys, sale__undone_at__isnull=True)
    for sale, *line in rows.order_by("pk").values_list("sale", *SoldLine._fields):
        lines.setdefault(sale, []).append(SoldLine._make(line))
    found: dict[int, list[Sold]] = {}
    sales = FairSale.objects.that_count().filter(day__fair__in=keys).in_order()
    for key, day, *said in sales.values_list("pk", "day", *Sold._fields[:-1]):
        found.setdefault(day, []).append(Sold._make([*said, lines.get(key, ())]))
    return found
