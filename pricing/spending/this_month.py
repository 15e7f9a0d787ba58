"""The month that runs: budgets with what is carried on, what orders need, what it comes to."""

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import F, Sum

from catalogue.materials.inputs import unit_cost_of
from catalogue.materials.models import Material
from catalogue.purchases.models import PurchaseLine
from maker.exact_sums import Millionths, from_millionths
from maker.workshop.models import Workshop
from pricing.calc.spending.budget import Standing, carrying_since, standings
from pricing.calc.spending.forecast import Forecast, month_forecast
from pricing.calc.spending.price_index import Bought, Change, price_change
from pricing.calc.spending.spend import (
    BudgetStep,
    Spending,
    last_day,
    month_of,
    months_between,
    months_later,
)
from pricing.orders.models import Order, OrderNeed
from pricing.spending.inputs import Books, spending_of

ZERO = Decimal(0)
MONTHS_LOOKED_AT = 24
YEAR = datetime.timedelta(days=365)


@dataclass(frozen=True, slots=True)
class ThisMonth:
    """What was spent so far, what accepted orders need besides, by category, and the forecast."""

    month: datetime.date
    spent: Decimal
    committed: Mapping[str, Decimal]
    standings: tuple[Standing, ...]
    forecast: Forecast | None


def this_month(books: Books, today: datetime.date, known: Spending | None = None) -> ThisMonth:
    """Return how the month that runs stands (seven queries at most).

    `known` is what was read already of the last twenty-four months.
    """
    month, steps, workshop = month_of(today), books.steps, books.workshop
    committed = committed_by_orders(workshop)
    first = _first_needed(steps, month)
    is_known = known is not None and first >= months_later(month, 1 - MONTHS_LOOKED_AT)
    spending = known if known and is_known else spending_of(workshop, first, month)
    spent = spending.total([month])
    rests = _rests(books, today)
    return ThisMonth(
        month=month,
        spent=spent,
        committed=committed,
        standings=tuple(
            standings(steps, month, lambda category, of: spending.total([of], category=category))
        ),
        forecast=month_forecast(spent, sum(committed.values(), ZERO), rests),
    )


def _first_needed(steps: list[BudgetStep], month: datetime.date) -> datetime.date:
    """Return the first month that budgets of a month are carried on from."""
    since = [carrying_since(steps, category, month) for category in {one.category for one in steps}]
    return min([month, *(each for each in since if each is not None)])


def _rests(books: Books, today: datetime.date) -> list[Decimal]:
    """Return what each whole month of the last two years spent after this date of the month."""
    month = month_of(today)
    whole = books.whole_from
    if whole is None or whole >= month:
        return []
    count = min(months_between(whole, month) - 1, MONTHS_LOOKED_AT)
    first = months_later(month, -count)
    rests = {months_later(first, each): ZERO for each in range(count)}
    rows = (
        PurchaseLine.objects.of(books.workshop)
        .recorded()
        .between(first, last_day(months_later(month, -1)))
        .values_list("purchase__bought_on")
        .annotate(sum=Sum(Millionths("landed")))
        .order_by()
    )
    for day, millionths in rows:
        if day.day > today.day:
            rests[month_of(day)] += from_millionths(millionths)
    return list(rests.values())


def committed_by_orders(workshop: Workshop) -> dict[str, Decimal]:
    """Return what accepted orders need that is not in stock, at today's unit cost, by category.

    A material whose cost is not known counts as nothing (three queries).
    """
    needs = OrderNeed.objects.filter(order__in=Order.objects.of(workshop).to_make())
    left: dict[int, Decimal] = {}
    for key, amount in needs.filter(amount__gt=F("taken")).values_list(
        "material_id", F("amount") - F("taken")
    ):
        left[key] = left.get(key, ZERO) + amount
    found: dict[str, Decimal] = {}
    materials = Material.objects.of(workshop).filter(pk__in=left).with_costs()
    for material in materials:
        missing = left[material.pk] - max(material.on_hand, ZERO)
        cost = unit_cost_of(material, workshop.valuation)
        if missing > 0 and cost is not None:
            found[material.category] = found.get(material.category, ZERO) + missing * cost.value
    return found


def has_two_years(books: Books, today: datetime.date) -> bool:
    """Return whether both of the years whose prices are compared are in the books."""
    began_on, _ = books.days
    return began_on is not None and began_on <= today - 2 * YEAR


def supplies_price_change(books: Books, today: datetime.date) -> Change | None:
    """Compare what the last twelve months bought with the twelve before, where those are whole.

    Three queries at most.
    """
    if not has_two_years(books, today):
        return None
    workshop = books.workshop
    groups: dict[int, str] = {}
    then = _bought(workshop, today - 2 * YEAR, today - YEAR, groups)
    return price_change(then, _bought(workshop, today - YEAR, today, groups), groups)


def _bought(
    workshop: Workshop, after: datetime.date, until: datetime.date, groups: dict[int, str]
) -> dict[int, Bought]:
    """Return what was bought of each material after a day until another; notes its category."""
    rows = (
        PurchaseLine.objects.of(workshop)
        .recorded()
        .between(after + datetime.timedelta(days=1), until)
        .values_list("material_id", "material__category")
        .annotate(value=Sum(Millionths("landed")), many=Sum(Millionths("quantity")))
        .order_by()
    )
    found = {}
    for key, category, value, many in rows:
        groups[key] = category
        found[key] = Bought(quantity=from_millionths(many), value=from_millionths(value))
    return found
