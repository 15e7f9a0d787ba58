"""Rows of a fair -> the values its figures follow from; no query after `with_everything()`."""

import datetime
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction

from django.db import models
from django.utils import timezone

from maker.calc.money import with_working_precision
from maker.workshop.json_text import json_text
from maker.workshop.models import Workshop
from pricing.calc.fairs.fair_day import (
    DayAtTable,
    DayCosts,
    ItemCost,
    Refund,
    Sale,
    in_equal_parts,
)
from pricing.calc.fairs.visitors import Curve
from pricing.calc.fairs.what_to_take import FairItem, FairRates
from pricing.channels.models import Channel, ChannelTier
from pricing.fairs.models import (
    Fair,
    FairCoin,
    FairCost,
    FairDay,
    FairDesign,
    FairHour,
    FairOrder,
    FairSale,
)
from pricing.fairs.sold import Days, Sold, SoldLine

ZERO, ONE = Decimal(0), Decimal(1)
HOUR = Decimal(60)
# hours of payments say when visitors come only where there are some
LEAST_PAYMENTS = 20


def with_everything(fairs: models.QuerySet[Fair]) -> models.QuerySet[Fair]:
    """Return fairs with all that their figures need but what sold (nine queries)."""
    tiers = ChannelTier.objects.order_by("bought_at_once", "pk")
    return fairs.select_related("channel").prefetch_related(
        models.Prefetch("channel__tiers", tiers),
        models.Prefetch("days", FairDay.objects.in_order()),
        models.Prefetch("days__hours", FairHour.objects.order_by("hour")),
        models.Prefetch("days__counted", FairCoin.objects.order_by("value")),
        models.Prefetch(
            "designs", FairDesign.objects.select_related("version__design", "colourway").in_order()
        ),
        models.Prefetch("costs", FairCost.objects.select_related("expense").order_by("kind", "pk")),
        models.Prefetch(
            "coins", FairCoin.objects.filter(day__isnull=True).order_by("value"), to_attr="in_float"
        ),
    )


def load_names(items: Sequence[FairDesign]) -> None:
    """Load what names items of `with_everything()` beside their design (two queries)."""
    models.prefetch_related_objects(items, "version__options__choices")


def orders_gains(fairs: Iterable[Fair]) -> dict[int, Decimal]:
    """Return what orders won left, by fair, as their quotes said when sent (two queries)."""
    keys = [fair.pk for fair in fairs]
    gain = json_text("order__quote__frozen__own", "profit")
    won = set(
        FairOrder.objects.filter(fair__in=keys)
        .exclude(order__state="cancelled")
        .values_list("fair_id", "order_id", gain)
    )
    won |= set(
        FairSale.objects.that_count()
        .filter(day__fair__in=keys, order__isnull=False)
        .exclude(order__state="cancelled")
        .values_list("day__fair_id", "order_id", gain)
    )
    found = dict.fromkeys(keys, ZERO)
    for fair, _, profit in won:
        found[fair] += Decimal(profit or 0)
    return found


def first_tier(channel: Channel | None) -> ChannelTier | None:
    """Return the terms of one item bought by itself (a query where tiers are not loaded)."""
    tiers = channel.tiers.all() if channel else ()
    return min(tiers, key=lambda tier: (tier.bought_at_once, tier.pk), default=None)


def fair_rates(workshop: Workshop, channel: Channel | None) -> FairRates:
    """Return what each sale pays away (a query where the channel's tiers are not loaded)."""
    tier = first_tier(channel)
    return FairRates(
        tax_rate=workshop.tax_rate if workshop.tax_registered else ZERO,
        fee_share=tier.fee_share if tier else ZERO,
        fee_fixed=tier.fixed_fee if tier else ZERO,
        commission=channel.commission_share if channel else ZERO,
    )


def key_of(item: FairDesign) -> str:
    """Return what the sums call an item."""
    return str(item.pk)


def item_costs(items: Iterable[FairDesign]) -> dict[str, ItemCost]:
    """Return what each item and its bag cost."""
    return {key_of(item): ItemCost(item.cost_each, item.bag_each) for item in items}


def fair_item(item: FairDesign, paid: "Paid") -> FairItem:
    """Return an item as the question what to take sees it."""
    worth = item.worth_after
    if worth is None:
        worth = ZERO if item.is_dated else item.cost_each
    return FairItem(
        name=key_of(item),
        price=item.price,
        cost=item.cost_each,
        bag=item.bag_each,
        card_share=paid.card_share,
        payments_each=paid.payments_each,
        worth_after=worth,
        handling=item.handling_each,
    )


class Paid:
    """How items were paid before: the share by card, and payments for each item."""

    def __init__(self, sales: Iterable[Sold]) -> None:
        by_card = items = payments = 0
        for sale in sales:
            if sale.kind != FairSale.Kind.SALE:
                continue
            count = sale.payments * sale.items
            items += count
            payments += sale.payments
            by_card += count if sale.way == FairSale.Way.CARD else 0
        # nothing seen yet: each item by card and by itself, the dearest
        self.items = items
        self.card_share = Decimal(by_card) / items if items else ONE
        self.payments_each = Decimal(payments) / items if items else ONE


@with_working_precision
def day_costs(fair: Fair, digits: int = 2) -> list[DayCosts]:
    """Return what each day costs: costs of the whole fair in equal parts, its own, its hours."""
    days = list(fair.days.all())
    costs = [cost for cost in fair.costs.all() if cost.kind != FairCost.Kind.DRAWING]
    shared = sum((cost.counted for cost in costs if cost.day_id is None), ZERO)
    prepare = fair.prepare_hours / len(days) if days else ZERO
    found = []
    for day, stall in zip(days, in_equal_parts(shared, len(days), digits), strict=True):
        distance, drive, pack = (
            of_fair if of_day is None else of_day
            for of_day, of_fair in (
                (day.distance, fair.distance),
                (day.drive_hours, fair.drive_hours),
                (day.pack_hours, fair.pack_hours),
            )
        )
        found.append(
            DayCosts(
                stall=stall,
                travel=distance * fair.rate_per_distance,
                other=sum((cost.counted for cost in costs if cost.day_id == day.pk), ZERO),
                hours=prepare + drive + hours_open(day) + pack,
            )
        )
    return found


@with_working_precision
def hours_open(day: FairDay) -> Decimal:
    """Return the hours a day is open."""
    minutes = (day.closes.hour - day.opens.hour) * 60 + day.closes.minute - day.opens.minute
    return Decimal(minutes) / HOUR


def coins_of(rows: Iterable[FairCoin]) -> dict[Decimal, int]:
    """Return coins and notes by value."""
    return {row.value: row.count for row in rows}


def lost_counts(sales: Iterable[Sold]) -> Counter[str]:
    """Return what was given away or broken, by item."""
    lost: Counter[str] = Counter()
    for sale in sales:
        if sale.kind in (FairSale.Kind.GIVEN, FairSale.Kind.BROKEN):
            for line in sale.lines:
                lost[str(line.item)] += sale.payments * line.quantity
    return lost


def day_at_table(
    day: FairDay,
    sold: Sequence[Sold],
    costs: DayCosts,
    in_float: Mapping[Decimal, int],
    missing: Mapping[str, int],
) -> DayAtTable:
    """Return what happened at the table in a day; given and broken items count as missing."""
    sales, refunds, deposits = [], [], []
    for sale in sold:
        by_card = sale.way == FairSale.Way.CARD
        if sale.kind == FairSale.Kind.ORDER:
            deposits += [] if by_card else [sale.received * sale.payments]
        if sale.kind in (FairSale.Kind.SALE, FairSale.Kind.REFUND, FairSale.Kind.SWAP):
            new_sales, new_refunds = _sold(sale, by_card=by_card)
            sales += new_sales
            refunds += new_refunds
    lost = lost_counts(sold)
    lost.update(missing)
    return DayAtTable(
        sales=sales,
        float_coins=in_float,
        counted=coins_of(day.counted.all()),
        costs=costs,
        refunds=refunds,
        deposits_in_cash=deposits,
        paid_out=[
            cost.counted
            for cost in day.fair.costs.all()
            if cost.from_till and cost.day_id == day.pk
        ],
        missing=lost,
    )


def _sold(sale: Sold, *, by_card: bool) -> tuple[list[Sale], list[Refund]]:
    out: Counter[str] = Counter()
    back: list[SoldLine] = []
    for line in sale.lines:
        if line.came_back or sale.kind == FairSale.Kind.REFUND:
            back += [line] * line.quantity
        else:
            out[str(line.item)] += line.quantity
    paid_back = max(-sale.received, ZERO)
    refunds = [
        # what was paid back is on the first item
        Refund(by_card, str(line.item), ZERO if place else paid_back, line.is_spoiled)
        for place, line in enumerate(back)
    ] * sale.payments
    sales = []
    if sale.received > 0 or out:
        # nothing paid is not a payment by card
        received = max(sale.received, ZERO)
        sales.append(Sale(by_card and received > 0, out, received, sale.payments))
    if paid_back and not back:
        # money back without an item
        sales.append(Sale(by_card, {}, -paid_back, sale.payments))
    return sales, refunds


def visitor_curve(day: FairDay, days: Iterable[FairDay], sold: Days) -> Curve:
    """Return when visitors came: as noted of this day, of others, by payments, else evenly."""
    known = list(days)
    noted = {hour.hour: hour.visitors for hour in day.hours.all()}
    if sum(noted.values()):
        return _shares(noted)
    noted = Counter()
    for other in known:
        noted.update({hour.hour: hour.visitors for hour in other.hours.all()})
    if not sum(noted.values()):
        paid = Counter(
            timezone.localtime(sale.happened_at).hour
            for other in known
            for sale in sold.get(other.pk, ())
            if sale.kind == FairSale.Kind.SALE and sale.source == FairSale.Source.TABLE
        )
        noted = paid if sum(paid.values()) >= LEAST_PAYMENTS else {}
    inside = {hour: noted[hour] for hour in sorted(noted) if _is_open(day, hour)}
    if not sum(inside.values()):
        inside = {hour: 1 for hour in range(24) if _is_open(day, hour)}
    return _shares(inside)


def _is_open(day: FairDay, hour: int) -> bool:
    last = day.closes.hour if day.closes.minute else day.closes.hour - 1
    return day.opens.hour <= hour <= last


def _shares(counts: Mapping[int, int]) -> Curve:
    whole = sum(counts.values())
    return {hour: Fraction(count, whole) for hour, count in counts.items()}


def local_time(moment: datetime.datetime) -> datetime.time:
    """Return the time on the clock at the table."""
    return timezone.localtime(moment).time()
