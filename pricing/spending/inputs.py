"""Receipts, ledger and budgets -> the sums the report speaks of, each in one query."""

import datetime
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import connection, models

from catalogue.expenses.models import Expense
from catalogue.materials.models import Material, MaterialQuerySet
from catalogue.purchases.models import Purchase, PurchaseLine
from catalogue.stock.models import StockEntry
from maker.exact_sums import Millionths, MonthOf, from_millionths
from maker.workshop.models import Workshop
from pricing.calc.spending.spend import (
    BudgetStep,
    Moves,
    Spending,
    last_day,
    month_of,
    months_later,
    moves_from,
)
from pricing.spending.models import Budget

ZERO = Decimal(0)
GROUP_COLUMNS = {
    "category": "material__category",
    "supplier": "purchase__supplier",
    "material": "material",
}


@dataclass(frozen=True, slots=True)
class Narrowed:
    """What the report looks at: everything, or one category, supplier, material."""

    category: str = ""
    supplier_id: int | None = None
    material_id: int | None = None

    def lines(self, workshop: Workshop) -> models.QuerySet[PurchaseLine]:
        """Return the lines of recorded receipts it covers."""
        lines = PurchaseLine.objects.of(workshop).recorded()
        if self.category:
            lines = lines.filter(material__category=self.category)
        if self.supplier_id:
            lines = lines.filter(purchase__supplier=self.supplier_id)
        return lines.filter(material=self.material_id) if self.material_id else lines

    def materials(self, workshop: Workshop) -> MaterialQuerySet:
        """Return the materials it covers; the shelf does not know suppliers."""
        materials = Material.objects.of(workshop)
        if self.category:
            materials = materials.filter(category=self.category)
        return materials.filter(pk=self.material_id) if self.material_id else materials


def spending_of(
    workshop: Workshop,
    first: datetime.date,
    last: datetime.date,
    *,
    by: str = "category",
    narrowed: Narrowed | None = None,
) -> Spending:
    """Return what recorded receipts of some months cost, by month, category and group."""
    return to_spending(spent_in(workshop, first, last, by=by, narrowed=narrowed))


def spent_in(
    workshop: Workshop,
    first: datetime.date,
    last: datetime.date,
    *,
    by: str = "category",
    narrowed: Narrowed | None = None,
) -> models.QuerySet[PurchaseLine, Any]:
    """Add up receipts of some months: rows of month, category, group and millionths."""
    return (
        (narrowed or Narrowed())
        .lines(workshop)
        .filter(purchase__bought_on__gte=first, purchase__bought_on__lte=last_day(last))
        .annotate(month=MonthOf("purchase__bought_on"))
        .values_list("month", "material__category", GROUP_COLUMNS[by])
        .annotate(sum=models.Sum(Millionths("landed")))
        .order_by()
    )


def to_spending(rows: Iterable[Any]) -> Spending:
    """Return rows of month, category, group and millionths by month, category and group."""
    by_month: dict[datetime.date, dict[tuple[str, str], Decimal]] = defaultdict(dict)
    for month, category, group, millionths in rows:
        by_month[month][category, str(group)] = from_millionths(millionths)
    return Spending(by_month)


# The value a movement adds to the shelf is the value kept after it less the one kept before it:
# with the entry before, or on the shelf when the months begin. What was taken back, and what takes
# it back, never happened; they are kept with the value they stand beside, so they add nothing.
_LEDGER = """
WITH shelf AS (
    SELECT material.id, material.category, COALESCE((
        SELECT earlier.balance_value FROM catalogue_stockentry earlier
        WHERE earlier.material_id = material.id AND earlier.moved_on < %(first)s
        ORDER BY earlier.moved_on DESC, earlier.id DESC LIMIT 1), 0) AS opening
    FROM catalogue_material material
    WHERE material.workshop_id = %(workshop)s
      AND (%(category)s = '' OR material.category = %(category)s)
      AND (%(material)s = 0 OR material.id = %(material)s)
), moved AS (
    SELECT entry.id, entry.moved_on, shelf.category, entry.kind, entry.cost_in, entry.takes_back_id,
           {entry_value} - COALESCE(LAG({entry_value}) OVER (
               PARTITION BY shelf.id ORDER BY entry.moved_on, entry.id), {opening}) AS value
    FROM shelf CROSS JOIN catalogue_stockentry entry
    WHERE entry.material_id = shelf.id
      AND entry.moved_on >= %(first)s AND entry.moved_on <= %(last)s
)
SELECT {month} AS month, category, kind, cost_in IS NULL AS has_no_cost, SUM(value),
       SUM({cost_in})
FROM moved
WHERE takes_back_id IS NULL
  AND NOT EXISTS (SELECT 1 FROM catalogue_stockentry back WHERE back.takes_back_id = moved.id)
GROUP BY 1, 2, 3, 4
"""
_AMOUNTS = {
    "entry_value": "entry.balance_value",
    "opening": "shelf.opening",
    "cost_in": "cost_in",
}
_MILLIONTHS = {"sqlite": "CAST(ROUND({} * 1000000) AS BIGINT)", "postgresql": "{} * 1000000"}
_MONTH = {"sqlite": "SUBSTR(moved_on, 1, 7)", "postgresql": "TO_CHAR(moved_on, 'YYYY-MM')"}


@dataclass(frozen=True, slots=True)
class Moved:
    """What one kind of movement did in a month to the shelf of a category, in millionths.

    `cost` is what came in at cost, None for what has none.
    """

    month: datetime.date
    category: str
    kind: str
    value: int
    cost: int | None


def moved_in(
    workshop: Workshop, first: datetime.date, last: datetime.date, narrowed: Narrowed
) -> list[Moved]:
    """Add up the movements of some months from the ledger."""
    return moved_between(workshop, first, last_day(last), narrowed)


def moved_between(
    workshop: Workshop, first: datetime.date, last: datetime.date, narrowed: Narrowed
) -> list[Moved]:
    """Add up the movements from one day to another, both included, from the ledger."""
    millionths = _MILLIONTHS[connection.vendor]
    amounts = {name: millionths.format(column) for name, column in _AMOUNTS.items()}
    with connection.cursor() as cursor:
        cursor.execute(
            _LEDGER.format(month=_MONTH[connection.vendor], **amounts),
            {
                "workshop": workshop.pk,
                "category": narrowed.category,
                "material": narrowed.material_id or 0,
                "first": first.isoformat(),
                "last": last.isoformat(),
            },
        )
        rows = cursor.fetchall()
    return [
        Moved(
            datetime.date.fromisoformat(f"{month}-01"),
            category,
            kind,
            int(value),
            None if has_no_cost else int(cost),
        )
        for month, category, kind, has_no_cost, value, cost in rows
    ]


def moves_by_month(moved: Iterable[Moved]) -> dict[datetime.date, Moves]:
    """Return month -> what its movements did to the value of the shelf."""
    found: dict[datetime.date, list[tuple[str, Decimal, Decimal | None]]] = defaultdict(list)
    for one in moved:
        cost = None if one.cost is None else from_millionths(one.cost)
        found[one.month].append((one.kind, from_millionths(one.value), cost))
    return {month: moves_from(of_month) for month, of_month in found.items()}


@dataclass(frozen=True, slots=True)
class Shelf:
    """What is on the shelf before and after some days; which materials end below nothing."""

    opening: Decimal
    closing: Decimal
    below_nothing: tuple[str, ...]


def shelf_of(
    workshop: Workshop, first: datetime.date, last: datetime.date, narrowed: Narrowed
) -> Shelf:
    """Add up the values kept with the last movement of each material before and in some months."""
    return shelf_between(workshop, first, last_day(last), narrowed)


def shelf_between(
    workshop: Workshop, first: datetime.date, last: datetime.date, narrowed: Narrowed
) -> Shelf:
    """Add up the values kept with the last movement before a day, and until another."""

    def latest(column: str, **until: datetime.date) -> models.Subquery:
        entries = StockEntry.objects.filter(material=models.OuterRef("pk"), **until)
        return models.Subquery(entries.order_by("-moved_on", "-pk").values(column)[:1])

    rows = (
        narrowed.materials(workshop)
        .by_name()
        .values_list(
            "name",
            latest("balance_value", moved_on__lt=first),
            latest("balance_value", moved_on__lte=last),
            latest("balance", moved_on__lte=last),
        )
    )
    opening = closing = ZERO
    below = []
    for name, before, after, balance in rows:
        opening += before or ZERO
        closing += after or ZERO
        if balance is not None and balance < 0:
            below.append(name)
    return Shelf(opening, closing, tuple(below))


def budget_steps(workshop: Workshop) -> list[BudgetStep]:
    """Return every budget of the workshop, the earliest first."""
    rows = Budget.objects.of(workshop).in_order()
    return [
        BudgetStep(row.category, month_of(row.starts_on), row.amount, row.carries_over)
        for row in rows
    ]


def receipt_days(workshop: Workshop, today: datetime.date) -> dict[str, Any]:
    """Return the first and last day of recorded receipts, and how many are still to come."""
    return (
        Purchase.objects.of(workshop)
        .recorded()
        .aggregate(
            first=models.Min("bought_on"),
            last=models.Max("bought_on"),
            to_come=models.Count("pk", filter=models.Q(bought_on__gt=today)),
        )
    )


def first_month(workshop: Workshop) -> datetime.date | None:
    """Return the month of the first movement or expense (two queries)."""
    # the first of each material is found without reading the rest of its ledger
    entries = StockEntry.objects.filter(material=models.OuterRef("pk")).order_by("moved_on")
    materials = Material.objects.of(workshop).order_by()
    firsts = materials.annotate(first_on=models.Subquery(entries.values("moved_on")[:1]))
    moved = firsts.aggregate(first=models.Min("first_on"))["first"]
    paid = Expense.objects.of(workshop).counted().aggregate(first=models.Min("paid_on"))["first"]
    days = [day for day in (moved, paid) if day is not None]
    return month_of(min(days)) if days else None


def first_month_with_anything(workshop: Workshop) -> datetime.date | None:
    """Return the first month with an entry or a budget (three queries)."""
    budgets = Budget.objects.filter(workshop=workshop, amount__isnull=False)
    months = (first_month(workshop), budgets.aggregate(first=models.Min("starts_on"))["first"])
    return min((month for month in months if month is not None), default=None)


def whole_from(workshop: Workshop) -> datetime.date | None:
    """Return the first month that is whole in the books; None before there are any (one query).

    Books begin with the first receipt; what came before is not known.
    """
    recorded = Purchase.objects.of(workshop).recorded()
    first = recorded.aggregate(first=models.Min("bought_on"))["first"]
    if first is None or first.day == 1:
        return first
    return months_later(month_of(first), 1)


def receipts_of(
    workshop: Workshop, month: datetime.date, narrowed: Narrowed
) -> Sequence[tuple[Purchase, Decimal, int]]:
    """Return the receipts of a month with what counts of each, the first first."""
    sums = {
        key: (from_millionths(millionths), count)
        for key, millionths, count in narrowed.lines(workshop)
        .filter(purchase__bought_on__gte=month, purchase__bought_on__lte=last_day(month))
        .values_list("purchase")
        .annotate(sum=models.Sum(Millionths("landed")), count=models.Count("pk"))
        .order_by()
    }
    purchases = (
        Purchase.objects.of(workshop)
        .filter(pk__in=sums)
        .select_related("supplier")
        .order_by("bought_on", "pk")
    )
    return [(purchase, *sums[purchase.pk]) for purchase in purchases]
