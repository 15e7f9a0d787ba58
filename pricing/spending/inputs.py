"""Receipts, ledger and budgets -> the sums the report speaks of, each in one query.

Amounts are added up in the database as whole millionths: SQLite would add decimals as floats,
and a line that must come to 0.00 forgives none.
"""

import datetime
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import connection, models

from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase, PurchaseLine
from catalogue.stock.models import StockEntry
from maker.workshop.models import Workshop
from pricing.calc.spending.spend import BudgetStep, Moves, Spending, last_day, month_of, moves_from
from pricing.spending.models import Budget

ZERO = Decimal(0)
GROUP_COLUMNS = {
    "category": "material__category",
    "supplier": "purchase__supplier",
    "material": "material",
}


class Millionths(models.Func):
    """A decimal column as a whole number of millionths, exact on every database."""

    template = "CAST(ROUND(%(expressions)s * 1000000) AS BIGINT)"
    output_field = models.BigIntegerField()


def from_millionths(value: int | None) -> Decimal:
    """Return a sum of millionths as the decimal it stands for."""
    return Decimal(int(value or 0)).scaleb(-6)


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

    def materials(self, workshop: Workshop) -> models.QuerySet[Material]:
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
    narrowed = narrowed or Narrowed()
    rows = (
        narrowed.lines(workshop)
        .filter(purchase__bought_on__gte=first, purchase__bought_on__lte=last_day(last))
        .values_list("purchase__bought_on", "material__category", GROUP_COLUMNS[by])
        .annotate(sum=models.Sum(Millionths("landed")))
        .order_by()
    )
    by_month: dict[datetime.date, dict[tuple[str, str], int]] = defaultdict(
        lambda: defaultdict(int)
    )
    for day, category, group, millionths in rows:
        by_month[month_of(day)][category, str(group)] += int(millionths)
    return Spending(
        {
            month: {key: from_millionths(value) for key, value in amounts.items()}
            for month, amounts in by_month.items()
        }
    )


# The value a movement adds to the shelf is the value kept after it less the one kept before it;
# what was taken back, and what takes it back, never happened.
_LEDGER = """
WITH moved AS (
    SELECT entry.moved_on, entry.kind, entry.cost_in,
           CAST(ROUND(entry.balance_value * 1000000) AS BIGINT)
           - LAG(CAST(ROUND(entry.balance_value * 1000000) AS BIGINT), 1, CAST(0 AS BIGINT))
             OVER (PARTITION BY entry.material_id ORDER BY entry.moved_on, entry.id) AS value
    FROM catalogue_stockentry entry
    JOIN catalogue_material material ON material.id = entry.material_id
    LEFT JOIN catalogue_stockentry back ON back.takes_back_id = entry.id
    WHERE material.workshop_id = %s
      AND (%s = '' OR material.category = %s)
      AND (%s = 0 OR material.id = %s)
      AND entry.takes_back_id IS NULL AND back.id IS NULL
      AND entry.moved_on <= %s
)
SELECT moved_on, kind, cost_in IS NULL, SUM(value),
       SUM(CAST(ROUND(cost_in * 1000000) AS BIGINT))
FROM moved WHERE moved_on >= %s
GROUP BY moved_on, kind, cost_in IS NULL
"""


def moves_by_month(
    workshop: Workshop, first: datetime.date, last: datetime.date, narrowed: Narrowed
) -> dict[datetime.date, Moves]:
    """Return month -> what its movements did to the value of the shelf."""
    material = narrowed.material_id or 0
    with connection.cursor() as cursor:
        cursor.execute(
            _LEDGER,
            [
                workshop.pk,
                narrowed.category,
                narrowed.category,
                material,
                material,
                last_day(last).isoformat(),
                first.isoformat(),
            ],
        )
        rows = cursor.fetchall()
    found: dict[datetime.date, list[tuple[str, Decimal, Decimal | None]]] = defaultdict(list)
    for day, kind, has_no_cost, value, cost in rows:
        month = month_of(datetime.date.fromisoformat(str(day)[:10]))
        cost_in = None if has_no_cost else from_millionths(cost)
        found[month].append((kind, from_millionths(value), cost_in))
    return {month: moves_from(of_month) for month, of_month in found.items()}


@dataclass(frozen=True, slots=True)
class Shelf:
    """What is on the shelf before and after some days; how many materials end below nothing."""

    opening: Decimal
    closing: Decimal
    below_nothing: int


def shelf_of(
    workshop: Workshop, first: datetime.date, last: datetime.date, narrowed: Narrowed
) -> Shelf:
    """Add up the values kept with the last movement of each material before and in some months."""

    def latest(column: str, **until: datetime.date) -> models.Subquery:
        entries = StockEntry.objects.filter(material=models.OuterRef("pk"), **until)
        return models.Subquery(entries.order_by("-moved_on", "-pk").values(column)[:1])

    rows = narrowed.materials(workshop).values_list(
        latest("balance_value", moved_on__lt=first),
        latest("balance_value", moved_on__lte=last_day(last)),
        latest("balance", moved_on__lte=last_day(last)),
    )
    opening = closing = ZERO
    below = 0
    for before, after, balance in rows:
        opening += before or ZERO
        closing += after or ZERO
        below += balance is not None and balance < 0
    return Shelf(opening, closing, below)


def budget_steps(workshop: Workshop) -> list[BudgetStep]:
    """Return every budget of the workshop, the earliest first."""
    rows = Budget.objects.of(workshop).in_order()
    return [BudgetStep(row.category, month_of(row.starts_on), row.amount) for row in rows]


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
