"""The month that runs, in words: budgets, what orders still need, the forecast, the price index."""

import datetime
from dataclasses import dataclass
from decimal import Decimal

from catalogue.materials.models import Material
from maker.calc.units import format_percent
from maker.web.words import NOTHING
from maker.workshop.models import Workshop
from pricing.calc.spending.price_index import Change
from pricing.spending.drawing import SpendCell, SpendRow, TableText, Text
from pricing.spending.expenses import shown_apart
from pricing.spending.this_month import ThisMonth

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class ThisMonthText:
    """The month that runs as written."""

    name: str
    spent: str
    committed: str
    forecast: str
    table: TableText | None


def this_month_text(found: ThisMonth, text: Text) -> ThisMonthText:
    """Write the month that runs."""
    committed = sum(found.committed.values(), ZERO)
    forecast = ""
    if found.forecast is not None:
        ahead = found.forecast
        forecast = f"Likely {text.money(ahead.likely)} by the end of {found.month:%B}"
        low, high = text.money(ahead.low), text.money(ahead.high)
        forecast += "." if low == high else f"; 8 times of 10 between {low} and {high}."
    return ThisMonthText(
        name=f"{found.month:%B %Y}",
        spent=text.money(found.spent),
        committed=text.money(committed) if committed else "",
        forecast=forecast,
        table=_budgets(found, text),
    )


def _budgets(found: ThisMonth, text: Text) -> TableText | None:
    if not found.standings:
        return None
    rows = []
    has_carry = any(one.carries for one in found.standings)
    for one in found.standings:
        committed = found.committed.get(one.category, ZERO)
        left = one.left - committed
        # a phone shows the first beside the name
        cells = [
            SpendCell(text.signed(left).removeprefix("+"), is_over=left < 0),
            SpendCell(text.money(one.budget)),
        ]
        if has_carry:
            carried = text.signed(one.carried_in) if one.carried_in else "0"
            cells.append(SpendCell(carried if one.carries else NOTHING))
        cells += [
            SpendCell(text.money(one.spent)),
            SpendCell(text.money(committed) if committed else NOTHING),
        ]
        rows.append(SpendRow(str(Material.Category(one.category).label), "", tuple(cells)))
    carry = ("Carried over",) if has_carry else ()
    headings = ("Left", "Budget", *carry, "Spent", "Needed for orders")
    return TableText(headings, tuple(rows), ())


def price_change_text(change: Change | None, text: Text) -> tuple[str, str]:
    """Say what supplies cost beside a year ago, and how that is known; empty where it is not."""
    if change is None:
        return "", ""
    locale = text.workshop.locale
    share = format_percent(abs(change.share), locale, 1)
    covered = format_percent(change.covered, locale, 0)
    how = (
        f"From what you bought in both years, {covered} of the last 12 months’ spending. "
        "Fisher index: halfway between last year’s and this year’s amounts."
    )
    if round(abs(change.share), 3) == 0:
        return "Your supplies cost the same as a year ago.", how
    more = "more" if change.share > 0 else "less"
    same_way = [name for name, risen in change.by_group if (risen > 0) == (change.share > 0)]
    mostly = ""
    if same_way:
        mostly = f", mostly {str(Material.Category(same_way[0]).label).lower()}"
    return f"Your supplies cost {share} {more} than a year ago{mostly}.", how


def apart_lines(
    workshop: Workshop, first: datetime.date, last: datetime.date, text: Text
) -> list[tuple[str, str]]:
    """Write what is shown apart from what was spent; what is nothing is left out (two queries)."""
    apart = shown_apart(workshop, first, last)
    amounts = (
        ("Refunded by suppliers", apart.refunds, text.money),
        ("Exchange differences", apart.exchange, text.signed),
    )
    return [(words, write(amount)) for words, amount, write in amounts if amount]
