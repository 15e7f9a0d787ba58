"""Closed months written out."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from maker.calc.money import format_money, minor_digits, to_minor
from maker.web.words import amount_text
from maker.workshop.models import Workshop
from pricing.calc.spending.closing import Compared
from pricing.closed_months.services import LateRow, MonthRow

FIGURES = {
    "opening": "In stock at the start",
    "bought": "Spent on supplies",
    "put_in": "Opening stock added",
    "used": "Used",
    "lost": "Scrapped or missing",
    "given": "Taken out",
    "sold": "Sold as supplies",
    "returned": "Returned to suppliers",
    "revalued": "Revalued",
    "late": "Corrections of closed months",
    "closing": "In stock at the end",
    "expenses": "Expenses",
    "late_expenses": "Corrections of expenses",
}
ALWAYS = ("opening", "bought", "used", "closing")
SHOWN = ("bought", "used", "closing")


@dataclass(frozen=True, slots=True)
class FigureText:
    """A figure as first closed, as known now, and the difference."""

    label: str
    first: str
    now: str
    more: str

    @property
    def differs(self) -> bool:
        """Say whether the two read differently; on a phone one of two alike is enough."""
        return self.first != self.now


@dataclass(frozen=True, slots=True)
class MonthText:
    """A month of the list."""

    row: MonthRow
    figures: tuple[FigureText, ...]


@dataclass(frozen=True, slots=True)
class LateText:
    """Something entered later, and where it leads."""

    row: LateRow
    what: str
    amount: str


def figure_texts(
    figures: Iterable[Compared], workshop: Workshop, names: Sequence[str] = ()
) -> tuple[FigureText, ...]:
    """Write figures: those named, or all that are something."""
    digits = minor_digits(workshop.currency)

    def money(amount: Decimal) -> str:
        return format_money(amount, workshop.currency, workshop.locale)

    texts = []
    for one in figures:
        if names and one.key not in names:
            continue
        if not names and one.key not in ALWAYS and not one.first and not one.now:
            continue
        shown = to_minor(one.more, digits)
        sign = "+" if shown > 0 else "−" if shown < 0 else ""
        more = f"{sign}{money(abs(shown))}" if shown else "–"
        texts.append(FigureText(FIGURES[one.key], money(one.first), money(one.now), more))
    return tuple(texts)


def month_texts(rows: Iterable[MonthRow], workshop: Workshop) -> list[MonthText]:
    """Write the months of a list, the last first."""
    return [MonthText(row, figure_texts(row.figures, workshop, SHOWN)) for row in reversed([*rows])]


def late_texts(rows: Iterable[LateRow], workshop: Workshop) -> list[LateText]:
    """Write what was entered later."""
    return [_late_text(row, workshop) for row in rows]


def _late_text(row: LateRow, workshop: Workshop) -> LateText:
    if row.entry is not None:
        entry = row.entry
        what = f"{entry.material.name}, {entry.get_kind_display()}"
        return LateText(row, what, amount_text(entry.change, entry.material.unit, workshop))
    if row.expense is None:
        raise ValueError("A late row has an entry or an expense.")
    cost = format_money(row.expense.cost, workshop.currency, workshop.locale)
    return LateText(row, f"{row.expense.what}{', deleted' if row.deleted else ''}", cost)
