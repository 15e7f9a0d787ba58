"""Receipts and stock entries of a workshop file: stored as written, verified to add up."""

from decimal import ROUND_HALF_UP, Decimal

from catalogue.purchases.models import Purchase, PurchaseLine
from catalogue.stock.models import StockEntry
from maker.calc.explanation import plain_text
from maker.calc.strict_json import Fields, WrongJson, shown
from maker.workshop.models import Workshop
from pricing.workshop_file import schema
from pricing.workshop_file.writing import Registry, create, read_columns

SIX_PLACES = Decimal("0.000001")
_SHARES = ("postage", "discount", "tax")


def write_receipts(
    workshop: Workshop,
    rows: list[Fields],
    suppliers: Registry,
    materials: Registry,
    packs: dict[str, Registry],
) -> tuple[Registry, Registry]:
    """Store receipts with their lines; return the lines, and the receipts that have one, by key.

    The shares of a receipt that is in stock are kept as they are, if they add up to what was
    shared and each line's landed cost follows from them. Receipts with a key have expenses on them
    too, and are verified with those.
    """
    lines, keyed = Registry("receipt line"), Registry("receipt")
    receipts = []
    every_line = []
    for row in rows:
        receipt = Purchase(
            workshop=workshop,
            supplier=suppliers.of(row, "supplier"),
            **read_columns(schema.PURCHASE, row, "lines", "key"),
        )
        own = []
        for inner in row.rows("lines"):
            key = inner.optional_text("key")
            material = materials.of(inner, "material")
            line = PurchaseLine(
                purchase=receipt,
                material=material,
                pack=packs[material.name].optional(inner, "pack"),
                **read_columns(schema.PURCHASE_LINE, inner),
            )
            if line.quantity <= 0 or line.packs_bought <= 0:
                raise inner.refuse("A line buys more than 0.", "quantity")
            if key is not None:
                lines.add(key, line, inner, "key")
            elif receipt.recorded_at is not None:
                raise inner.refuse("A line in stock has a key for its stock entry.", "key")
            own.append(line)
            if receipt.recorded_at is not None:
                _verify_line(receipt, line, inner)
        _verify_state(receipt, row)
        name = row.optional_text("key")
        if name is not None:
            keyed.add(name, receipt, row, "key")
        elif receipt.recorded_at is not None:
            _verify_receipt(receipt, own, row)
        receipts.append(receipt)
        every_line += own
    create(Purchase, receipts)
    create(PurchaseLine, every_line)
    return lines, keyed


def _verify_state(receipt: Purchase, row: Fields) -> None:
    # a receipt taken back was in stock once, or was a draft that was thrown away
    if receipt.state == Purchase.State.RECORDED and receipt.recorded_at is None:
        raise row.refuse("A receipt in stock says when it was recorded.", "recorded_at")
    if receipt.state == Purchase.State.DRAFT and receipt.recorded_at is not None:
        raise row.refuse("A draft was not recorded yet.", "recorded_at")


def _verify_receipt(receipt: Purchase, lines: list[PurchaseLine], row: Fields) -> None:
    if not lines:
        raise row.refuse("A receipt in stock has at least one line.", "lines")
    for name in _SHARES:
        shared = sum((getattr(line, f"{name}_share") for line in lines), Decimal(0))
        if shared != getattr(receipt, name):
            raise row.refuse(
                f"The lines' {name} shares add up to {plain_text(shared)}, "
                f"not to {plain_text(getattr(receipt, name))}.",
                name,
            )


def _verify_line(receipt: Purchase, line: PurchaseLine, row: Fields) -> None:
    landed = line.amount + line.postage_share - line.discount_share
    if not receipt.tax_is_recoverable:
        landed += line.tax_share
    if line.landed != landed:
        raise row.refuse(
            f"Amount and shares come to {plain_text(landed)}, not {plain_text(line.landed)}.",
            "landed",
        )
    unit_cost = (landed / line.quantity).quantize(SIX_PLACES, rounding=ROUND_HALF_UP)
    if line.unit_cost is None or line.unit_cost != unit_cost:
        raise row.refuse(
            f"Landed cost over quantity is {plain_text(unit_cost)}, "
            f"not {schema.written(line.unit_cost)}.",
            "unit_cost",
        )


def write_stock_entries(rows: list[Fields], materials: Registry, lines: Registry) -> Registry:
    """Store the movements in their order and verify that they and the receipts agree.

    Returned are those with a key, by it.
    """
    keyed = Registry("stock entry before this one")
    bought: dict[int, StockEntry] = {}
    taken_back: set[int] = set()
    entries = []
    for row in rows:
        key = row.optional_text("key")
        entry = StockEntry(
            material=materials.of(row, "material"),
            purchase_line=lines.optional(row, "receipt_line"),
            takes_back=keyed.optional(row, "takes_back"),
            **read_columns(schema.STOCK_ENTRY, row),
        )
        if entry.kind == StockEntry.Kind.COUNTED and entry.counted is None:
            _find_counted(entry, entries)
        _verify_entry(entry, row)
        if entry.takes_back is not None:
            if id(entry.takes_back) in taken_back:
                raise row.refuse("That entry is undone already.", "takes_back")
            taken_back.add(id(entry.takes_back))
            entry.purchase_line = entry.takes_back.purchase_line
        elif entry.purchase_line is not None and entry.kind == StockEntry.Kind.BOUGHT:
            if id(entry.purchase_line) in bought:
                raise row.refuse("This line is in stock already.", "receipt_line")
            bought[id(entry.purchase_line)] = entry
        if key is not None:
            keyed.add(key, entry, row, "key")
        entries.append(entry)
    for key, line in lines.rows.items():
        _verify_line_in_stock(key, line, bought.get(id(line)), taken_back)
    create(StockEntry, entries, also=("takes_back",))
    return keyed


def _find_counted(count: StockEntry, before: list[StockEntry]) -> None:
    """Say what a count of an older file counted: its difference and all that was entered so far."""
    there = sum(
        (
            entry.change
            for entry in before
            if entry.material is count.material and entry.moved_on <= count.moved_on
        ),
        Decimal(0),
    )
    count.counted, count.change_at_count = max(there + count.change, Decimal(0)), count.change


def _verify_entry(entry: StockEntry, row: Fields) -> None:
    kind = StockEntry.Kind
    if not entry.change and entry.kind not in (kind.COUNTED, kind.REVERSED):
        raise row.refuse("A stock entry moves something.", "change")
    if entry.counted is not None and entry.kind != kind.COUNTED:
        raise row.refuse("Only entries of the kind “counted” say what was there.", "kind")
    if entry.counted is not None and entry.counted < 0:
        raise row.refuse("Nothing or more was counted.", "counted")
    if entry.counted is not None and entry.change_at_count is None:
        raise row.refuse("A count says what it found missing or more.", "change_at_count")
    if entry.cost_in is not None and (entry.change < 0 or entry.counted is not None):
        raise row.refuse("Only what comes in has a cost of its own.", "cost_in")
    if (entry.kind == kind.REVERSED) != (entry.takes_back is not None):
        raise row.refuse("Entries of the kind “reversed”, and only they, take one back.", "kind")
    if entry.kind == kind.BOUGHT and entry.purchase_line is None:
        raise row.refuse("An entry of the kind “bought” has a receipt line.", "kind")
    of_receipts = (kind.BOUGHT, kind.RETURNED, kind.SCRAP)
    if entry.purchase_line is not None and entry.kind not in of_receipts:
        raise row.refuse("This kind of entry has no receipt line.", "kind")
    if entry.lot and (entry.purchase_line is not None or entry.kind == kind.REVERSED):
        raise row.refuse("Its receipt line or the undone entry says the lot.", "lot")
    if entry.kind != kind.RETURNED and not entry.cost_out is entry.refund is None:
        raise row.refuse("Only what went back has a refund and a cost of its own.", "refund")
    if entry.takes_back is not None:
        back = entry.takes_back
        if (back.material, back.change) != (entry.material, -entry.change):
            raise row.refuse("It must move the same material by as much the other way.", "change")
        if back.kind == kind.REVERSED:
            raise row.refuse("An entry that undoes another is not undone itself.", "takes_back")
    if entry.purchase_line is not None and entry.kind != kind.BOUGHT:
        if entry.purchase_line.material is not entry.material or entry.change >= 0:
            raise row.refuse("Goods of this line leave stock here.", "receipt_line")
    elif entry.purchase_line is not None:
        line = entry.purchase_line
        if (line.material, line.quantity) != (entry.material, entry.change):
            raise row.refuse("The receipt's line bought something else.", "receipt_line")
        if entry.cost_in != line.landed:
            raise row.refuse(f"The receipt's line landed at {plain_text(line.landed)}.", "cost_in")


def _verify_line_in_stock(
    key: str, line: PurchaseLine, entry: StockEntry | None, taken_back: set[int]
) -> None:
    receipt = line.purchase
    if receipt.recorded_at is None:
        wrong = "is not in stock, so no stock entry may bring it in" if entry else ""
    elif entry is None:
        wrong = "is in stock, so a stock entry must bring it in"
    elif (id(entry) in taken_back) != (receipt.state == Purchase.State.REVERSED):
        wrong = "is undone when its stock entries are, and only then"
    else:
        wrong = ""
    if wrong:
        raise WrongJson(f"The receipt of the line {shown(key)} {wrong}.", where="stock_entries")
