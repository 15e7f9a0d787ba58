"""Receipts, ledger and budgets -> the sums the report speaks of, each in one query."""

import datetime
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
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
WITH moved AS (
    SELECT entry.id, entry.moved_on, material.category, entry.kind, entry.cost_in,
           entry.takes_back_id,
           {entry_value} - COALESCE(
               LAG({entry_value}) OVER (
                   PARTITION BY material.id ORDER BY entry.moved_on, entry.id),
               (SELECT {earlier_value} FROM catalogue_stockentry earlier
                WHERE earlier.material_id = material.id AND earlier.moved_on < %(first)s
                ORDER BY earlier.moved_on DESC, earlier.id DESC LIMIT 1),
               0) AS value
    FROM catalogue_material material CROSS JOIN catalogue_stockentry entry
    WHERE material.workshop_id = %(workshop)s
      AND (%(category)s = '' OR material.category = %(category)s)
      AND (%(material)s = 0 OR material.id = %(material)s) {only}
      AND entry.material_id = material.id
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
    "earlier_value": "earlier.balance_value",
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
    workshop: Workshop,
    first: datetime.date,
    last: datetime.date,
    narrowed: Narrowed,
    only: Iterable[int] = (),
) -> list[Moved]:
    """Add up the movements from one day to another, both included, from the ledger.

    `only`: of these materials alone.
    """
    millionths = _MILLIONTHS[connection.vendor]
    amounts = {name: millionths.format(column) for name, column in _AMOUNTS.items()}
    keys = ", ".join(str(int(key)) for key in only)
    some = f"AND material.id IN ({keys})" if keys else ""
    with connection.cursor() as cursor:
        cursor.execute(
            _LEDGER.format(month=_MONTH[connection.vendor], only=some, **amounts),
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
    """Add up the values kept with the last movement before a day, and until another.

    Two queries.
    """

    def latest(column: str, **until: datetime.date) -> models.Subquery:
        entries = StockEntry.objects.filter(material=models.OuterRef("pk"), **until)
        return models.Subquery(entries.order_by("-moved_on", "-pk").values(column)[:1])

    materials = narrowed.materials(workshop).order_by()
    sums = materials.annotate(
        before=latest("balance_value", moved_on__lt=first),
        after=latest("balance_value", moved_on__lte=last),
    ).aggregate(opening=models.Sum(Millionths("before")), closing=models.Sum(Millionths("after")))
    below = materials.annotate(left=latest("balance", moved_on__lte=last)).filter(left__lt=0)
    return Shelf(
        from_millionths(sums["opening"]),
        from_millionths(sums["closing"]),
        tuple(below.by_name().values_list("name", flat=True)),
    )


def group_names(workshop: Workshop, by: str) -> dict[str, str]:
    """Return what categories, suppliers or materials are called, by key (one query at most)."""
    if by == "category":
        return {category.value: str(category.label) for category in Material.Category}
    rows = workshop.suppliers if by == "supplier" else workshop.materials
    return {str(key): name for key, name in rows.values_list("pk", "name")}


def budget_steps(workshop: Workshop) -> list[BudgetStep]:
    """Return every budget of the workshop, the earliest first."""
    rows = Budget.objects.of(workshop).in_order()
    return [
        BudgetStep(row.category, month_of(row.starts_on), row.amount, row.carries_over)
        for row in rows
    ]


class Books:
    """What several figures of a page need to know of a workshop, each asked once."""

    def __init__(self, workshop: Workshop) -> None:
        self.workshop = workshop

    @cached_property
    def steps(self) -> list[BudgetStep]:
        """Its budgets (one query)."""
        return budget_steps(self.workshop)

    @cached_property
    def days(self) -> tuple[datetime.date | None, datetime.date | None]:
        """The first and last day of recorded receipts (one query)."""
        recorded = Purchase.objects.of(self.workshop).recorded()
        found = recorded.aggregate(first=models.Min("bought_on"), last=models.Max("bought_on"))
        return found["first"], found["last"]

    @property
    def whole_from(self) -> datetime.date | None:
        """The first month that is whole in the books; None before there are any.

        Books begin with the first receipt; what came before is not known.
        """
        first, _ = self.days
        if first is None or first.day == 1:
            return first
        return months_later(month_of(first), 1)

    def to_come(self, today: datetime.date) -> int:
        """Count the recorded receipts that are dated after today (no query where there is none)."""
        _, last = self.days
        if last is None or last <= today:
            return 0
        recorded = Purchase.objects.of(self.workshop).recorded()
        return recorded.filter(bought_on__gt=today).count()

    def first_month_with_anything(self) -> datetime.date | None:
        """Return the first month with an entry or a budget (two queries)."""
        budgets = [step.month for step in self.steps if step.amount is not None]
        months = (first_month(self.workshop), min(budgets, default=None))
        return min((month for month in months if month is not None), default=None)


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


def receipts_of(
    workshop: Workshop, month: datetime.date, narrowed: Narrowed
) -> models.QuerySet[Purchase]:
    """Return the receipts of a month, with `lines_counted` and `millionths` of what counts."""
    of_receipt = (
        narrowed.lines(workshop)
        .filter(purchase=models.OuterRef("pk"))
        .order_by()
        .values("purchase")
    )
    count, total = models.Count("pk"), models.Sum(Millionths("landed"))
    return (
        Purchase.objects.of(workshop)
        .recorded()
        .between(month, last_day(month))
        .filter(models.Exists(of_receipt))
        .annotate(
            lines_counted=models.Subquery(of_receipt.annotate(n=count).values("n")),
            millionths=models.Subquery(of_receipt.annotate(n=total).values("n")),
        )
        .select_related("supplier")
    )
