"""Receipts out of a file: each row checked by the forms she would type it into."""

import datetime
import uuid
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

from django.utils import timezone

from catalogue.expenses.models import Expense
from catalogue.materials.importing import has_many_decimals, in_counted_unit
from catalogue.materials.models import Material, Pack
from catalogue.purchases.forms import ReceiptForm
from catalogue.purchases.from_file import ImportedReceipt, ready_import
from catalogue.purchases.inputs import landed_receipt
from catalogue.purchases.line_forms import MOST_LINES, ReceiptLineForm
from catalogue.purchases.models import Purchase, PurchaseLine
from catalogue.purchases.offers import Offers
from catalogue.purchases.services import ReceiptExpenseInput, ReceiptInput, ReceiptLineInput
from catalogue.purchases.sheet import HEAD_FIELDS, LINE_FIELDS
from catalogue.stock.counts import counts_in_words
from catalogue.stock.services import check_date
from catalogue.suppliers.models import Supplier
from maker.calc.amounts import read_amount
from maker.calc.refusal import Refusal
from maker.calc.units import parse_number
from maker.imports.kinds import Each, Importing, Store
from maker.web.fields import DATE_FORMATS
from maker.web.file_rows import FileRow, RowGroup, first_filled, group_rows, plain
from maker.web.lists import count_text

FILE_FIELDS = HEAD_FIELDS | LINE_FIELDS
_STATES = {
    "": Purchase.State.RECORDED,
    **{str(state.label).casefold(): state for state in Purchase.State},
    # as files written before these words changed have them
    "not finished": Purchase.State.DRAFT,
    "taken back": Purchase.State.REVERSED,
}
_CATEGORIES = {
    name.casefold(): category.value
    for category in Expense.Category
    for name in (category.value, str(category.label))
}
_STOCK = ("", "material")
# what makes two receipts the same one
Print = tuple[Any, ...]


class _Shop:
    """What rows may name, loaded once for a whole file."""

    def __init__(self, workshop: Any) -> None:
        self.workshop = workshop
        self.today = timezone.localdate()
        self.offers = Offers(workshop)
        self.materials = {row.pk: row for row in Material.objects.of(workshop)}
        self.by_name = {plain(row.name): row for row in self.materials.values()}
        self.packs = {
            row.pk: row for row in Pack.objects.of(workshop).in_use().select_related("material")
        }
        self.packs_of: dict[int, dict[str, Pack]] = {}
        for pack in sorted(self.packs.values(), key=lambda pack: (-pack.position, -pack.pk)):
            self.packs_of.setdefault(pack.material_id, {})[plain(pack.name)] = pack
        suppliers = list(Supplier.objects.of(workshop))
        self.suppliers = [row for row in suppliers if not row.retired_on]
        self.supplier_by_name = {plain(row.name): row for row in suppliers}


def _cell(row: FileRow, field: str) -> str:
    return row.cells.get(field, "").strip()


def read_receipts(
    workshop: Any, rows: Sequence[FileRow], day_formats: tuple[str, ...], each: Each = iter
) -> list[RowGroup]:
    """Return a group for each receipt the rows name; the same few queries, however many."""
    shop = _Shop(workshop)
    grouped = group_rows(rows, _receipt_of)
    groups = [_read_one(own, shop, day_formats) for own in each(list(grouped.values()))]
    days = [group.value.receipt.bought_on for group in groups if group.value]
    here = _prints_here(workshop, min(days), max(days)) if days else Counter()
    for group in groups:
        if group.value is None:
            continue
        printed = _print_of(group.value.receipt)
        if here[printed] > 0:
            here[printed] -= 1
            group.note, group.value = "already here", None
    return groups


def _receipt_of(row: FileRow) -> tuple[str, ...]:
    """Rows with one entry under Receipt are one; without it those of one day, shop and number."""
    number = plain(_cell(row, "receipt"))
    if number:
        return (number,)
    return ("", *(plain(_cell(row, name)) for name in ("bought_on", "supplier", "reference")))


def _read_one(rows: Sequence[FileRow], shop: _Shop, day_formats: tuple[str, ...]) -> RowGroup:
    group = RowGroup(rows)
    state_row = first_filled(rows, "state")
    state = _STATES.get(plain(_cell(state_row, "state")))
    if state is None:
        words = ", ".join(str(one.label) for one in Purchase.State)
        group.add_error(state_row, "state", f"A receipt is one of: {words}.")
    elif state == Purchase.State.REVERSED:
        group.note = "undone: skipped"
        return group
    form = _read_head(group, shop, day_formats)
    typed_lines = [line for row in rows if (line := _read_line(group, row, shop)) is not None]
    lines = [line for line in typed_lines if isinstance(line, ReceiptLineInput)]
    expenses = [line for line in typed_lines if isinstance(line, ReceiptExpenseInput)]
    if group.errors:
        return group
    if len(typed_lines) > MOST_LINES:
        group.add_error(rows[MOST_LINES], "what", f"A receipt has at most {MOST_LINES} lines.")
        return group
    typed = form.cleaned_data
    supplier = typed["supplier"] or Supplier(workshop=shop.workshop, name=typed["new_supplier"])
    receipt = form.read(supplier, lines, expenses)
    is_recorded = state == Purchase.State.RECORDED
    if is_recorded:
        _check_recordable(group, receipt, shop)
    if not group.errors:
        group.note = "new" if is_recorded else "new draft"
        group.value = ImportedReceipt(receipt=receipt, record=is_recorded)
    return group


def _read_head(group: RowGroup, shop: _Shop, day_formats: tuple[str, ...]) -> ReceiptForm:
    data: dict[str, Any] = {}
    for field in ("bought_on", "reference", "postage", "discount", "tax", "notes"):
        row = first_filled(group.rows, field)
        data[field] = _cell(row, field)
        for other in group.rows:
            if _cell(other, field) not in ("", data[field]):
                group.add_error(
                    other, field, f"Another row of this receipt has “{data[field][:60]}”."
                )
    row = first_filled(group.rows, "supplier")
    name = " ".join(_cell(row, "supplier").split())
    known = shop.supplier_by_name.get(plain(name))
    if known and known.retired_on:
        group.add_error(row, "supplier", f"“{known}” is archived. Restore it first.")
    data |= {"supplier": str(known.pk)} if known else {"new_supplier": name}
    form = ReceiptForm(data, workshop=shop.workshop, suppliers=shop.suppliers, as_file=True)
    form.fields["bought_on"].input_formats = (*DATE_FORMATS, *day_formats)  # type: ignore[attr-defined]  # a DayField
    for name_in_form, found in form.errors.items():
        field = "supplier" if name_in_form == "new_supplier" else name_in_form
        row, errors = first_filled(group.rows, field), [str(error) for error in found]
        if (row.number, field) in group.errors:
            continue
        if field == "supplier" and not name:
            errors = ["Fill this in."]
        if field == "bought_on" and "/" in data[field] and not day_formats:
            errors = ["Choose below whether the day or the month comes first."]
        group.add_error(row, field if field in FILE_FIELDS.values() else "supplier", *errors)
    return form


def _read_line(
    group: RowGroup, row: FileRow, shop: _Shop
) -> ReceiptLineInput | ReceiptExpenseInput | None:
    if not any(_cell(row, field) for field in LINE_FIELDS.values()):
        return None
    if plain(_cell(row, "expense")) not in _STOCK:
        return _read_expense(group, row, shop)
    what, material, pack = _what_is_meant(group, row, shop)
    bought, bought_field = _bought(row, material, pack, shop.workshop.locale)
    data = {
        "what": what,
        "bought": bought,
        "amount": _cell(row, "amount"),
        "lot": _cell(row, "lot"),
    }
    form = ReceiptLineForm(data, workshop=shop.workshop, offers=shop.offers, as_file=True)
    if form.is_valid():
        key, pack_key = form.cleaned_data["what"]
        form.work_out(shop.materials[key], shop.packs.get(pack_key))
    for name, found in form.errors.items():
        field = bought_field if name == "bought" else name
        if (row.number, field) not in group.errors:
            group.add_error(row, field, *(str(error) for error in found))
    if form.errors or any(number == row.number for number, _ in group.errors):
        return None
    line = form.read()
    return replace(line, typed_in="") if has_many_decimals(_cell(row, "bought")) else line


def _read_expense(group: RowGroup, row: FileRow, shop: _Shop) -> ReceiptExpenseInput | None:
    """Read a line that is not stock: its kind is a category of expenses."""
    category = _CATEGORIES.get(plain(_cell(row, "expense")))
    if category is None:
        words = ", ".join(str(label) for label in Expense.Category.labels)
        group.add_error(row, "expense", f"Leave this blank for materials, or enter: {words}.")
        return None
    data = {name: _cell(row, name) for name in ("what", "amount", "lot")} | {"expense": category}
    form = ReceiptLineForm(data, workshop=shop.workshop, offers=shop.offers, as_file=True)
    for name, found in form.errors.items():
        group.add_error(row, name, *(str(error) for error in found))
    return None if form.errors else form.read_expense()


def _what_is_meant(
    group: RowGroup, row: FileRow, shop: _Shop
) -> tuple[str, Material | None, Pack | None]:
    """Return the name under which the entry of a receipt knows the material and its pack."""
    text, pack_text = _cell(row, "what"), _cell(row, "pack")
    material = shop.by_name.get(plain(text))
    if material is None:
        if text and plain(text) not in shop.offers.by_name:
            group.add_error(
                row, "what", f"“{text[:60]}” isn't one of your materials. Import or add it first."
            )
        return text, None, None
    if material.retired_on:
        group.add_error(row, "what", f"“{material.name}” is archived. Restore it first.")
        return text, material, None
    if not pack_text:
        # an amount is bought loose; without one the name alone must say it
        loose = bool(_cell(row, "bought"))
        return (shop.offers.names[material.pk, None] if loose else text), material, None
    pack = shop.packs_of.get(material.pk, {}).get(plain(pack_text))
    if pack is None:
        group.add_error(
            row,
            "pack",
            f"No pack of {material.name} is called “{pack_text[:60]}”. Leave this cell blank if "
            "the quantity is enough.",
        )
        return text, material, None
    return shop.offers.names[material.pk, pack.pk], material, pack


def _bought(
    row: FileRow, material: Material | None, pack: Pack | None, locale: str
) -> tuple[str, str]:
    """Return how much as the form takes it, and the field it comes from.

    Packs count where a pack is named, unless the quantity says that it held something else then.
    """
    packs, quantity, unit = (_cell(row, field) for field in ("packs", "bought", "unit"))
    if (
        packs
        and pack
        and (not quantity or _holds(packs, pack, locale) == _kept(quantity, unit, pack, locale))
    ):
        return packs, "packs"
    if not quantity:
        return packs, "packs" if packs else "bought"
    has_unit = any(sign.isalpha() or sign in "\"'″′”" for sign in quantity)
    if not has_unit and material is not None:
        quantity = f"{quantity} {unit or material.unit}"
    return quantity, "bought"


def _holds(packs: str, pack: Pack, locale: str) -> Decimal | None:
    number = _number(packs, locale)
    return None if number is None else number * pack.quantity


def _kept(quantity: str, unit: str, pack: Pack, locale: str) -> Decimal | None:
    """Return a quantity as it is kept: 50 yd of a file are 45.72 m."""
    kept_in = pack.material.unit
    try:
        return read_amount(in_counted_unit(quantity, unit), locale).in_unit(kept_in)
    except Refusal:
        return None


def _number(text: str, locale: str) -> Decimal | None:
    try:
        number = parse_number(text, locale)
    except Refusal:
        return None
    return Decimal(number.numerator) / Decimal(number.denominator)


def _check_recordable(group: RowGroup, receipt: ReceiptInput, shop: _Shop) -> None:
    """Say now what recording would refuse."""
    if not receipt.lines and not receipt.expenses:
        group.add_error(group.rows[0], "what", "This receipt is empty.")
        return
    try:
        check_date(receipt.bought_on, shop.today, "bought_on")
    except Refusal as refusal:
        group.add_error(first_filled(group.rows, "bought_on"), "bought_on", refusal.message)
    purchase = Purchase(
        workshop=shop.workshop,
        postage=receipt.postage,
        discount=receipt.discount,
        tax=receipt.tax,
    )
    lines = [
        PurchaseLine(material=line.material, quantity=line.quantity, amount=line.amount)
        for line in receipt.lines
    ]
    expenses = [Expense(what=one.what, amount=one.amount) for one in receipt.expenses]
    try:
        landed_receipt(purchase, lines, expenses)
    except Refusal as refusal:
        where = refusal.where if refusal.where in FILE_FIELDS.values() else "amount"
        group.add_error(first_filled(group.rows, where), where, refusal.message)


def _print_of(receipt: ReceiptInput) -> Print:
    return (
        receipt.supplier.name.casefold(),
        receipt.bought_on,
        receipt.reference.casefold(),
        (receipt.postage, receipt.discount, receipt.tax),
        tuple(sorted((line.material.pk, line.quantity, line.amount) for line in receipt.lines)),
        tuple(sorted((one.what, one.amount) for one in receipt.expenses)),
    )


def _prints_here(workshop: Any, first: datetime.date, last: datetime.date) -> Counter[Print]:
    """Return how often each receipt is already here (three queries)."""
    purchases = Purchase.objects.of(workshop).not_taken_back().between(first, last)
    lines: dict[int, list[tuple[Any, ...]]] = {}
    for key, *line in PurchaseLine.objects.filter(
        purchase__in=purchases.order_by().values("pk")
    ).values_list("purchase_id", "material_id", "quantity", "amount"):
        lines.setdefault(key, []).append(tuple(line))
    expenses: dict[int, list[tuple[Any, ...]]] = {}
    for key, *one in Expense.objects.filter(
        purchase__in=purchases.order_by().values("pk")
    ).values_list("purchase_id", "what", "amount"):
        expenses.setdefault(key or 0, []).append(tuple(one))
    return Counter(
        (
            row.supplier.name.casefold(),
            row.bought_on,
            row.reference.casefold(),
            (row.postage, row.discount, row.tax),
            tuple(sorted(lines.get(row.pk, ()))),
            tuple(sorted(expenses.get(row.pk, ()))),
        )
        for row in purchases.select_related("supplier")
    )


def _prepare(
    workshop: Any, by: Any, values: Sequence[ImportedReceipt], key: uuid.UUID, each: Each
) -> Store:
    ready = ready_import(
        workshop=workshop, receipts=values, key=key, today=timezone.localdate(), by=by, each=each
    )

    def store() -> list[tuple[str, str]]:
        entries = ready()
        said = f"Imported {count_text(len(values), 'receipt')}. The costs are up to date."
        counts = [("info", text) for text in counts_in_words(workshop, entries)]
        return [("success", said), *counts]

    return store


IMPORTING = Importing(
    place="catalogue.purchases.importing.IMPORTING",
    title="Receipts",
    one="receipt",
    list_url="catalogue:purchase_list",
    fields=FILE_FIELDS,
    needed=("Date", "Supplier", "Material", "Paid"),
    read=read_receipts,
    prepare=_prepare,
    has_days=True,
    also_called={
        "Date": ("date", "order date", "invoice date", "bought on", "purchased"),
        "Supplier": ("shop", "seller", "vendor", "store"),
        "Material": ("item", "article", "product", "description", "item name", "product name"),
        "Packs": ("how many",),
        "Quantity": ("qty", "amount", "ordered", "pcs", "units"),
        "Counted in": ("unit", "unit of measure", "uom"),
        "Paid": ("total", "line total", "price", "sum", "cost", "amount paid", "net"),
        "Receipt no.": (
            "invoice",
            "invoice no",
            "order no",
            "order number",
            "receipt no",
            "number",
            "order",
        ),
        "Postage": ("shipping", "delivery", "p&p", "freight"),
        "Tax": ("vat", "gst", "sales tax"),
        "Notes": ("note", "remarks", "comment"),
        "Lot": ("batch", "lot no", "dye lot"),
    },
    formerly={"Day": "Date", "Number on it": "Receipt no."},
    source="Supplier",
    sources=lambda workshop: {str(row.pk): row for row in workshop.suppliers.to_choose()},
    advice=(
        "One row per line. Rows with the same “Receipt” value form one receipt; without it, rows "
        "of the same date, supplier and number. Put postage, discount and tax on its first row. "
        "Receipts you already have are skipped. Import the materials first. New suppliers are "
        "added."
    ),
)
