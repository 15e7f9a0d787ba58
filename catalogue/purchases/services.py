"""Receipts: kept as drafts, recorded into stock in one step, taken back by reversal entries."""

import datetime
import uuid
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from catalogue.materials.models import Material, Pack
from catalogue.purchases.inputs import landed_receipt
from catalogue.purchases.models import Purchase, PurchaseLine
from catalogue.stock.models import StockEntry
from catalogue.stock.services import check_date, lock_materials, replay_ledger, take_back
from catalogue.suppliers.models import Supplier
from catalogue.suppliers.services import supplier_named
from maker.accounts.models import User
from maker.calc.refusal import Refusal
from maker.imports.kinds import AlreadyImported
from maker.web.editing import take_turn
from maker.workshop.models import Workshop

ZERO = Decimal(0)
ONE = Decimal(1)


class NotADraft(Refusal):
    """A recorded receipt is not changed; it is taken back and entered again."""


class NotRecorded(Refusal):
    """Only a receipt whose goods are in stock can be taken back."""


class NothingOnReceipt(Refusal):
    """A receipt without lines puts nothing into stock."""


class OutOfUse(Refusal):
    """Nothing new is bought of a material or from a supplier that was put away."""


class AlreadySaved(Refusal):
    """The same form was sent before; `purchase` is the receipt it made then."""

    def __init__(self, purchase: Purchase) -> None:
        super().__init__("This receipt was saved already.")
        self.purchase = purchase


@dataclass(frozen=True, slots=True)
class ReceiptLineInput:
    """One line as typed: recipe units in all, and what the receipt says it cost."""

    material: Material
    quantity: Decimal
    amount: Decimal
    pack: Pack | None = None
    packs_bought: Decimal = ONE
    lot: str = ""
    typed_in: str = ""


@dataclass(frozen=True, slots=True)
class ReceiptInput:
    """A receipt as typed."""

    supplier: Supplier
    bought_on: datetime.date
    lines: Sequence[ReceiptLineInput] = ()
    reference: str = ""
    postage: Decimal = ZERO
    discount: Decimal = ZERO
    tax: Decimal = ZERO
    notes: str = ""


@dataclass(frozen=True, slots=True)
class ImportedReceipt:
    """A receipt out of a file, and whether its goods come into stock; its supplier may be new."""

    receipt: ReceiptInput
    record: bool


@transaction.atomic
def draft_purchase(
    *, workshop: Workshop, receipt: ReceiptInput, form_key: uuid.UUID | None = None
) -> Purchase:
    """Store a new receipt as a draft; nothing comes into stock yet.

    The same `form_key` a second time raises AlreadySaved.
    """
    if form_key:
        # behind the workshop's lock: a double click sends two requests at once
        Workshop.objects.select_for_update(no_key=True).get(pk=workshop.pk)
        saved = Purchase.objects.filter(form_key=form_key).first()
        if saved and saved.workshop_id == workshop.pk:
            raise AlreadySaved(saved)
        form_key = None if saved else form_key
    purchase = Purchase(workshop=workshop, form_key=form_key)
    _write(purchase, receipt)
    return purchase


@transaction.atomic
def change_draft(*, purchase: Purchase, receipt: ReceiptInput, edit_number: int | None) -> Purchase:
    """Replace what a draft says.

    Refuses a receipt that is no draft any more, and one that somebody saved meanwhile.
    """
    locked = _locked(purchase)
    _refuse_unless_draft(locked)
    take_turn(locked, edit_number)
    locked.lines.all().delete()
    _write(locked, receipt)
    return locked


@transaction.atomic
def record_purchase(
    *, purchase: Purchase, today: datetime.date, by: User | None = None
) -> Purchase:
    """Put the goods of a draft into stock at their landed cost, whole or not at all.

    Postage, discount and tax are shared over the lines; tax stays out of the cost when the
    workshop gets it back. Refuses a receipt without lines, a day still to come, a supplier or
    material that is out of use, amounts that cannot be meant, and a receipt that is recorded.
    """
    locked = _locked(purchase)
    materials = _put_into_stock(locked, today=today, by=by)
    _replay(locked, materials)
    return locked


@transaction.atomic
def import_receipts(
    *,
    workshop: Workshop,
    receipts: Sequence[ImportedReceipt],
    key: uuid.UUID,
    today: datetime.date,
    by: User | None = None,
) -> list[StockEntry]:
    """Store receipts out of a file and record those that are to be recorded: all or none.

    Returns what came into stock. Every ledger is replayed once at the end, so that a long file
    takes no longer for each receipt than a short one. The same `key` a second time raises
    AlreadyImported.
    """
    Workshop.objects.select_for_update(no_key=True).get(pk=workshop.pk)
    if Purchase.objects.filter(form_key=uuid.uuid5(key, "0")).exists():
        raise AlreadyImported("This file was imported already.")
    materials = lock_materials(line.material.pk for one in receipts for line in one.receipt.lines)
    suppliers: dict[str, Supplier] = {}
    recorded = []
    for number, one in enumerate(receipts):
        supplier = one.receipt.supplier
        if supplier.pk is None:
            name = supplier.name.casefold()
            if name not in suppliers:
                suppliers[name] = supplier_named(workshop=workshop, name=supplier.name)
            supplier = suppliers[name]
        purchase = Purchase(workshop=workshop, form_key=uuid.uuid5(key, str(number)))
        _write(purchase, replace(one.receipt, supplier=supplier))
        if one.record:
            _put_into_stock(purchase, today=today, by=by)
            recorded.append(purchase)
    for material in materials.values():
        material.workshop = workshop
        replay_ledger(material)
    return list(StockEntry.objects.of_receipts(recorded))


def _put_into_stock(
    locked: Purchase, *, today: datetime.date, by: User | None
) -> dict[int, Material]:
    """Record a locked draft but for the replay of its materials, which are returned locked."""
    _refuse_unless_draft(locked)
    lines = list(locked.lines.select_related("material").order_by("position", "pk"))
    _check_recordable(locked, lines, today)
    landed = landed_receipt(locked, lines)
    materials = lock_materials(line.material_id for line in lines)
    for line, cost in zip(lines, landed.lines, strict=True):
        line.postage_share, line.discount_share = cost.postage_share, cost.discount_share
        line.tax_share, line.landed, line.unit_cost = cost.tax_share, cost.landed, cost.unit_cost
    PurchaseLine.objects.bulk_update(
        lines, ["postage_share", "discount_share", "tax_share", "landed", "unit_cost"], 100
    )
    for line in lines:
        StockEntry.objects.create(
            material_id=line.material_id,
            moved_on=locked.bought_on,
            kind=StockEntry.Kind.BOUGHT,
            change=line.quantity,
            typed_in=line.typed_in,
            cost_in=line.landed,
            purchase_line=line,
            made_by=by,
        )
    locked.state = Purchase.State.RECORDED
    locked.tax_is_recoverable = locked.workshop.tax_registered
    locked.recorded_at, locked.recorded_by = timezone.now(), by
    locked.edit_number += 1
    locked.save()
    return materials


@transaction.atomic
def reverse_purchase(*, purchase: Purchase, by: User | None = None) -> list[Material]:
    """Take a recorded receipt back by reversal entries; it stays readable.

    Returns the materials of which the ledger now has less than nothing, because goods of the
    receipt were used already: they want the right receipt, or a count.
    """
    locked = _locked(purchase)
    if locked.state != Purchase.State.RECORDED:
        raise NotRecorded("The goods of this receipt are not in stock, so none can go back.")
    entries = list(
        StockEntry.objects.standing().filter(purchase_line__purchase=locked).order_by("pk")
    )
    materials = lock_materials(entry.material_id for entry in entries)
    for entry in entries:
        take_back(entry, by=by, reason=f"{locked} taken back"[:200])
    _replay(locked, materials)
    locked.state = Purchase.State.REVERSED
    locked.edit_number += 1
    locked.save()
    return [material for material in materials.values() if material.on_hand < 0]


@transaction.atomic
def discard_draft(*, purchase: Purchase) -> Purchase:
    """Put a draft away; it can be brought back."""
    locked = _locked(purchase)
    _refuse_unless_draft(locked)
    locked.state = Purchase.State.REVERSED
    locked.edit_number += 1
    locked.save()
    return locked


@transaction.atomic
def restore_draft(*, purchase: Purchase) -> Purchase:
    """Bring a discarded draft back. A receipt that was in stock once is entered again instead."""
    locked = _locked(purchase)
    if locked.state != Purchase.State.REVERSED or locked.recorded_at is not None:
        raise NotADraft("Only a draft that was thrown away can be brought back.")
    locked.state = Purchase.State.DRAFT
    locked.edit_number += 1
    locked.save()
    return locked


def _locked(purchase: Purchase) -> Purchase:
    return (
        Purchase.objects.select_for_update(of=("self",), no_key=True)
        .select_related("workshop", "supplier")
        .get(pk=purchase.pk)
    )


def _refuse_unless_draft(purchase: Purchase) -> None:
    if purchase.state == Purchase.State.RECORDED:
        raise NotADraft(
            "The goods of this receipt are in stock already. To change it, take it back and "
            "enter it again."
        )
    if purchase.state != Purchase.State.DRAFT:
        raise NotADraft("This receipt was taken back. Enter a new one instead.")


def _check_recordable(
    purchase: Purchase, lines: Sequence[PurchaseLine], today: datetime.date
) -> None:
    if not lines:
        raise NothingOnReceipt("Nothing is on this receipt yet. Add what you bought.")
    check_date(purchase.bought_on, today, "bought_on")
    if purchase.supplier.retired_on:
        raise OutOfUse(
            f"{purchase.supplier} is put away. Bring the supplier back, or choose another.",
            where="supplier",
        )
    for line in lines:
        if line.material.retired_on:
            raise OutOfUse(
                f"{line.material} is put away. Bring it back into use, or take its line out."
            )


def _replay(purchase: Purchase, materials: dict[int, Material]) -> None:
    # Read behind the materials' locks: while this waited for them the valuation may have changed.
    workshop = Workshop.objects.get(pk=purchase.workshop_id)
    for material in materials.values():
        material.workshop = workshop
        replay_ledger(material)


def _write(purchase: Purchase, receipt: ReceiptInput) -> None:
    for name in ("supplier", "bought_on", "reference", "postage", "discount", "tax", "notes"):
        setattr(purchase, name, getattr(receipt, name))
    purchase.save()
    PurchaseLine.objects.bulk_create(
        [
            PurchaseLine(
                purchase=purchase,
                position=position,
                material=line.material,
                pack=line.pack,
                packs_bought=line.packs_bought,
                quantity=line.quantity,
                typed_in=line.typed_in,
                amount=line.amount,
                lot=line.lot,
            )
            for position, line in enumerate(receipt.lines)
        ]
    )
