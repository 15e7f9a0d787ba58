"""Writes about fairs that touch more than one row or can be refused."""

import datetime
import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import ProtectedError
from django.utils import timezone

from catalogue.expenses.models import Expense
from catalogue.expenses.services import ExpenseInput, add_expense
from maker.accounts.models import User
from maker.calc.dates import say_date
from maker.calc.refusal import Refusal
from maker.web.editing import take_turn
from pricing.channels.models import Channel
from pricing.fairs.models import (
    Fair,
    FairBundle,
    FairBundleItem,
    FairCoin,
    FairCost,
    FairDay,
    FairDesign,
    FairHour,
    FairOrder,
)
from pricing.fairs.results import results_of
from pricing.finished_stock.models import Place
from pricing.prices.models import PriceListEntry

ZERO = Decimal(0)
_CATEGORY = {
    FairCost.Kind.STALL: Expense.Category.STALL,
    FairCost.Kind.TRAVEL: Expense.Category.TRAVEL,
    FairCost.Kind.PARKING: Expense.Category.TRAVEL,
    FairCost.Kind.OVERNIGHT: Expense.Category.TRAVEL,
}


class BadFair(Refusal):
    """Something about a fair that cannot be."""


class HasSales(Refusal):
    """What sales rest on stays."""


class DayOpen(Refusal):
    """Prices are fixed while a day is open."""


@dataclass(frozen=True, slots=True)
class DayInput:
    """A day as typed; `row` is the day it was before."""

    row: FairDay | None
    held_on: datetime.date
    opens: datetime.time
    closes: datetime.time


@dataclass(frozen=True, slots=True)
class CostInput:
    """A cost as typed. `paid_on` makes an expense of it."""

    row: FairCost | None
    kind: str
    what: str
    amount: Decimal
    day: FairDay | None
    from_till: bool
    paid_on: datetime.date | None


@transaction.atomic
def save_fair(
    *,
    fair: Fair,
    days: Sequence[DayInput],
    edit_number: int | None,
    stall_fee: Decimal | None = None,
) -> Fair:
    """Store a fair with its days, and a new one's stall fee among its costs.

    Refusals: BadFair, HasSales for a day sales rest on.
    """
    dates = [day.held_on for day in days]
    if len(set(dates)) < len(dates):
        raise BadFair("Two days have the same date.")
    if any(day.closes <= day.opens for day in days):
        raise BadFair("A day must close after it opens.")
    if fair.pk:
        take_turn(fair, edit_number)
    fair.save()
    if fair.stock_place_id:
        Place.objects.filter(pk=fair.stock_place_id).update(name=fair.name)
    kept = {day.row.pk for day in days if day.row}
    for old in fair.days.exclude(pk__in=kept):
        _delete_day(old)
    # dates may change places, so they leave theirs first
    moved = [day for day in days if day.row and day.row.held_on != day.held_on]
    for place, day in enumerate(moved):
        away = datetime.date(1, 1, 1) + datetime.timedelta(days=place)
        FairDay.objects.filter(pk=day.row.pk, fair=fair).update(held_on=away)  # type: ignore[union-attr]
    for day in days:
        values = {"held_on": day.held_on, "opens": day.opens, "closes": day.closes}
        if day.row:
            FairDay.objects.filter(pk=day.row.pk, fair=fair).update(**values)
        else:
            FairDay.objects.create(fair=fair, **values)
    if stall_fee:
        FairCost.objects.create(fair=fair, kind=FairCost.Kind.STALL, amount=stall_fee)
    return fair


def _delete_day(day: FairDay) -> None:
    try:
        day.delete()
    except ProtectedError as error:
        raise HasSales(f"{say_date(day.held_on, year=False)} has sales, so it stays.") from error


@transaction.atomic
def save_costs(
    *,
    fair: Fair,
    costs: Sequence[CostInput],
    edit_number: int | None,
    today: datetime.date,
    by: User | None = None,
) -> None:
    """Store what a fair costs; what is paid becomes an expense, typed once.

    A cost that has its expense already stays as that says. Refusals: BadFair, and those of
    `add_expense`.
    """
    take_turn(fair, edit_number)
    for cost in costs:
        if cost.from_till and cost.day is None:
            raise BadFair("Choose the day whose till paid it.")
        if cost.kind == FairCost.Kind.DRAWING and not cost.from_till:
            raise BadFair("What is taken out comes out of a day’s till. Tick “From the till”.")
    kept = {cost.row.pk for cost in costs if cost.row}
    fair.costs.exclude(pk__in=kept).delete()
    for cost in costs:
        row = cost.row or FairCost(fair=fair)
        row.kind, row.what, row.day = cost.kind, cost.what, cost.day
        row.from_till = cost.from_till
        if row.expense is None:
            row.amount = cost.amount
            if cost.paid_on and cost.kind != FairCost.Kind.DRAWING:
                row.expense, row.amount = _paid(fair, cost, today, by), None
        row.save()


def _paid(fair: Fair, cost: CostInput, today: datetime.date, by: User | None) -> Expense:
    kind = FairCost.Kind(cost.kind)
    return add_expense(
        workshop=fair.workshop,
        expense=ExpenseInput(
            paid_on=cost.paid_on or today,
            what=f"{kind.label}: {cost.what or fair.name}"[:120],
            category=_CATEGORY.get(kind, Expense.Category.OTHER),
            purpose=Expense.Purpose.FAIR,
            net=cost.amount,
        ),
        today=today,
        by=by,
        form_key=uuid.uuid4(),
    )


def choose_channel(*, fair: Fair, channel: Channel) -> None:
    """Take a fair's prices from this channel."""
    fair.channel = channel
    fair.save(update_fields=["channel"])


@transaction.atomic
def add_items(*, fair: Fair, entries: Iterable[PriceListEntry]) -> list[FairDesign]:
    """Put items of the price list on the table at their prices; one that is there stays once."""
    Fair.objects.select_for_update(no_key=True).get(pk=fair.pk)
    there = {
        (item.version_id, item.colourway_id, tuple(sorted(item.choices.items())))
        for item in fair.designs.all()
    }
    position, made = len(there), []
    for entry in entries:
        what = (entry.version_id, entry.colourway_id, tuple(sorted(entry.choices.items())))
        if what in there:
            continue
        there.add(what)
        made.append(
            FairDesign.objects.create(
                fair=fair,
                version_id=entry.version_id,
                colourway_id=entry.colourway_id,
                choices=dict(sorted(entry.choices.items())),
                price=entry.price,
                cost_each=entry.cost_each,
                position=position,
            )
        )
        position += 1
    return made


@transaction.atomic
def copy_items(*, fair: Fair, source: Fair) -> list[FairDesign]:
    """Put what another fair had on the table, with its widths and guesses; prices as there."""
    Fair.objects.select_for_update(no_key=True).get(pk=fair.pk)
    there = {(item.version_id, item.colourway_id, str(item.choices)) for item in fair.designs.all()}
    made = []
    for item in source.designs.in_order():
        if (item.version_id, item.colourway_id, str(item.choices)) in there:
            continue
        item.pk, item.fair = None, fair
        item.planned = item.taken = item.brought_home = None
        item.save(force_insert=True)
        made.append(item)
    return made


@transaction.atomic
def save_items(
    *,
    fair: Fair,
    values: Mapping[int, Mapping[str, Any]],
    removed: Iterable[int],
    edit_number: int | None,
) -> None:
    """Store what is said of items by key, and take some off the table.

    Refusals: DayOpen for a price while a day is open, HasSales for an item that was sold.
    """
    take_turn(fair, edit_number)
    is_open = _has_open_day(fair)
    for item in fair.designs.all():
        new = values.get(item.pk)
        if new is None:
            continue
        if is_open and new.get("price", item.price) != item.price:
            raise DayOpen("Prices are fixed while the day is open. Close it first.")
        for name, value in new.items():
            setattr(item, name, value)
        item.save()
    try:
        fair.designs.filter(pk__in=list(removed)).delete()
    except ProtectedError as error:
        raise HasSales("An item that was sold stays on the list.") from error


@transaction.atomic
def save_coins(*, fair: Fair, coins: Mapping[Decimal, int], edit_number: int | None) -> None:
    """Store the float, which every day begins with."""
    take_turn(fair, edit_number)
    fair.coins.filter(day__isnull=True).delete()
    FairCoin.objects.bulk_create(
        FairCoin(fair=fair, value=value, count=count) for value, count in coins.items() if count
    )


@transaction.atomic
def save_day(
    *,
    day: FairDay,
    coins: Mapping[Decimal, int],
    visitors: Mapping[int, int],
    edit_number: int | None,
    close: bool = False,
) -> None:
    """Store a day with what was counted in its till and who came when; `close` ends selling.

    Of a closed day whose till was counted, what is over or short is booked, as of its sales so far.
    """
    take_turn(day, edit_number)
    if close:
        day.opened_at = day.opened_at or timezone.now()
        day.closed_at = timezone.now()
    day.save()
    day.counted.all().delete()
    FairCoin.objects.bulk_create(
        FairCoin(fair_id=day.fair_id, day=day, value=value, count=count)
        for value, count in coins.items()
        if count
    )
    day.hours.all().delete()
    FairHour.objects.bulk_create(
        FairHour(day=day, hour=hour, visitors=count) for hour, count in visitors.items() if count
    )
    if day.closed_at is not None:
        FairDay.objects.filter(pk=day.pk).update(till_difference=_over_or_short(day))


def _over_or_short(day: FairDay) -> Decimal | None:
    """Return counted less expected; None where nobody counted."""
    if not day.counted.exists():
        return None
    (result,) = results_of(Fair.objects.filter(pk=day.fair_id), day.fair.workshop)
    place = [each.pk for each in result.days].index(day.pk)
    return result.figures[place].till.difference


@transaction.atomic
def reopen_day(*, day: FairDay) -> None:
    """Open a closed day again; what its till was over or short is not booked any more."""
    FairDay.objects.filter(pk=day.pk).update(closed_at=None, till_difference=None)


@transaction.atomic
def save_bundle(
    *, bundle: FairBundle, counts: Mapping[int, int], lowest: Decimal | None
) -> FairBundle:
    """Store a bundle with how many of each item are in it; never below its lowest price.

    Its price is for days not opened yet. Refusals: BadFair, DayOpen for what is in a bundle that
    a day offers already: other items would be sold at the price fixed for these.
    """
    wanted = {key: count for key, count in counts.items() if count}
    if bundle.pk and bundle.day_prices.exists():
        there = dict(bundle.items.values_list("item_id", "count"))
        if there != wanted:
            raise DayOpen("A day offers this bundle as it is. Add a new bundle instead.")
    if sum(wanted.values()) < 2:
        raise BadFair("A bundle has at least two items.")
    if lowest is not None and bundle.price < lowest:
        raise BadFair("That is below the bundle’s lowest price.", where="price")
    same = FairBundle.objects.filter(fair=bundle.fair, name__iexact=bundle.name)
    if same.exclude(pk=bundle.pk).exists():
        raise BadFair(f"There is already a bundle “{bundle.name}”.", where="name")
    bundle.save()
    bundle.items.all().delete()
    FairBundleItem.objects.bulk_create(
        FairBundleItem(bundle=bundle, item_id=key, count=count) for key, count in wanted.items()
    )
    return bundle


@transaction.atomic
def remove_bundle(*, bundle: FairBundle) -> None:
    """Offer a bundle no more; what was sold in it stays sold. Refusals: DayOpen."""
    if _has_open_day(bundle.fair):
        raise DayOpen("The bundle is offered while the day is open. Close the day first.")
    bundle.delete()


def _has_open_day(fair: Fair) -> bool:
    return fair.days.filter(opened_at__isnull=False, closed_at__isnull=True).exists()


@transaction.atomic
def save_orders_won(*, fair: Fair, orders: Iterable[int]) -> None:
    """Store which orders a fair won, by key; those another fair won stay there."""
    wanted = set(orders)
    fair.orders.exclude(order__in=wanted).delete()
    there = set(FairOrder.objects.filter(order__in=wanted).values_list("order_id", flat=True))
    FairOrder.objects.bulk_create(
        FairOrder(fair=fair, order_id=key) for key in sorted(wanted - there)
    )
