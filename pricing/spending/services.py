"""The report of what was spent, put together; and setting budgets."""

import datetime
from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction

from catalogue.materials.models import Material
from maker.calc.money import minor_digits
from maker.workshop.models import Workshop
from pricing.calc.spending.spend import (
    BudgetStep,
    Moves,
    Period,
    Reconciliation,
    Spending,
    budget_over,
    budgets_in,
    carried_in,
    month_of,
    months_later,
    over_budget,
    reconcile,
    series_of,
)
from pricing.spending.inputs import (
    Books,
    Narrowed,
    budget_steps,
    moved_in,
    moves_by_month,
    shelf_of,
    spending_of,
)
from pricing.spending.kept import kept_sums, moved_with, spending_with
from pricing.spending.models import Budget

ZERO = Decimal(0)
SERIES_AT_MOST = 6
YEAR = 12


@dataclass(frozen=True, slots=True)
class PeriodRow:
    """One month or year: spent, its budget, the same months a year before, and the shelf.

    `moves` and `closing` are None where the shelf was not asked or cannot say: it knows no
    suppliers.
    """

    period: Period
    spent: Decimal
    before: Decimal
    budget: Decimal | None
    over: Decimal | None
    parts: tuple[Decimal, ...]
    parts_over: tuple[Decimal | None, ...]
    moves: Moves | None
    closing: Decimal | None


@dataclass(frozen=True, slots=True)
class GroupRow:
    """One category, supplier or material over the whole span."""

    key: str
    spent: Decimal
    before: Decimal
    budget: Decimal | None
    over: Decimal | None


@dataclass(frozen=True, slots=True)
class SpendReport:
    """Everything the page shows, as numbers; `rest` are groups drawn together as the last one.

    `over` sets against the budgets only what was spent in months and categories that had one.
    """

    rows: tuple[PeriodRow, ...]
    groups: tuple[GroupRow, ...]
    series: tuple[str, ...]
    rest: tuple[str, ...]
    spent: Decimal
    before: Decimal
    budget: Decimal | None
    over: Decimal | None
    moves: Moves | None
    reconciliation: Reconciliation | None
    below_nothing: tuple[str, ...]
    spending: Spending


def spend_report(
    *,
    workshop: Workshop,
    spans: Sequence[Period],
    by: str,
    narrowed: Narrowed,
    books: Books | None = None,
    with_shelf: bool = True,
) -> SpendReport:
    """Read receipts, ledger and budgets of some months and set them side by side.

    Eight queries at most, whatever the number of months and rows; three about a supplier or
    without the shelf.
    """
    books = books or Books(workshop)
    first, last = spans[0].first, spans[-1].last
    year_before = months_later(first, -YEAR)
    # kept sums are of categories, and know neither suppliers nor materials
    is_kept = not (narrowed.supplier_id or narrowed.material_id)
    is_asked = is_kept and (with_shelf or by == "category")
    kept = kept_sums(workshop, year_before) if is_asked else None
    if kept and by == "category":
        spending = spending_with(kept, workshop, year_before, last, narrowed)
    else:
        spending = spending_of(workshop, year_before, last, by=by, narrowed=narrowed)
    # a budget is for a whole category, so it says nothing of one supplier or material
    is_budgeted = not (narrowed.supplier_id or narrowed.material_id)
    steps = books.steps if is_budgeted else []
    series, rest = series_of(spending, spans, at_most=SERIES_AT_MOST)
    before = _YearBefore(spending, books.whole_from)
    months = tuple(month for span in spans for month in span.months)
    moves: dict[datetime.date, Moves] | None = None
    reconciliation = None
    opening: Decimal = ZERO
    below: tuple[str, ...] = ()
    if with_shelf and not narrowed.supplier_id:
        moved = (
            moved_with(kept, workshop, first, last, narrowed)
            if kept
            else moved_in(workshop, first, last, narrowed)
        )
        moves = moves_by_month(moved)
        shelf = shelf_of(workshop, first, last, narrowed)
        opening, below = shelf.opening, shelf.below_nothing
        reconciliation = reconcile(
            opening=shelf.opening,
            spent=spending.total(months),
            moves=sum(moves.values(), Moves()),
            closing=shelf.closing,
            digits=minor_digits(workshop.currency),
        )
    rows = _rows(spans, before, steps, by, narrowed, (series, rest), moves, opening)
    return SpendReport(
        rows=rows,
        groups=_groups(before, steps, months, by),
        series=series,
        rest=rest,
        spent=spending.total(months),
        before=spending.total(before.months(months)),
        budget=budget_over(steps, months, _budgeted(steps, narrowed)),
        over=over_budget(spending, steps, months, _budgeted(steps, narrowed)),
        moves=None if moves is None else sum(moves.values(), Moves()),
        reconciliation=reconciliation,
        below_nothing=below,
        spending=spending,
    )


@dataclass(frozen=True, slots=True)
class _YearBefore:
    """What was spent, and from which month on the books are whole (None: none is)."""

    spending: Spending
    whole_from: datetime.date | None

    def months(self, months: Sequence[datetime.date]) -> tuple[datetime.date, ...]:
        """Return the same months a year before; none where the books do not know them all."""
        before = tuple(months_later(month, -YEAR) for month in months)
        is_whole = self.whole_from is not None and min(before) >= self.whole_from
        return before if is_whole else ()


def _rows(
    spans: Sequence[Period],
    year_before: _YearBefore,
    steps: Sequence[BudgetStep],
    by: str,
    narrowed: Narrowed,
    drawn: tuple[tuple[str, ...], tuple[str, ...]],
    moves: Mapping[datetime.date, Moves] | None,
    opening: Decimal,
) -> tuple[PeriodRow, ...]:
    series, rest = drawn
    spending = year_before.spending
    rows = []
    shelf = opening
    budgeted = _budgeted(steps, narrowed)
    for span in spans:
        parts = [spending.total(span.months, group=group) for group in series]
        over = [
            over_budget(spending, steps, span.months, [group]) if by == "category" else None
            for group in series
        ]
        if rest:
            parts.append(spending.total(span.months, groups=rest))
            over.append(None)
        of_span = None
        if moves is not None:
            of_span = sum((moves.get(month, Moves()) for month in span.months), Moves())
            shelf += of_span.change
        rows.append(
            PeriodRow(
                period=span,
                spent=spending.total(span.months),
                before=spending.total(year_before.months(span.months)),
                budget=budget_over(steps, span.months, budgeted),
                over=over_budget(spending, steps, span.months, budgeted),
                parts=tuple(parts),
                parts_over=tuple(over),
                moves=of_span,
                closing=None if moves is None else shelf,
            )
        )
    return tuple(rows)


def _groups(
    year_before: _YearBefore, steps: Sequence[BudgetStep], months: Sequence[datetime.date], by: str
) -> tuple[GroupRow, ...]:
    spending = year_before.spending
    before = spending.by_group(year_before.months(months))
    spent = spending.by_group(months)
    return tuple(
        GroupRow(
            key=key,
            spent=spent.get(key, ZERO),
            before=before.get(key, ZERO),
            budget=budget_over(steps, months, [key]) if by == "category" else None,
            over=over_budget(spending, steps, months, [key]) if by == "category" else None,
        )
        for key in [*spent, *(key for key in before if key not in spent)]
    )


def _budgeted(steps: Sequence[BudgetStep], narrowed: Narrowed) -> set[str]:
    """Return the categories whose budgets are looked at."""
    named = {step.category for step in steps}
    return named & {narrowed.category} if narrowed.category else named


@dataclass(frozen=True, slots=True)
class MonthSpend:
    """What a month cost so far against its budget; the categories that went over."""

    month: datetime.date
    spent: Decimal
    budget: Decimal | None
    over: Decimal | None
    categories_over: tuple[tuple[str, Decimal], ...]
    by_category: tuple[tuple[str, Decimal], ...] = ()


def month_spend(*, workshop: Workshop, month: datetime.date) -> MonthSpend:
    """Return one month in short (two queries)."""
    month = month_of(month)
    spending = spending_of(workshop, month, month)
    budgets = budgets_in(budget_steps(workshop), month)
    spent = spending.total([month])
    budget = sum(budgets.values(), ZERO) if budgets else None
    over = {
        category: spending.total([month], category=category) - amount
        for category, amount in budgets.items()
    }
    return MonthSpend(
        month=month,
        spent=spent,
        budget=budget,
        over=sum(over.values(), ZERO) if over else None,
        categories_over=tuple(
            (category, amount) for category, amount in over.items() if amount > 0
        ),
        by_category=tuple(
            (category, amount)
            for category in Material.Category.values
            if (amount := spending.total([month], category=category)) > 0
        ),
    )


@transaction.atomic
def set_budgets(
    *,
    workshop: Workshop,
    month: datetime.date,
    amounts: Mapping[str, Decimal | None],
    carried: Container[str] = (),
) -> list[str]:
    """Let amounts hold from a month on; None ends a budget. Return the categories that changed.

    Those in `carried` have what a month leaves in the next. What holds already is not written
    again, and budgets of later months stay as they are.
    """
    month = month_of(month)
    Workshop.objects.select_for_update(no_key=True).get(pk=workshop.pk)
    steps = budget_steps(workshop)
    holds, carrying = budgets_in(steps, month), carried_in(steps, month)
    changed = [
        category
        for category, amount in amounts.items()
        if holds.get(category) != amount
        or (amount is not None and (category in carrying) != (category in carried))
    ]
    for category in changed:
        Budget.objects.update_or_create(
            workshop=workshop,
            category=category,
            starts_on=month,
            defaults={"amount": amounts[category], "carries_over": category in carried},
        )
    return changed
