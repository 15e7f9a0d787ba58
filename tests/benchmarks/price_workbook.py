"""Writes workbooks from columns of formulas: the frame of the two that prices are laid beside.

A column is a value, or a formula in which `[name]` is the cell of a column in the same row,
`[name-1]` and `[name+1]` those in the rows above and below, `[first:last]` a run of columns in the
row and `{name}` an input or a table.
"""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from openpyxl import Workbook
from openpyxl.utils import get_column_letter

from pricing.calc.costing.rates import ChannelRates, WorkshopRates

INPUTS_SHEET = 2  # behind the sheet with the rows
_FIRST_ROW = 2
_CELL = re.compile(r"\[(\w+)(?::(\w+)|([+-]1))?\]")
_INPUT = re.compile(r"\{(\w+)\}")
TIER_COLUMNS = (
    "bought_at_once",
    "margin",
    "fee_share",
    "fixed_fee",
    "payments_per_sale",
    "price_step",
    "deposit_share",
    "deposit_step",
)


class Inputs:
    """The sheet of inputs: single numbers in rows of two cells, and tables."""

    def __init__(self) -> None:
        self._rows: list[list[object]] = []
        self._places: dict[str, str] = {}

    def add(self, name: str, value: object) -> None:
        """Add a number, a text or a day."""
        self._rows.append([name, plain(value)])
        self._places[name] = f"$B${len(self._rows)}"

    def add_table(self, name: str, rows: Iterable[Sequence[object]]) -> None:
        """Add a table; its rows start with what is looked up."""
        start = len(self._rows) + 1
        for row in rows:
            self._rows.append([plain(each) for each in row])
        last = get_column_letter(len(self._rows[-1]))
        self._places[name] = f"$A${start}:${last}${len(self._rows)}"

    def cell(self, name: str) -> str:
        """Return where an input stands, as in B7."""
        return self._places[name].replace("$", "")

    def cell_in(self, key: str) -> str:
        """Return where the second cell of a table's row stands."""
        place = next(place for place, row in enumerate(self._rows, 1) if row[0] == key)
        return f"B{place}"

    def said(self, formula: str) -> str:
        """Return a formula with the places of its inputs."""
        return _INPUT.sub(lambda found: f"Inputs!{self._places[found[1]]}", formula)

    def write_to(self, workbook: Workbook) -> None:
        """Add the sheet."""
        sheet = workbook.create_sheet("Inputs")
        for row in self._rows:
            sheet.append(row)


def plain(value: object) -> object:
    """Return a value as a cell holds it; a spreadsheet has no exact decimals."""
    return float(value) if isinstance(value, Decimal) else value


def add_rates(inputs: Inputs, rates: WorkshopRates, channel: ChannelRates) -> None:
    """Add what prices rest on. Only what the workbooks' formulas cover is let through."""
    assert rates.prices_include_tax
    assert not rates.tax_per_line
    assert rates.currency_digits == 2
    extras = (channel.rush_share, channel.listing_fee, channel.commission_share)
    assert not any(extras), "the workbooks know no rush, listing fee or commission"
    # one payment, or a deposit and the rest
    assert all((tier.payments_per_sale == 2) == (tier.deposit_share > 0) for tier in channel.tiers)
    inputs.add("wage", rates.wage_per_hour)
    inputs.add("overhead", rates.overhead_per_hour)
    inputs.add("tax", rates.tax_rate)
    tiers = sorted(channel.tiers, key=lambda tier: tier.bought_at_once)
    inputs.add_table("tiers", [[getattr(tier, name) for name in TIER_COLUMNS] for tier in tiers])


def tier_columns() -> dict[str, str]:
    """Return the formulas that look up what holds for the quantity of a row."""
    return {
        name: f"=VLOOKUP([quantity],{{tiers}},{place},TRUE)"
        for place, name in enumerate(TIER_COLUMNS[1:], 2)
    }


def left_columns(price: str) -> dict[str, str]:
    """Return the formulas of what is left of a price: tax, deposit, fees, profit, margin."""
    fee = "ROUND({paid}*[fee_share]+[fixed_fee],2)"
    first, rest = fee.format(paid="[deposit]"), fee.format(paid="([total]-[deposit])")
    return {
        "total": f"={price}*[quantity]",
        "tax": "=ROUND([total]*{tax}/(1+{tax}),2)",
        "net": "=[total]-[tax]",
        "deposit": "=IF([deposit_share]>0,"
        "MIN(CEILING([total]*[deposit_share],[deposit_step]),[total]),0)",
        "fees": f"=IF([deposit]>0,{first},0)+{rest}",
        "profit": "=[net]-[fees]-[cost]",
        "margin_left": "=[profit]/[net]",
    }


def workbook_of(
    title: str,
    inputs: Inputs,
    columns: Sequence[str],
    rows: Iterable[Mapping[str, Any]],
) -> Workbook:
    """Write rows of values and formulas, and the inputs behind them."""
    workbook = Workbook(write_only=True)
    sheet = workbook.create_sheet(title)
    sheet.append(list(columns))
    letters = {name: get_column_letter(place) for place, name in enumerate(columns, 1)}
    fill = _filler(letters, inputs)
    for number, row in enumerate(rows, _FIRST_ROW):
        sheet.append([fill(row.get(name), number) for name in columns])
    inputs.write_to(workbook)
    return workbook


def _filler(letters: Mapping[str, str], inputs: Inputs) -> Callable[[object, int], object]:
    templates: dict[str, str] = {}

    def place(found: re.Match[str]) -> str:
        last = f":{letters[found[2]]}@0" if found[2] else ""
        return f"{letters[found[1]]}@{found[3] or '0'}{last}"

    def fill(value: object, row: int) -> object:
        if not isinstance(value, str) or not value.startswith("="):
            return plain(value)
        if value not in templates:
            templates[value] = _CELL.sub(place, inputs.said(value))
        text = templates[value]
        for offset in (0, 1, -1):
            text = text.replace(f"@{offset:+d}" if offset else "@0", str(row + offset))
        return text

    return fill
