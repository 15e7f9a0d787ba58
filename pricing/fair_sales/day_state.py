"""A day so far: what is left of each item, what is kept for orders, what each phone took."""

import datetime
from collections.abc import Iterable, Mapping
from typing import Any

from django.db.models import F, Sum
from django.utils import timezone

from maker.calc.money import minor_digits
from pricing.fair_sales.on_table import minor_of
from pricing.fairs.models import FairDay, FairDesign, FairSale, FairSaleLine
from pricing.fairs.stock import Gone, gone_of, what_is, what_of
from pricing.finished_stock.inputs import on_hand
from pricing.finished_stock.models import Place

Kind = FairSale.Kind
PARTS = ("cash", "card", "count", "deposits")


def reserved_of(
    day: FairDay, designs: Iterable[FairDesign], gone: Mapping[int, Gone]
) -> dict[int, int]:
    """Return how many of each item on the table are kept for orders.

    Of items that the books still have at home, those that orders claim and that cannot all have
    stayed there.
    """
    fair = day.fair
    home = Place.objects.of(fair.workshop).filter(kind=Place.Kind.HOME).first()
    at_fair, at_home = (
        {} if place is None else {what_is(row.item): row for row in on_hand(fair.workshop, place)}
        for place in (fair.stock_place, home)
    )
    found = {}
    for each in designs:
        what = what_of(each)
        count = at_fair[what].reserved if what in at_fair else 0
        if what in at_home and what not in at_fair:
            there, kept = at_home[what].quantity, at_home[what].reserved
            table = (each.taken or 0) - (gone[each.pk].net if each.pk in gone else 0)
            count = min(kept, max(kept - (there - table), 0))
        if count:
            found[each.pk] = count
    return found


def left_of(
    designs: Iterable[FairDesign], gone: Mapping[int, Gone], reserved: Mapping[int, int]
) -> dict[str, int | None]:
    """Return what is left to sell by key; None where nobody said how many were taken."""
    return {
        str(each.pk): None
        if each.taken is None
        else each.taken - (gone[each.pk].net if each.pk in gone else 0) - reserved.get(each.pk, 0)
        for each in designs
    }


def state_of(day: FairDay, designs: list[FairDesign]) -> dict[str, Any]:
    """Return the day so far as phones are told: plain values, amounts in minor units."""
    digits = minor_digits(day.fair.workshop.currency)
    gone = gone_of(FairSaleLine.objects.filter(sale__day__fair=day.fair_id))
    reserved = reserved_of(day, designs, gone)
    sales = FairSale.objects.filter(day=day).that_count()
    phones: dict[str, dict[str, int]] = {}
    for row in sales.values("phone", "kind", "way").annotate(
        money=Sum(F("received") * F("payments")), count=Sum("payments")
    ):
        own = phones.setdefault(row["phone"], dict.fromkeys(PARTS, 0))
        # a deposit is not takings
        part = "deposits" if row["kind"] == Kind.ORDER else row["way"]
        if part in own:
            own[part] += minor_of(row["money"], digits)
        if row["kind"] == Kind.SALE:
            own["count"] += row["count"]
    return {
        "left": left_of(designs, gone, reserved),
        "reserved": {str(key): count for key, count in reserved.items()},
        "sold_out": sold_out_of(day),
        "phones": phones,
        "is_open": day.is_open,
    }


def sold_out_of(day: FairDay) -> dict[str, str]:
    """Return when items sold out on the day, by key."""
    rows = FairSaleLine.objects.filter(
        sale__day=day, sale__kind=Kind.SOLD_OUT, sale__undone_at__isnull=True
    ).values_list("item_id", "sale__happened_at")
    first: dict[str, datetime.datetime] = {}
    for item, at in rows:
        first[str(item)] = min(at, first.get(str(item), at))
    return {key: f"{timezone.localtime(at):%H:%M}" for key, at in first.items()}
