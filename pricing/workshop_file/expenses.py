"""Expenses and closed months of a workshop file.

Receipts that expenses are on, and expenses they repeat, are told by key.
"""

from decimal import Decimal
from typing import Any

from catalogue.closed_months.models import ClosedMonth
from catalogue.expenses.models import Expense
from catalogue.purchases.models import Purchase, PurchaseLine
from maker.calc.explanation import plain_text
from maker.calc.strict_json import Fields, decimal
from maker.workshop.models import Workshop
from pricing.workshop_file import schema
from pricing.workshop_file.writing import Registry, create, read_columns

Values = dict[str, Any]
ZERO = Decimal(0)


def expense_values(workshop: Workshop) -> tuple[list[Values], dict[int, str], dict[int, str]]:
    """Return the expenses, their keys, and the keys of the receipts they are on (one query)."""
    rows = list(Expense.objects.of(workshop).select_related("supplier").order_by("pk"))
    keys = {row.pk: f"expense {place}" for place, row in enumerate(rows, 1)}
    receipts: dict[int, str] = {}
    for row in rows:
        if row.purchase_id:
            receipts.setdefault(row.purchase_id, f"receipt {len(receipts) + 1}")
    values = [
        {
            "key": keys[row.pk],
            "supplier": row.supplier.name if row.supplier else None,
            "receipt": receipts[row.purchase_id] if row.purchase_id else None,
            "repeat_of": keys[row.repeat_of_id] if row.repeat_of_id else None,
        }
        | schema.EXPENSE.written(row)
        for row in rows
    ]
    return values, keys, receipts


def write_expenses(
    workshop: Workshop,
    rows: list[Fields],
    suppliers: Registry,
    receipts: Registry,
    lines: Registry,
) -> Registry:
    """Store expenses as written, if they add up with the receipts they are on."""
    expenses = Registry("expense before this one")
    on: dict[int, list[Expense]] = {}
    for row in rows:
        expense = Expense(
            workshop=workshop,
            supplier=suppliers.optional(row, "supplier"),
            purchase=receipts.optional(row, "receipt"),
            repeat_of=expenses.optional(row, "repeat_of"),
            **read_columns(schema.EXPENSE, row, "key"),
        )
        _verify(expense, row)
        if expense.purchase is not None:
            on.setdefault(id(expense.purchase), []).append(expense)
        expenses.add(row.optional_text("key"), expense, row, "key")
    # found at once: a file may hold thousands of receipts
    lines_on: dict[int, list[PurchaseLine]] = {}
    for line in lines.rows.values():
        lines_on.setdefault(id(line.purchase), []).append(line)
    for key, receipt in receipts.rows.items():
        of_it = lines_on.get(id(receipt), [])
        _verify_receipt(key, receipt, of_it, on.get(id(receipt), []), rows)
    create(Expense, expenses.rows.values(), also=("repeat_of",))
    return expenses


def _verify(expense: Expense, row: Fields) -> None:
    cost = expense.net + (ZERO if expense.tax_is_recoverable else expense.tax_paid)
    is_open = expense.purchase is not None and expense.purchase.recorded_at is None
    if expense.cost != cost and not is_open:
        raise row.refuse(
            f"Net and tax come to {plain_text(cost)}, not {plain_text(expense.cost)}.", "cost"
        )
    if (expense.purchase is None) != (expense.amount is None):
        raise row.refuse("An expense on a receipt, and only that, has an amount.", "amount")
    if expense.repeat_of is not None and expense.repeats:
        raise row.refuse("What repeats another expense repeats nothing itself.", "repeats")


def _verify_receipt(
    key: str,
    receipt: Purchase,
    lines: list[PurchaseLine],
    expenses: list[Expense],
    rows: list[Fields],
) -> None:
    """Refuse a receipt in stock whose lines and expenses do not share what it shares."""
    if receipt.recorded_at is None or not rows:
        return
    shared = sum((one.postage_share - one.discount_share for one in lines), ZERO)
    shared += sum((one.net - (one.amount or ZERO) for one in expenses), ZERO)
    tax = sum((one.tax_share for one in lines), ZERO)
    tax += sum((one.tax_paid for one in expenses), ZERO)
    if (shared, tax) != (receipt.postage - receipt.discount, receipt.tax):
        raise rows[0].refuse(
            f"Lines and expenses of {key} do not add up to its postage, discount and tax.",
            "receipt",
        )


def closed_month_values(workshop: Workshop) -> list[Values]:
    """Return each closing of a month, reopened ones too (one query)."""
    return [
        schema.CLOSED_MONTH.written(row) | {"figures": dict(sorted(row.figures.items()))}
        for row in ClosedMonth.objects.of(workshop)
    ]


def write_closed_months(workshop: Workshop, rows: list[Fields]) -> None:
    """Store closings as written."""
    made, held = [], set()
    for row in rows:
        figures = row.take("figures", Fields)
        for name in figures.values:
            figures.take(name, decimal(None, places=6))
        month = ClosedMonth(
            workshop=workshop,
            figures=dict(figures.values),
            **read_columns(schema.CLOSED_MONTH, row, "figures"),
        )
        if month.month.day != 1:
            raise row.refuse("A month is said by its first day.", "month")
        if month.reopened_at is None:
            if month.month in held:
                raise row.refuse("This month is closed twice.", "month")
            held.add(month.month)
        made.append(month)
    create(ClosedMonth, made)
