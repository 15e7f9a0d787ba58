"""The report written out: the chart, its key and tables, and the lines of the reconciliation."""

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from html import escape
from urllib.parse import urlencode

from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe

from catalogue.closed_months.services import Closings
from catalogue.expenses.models import Expense
from catalogue.materials.models import Material
from maker.calc.money import format_money, minor_digits, to_minor
from maker.calc.units import format_percent
from maker.documents.charts import Bar, bar_chart
from maker.web.cost_bar import BarPart, CostBar, cost_bar
from maker.web.words import NOTHING
from maker.workshop.models import Workshop
from pricing.calc.spending.spend import (
    Moves,
    Period,
    Reconciliation,
    last_day,
    months_from,
    months_later,
)
from pricing.spending.expenses import OtherSpending
from pricing.spending.owners import FairSpend, OrderSpend
from pricing.spending.services import GroupRow, MonthSpend, PeriodRow, SpendReport

ZERO = Decimal(0)
MONTHS_LETTERED = 36  # more initials than that run into each other
REST = "All others"
SAYS_ITSELF = ("Over or under",)  # needs no heading beside it on a phone

LINES = {
    "opening": ("Opening stock", "at cost"),
    "spent": ("Spent", "receipts in stock, postage and discount shared in"),
    "put_in": ("Opening stock added", "stock from before you started, at its cost"),
    "used": ("Used", "in what you made"),
    "lost": ("Scrapped or missing", "including what stock counts found missing"),
    "given": ("Taken out", "personal use, gifts, samples"),
    "sold": ("Sold as supplies", "at cost"),
    "returned": ("Returned to suppliers", "at cost"),
    "revalued": (
        "Revalued",
        "stock used before its receipt was entered",
    ),
}


@dataclass(frozen=True, slots=True)
class Text:
    """Writes amounts of one workshop."""

    workshop: Workshop

    def money(self, amount: Decimal) -> str:
        """Write an amount."""
        return format_money(amount, self.workshop.currency, self.workshop.locale)

    def signed(self, amount: Decimal) -> str:
        """Write an amount with its sign; nothing has none."""
        shown = to_minor(amount, minor_digits(self.workshop.currency))
        sign = "" if not shown else "+" if shown > 0 else "−"
        return sign + self.money(abs(amount))

    def against(self, over: Decimal | None) -> str:
        """Say how an amount stands to its budget."""
        if over is None:
            return NOTHING
        shown = to_minor(over, minor_digits(self.workshop.currency))
        if not shown:
            return "on budget"
        return f"{self.money(abs(over))} {'over' if shown > 0 else 'under'}"


def period_name(period: Period) -> str:
    """Write a month, `Mar 2026`, or a year with the months it covers if not all."""
    if period.first == period.last:
        return f"{period.first:%b %Y}"
    if period.first.month == 1 and period.last.month == 12:
        return f"{period.first:%Y}"
    if period.first.month % 3 == 1 and period.last == months_later(period.first, 2):
        return f"Q{period.first.month // 3 + 1} {period.first:%Y}"
    return f"{period.first:%b}–{period.last:%b %Y}"


def span_name(periods: Sequence[Period]) -> str:
    """Write the first and last of some months or years."""
    first, last = period_name(periods[0]), period_name(periods[-1])
    return first if first == last else f"{first} to {last}"


@dataclass(frozen=True, slots=True)
class Swatch:
    """One group in the key: its pattern and name."""

    pattern: int
    name: str
    href: str


@dataclass(frozen=True, slots=True)
class SpendCell:
    """One figure with the words under it."""

    text: str
    note: str = ""
    is_over: bool = False

    def written(self, heading: str, place: str) -> str:
        """Return the cell of a table: a page has hundreds, so no template writes each."""
        figure = f"<strong>{escape(self.text)}</strong>" if self.is_over else escape(self.text)
        note = f'<br><span class="badge alarm">{escape(self.note)}</span>' if self.note else ""
        blank = " data-blank" if self.text == NOTHING else ""
        opening = f'<td class="number {place}" data-label="{escape(heading)}"{blank}>'
        return f"{opening}{figure}{note}</td>"


@dataclass(frozen=True, slots=True)
class SpendRow:
    """A row of a table: what it is about, where that leads, and its figures."""

    name: str
    href: str
    cells: tuple[SpendCell, ...]
    is_closed: bool = False

    def written(self, headings: Sequence[str]) -> str:
        """Return the row of a table."""
        name = escape(self.name)
        link = f'<a href="{escape(self.href)}">{name}</a>' if self.href else name
        closed = ' <span class="badge good">closed</span>' if self.is_closed else ""
        cells = cells_written(self.cells, headings)
        return f'<tr><th scope="row">{link}{closed}</th>\n{cells}</tr>'


def cells_written(cells: Sequence[SpendCell], headings: Sequence[str]) -> str:
    """Return cells side by side; on a phone the first stands beside the name, the rest below it."""
    places = ["beside"] + ["under" if one in SAYS_ITSELF else "under told" for one in headings[1:]]
    columns = zip(cells, headings, places, strict=True)
    return "\n".join(cell.written(heading, place) for cell, heading, place in columns)


@dataclass(frozen=True, slots=True)
class TableText:
    """A table with its headings and totals."""

    headings: tuple[str, ...]
    rows: tuple[SpendRow, ...]
    totals: tuple[SpendCell, ...]

    @property
    def body(self) -> SafeString:
        """Return its rows as a page shows them."""
        rows = "\n".join(row.written(self.headings) for row in self.rows)
        return mark_safe(rows)  # noqa: S308  # every part is escaped

    @property
    def foot(self) -> SafeString:
        """Return its totals as a page shows them, without the words under them."""
        totals = [replace(cell, note="") for cell in self.totals]
        return mark_safe(cells_written(totals, self.headings))  # noqa: S308  # escaped


def spend_chart(
    report: SpendReport, names: Mapping[str, str], text: Text, hrefs: Sequence[str]
) -> SafeString:
    """Draw a bar for each period, parts told apart by pattern; empty when nothing was spent.

    A tap on a bar leads where its row leads: to the receipts of a month.
    """
    if not any(row.spent or row.before for row in report.rows):
        return mark_safe("")
    labels = [*(names[key] for key in report.series), *([REST] if report.rest else [])]
    bars = []
    lettered = len(report.rows) <= MONTHS_LETTERED
    for number, (row, href) in enumerate(zip(report.rows, hrefs, strict=True)):
        first = row.period.first
        is_month = first == row.period.last
        starts = is_month and (number == 0 or first.month == 1)
        bars.append(
            Bar(
                name=period_name(row.period),
                initial=(f"{first:%b}"[0] if lettered else "") if is_month else _initial(row),
                under=f"{first:%Y}" if starts and not (number == 0 and first.month > 10) else "",
                parts=[
                    (float(amount), f"{label}, {text.money(amount)}")
                    for label, amount in zip(labels, row.parts, strict=True)
                ],
                mark=None
                if row.budget is None
                else (float(row.budget), f"budget, {text.money(row.budget)}"),
                before=(float(row.before), f"a year before, {text.money(row.before)}"),
                href=href,
            )
        )
    most = max(report.rows, key=lambda row: row.spent)
    spent = f"Total {text.money(report.spent)}"
    digits = minor_digits(text.workshop.currency)

    def tick(value: float) -> str:
        amount = Decimal(str(value))
        whole = amount == amount.to_integral_value()
        written = text.money(amount)
        return written.replace(f".{'0' * digits}", "") if whole and digits else written

    drawn = bar_chart(
        bars,
        title=f"Spent, {span_name([row.period for row in report.rows])}",
        description=(
            f"{spent}, most in {period_name(most.period)} with {text.money(most.spent)}. "
            "A dashed outline is the year before, a line across is the budget. "
            "The table has the same figures."
        ),
        tick_text=tick,
        patterns=render_to_string("components/_patterns.html", {"id": "spend"}),
        name="spend",
    )
    # bar_chart escapes every word it is given
    return mark_safe(drawn)  # noqa: S308


def _initial(row: PeriodRow) -> str:
    """Write a year, or a quarter with its year in short."""
    name = period_name(row.period)
    return (
        name.replace(f" {row.period.first:%Y}", f"/{row.period.first:%y}")
        if name[0] == "Q"
        else name[-4:]
    )


def chart_key(
    report: SpendReport, names: Mapping[str, str], hrefs: Mapping[str, str]
) -> list[Swatch]:
    """Return what each pattern stands for."""
    key = [
        Swatch(number, names[group], hrefs.get(group, ""))
        for number, group in enumerate(report.series, 1)
    ]
    return [*key, Swatch(len(key) + 1, REST, "")] if report.rest else key


def month_href(base: str, period: Period, query: str) -> str:
    """Return where a period leads: a month to its receipts, a year to its months."""
    kept = f"?{query}" if query else ""
    if period.first == period.last:
        return f"{base}{period.first.year}/{period.first.month}/{kept}"
    span = urlencode({"first": f"{period.first:%Y-%m}", "last": f"{period.last:%Y-%m}"})
    return f"{base}?{span}{'&' if query else ''}{query}"


def against_before(spent: Decimal, before: Decimal, text: Text) -> list[SpendCell]:
    """Write what it cost a year before, and how much more or less that is; dashes for nothing."""
    if not before:
        return [SpendCell(NOTHING), SpendCell(NOTHING)]
    return [SpendCell(text.money(before)), SpendCell(text.signed(spent - before))]


def parts_table(
    report: SpendReport, names: Mapping[str, str], text: Text, hrefs: Sequence[str]
) -> TableText:
    """Write what each period cost by group: the figures of the chart."""
    rows = []
    for row, href in zip(report.rows, hrefs, strict=True):
        cells = []
        for amount, over in zip(row.parts, row.parts_over, strict=True):
            is_over = over is not None and over > 0
            note = text.against(over) if is_over else ""
            cells.append(SpendCell(text.money(amount) if amount else NOTHING, note, is_over))
        rows.append(
            SpendRow(period_name(row.period), href, (SpendCell(text.money(row.spent)), *cells))
        )
    totals = [
        SpendCell(text.money(sum((row.parts[place] for row in report.rows), ZERO)))
        for place in range(len(report.rows[0].parts))
    ]
    # the total first: a phone shows it beside the month
    headings = [
        "Total",
        *(names[key] for key in report.series),
        *([REST] if report.rest else []),
    ]
    return TableText(tuple(headings), tuple(rows), (SpendCell(text.money(report.spent)), *totals))


def periods_table(report: SpendReport, text: Text, hrefs: Sequence[str]) -> TableText:
    """Write what each period cost, against budget and the year before, and the shelf."""
    has_budget = report.budget is not None
    moves = report.moves
    headings = ["Spent"]
    headings += ["Budget", "Over or under"] if has_budget else []
    headings += ["A year before", "vs last year"]
    headings += (
        ["Used", "Scrapped or missing", "Other removals", "In stock"] if moves is not None else []
    )

    def cells(
        row: PeriodRow | SpendReport, of_row: Moves | None, closing: Decimal | None
    ) -> tuple[SpendCell, ...]:
        found = [SpendCell(text.money(row.spent))]
        if has_budget:
            is_over = row.over is not None and row.over > 0
            found.append(SpendCell(NOTHING if row.budget is None else text.money(row.budget)))
            found.append(SpendCell(text.against(row.over), is_over=is_over))
        found += against_before(row.spent, row.before, text)
        if of_row is not None and closing is not None:
            out = of_row.given + of_row.sold + of_row.returned
            found += [SpendCell(text.money(of_row.used)), SpendCell(text.money(of_row.lost))]
            found += [SpendCell(text.money(out)), SpendCell(text.money(closing))]
        return tuple(found)

    return TableText(
        tuple(headings),
        tuple(
            SpendRow(period_name(row.period), href, cells(row, row.moves, row.closing))
            for row, href in zip(report.rows, hrefs, strict=True)
        ),
        cells(report, moves, report.rows[-1].closing),
    )


def mark_closed(table: TableText, report: SpendReport, closings: Closings) -> TableText:
    """Mark the rows of a table of periods that are closed to their last month."""
    rows = tuple(
        replace(written, is_closed=closings.of(row.period.last) is not None)
        for written, row in zip(table.rows, report.rows, strict=True)
    )
    return replace(table, rows=rows)


def groups_table(
    report: SpendReport,
    groups: Sequence[GroupRow],
    names: Mapping[str, str],
    text: Text,
    hrefs: Mapping[str, str],
) -> TableText:
    """Write what some categories, suppliers or materials cost over the whole span."""
    has_budget = any(row.budget is not None for row in report.groups)
    rows = []
    for row in groups:
        share = (
            format_percent(row.spent / report.spent, text.workshop.locale, 0)
            if report.spent
            else NOTHING
        )
        cells = [SpendCell(text.money(row.spent)), SpendCell(share)]
        if has_budget:
            is_over = row.over is not None and row.over > 0
            cells.append(SpendCell(NOTHING if row.budget is None else text.money(row.budget)))
            cells.append(SpendCell(text.against(row.over), is_over=is_over))
        cells += against_before(row.spent, row.before, text)
        rows.append(SpendRow(names[row.key], hrefs.get(row.key, ""), tuple(cells)))
    budget = ["Budget", "Over or under"] if has_budget else []
    headings = ("Spent", "Share", *budget, "A year before", "vs last year")
    return TableText(headings, tuple(rows), ())


@dataclass(frozen=True, slots=True)
class ReckonedText:
    """A line of the reconciliation as written."""

    label: str
    how: str
    value_text: str


def reckoned_lines(reckoned: Reconciliation, text: Text) -> list[ReckonedText]:
    """Write the lines that say something; those four that every reader looks for always do."""
    always = ("opening", "spent", "used", "lost")
    lines = [
        ReckonedText(*LINES[line.key], text.signed(line.amount))
        for line in reckoned.lines
        if line.amount or line.key in always
    ]
    if reckoned.rounding:
        how = "lines are shown in whole units"
        lines.append(ReckonedText("Rounding", how, text.signed(reckoned.rounding)))
    return lines


@dataclass(frozen=True, slots=True)
class MonthText:
    """A month in short, for the first page: what was spent, its budget, what went over."""

    month: datetime.date
    spent: str
    budget: str
    against: str
    is_over: bool
    categories_over: tuple[tuple[str, str], ...]
    bar: CostBar | None


def month_text(found: MonthSpend, workshop: Workshop) -> MonthText | None:
    """Write a month in short; None when nothing was spent and nothing planned."""
    if not found.spent and found.budget is None:
        return None
    text = Text(workshop)
    return MonthText(
        month=found.month,
        spent=text.money(found.spent),
        budget="" if found.budget is None else text.money(found.budget),
        against=text.against(found.over),
        is_over=found.over is not None and found.over > 0,
        categories_over=tuple(
            (str(Material.Category(category).label), text.against(over))
            for category, over in found.categories_over
        ),
        bar=cost_bar(
            [
                BarPart(str(Material.Category(category).label), amount, text.money(amount))
                for category, amount in found.by_category
            ],
            total_text="",
        )
        if found.by_category
        else None,
    )


def everything_table(
    report: SpendReport, other: OtherSpending, text: Text, hrefs: Sequence[str]
) -> TableText:
    """Write what went into supplies, what into anything else, and both together."""
    rows: list[SpendRow] = []
    months: list[datetime.date] = []
    for row, href in zip(report.rows, hrefs, strict=True):
        months += row.period.months
        expenses = other.total(row.period.months)
        amounts = (row.spent, expenses, row.spent + expenses)
        cells = tuple(SpendCell(text.money(amount)) for amount in amounts)
        rows.append(SpendRow(period_name(row.period), href, cells))
    expenses = other.total(months)
    totals = (report.spent, expenses, report.spent + expenses)
    return TableText(
        ("Supplies", "Expenses", "Together"),
        tuple(rows),
        tuple(SpendCell(text.money(amount)) for amount in totals),
    )


def orders_table(rows: Sequence[OrderSpend], text: Text) -> TableText:
    """Write what orders cost; each leads to its order."""
    slug = text.workshop.slug
    return _both_table(
        ("Materials used", "Expenses", "Together"),
        [
            (
                f"{row.order.number}, {row.order.quote.customer.name}",
                reverse("pricing:order", args=[slug, row.order.pk]),
                (row.materials, row.expenses, row.together),
            )
            for row in rows
        ],
        text,
    )


def fairs_table(rows: Sequence[FairSpend], text: Text) -> TableText:
    """Write what fairs cost; each leads to its fair."""
    slug = text.workshop.slug
    return _both_table(
        ("Expenses", "Other costs noted", "Together"),
        [
            (
                row.fair.name,
                reverse("pricing:fair", args=[slug, row.fair.pk]),
                (row.expenses, row.noted, row.together),
            )
            for row in rows
        ],
        text,
    )


def _both_table(
    headings: tuple[str, ...],
    rows: Sequence[tuple[str, str, tuple[Decimal, ...]]],
    text: Text,
) -> TableText:
    written = tuple(
        SpendRow(name, href, tuple(SpendCell(text.money(amount)) for amount in amounts))
        for name, href, amounts in rows
    )
    sums = (sum(column, ZERO) for column in zip(*(row[2] for row in rows), strict=True))
    return TableText(headings, written, tuple(SpendCell(text.money(amount)) for amount in sums))


def expense_categories_table(
    other: OtherSpending, first: datetime.date, last: datetime.date, text: Text
) -> TableText:
    """Write what each category of expenses came to in some months; each leads to its expenses."""
    months = list(months_from(first, last))
    span = urlencode({"first": first.isoformat(), "last": last_day(last).isoformat()})
    href = f"{reverse('catalogue:expense_list', args=[text.workshop.slug])}?{span}"
    rows = [
        SpendRow(
            str(Expense.Category(category).label),
            f"{href}&category={category}",
            (SpendCell(text.money(other.total(months, category))),),
        )
        for category in other.categories(months)
    ]
    total = SpendCell(text.money(other.total(months)))
    return TableText(("Cost",), tuple(rows), (total,) if rows else ())
