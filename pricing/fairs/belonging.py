"""Expenses of one fair, for the entry of expenses: each is a cost of the fair."""

from collections.abc import Sequence

from django.urls import reverse

from catalogue.expenses.belonging import BelongsTo
from catalogue.expenses.models import Expense
from maker.calc.dates import short_date
from maker.workshop.models import Workshop
from pricing.fairs.models import Fair, FairCost

MOST_OFFERED = 100
KINDS = {
    Expense.Category.STALL: FairCost.Kind.STALL,
    Expense.Category.TRAVEL: FairCost.Kind.TRAVEL,
}


def _pk(key: str) -> int:
    number = key.removeprefix("fair:")
    return int(number) if number.isascii() and number.isdigit() and len(number) < 19 else 0


class FairOwners:
    """Fairs: the newest first."""

    kind = "fair"
    label = "Fairs"
    purpose = Expense.Purpose.FAIR

    def choices(self, workshop: Workshop, current: str) -> Sequence[tuple[str, str]]:
        """Return the newest fairs and the current one (two queries)."""
        rows = Fair.objects.of(workshop).with_dates()
        found = [*rows.newest_first()[:MOST_OFFERED], *rows.filter(pk=_pk(current))]
        unique = {row.pk: row for row in found}
        return [(f"fair:{row.pk}", _name(row)) for row in unique.values()]

    def of(self, expense: Expense) -> BelongsTo | None:
        """Return the fair of an expense (one query)."""
        row = FairCost.objects.filter(expense=expense).select_related("fair").first()
        if row is None:
            return None
        address = reverse("pricing:fair", args=[expense.workshop.slug, row.fair_id])
        return BelongsTo(f"fair:{row.fair_id}", row.fair.name, address)

    def give(self, workshop: Workshop, expense: Expense, key: str) -> None:
        """Let an expense be a cost of a fair, or of none; where it is one already it stays so."""
        fair = Fair.objects.of(workshop).filter(pk=_pk(key)).first() if key else None
        FairCost.objects.filter(expense=expense).exclude(fair=fair).delete()
        if fair is not None:
            kind = KINDS.get(Expense.Category(expense.category), FairCost.Kind.OTHER)
            defaults = {"fair": fair, "kind": kind, "what": expense.what}
            FairCost.objects.get_or_create(expense=expense, defaults=defaults)

    def move(self, old: Expense, new: Expense) -> None:
        """Let the cost of one row be that of the one that replaces it."""
        FairCost.objects.filter(expense=old).update(expense=new)


def _name(row: Fair) -> str:
    first = row.first_on  # type: ignore[attr-defined]  # annotated
    return f"{row.name}, {short_date(first)}" if first else row.name
