"""The lists of an accountant's pack: their columns and rows."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils import timezone

from catalogue.expenses.models import Expense, ExpenseQuerySet
from catalogue.expenses.sheet import expense_columns, expense_rows
from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase
from catalogue.purchases.sheet import receipt_columns, receipt_rows
from catalogue.stock.models import StockEntry
from maker.calc.money import minor_digits
from maker.documents.spreadsheet import Column, ColumnKind
from maker.workshop.models import Workshop
from pricing.calc.finished_stock.would_fetch import MadeValue
from pricing.calc.spending.tax_year import TaxYear, quarters_of
from pricing.closed_months.drawing import FIGURES
from pricing.closed_months.services import together
from pricing.orders.models import Invoice, OrderPayment
from pricing.spending.drawing import LINES
from pricing.tax_year.both_ways import months_of
from pricing.tax_year.inputs import (
    FinishedStock,
    HalfMade,
    books_of,
    by_rate,
    expenses_by_category,
    finished_stock,
    half_made,
    sales_of,
    settlements_of,
    spent_by,
    stock_total,
    tills_of,
)
from pricing.tax_year.papers import Paper, papers_of, places_by_owner
from pricing.tax_year.raw_stock import RawStock, raw_stock

TEXT, NUMBER, WHOLE, DATE = ColumnKind.TEXT, ColumnKind.NUMBER, ColumnKind.WHOLE, ColumnKind.DATE


@dataclass(frozen=True, slots=True)
class YearTable:
    """A list of the pack: the name of its file, what is in it, its columns and rows."""

    name: str
    about: str
    columns: Sequence[Column]
    rows: Callable[[], Iterable[Sequence[Any]]]


def year_tables(workshop: Workshop, year: TaxYear) -> list[YearTable]:
    """Return every list of the pack; rows are read when they are asked for."""
    digits = minor_digits(workshop.currency)

    def money(name: str) -> Column:
        return Column(name, ColumnKind.MONEY, digits)

    receipts = Purchase.objects.of(workshop).recorded().between(year.first, year.last)
    expenses = Expense.objects.of(workshop).counted().between(year.first, year.last)
    papers = papers_of(workshop, year)
    raw = raw_stock(workshop, year.last)
    finished, half = finished_stock(workshop, year.last), half_made(workshop, year.last)
    sales = sales_of(workshop, year)
    return [
        YearTable(
            "receipts",
            "receipts in stock, line by line, with postage, discount and tax",
            (*receipt_columns(workshop), Column("Photos and PDFs", width=48)),
            lambda: _with_papers(receipt_rows(receipts, workshop), papers),
        ),
        YearTable(
            "expenses",
            "what was paid for besides supplies",
            (*expense_columns(workshop), Column("Photos and PDFs", width=48)),
            lambda: _expenses(expenses, papers),
        ),
        YearTable(
            "photos-and-pdfs",
            "each photo and PDF in the folder receipts, with the receipt or expense it belongs to",
            (
                Column("File", width=48),
                Column("Receipt", WHOLE),
                Column("Expense", WHOLE),
                Column("Date", DATE),
                Column("Receipt no.", width=18),
                Column("Paid to", width=24),
                Column("Name when added", width=32),
                Column("Bytes", WHOLE),
                Column("SHA-256", width=66),
            ),
            lambda: (
                (
                    paper.place,
                    paper.row.purchase_id,
                    paper.row.expense_id,
                    paper.on,
                    paper.reference,
                    paper.paid_to,
                    paper.row.name,
                    paper.row.stored.size,
                    paper.row.stored.digest,
                )
                for paper in papers
            ),
        ),
        YearTable(
            "spending",
            "spent by category: supplies and other expenses",
            (Column("Kind"), Column("Category", width=32), money("Spent")),
            lambda: _spending(workshop, year),
        ),
        YearTable(
            "stock-movements",
            "each movement of each material, valued",
            (
                Column("Material", width=32),
                Column("Unit", width=8),
                Column("Date", DATE),
                Column("Movement"),
                Column("Change", NUMBER),
                Column("Unit cost", NUMBER),
                Column("In stock after", NUMBER, width=16),
                Column("Value after", NUMBER, width=16),
                Column("Counts", width=8),
                Column("Reason", width=40),
                Column("Receipt", WHOLE),
                money("Refund"),
            ),
            lambda: _movements(workshop, year),
        ),
        YearTable(
            "stock-value",
            f"materials in stock on {year.last:%-d %b %Y}: cost, what they would fetch, value",
            (
                Column("Material", width=32),
                Column("Unit", width=8),
                Column("Quantity", NUMBER),
                money("Cost"),
                money("Would fetch"),
                Column("Sold above cost", width=16),
                money("Value"),
                money("Written down"),
            ),
            lambda: _raw(workshop, raw),
        ),
        YearTable(
            "finished-stock",
            "finished items and batches under way: materials, what they would fetch, value; "
            "your wage and overhead apart",
            (
                Column("State", width=12),
                Column("Item", width=40),
                Column("Quantity", WHOLE),
                money("Materials"),
                money("Would fetch"),
                money("Value"),
                money("Written down"),
                money("Your wage"),
                money("Overhead"),
            ),
            lambda: _finished(finished, half),
        ),
        YearTable(
            "stock-total",
            "stock at the end as the year’s page shows it: what the two lists before add up to",
            (Column("Part", width=20), money("Value"), money("Written down")),
            lambda: _total(raw, half, finished),
        ),
        YearTable(
            "invoices",
            "invoices and credit notes as issued",
            (
                Column("Date", DATE),
                Column("Number", width=18),
                Column("Kind", width=14),
                Column("Credits", width=18),
                Column("Order", width=18),
                Column("Customer", width=28),
                money("Total"),
                money("To pay"),
                Column("Due", DATE),
            ),
            lambda: _invoices(workshop, year),
        ),
        YearTable(
            "payments",
            "money received for orders and paid back",
            (
                Column("Date", DATE),
                Column("Order", width=18),
                Column("Customer", width=28),
                money("Received"),
                Column("Way", width=16),
                Column("Note", width=32),
            ),
            lambda: _payments(workshop, year),
        ),
        YearTable(
            "sales",
            "invoices by rate, what each day at a fair took, and what shops sold",
            (
                Column("Date", DATE),
                Column("Number", width=24),
                Column("Source", width=18),
                Column("Tax rate %", NUMBER),
                money("Net"),
                money("Tax"),
            ),
            lambda: (
                (sale.on, sale.number, sale.source, _percent(sale.rate), sale.net, sale.tax)
                for sale in sales
            ),
        ),
        YearTable(
            "sales-by-rate",
            "sales and tax by quarter and rate; fairs and shops have none: tax is not split off",
            (
                Column("From", DATE),
                Column("To", DATE),
                Column("Tax rate %", NUMBER),
                money("Net"),
                money("Tax"),
            ),
            lambda: (
                (row.period.first, row.period.last, _percent(row.rate), row.net, row.tax)
                for row in by_rate(sales, [*quarters_of(year), year])
            ),
        ),
        YearTable(
            "shops",
            "what shops sold of yours, with tax; what each keeps of that, and what is yours",
            (
                Column("Date", DATE),
                Column("Shop", width=28),
                Column("Items", WHOLE),
                money("Taken"),
                Column("Its share %", NUMBER),
                money("Shop keeps"),
                money("Yours"),
                Column("Note", width=32),
            ),
            lambda: _shops(workshop, year),
        ),
        YearTable(
            "tills",
            "days at fairs whose till was over or short",
            (
                Column("Date", DATE),
                Column("Fair", width=28),
                money("Over (short below zero)"),
                Column("Reason", width=32),
            ),
            lambda: tills_of(workshop, year),
        ),
        YearTable(
            "as-first-closed",
            "the months of the year as first closed and as known now; empty when none was closed",
            (
                Column("Figure", width=32),
                money("As first closed"),
                money("As known now"),
                money("Difference"),
            ),
            lambda: _both_ways(workshop, year),
        ),
        YearTable(
            "reconciliation",
            "where the money for supplies is, line by line",
            (Column("Line", width=28), Column("About", width=44), money("Amount")),
            lambda: _reconciled(workshop, year),
        ),
    ]


def _with_papers(rows: Iterable[Sequence[Any]], papers: Sequence[Paper]) -> Iterator[Sequence[Any]]:
    """Name the files of a receipt on its first line."""
    files = places_by_owner(papers, "purchase_id")
    for row in rows:
        yield (*row, files.pop(row[0], None))


def _expenses(expenses: ExpenseQuerySet, papers: Sequence[Paper]) -> Iterator[Sequence[Any]]:
    """Name the files of each expense; one on a receipt has its receipt's."""
    files = places_by_owner(papers, "expense_id")
    of_receipts = places_by_owner(papers, "purchase_id")
    keys = expenses.order_by("paid_on", "pk").values_list("pk", "purchase_id")
    for row, (key, receipt) in zip(expense_rows(expenses), keys, strict=True):
        yield (*row, files.get(key) or of_receipts.get(receipt or 0))


def _percent(rate: Any) -> Any:
    return None if rate is None else rate * 100


def _spending(workshop: Workshop, year: TaxYear) -> Iterator[Sequence[Any]]:
    for key, amount in spent_by(workshop, year, "material__category").items():
        yield "supplies", str(Material.Category(key).label), amount
    for key, amount in expenses_by_category(workshop, year).items():
        yield "other", str(Expense.Category(key).label), amount


def _movements(workshop: Workshop, year: TaxYear) -> Iterator[Sequence[Any]]:
    entries = StockEntry.objects.of(workshop).for_ledger().select_related("material")
    entries = entries.filter(moved_on__gte=year.first, moved_on__lte=year.last)
    for entry in entries.order_by("material__name", "material_id", "moved_on", "pk").iterator(2000):
        line = entry.purchase_line
        yield (
            entry.material.name,
            entry.material.unit,
            entry.moved_on,
            entry.get_kind_display(),
            entry.change,
            entry.unit_cost,
            entry.balance,
            entry.balance_value,
            "yes" if entry.counts else "no",  # type: ignore[attr-defined]  # annotated
            entry.reason,
            line.purchase_id if line else None,
            entry.refund,
        )


def _raw(workshop: Workshop, rows: Sequence[RawStock]) -> Iterator[Sequence[Any]]:
    materials = Material.objects.of(workshop).in_bulk()
    for row in rows:
        material, worth = materials[row.material_id], row.worth
        yield (
            *(material.name, material.unit, row.quantity, worth.cost),
            None if material.fetches_each is None else worth.would_fetch,
            "yes" if material.is_sold_above_cost else "no",
            *(worth.value, worth.written_down),
        )


def _finished(
    finished: Iterable[FinishedStock], half: Iterable[HalfMade]
) -> Iterator[Sequence[Any]]:
    for row in finished:
        yield (
            *("finished", row.name, row.quantity, *_made_value(row.made)),
            *(row.worth.wage, row.worth.overhead),
        )
    for begun in half:
        yield "half-made", begun.name, begun.planned, *_made_value(begun.made), None, None


def _made_value(made: MadeValue) -> Sequence[Any]:
    return made.materials, made.would_fetch, made.value, made.written_down


def _total(
    raw: Sequence[RawStock], half: Sequence[HalfMade], finished: Sequence[FinishedStock]
) -> Iterator[Sequence[Any]]:
    parts = (("Materials", (raw, (), ())), ("Half-made", ((), half, ())))
    for name, lines in (*parts, ("Finished", ((), (), finished)), ("Total", (raw, half, finished))):
        total = stock_total(*lines)
        yield name, total.value, total.written_down


def _invoices(workshop: Workshop, year: TaxYear) -> Iterator[Sequence[Any]]:
    issued = Invoice.objects.of(workshop).in_order().select_related("order", "credits")
    for row in issued.filter(issued_on__gte=year.first, issued_on__lte=year.last):
        yield (
            row.issued_on,
            row.number,
            row.get_kind_display(),
            row.credits.number if row.credits else None,
            row.order.number,
            row.document.get("customer", {}).get("name", ""),
            row.total,
            row.to_pay,
            row.due_on,
        )


def _payments(workshop: Workshop, year: TaxYear) -> Iterator[Sequence[Any]]:
    rows = OrderPayment.objects.filter(
        order__quote__customer__workshop=workshop,
        is_undone=False,
        received_on__gte=year.first,
        received_on__lte=year.last,
    )
    for row in rows.select_related("order__quote__customer").order_by("received_on", "pk"):
        customer = row.order.quote.customer.name
        way = row.get_way_display()
        yield row.received_on, row.order.number, customer, row.received, way, row.note


def _shops(workshop: Workshop, year: TaxYear) -> Iterator[Sequence[Any]]:
    for row, worked in settlements_of(workshop, year):
        count = sum(each.count for each in row.items.all())
        share = _percent(row.kept_share)
        yield (
            *(row.settled_on, str(row.shop), count, worked.taken, share, worked.kept),
            *(worked.due, row.note),
        )


def _both_ways(workshop: Workshop, year: TaxYear) -> Iterator[Sequence[Any]]:
    rows = months_of(workshop, year, timezone.localdate())
    for one in together(rows).figures if rows else ():
        yield FIGURES[one.key], one.first, one.now, one.more


def _reconciled(workshop: Workshop, year: TaxYear) -> Iterator[Sequence[Any]]:
    books = books_of(workshop, year)
    for line in books.reconciliation.lines:
        yield (*LINES[line.key], line.amount)
    yield "Rounding", "lines are shown in whole units", books.reconciliation.rounding
    yield "In stock at the end", "at cost", books.reconciliation.closing
    yield "Difference", "0 when it adds up", books.reconciliation.unexplained
