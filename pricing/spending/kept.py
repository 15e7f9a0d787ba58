"""Sums of months that are over, kept so that ten years open as quickly as one.

Nobody has to forget them when something is written: they know themselves whether they still hold.
The ledger only grows, so how many entries each material has in those months is their version: a
receipt, a use, a count, taking back and dating back each add an entry of that day, and what an
entry is worth follows from entries before it. Besides, a sum changes with the category of a
material, with the way the workshop values its stock, and with the program.
"""

import datetime
import hashlib
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import connection

from maker import VERSION
from maker.exact_sums import from_millionths
from maker.workshop.models import Workshop
from pricing.calc.spending.spend import Spending, month_of, months_later
from pricing.spending.inputs import (
    Moved,
    Narrowed,
    moved_in,
    spent_in,
    to_spending,
)
from pricing.spending.models import KeptSpending

# with fewer entries adding up is as quick as asking whether the sums still hold
WORTH_KEEPING = 1_000
# receipts of last month are entered this month; what is older is seldom touched
MONTHS_OPEN = 2


@dataclass(frozen=True, slots=True)
class KeptSums:
    """What receipts cost and movements did by month and category, in the months before one."""

    until: datetime.date
    spent: Sequence[Sequence[Any]]
    moved: Sequence[Sequence[Any]]


# One text for all materials: thousands of rows would take longer to read than to count. Put
# together in another order it says that the sums don't hold, which costs time and no truth.
_COUNTS = """
SELECT {together}, (SELECT valuation FROM maker_workshop WHERE id = %(workshop)s) FROM (
    SELECT material.id, material.category, (
        SELECT COUNT(*) FROM catalogue_stockentry entry
        WHERE entry.material_id = material.id AND entry.moved_on < %(until)s) AS entries
    FROM catalogue_material material
    WHERE material.workshop_id = %(workshop)s ORDER BY material.id) counted
WHERE entries > 0
"""
_ONE = "id || ' ' || category || ' ' || entries"
_TOGETHER = {
    "sqlite": f"GROUP_CONCAT({_ONE}, ';')",
    "postgresql": f"STRING_AGG({_ONE}, ';' ORDER BY id)",
}


def version_of_months(workshop: Workshop, until: datetime.date) -> str:
    """Return what the sums of the months before one depend on, in short (one query)."""
    with connection.cursor() as cursor:
        cursor.execute(
            _COUNTS.format(together=_TOGETHER[connection.vendor]),
            {"workshop": workshop.pk, "until": until.isoformat()},
        )
        told = " ".join(map(str, (VERSION, until.isoformat(), *cursor.fetchone())))
    return hashlib.sha256(told.encode()).hexdigest()


def keep_sums(*, workshop: Workshop, today: datetime.date) -> bool:
    """Keep the sums of the months that are over; return whether they were not kept already."""
    until = months_later(month_of(today), 1 - MONTHS_OPEN)
    version = version_of_months(workshop, until)
    if KeptSpending.objects.filter(workshop=workshop, until=until, version=version).exists():
        return False
    first, last = datetime.date.min, months_later(until, -1)
    spent = [
        (f"{month:%Y-%m}", category, int(millionths))
        for month, category, _, millionths in spent_in(workshop, first, last)
    ]
    moved = [
        (f"{one.month:%Y-%m}", one.category, one.kind, one.value, one.cost)
        for one in moved_in(workshop, first, last, Narrowed())
    ]
    if version_of_months(workshop, until) != version:
        return False  # something was entered meanwhile; the next time will do
    KeptSpending.objects.update_or_create(
        workshop=workshop,
        defaults={"until": until, "version": version, "spent": spent, "moved": moved},
    )
    return True


def kept_sums(workshop: Workshop, first: datetime.date) -> KeptSums | None:
    """Return the kept sums if they reach a month and still hold (at most two queries)."""
    kept = KeptSpending.objects.filter(workshop=workshop, until__gt=first).first()
    if kept is None or kept.version != version_of_months(workshop, kept.until):
        return None
    return KeptSums(kept.until, kept.spent, kept.moved)


def spending_with(
    kept: KeptSums,
    workshop: Workshop,
    first: datetime.date,
    last: datetime.date,
    narrowed: Narrowed,
) -> Spending:
    """Return what receipts of some months cost by category, from kept sums as far as they go."""
    by_month: dict[datetime.date, dict[tuple[str, str], Decimal]] = defaultdict(dict)
    from_, to = f"{first:%Y-%m}", f"{last:%Y-%m}"
    for month, category, millionths in kept.spent:
        if from_ <= month <= to and narrowed.category in ("", category):
            amount = from_millionths(millionths)
            by_month[_first_day(month)][category, category] = amount
    if last >= kept.until:
        rows = spent_in(workshop, max(first, kept.until), last, narrowed=narrowed)
        by_month.update(to_spending(rows).by_month)  # type: ignore[arg-type]  # months that are new
    return Spending(by_month)


def moved_with(
    kept: KeptSums,
    workshop: Workshop,
    first: datetime.date,
    last: datetime.date,
    narrowed: Narrowed,
) -> list[Moved]:
    """Return what movements of some months did, from kept sums as far as they go."""
    from_, to = f"{first:%Y-%m}", f"{last:%Y-%m}"
    moved = [
        Moved(_first_day(month), category, kind, value, cost)
        for month, category, kind, value, cost in kept.moved
        if from_ <= month <= to and narrowed.category in ("", category)
    ]
    if last >= kept.until:
        moved += moved_in(workshop, max(first, kept.until), last, narrowed)
    return moved


def moved_in_all(workshop: Workshop, first: datetime.date, last: datetime.date) -> list[Moved]:
    """Return what all movements of some months did (three queries at most)."""
    kept = kept_sums(workshop, first)
    if kept is None:
        return moved_in(workshop, first, last, Narrowed())
    return moved_with(kept, workshop, first, last, Narrowed())


def _first_day(month: str) -> datetime.date:
    return datetime.date.fromisoformat(f"{month}-01")
