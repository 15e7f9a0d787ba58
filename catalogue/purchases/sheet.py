"""Columns of the receipts as a spreadsheet, a row for each line; the same columns are read back."""

from collections.abc import Iterator
from typing import Any

from catalogue.expenses.models import Expense
from catalogue.materials.sheet import counted_in
from catalogue.purchases.models import PurchaseLine, PurchaseQuerySet
from maker.calc.amounts import told_amount, told_unit_cost
from maker.calc.money import minor_digits
from maker.documents.spreadsheet import Column, ColumnKind
from maker.workshop.models import Workshop

# heading -> what is read from it: fields of the receipt's form, and of its lines'
HEAD_FIELDS = {
    "Receipt": "receipt",
    "Date": "bought_on",
    "Supplier": "supplier",
    "Receipt no.": "reference",
    "State": "state",
    "Postage": "postage",
    "Discount": "discount",
    "Tax": "tax",
    "Notes": "notes",
}
LINE_FIELDS = {
    "Material": "what",
    "Kind": "expense",
    "Pack": "pack",
    "Packs": "packs",
    "Quantity": "bought",
    "Counted in": "unit",
    "Paid": "amount",
    "Lot": "lot",
}


def receipt_columns(workshop: Workshop) -> tuple[Column, ...]:
    """Return the columns, money with the decimals of the workshop's currency."""
    digits = minor_digits(workshop.currency)

    def money(name: str) -> Column:
        return Column(name, ColumnKind.MONEY, digits)

    return (
        Column("Receipt", ColumnKind.WHOLE),
        Column("Date", ColumnKind.DATE),
        Column("Supplier"),
        Column("Receipt no.", width=18),
        Column("State", width=14),
        Column("Material", width=32),
        Column("Kind", width=18),
        Column("Pack"),
        Column("Packs", ColumnKind.NUMBER),
        Column("Quantity", ColumnKind.NUMBER),
        Column("Counted in", width=11),
        money("Paid"),
        Column("Lot", width=14),
        money("Postage"),
        money("Discount"),
        money("Tax"),
        Column("Notes", width=40),
        money("Cost"),
        Column("Unit cost", ColumnKind.NUMBER),
    )


def receipt_rows(purchases: PurchaseQuerySet, workshop: Workshop) -> Iterator[tuple[Any, ...]]:
    """Yield the rows, the oldest receipt first: amounts of a whole receipt only on its first line.

    So sums over a column are right. Three queries, whatever the number of rows.
    """
    found = purchases.order_by("bought_on", "pk")
    lines = (
        PurchaseLine.objects.filter(purchase__in=purchases.order_by().values("pk"))
        .select_related("material", "pack")
        .order_by("purchase__bought_on", "purchase_id", "position", "pk")
        .iterator(chunk_size=2000)
    )
    expenses: dict[int, list[Expense]] = {}
    for one in Expense.objects.filter(purchase__in=purchases.order_by().values("pk")).order_by(
        "position", "pk"
    ):
        expenses.setdefault(one.purchase_id or 0, []).append(one)
    line = next(lines, None)
    for purchase in found.select_related("supplier").iterator(chunk_size=2000):
        head = (
            purchase.pk,
            purchase.bought_on,
            purchase.supplier.name,
            purchase.reference,
            purchase.get_state_display(),
        )
        foot: tuple[Any, ...] = (
            purchase.postage or None,
            purchase.discount or None,
            purchase.tax or None,
            purchase.notes,
        )
        others = expenses.get(purchase.pk, [])
        if (line is None or line.purchase_id != purchase.pk) and not others:
            yield (*head, *(None,) * 8, *foot, None, None)
        while line is not None and line.purchase_id == purchase.pk:
            # what a line costs is known once its goods are in stock
            cost: tuple[Any, ...] = (None, None)
            if line.unit_cost is not None:
                each = told_unit_cost(line.unit_cost, line.material.unit, workshop.unit)
                cost = (line.landed, each)
            yield (*head, *_bought(line, workshop), *foot, *cost)
            foot, line = (None,) * 4, next(lines, None)
        for one in others:
            cost = (one.cost, None) if purchase.recorded_at else (None, None)
            yield (*head, *_spent(one), *foot, *cost)
            foot = (None,) * 4


def _bought(line: PurchaseLine, workshop: Workshop) -> tuple[Any, ...]:
    return (
        line.material.name,
        None,
        line.pack.name if line.pack else None,
        line.packs_bought if line.pack else None,
        told_amount(line.quantity, line.material.unit, workshop.unit),
        counted_in(line.material.unit, workshop),
        line.amount,
        line.lot,
    )


def _spent(one: Expense) -> tuple[Any, ...]:
    return (one.what, one.get_category_display(), None, None, None, None, one.amount, None)
