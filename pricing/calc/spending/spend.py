"""Money that went into supplies: by month and year, against a budget, and where it is now.

Three figures that are never mixed: spent (what receipts cost), used (what went into things made)
and what is on the shelf. They meet in one line, opening + spent - used - lost = on the shelf,
whose difference is nothing or has a name.
"""

import datetime
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from decimal import Decimal
from operator import add, attrgetter

from maker.calc.money import to_minor, with_working_precision
from maker.calc.refusal import Refusal

ZERO = Decimal(0)
MONTHS_AT_MOST = 120


class BadSpan(Refusal):
    """The months asked for run backwards or are too many."""


def month_of(day: datetime.date) -> datetime.date:
    """Return the first day of its month, which stands for the month."""
    return day.replace(day=1)


def months_later(month: datetime.date, count: int) -> datetime.date:
    """Return the month so many months later (or earlier, below zero)."""
    number = month.year * 12 + month.month - 1 + count
    return datetime.date(number // 12, number % 12 + 1, 1)


def last_day(month: datetime.date) -> datetime.date:
    """Return the last day of a month."""
    return months_later(month, 1) - datetime.timedelta(days=1)


def months_between(first: datetime.date, last: datetime.date) -> int:
    """Return how many months there are from one to the other, both counted."""
    return (last.year - first.year) * 12 + last.month - first.month + 1


def months_from(first: datetime.date, last: datetime.date) -> Iterator[datetime.date]:
    """Yield every month from one to the other, both included."""
    for count in range(months_between(first, last)):
        yield months_later(first, count)


@dataclass(frozen=True, slots=True)
class Period:
    """A month, or the months of a quarter or calendar year that are looked at."""

    first: datetime.date
    last: datetime.date

    @property
    def months(self) -> tuple[datetime.date, ...]:
        """Its months."""
        return tuple(months_from(self.first, self.last))


def periods(first: datetime.date, last: datetime.date, *, each: int = 1) -> tuple[Period, ...]:
    """Cut a span of months into months, or into parts of a calendar year of so many months.

    Refuses a span that ends before it begins, and one of more than ten years.
    """
    count = months_between(first, last)
    if count < 1:
        raise BadSpan("The last month is before the first.", where="last")
    if count > MONTHS_AT_MOST:
        raise BadSpan(f"No more than {MONTHS_AT_MOST // 12} years fit on one page.", where="first")
    found = []
    start = first.replace(month=(first.month - 1) // each * each + 1)
    while start <= last:
        end = months_later(start, each - 1)
        found.append(Period(max(first, start), min(last, end)))
        start = months_later(start, each)
    return tuple(found)


@dataclass(frozen=True, slots=True)
class BudgetStep:
    """What a category may cost a month, from a month on; None: no budget any more.

    `carries`: what a month leaves goes on to the next.
    """

    category: str
    month: datetime.date
    amount: Decimal | None
    carries: bool = False


def budgets_in(steps: Iterable[BudgetStep], month: datetime.date) -> dict[str, Decimal]:
    """Return category -> the budget that holds in a month; categories without one are left out."""
    found: dict[str, Decimal | None] = {}
    for step in sorted(steps, key=lambda one: one.month):
        if step.month <= month:
            found[step.category] = step.amount
    return {category: amount for category, amount in found.items() if amount is not None}


def carried_in(steps: Iterable[BudgetStep], month: datetime.date) -> set[str]:
    """Return the categories whose budget of a month is carried on."""
    found: dict[str, bool] = {}
    for step in sorted(steps, key=lambda one: one.month):
        if step.month <= month:
            found[step.category] = step.carries and step.amount is not None
    return {category for category, carries in found.items() if carries}


def budget_over(
    steps: Sequence[BudgetStep], months: Iterable[datetime.date], categories: Iterable[str]
) -> Decimal | None:
    """Add up the budgets of some categories over months; None when none had one."""
    own = _of_categories(steps, categories)
    if not own:
        return None
    amounts = [amount for month in months for amount in budgets_in(own, month).values()]
    return sum(amounts, ZERO) if amounts else None


def _of_categories(steps: Iterable[BudgetStep], categories: Iterable[str]) -> list[BudgetStep]:
    wanted = set(categories)
    return [step for step in steps if step.category in wanted]


@dataclass(frozen=True, slots=True)
class Moves:
    """What the stock ledger says of some days, valued as the workshop values its stock.

    What left the shelf stands above zero. `put_in` are goods that were there before the books;
    `found` is what counts found more than the ledger had; `revalued` what goods on the shelf (or
    used before they were bought) turned out to have cost more, below zero less.
    """

    bought: Decimal = ZERO
    put_in: Decimal = ZERO
    used: Decimal = ZERO
    lost: Decimal = ZERO
    given: Decimal = ZERO
    sold: Decimal = ZERO
    returned: Decimal = ZERO
    revalued: Decimal = ZERO

    @with_working_precision
    def __add__(self, other: "Moves") -> "Moves":
        return Moves(*map(add, _AMOUNTS(self), _AMOUNTS(other)))

    @property
    def change(self) -> Decimal:
        """How much more the shelf is worth after them."""
        gone = self.used + self.lost + self.given + self.sold + self.returned
        return self.bought + self.put_in + self.revalued - gone


_AMOUNTS = attrgetter(*(one.name for one in fields(Moves)))
# which kinds of movement go into which figure; goods that come in are looked at apart
LEFT_AS = {
    "used": "used",
    "scrap": "lost",
    "counted": "lost",
    "own_use": "given",
    "gift": "given",
    "sample": "given",
    "sold": "sold",
    "returned": "returned",
}


@with_working_precision
def moves_from(rows: Iterable[tuple[str, Decimal, Decimal | None]]) -> Moves:
    """Sort movements into figures: (kind, change of the shelf's value, what came in at cost).

    What a receipt brought counts at its cost; when the shelf rose by more or less than that, the
    rest is a revaluation. A count that found more stands against what counts found missing.
    """
    sums = dict.fromkeys((one.name for one in fields(Moves)), ZERO)
    for kind, change, cost_in in rows:
        if cost_in is not None:
            sums["bought" if kind == "bought" else "put_in"] += cost_in
            sums["revalued"] += change - cost_in
        elif kind in LEFT_AS:
            sums[LEFT_AS[kind]] -= change
        else:
            sums["put_in"] += change
    return Moves(**sums)


@dataclass(frozen=True, slots=True)
class Reckoned:
    """One line of the reconciliation: added (above zero) or taken off (below zero)."""

    key: str
    amount: Decimal


@dataclass(frozen=True, slots=True)
class Reconciliation:
    """Where the money is: every line, what they come to, what is on the shelf, what is left.

    `rounding` is what the lines lose or gain by being shown in whole cents; `unexplained` is what
    is left when it is taken off: nothing, or something is wrong with the books.
    """

    lines: tuple[Reckoned, ...]
    closing: Decimal
    rounding: Decimal
    unexplained: Decimal


@with_working_precision
def reconcile(
    *, opening: Decimal, spent: Decimal, moves: Moves, closing: Decimal, digits: int
) -> Reconciliation:
    """Set what was there and came in against what left and what is there.

    `spent` comes from the receipts, `moves` from the ledger, `opening` and `closing` from the
    value kept with each material: three ways, so the difference says whether they agree.
    """
    lines = (
        Reckoned("opening", opening),
        Reckoned("spent", spent),
        Reckoned("put_in", moves.put_in),
        Reckoned("used", -moves.used),
        Reckoned("lost", -moves.lost),
        Reckoned("given", -moves.given),
        Reckoned("sold", -moves.sold),
        Reckoned("returned", -moves.returned),
        Reckoned("revalued", moves.revalued),
    )
    exact = sum((line.amount for line in lines), ZERO)
    shown = tuple(Reckoned(line.key, to_minor(line.amount, digits)) for line in lines)
    unexplained = to_minor(closing - exact, digits)
    closing_shown = to_minor(closing, digits)
    written = sum((line.amount for line in shown), ZERO)
    return Reconciliation(
        lines=shown,
        closing=closing_shown,
        rounding=closing_shown - written - unexplained,
        unexplained=unexplained,
    )


@dataclass(frozen=True, slots=True)
class Spending:
    """Amounts by month, and there by (category, group), as read from receipts."""

    by_month: Mapping[datetime.date, Mapping[tuple[str, str], Decimal]]

    @with_working_precision
    def total(
        self,
        months: Iterable[datetime.date],
        *,
        category: str | None = None,
        group: str | None = None,
        groups: Iterable[str] | None = None,
    ) -> Decimal:
        """Add up what was spent in some months, of all, one category, one or some groups."""
        some = None if groups is None else set(groups)
        return sum(
            (
                amount
                for month in months
                for (of_category, of_group), amount in self.by_month.get(month, {}).items()
                if category in (None, of_category)
                and group in (None, of_group)
                and (some is None or of_group in some)
            ),
            ZERO,
        )

    @with_working_precision
    def by_group(self, months: Iterable[datetime.date]) -> dict[str, Decimal]:
        """Return group -> what was spent, the most first, ties in the order of their keys."""
        sums: dict[str, Decimal] = {}
        for month in months:
            for (_, group), amount in self.by_month.get(month, {}).items():
                sums[group] = sums.get(group, ZERO) + amount
        return dict(sorted(sums.items(), key=lambda item: (-item[1], item[0])))


@with_working_precision
def over_budget(
    spending: Spending,
    steps: Sequence[BudgetStep],
    months: Iterable[datetime.date],
    categories: Iterable[str],
) -> Decimal | None:
    """Return what was spent over the budgets of some months, below zero what was left of them.

    Only months and categories that had a budget count; None when none had one.
    """
    own = _of_categories(steps, categories)
    if not own:
        return None
    found = [
        spending.total([month], category=category) - amount
        for month in months
        for category, amount in budgets_in(own, month).items()
    ]
    return sum(found, ZERO) if found else None


@with_working_precision
def series_of(
    spending: Spending, spans: Sequence[Period], *, at_most: int
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the groups that are drawn each by itself, the most first, and those put together."""
    months = [month for span in spans for month in span.months]
    ranked = [group for group, amount in spending.by_group(months).items() if amount]
    if len(ranked) <= at_most:
        return tuple(ranked), ()
    return tuple(ranked[: at_most - 1]), tuple(ranked[at_most - 1 :])
