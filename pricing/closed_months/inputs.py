"""Ledger, receipts and expenses -> what each month came to, as booked and as known now."""

import datetime
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal

from django.db.models import Exists, OuterRef

from catalogue.calc.supplies.booked import Booked, Entry, as_booked
from catalogue.closed_months.models import ClosedMonth
from catalogue.closed_months.services import Closings
from catalogue.expenses.models import Expense
from catalogue.stock.models import StockEntry, StockEntryQuerySet
from maker.exact_sums import MonthOf
from maker.workshop.models import Workshop
from pricing.calc.spending.closing import MonthFigures
from pricing.calc.spending.spend import Moves, last_day, month_of, months_from, moves_from
from pricing.spending.expenses import other_spending
from pricing.spending.inputs import Moved, Narrowed, moved_between, moves_by_month

ZERO = Decimal(0)
Sums = dict[datetime.date, Moves]
Kind = StockEntry.Kind


@dataclass(slots=True)
class _Months:
    """Sums by month while they are gathered."""

    moves: Sums = field(default_factory=dict)
    late: Sums = field(default_factory=dict)
    expenses: dict[datetime.date, Decimal] = field(default_factory=lambda: defaultdict(Decimal))
    late_expenses: dict[datetime.date, Decimal] = field(
        default_factory=lambda: defaultdict(Decimal)
    )

    def figures(
        self, first: datetime.date, last: datetime.date
    ) -> dict[datetime.date, MonthFigures]:
        found, stock = {}, ZERO
        for month in months_from(first, last):
            moves, late = self.moves.get(month, Moves()), self.late.get(month, Moves())
            opening, stock = stock, stock + moves.change + late.change
            found[month] = MonthFigures(
                opening,
                moves,
                late,
                stock,
                self.expenses.get(month, ZERO),
                self.late_expenses.get(month, ZERO),
            )
        return found


def late_entries(workshop: Workshop, closings: Closings) -> StockEntryQuerySet:
    """Return entries whose month was closed when they were entered, as entered."""
    entries = StockEntry.objects.of(workshop).order_by("pk")
    if not closings.rows:
        return entries.none()
    before_it = (
        ClosedMonth.objects.of(workshop)
        .standing()
        .filter(month__gte=MonthOf(OuterRef("moved_on")), closed_at__lt=OuterRef("made_at"))
    )
    return entries.filter(
        Exists(before_it.order_by()),
        made_at__gt=min(row.closed_at for row in closings.rows),
        moved_on__lte=last_day(closings.rows[-1].month),
    )


def as_known(
    workshop: Workshop, first: datetime.date, last: datetime.date, moved: Iterable[Moved]
) -> dict[datetime.date, MonthFigures]:
    """Return what months come to with everything on its own date (one query).

    `first` is the month of the first movement: stock begins with nothing. `moved` is what moved.
    """
    months = _Months(moves=moves_by_month(moved))
    for month, sums in other_spending(workshop, first, last).by_month.items():
        months.expenses[month] += sum(sums.values(), ZERO)
    return months.figures(first, last)


def as_first_booked(
    workshop: Workshop,
    closings: Closings,
    first: datetime.date,
    last: datetime.date,
    moved: Iterable[Moved],
) -> dict[datetime.date, MonthFigures]:
    """Return what months come to with late entries in the month they were entered (four queries).

    Only materials with late entries are replayed; `first` and `moved` as in `as_known`.
    """
    late = sorted({*late_entries(workshop, closings).values_list("material", flat=True)})
    months = _Months(moves=moves_by_month(moved))
    if late:
        known = moved_between(workshop, first, last_day(last), Narrowed(), only=late)
        for month, moves in moves_by_month(known).items():
            months.moves[month] = months.moves.get(month, Moves()) + _negative(moves)
        entries: dict[int, list[StockEntry]] = defaultdict(list)
        for row in StockEntry.objects.filter(material__in=late).order_by("pk"):
            entries[row.material_id].append(row)
        for ledger in entries.values():
            _add_booked(months, workshop, as_booked_ledger(workshop, ledger, closings))
    _add_expenses(months, workshop, closings)
    return months.figures(first, last)


def _negative(moves: Moves) -> Moves:
    return Moves(*(-getattr(moves, name) for name in Moves.__dataclass_fields__))


def as_booked_ledger(
    workshop: Workshop, entries: Iterable[StockEntry], closings: Closings
) -> tuple[Booked, ...]:
    """Return a material's ledger, in the order it was entered, as booked."""
    return as_booked(
        [_entry(row, closings) for row in entries],
        by_lots=workshop.valuation == Workshop.Valuation.FIFO,
    )


def _entry(row: StockEntry, closings: Closings) -> Entry:
    return Entry(
        number=row.pk,
        kind=row.kind,
        dated=row.moved_on,
        booked=closings.booked_on(row.moved_on, row.made_at),
        is_late=closings.is_late(row.moved_on, row.made_at),
        change=row.change,
        cost_in=row.cost_in,
        counted=row.counted,
        change_at_count=row.change_at_count,
        lot=row.purchase_line_id,
        cost_out=row.cost_out,
        undoes=row.takes_back_id,
    )


def _add_booked(months: _Months, workshop: Workshop, ledger: Iterable[Booked]) -> None:
    """Add what a material moved as booked; late entries apart."""
    by_lots = workshop.valuation == Workshop.Valuation.FIFO
    found: dict[tuple[bool, datetime.date], list[tuple[str, Decimal, Decimal | None]]] = {}
    before = ZERO
    for one in ledger:
        after = one.valued.fifo_balance_value if by_lots else one.valued.balance_value
        change, before = after - before, after
        cost = one.cost_in
        if one.kind == Kind.BOUGHT and cost is None:
            cost = change  # a receipt undone late takes off what it brought
        place = one.entry.is_late, month_of(one.entry.booked)
        found.setdefault(place, []).append((one.kind, change, cost))
    for (is_late, month), rows in found.items():
        sums = months.late if is_late else months.moves
        sums[month] = sums.get(month, Moves()) + moves_from(rows)


def _add_expenses(months: _Months, workshop: Workshop, closings: Closings) -> None:
    """Add expenses as booked: late ones, and those deleted late, in the month that happened."""
    for row in Expense.objects.of(workshop).select_related("purchase").order_by("pk"):
        entered = row.added_at
        if row.purchase is not None:
            if row.purchase.recorded_at is None:
                continue
            entered = row.purchase.recorded_at
        is_late = closings.is_late(row.paid_on, entered)
        if row.deleted_at is not None and not closings.is_late(row.paid_on, row.deleted_at):
            continue
        sums = months.late_expenses if is_late else months.expenses
        sums[month_of(closings.booked_on(row.paid_on, entered))] += row.cost
        if row.deleted_at is not None:
            months.late_expenses[month_of(closings.booked_on(row.paid_on, row.deleted_at))] -= (
                row.cost
            )
