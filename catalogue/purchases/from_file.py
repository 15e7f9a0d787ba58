"""Receipts out of a file: worked out first, then stored in one short transaction."""

import datetime
import itertools
import uuid
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from django.db import models, transaction

from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase, PurchaseLine
from catalogue.purchases.services import ReceiptInput, ReceiptRows, book_receipt, rows_of
from catalogue.stock.inputs import Replayed, replayed
from catalogue.stock.models import StockEntry
from catalogue.stock.services import keep_figures, lock_materials
from catalogue.suppliers.models import Supplier
from catalogue.suppliers.services import supplier_named
from maker.accounts.models import User
from maker.imports.kinds import AlreadyImported, Each
from maker.many_rows import ReadyRows
from maker.workshop.models import Workshop


@dataclass(frozen=True, slots=True)
class ImportedReceipt:
    """A receipt out of a file, and whether its goods come into stock; its supplier may be new."""

    receipt: ReceiptInput
    record: bool


@dataclass(frozen=True, slots=True)
class _Worked:
    """Receipts with their costs, movements and ledgers, and all these rest on."""

    rests_on: object
    new_suppliers: Sequence[Supplier]
    # in the order in which they are stored: who is named comes first
    tables: Sequence[ReadyRows]
    lines: dict[int, PurchaseLine]
    entries: list[StockEntry]
    ledgers: Sequence[Replayed]


def import_receipts(
    *,
    workshop: Workshop,
    receipts: Sequence[ImportedReceipt],
    key: uuid.UUID,
    today: datetime.date,
    by: User | None = None,
) -> list[StockEntry]:
    """Store receipts out of a file and record those that are to be recorded: all or none.

    Returns what came into stock. The same `key` a second time raises AlreadyImported.
    """
    return ready_import(workshop=workshop, receipts=receipts, key=key, today=today, by=by)()


def ready_import(
    *,
    workshop: Workshop,
    receipts: Sequence[ImportedReceipt],
    key: uuid.UUID,
    today: datetime.date,
    by: User | None = None,
    each: Each = iter,
) -> Callable[[], list[StockEntry]]:
    """Work out what receipts out of a file cost and move, and return what stores them.

    Every ledger is replayed once. Nothing is locked until it is stored; what changed until then is
    noticed behind the locks, and then all is worked out once more there.
    """

    def work_out(each: Each = iter) -> _Worked:
        return _work_out(workshop.pk, receipts, key, today, by, each)

    worked = work_out(each)

    @transaction.atomic
    def store() -> list[StockEntry]:
        locked = Workshop.objects.select_for_update(no_key=True).get(pk=workshop.pk)
        if Purchase.objects.filter(form_key=uuid.uuid5(key, "0")).exists():
            raise AlreadyImported("This file was already imported.")
        lock_materials(_materials_of(receipts))
        holds = worked.rests_on == _rests_on(workshop.pk, receipts)
        return _store(locked, worked if holds else work_out())

    return store


def _materials_of(receipts: Iterable[ImportedReceipt]) -> set[int]:
    return {line.material.pk for one in receipts for line in one.receipt.lines}


def _suppliers_of(receipts: Iterable[ImportedReceipt]) -> set[int]:
    return {one.receipt.supplier.pk for one in receipts} - {None}


def _rests_on(workshop_id: int, receipts: Sequence[ImportedReceipt]) -> object:
    """Return all that costs and ledgers depend on besides the file, in short (four queries).

    A ledger only grows: how many entries it has is its version.
    """
    materials = _materials_of(receipts)
    rows = (
        Workshop.objects.filter(pk=workshop_id).values_list(
            "currency", "tax_registered", "valuation"
        ),
        Material.objects.filter(pk__in=materials).values_list("pk", "kind", "retired_on"),
        Supplier.objects.filter(pk__in=_suppliers_of(receipts)).values_list("pk", "retired_on"),
        StockEntry.objects.filter(material__in=materials)
        .values_list("material")
        .annotate(models.Count("pk"), models.Max("pk")),
    )
    return [set(one.order_by()) for one in rows]


def _work_out(
    workshop_id: int,
    receipts: Sequence[ImportedReceipt],
    key: uuid.UUID,
    today: datetime.date,
    by: User | None,
    each: Each,
) -> _Worked:
    # asked first: what changes while the rest is read does not go unnoticed
    rests_on = _rests_on(workshop_id, receipts)
    workshop = Workshop.objects.get(pk=workshop_id)
    materials = Material.objects.in_bulk(_materials_of(receipts))
    for material in materials.values():
        material.workshop = workshop
    suppliers = Supplier.objects.in_bulk(_suppliers_of(receipts))
    new_suppliers: dict[str, Supplier] = {}
    # lots are told apart by their lines, which have no keys yet
    provisional = itertools.count(-1, -1)
    made: list[ReceiptRows] = []
    entries: list[StockEntry] = []
    for number, one in enumerate(each(receipts)):
        named = one.receipt.supplier
        supplier = suppliers.get(named.pk) or new_suppliers.setdefault(
            named.name.casefold(), Supplier(workshop=workshop, name=named.name)
        )
        form_key = uuid.uuid5(key, str(number))
        purchase = Purchase(workshop=workshop, form_key=form_key, import_key=key)
        rows = rows_of(purchase, replace(one.receipt, supplier=supplier))
        for line in rows.lines:
            line.pk, line.material = next(provisional), materials[line.material_id]
        if one.record:
            entries += book_receipt(rows, today=today, by=by)
        made.append(rows)
    ledgers = _ledgers(materials, entries)
    lines = [line for rows in made for line in rows.lines]
    expenses = [expense for rows in made for expense in rows.expenses]
    return _Worked(
        rests_on=rests_on,
        new_suppliers=list(new_suppliers.values()),
        tables=(
            ReadyRows([rows.purchase for rows in made], ("supplier",)),
            ReadyRows(lines, ("purchase",)),
            ReadyRows(expenses, ("purchase", "supplier")),
            ReadyRows(entries, ("purchase_line",)),
        ),
        lines={line.pk: line for line in lines},
        entries=entries,
        ledgers=ledgers,
    )


def _ledgers(materials: dict[int, Material], entries: Iterable[StockEntry]) -> list[Replayed]:
    """Replay the ledger of each material that entries come to (one query)."""
    coming: dict[int, list[StockEntry]] = {}
    for entry in entries:
        coming.setdefault(entry.material_id, []).append(entry)
    stored: dict[int, list[StockEntry]] = {}
    for entry in StockEntry.objects.filter(material__in=coming).in_ledger_order():
        stored.setdefault(entry.material_id, []).append(entry)
    return [replayed(materials[one], stored.get(one, ()), new) for one, new in coming.items()]


def _store(workshop: Workshop, worked: _Worked) -> list[StockEntry]:
    for new in worked.new_suppliers:
        kept = supplier_named(workshop=workshop, name=new.name)
        new.pk, new._state.adding = kept.pk, False
    for table in worked.tables:
        table.write()
    for ledger in worked.ledgers:
        latest = ledger.figures.latest_line_id
        line = worked.lines.get(latest or 0)
        keep_figures(ledger, line.pk if line else latest)
    return worked.entries
