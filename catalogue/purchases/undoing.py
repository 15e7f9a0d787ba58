"""Undoing a whole import of receipts, and noticing a receipt that is here already."""

import datetime
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import models, transaction
from django.utils import timezone

from catalogue.expenses.models import Expense
from catalogue.purchases.models import Purchase
from catalogue.stock.models import StockEntry
from catalogue.stock.services import lock_materials, replay_ledger
from catalogue.suppliers.models import Supplier
from maker.accounts.models import User
from maker.calc.money import minor_digits, to_minor
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop

ZERO = Decimal(0)
OFFERED_FOR = datetime.timedelta(days=30)


class NothingToUndo(Refusal):
    """An import that is undone already, or was never here."""


class LooksTheSame(Refusal):
    """A receipt that seems to be here already; `purchase` is that one."""

    def __init__(self, purchase: Purchase) -> None:
        number = f" ({purchase.reference})" if purchase.reference else ""
        super().__init__(
            f"You have a receipt like this{number} of {purchase.bought_on:%-d %b %Y}. "
            "Tick if this is another one.",
            where="another",
        )
        self.purchase = purchase


def refuse_the_same(
    *,
    workshop: Workshop,
    supplier: Supplier,
    bought_on: datetime.date,
    reference: str,
    total: Decimal,
    but: int | None = None,
) -> None:
    """Raise LooksTheSame for a receipt of the supplier with this number, or this date and total.

    `total` is in home money. Two queries at most.
    """
    found = Purchase.objects.of(workshop).not_taken_back().filter(supplier=supplier)
    if but:
        found = found.exclude(pk=but)
    same = found.filter(reference__iexact=reference).first() if reference else None
    if same is None:
        digits = minor_digits(workshop.currency)
        that_day = found.filter(bought_on=bought_on).with_totals()
        same = next(
            (one for one in that_day if to_minor(one.paid, digits) == total),  # type: ignore[attr-defined]  # annotated
            None,
        )
    if same is not None:
        raise LooksTheSame(same)


@dataclass(frozen=True, slots=True)
class LastImport:
    """The last import of receipts that can be undone."""

    key: uuid.UUID
    count: int
    on: datetime.date


def last_import(workshop: Workshop) -> LastImport | None:
    """Return the last import whose receipts still count, for some days (one query)."""
    row = (
        Purchase.objects.of(workshop)
        .not_taken_back()
        .filter(import_key__isnull=False)
        .order_by()
        .values("import_key")
        .annotate(count=models.Count("pk"), at=models.Max("recorded_at"), last=models.Max("pk"))
        .order_by("-last")
        .first()
    )
    if row is None or row["at"] is None or row["at"] < timezone.now() - OFFERED_FOR:
        return None
    key: uuid.UUID | None = row["import_key"]
    if key is None:
        return None
    return LastImport(key, row["count"], timezone.localdate(row["at"]))


@transaction.atomic
def undo_import(*, workshop: Workshop, key: uuid.UUID, by: User | None = None) -> int:
    """Undo every receipt of an import that still counts, all or none; return how many.

    Receipts that were undone one by one since stay as they are. Each ledger is replayed once.
    Refuses when nothing is left.
    """
    Workshop.objects.select_for_update(no_key=True).get(pk=workshop.pk)
    receipts = list(
        Purchase.objects.select_for_update(no_key=True, of=("self",))
        .of(workshop)
        .not_taken_back()
        .filter(import_key=key)
        .order_by("pk")
    )
    if not receipts:
        raise NothingToUndo("This import was already undone.")
    _take_back_all(workshop, receipts, by)
    # those of a draft come back with it, and one undone before left when it did
    counted = Expense.objects.counted().filter(purchase__in=_keys(receipts))
    counted.update(deleted_at=timezone.now())
    for receipt in receipts:
        receipt.state = Purchase.State.REVERSED
        receipt.edit_number += 1
    Purchase.objects.bulk_update(receipts, ["state", "edit_number"], 200)
    return len(receipts)


def _keys(receipts: Sequence[Purchase]) -> models.QuerySet[Purchase]:
    return Purchase.objects.filter(import_key=receipts[0].import_key).order_by().values("pk")  # type: ignore[return-value]


def _take_back_all(workshop: Workshop, receipts: Sequence[Purchase], by: User | None) -> None:
    standing = StockEntry.objects.standing().filter(purchase_line__purchase__in=_keys(receipts))
    materials = lock_materials(standing.values_list("material_id", flat=True))
    entries = list(standing.order_by("pk"))
    StockEntry.objects.bulk_create(
        [
            StockEntry(
                material_id=entry.material_id,
                moved_on=entry.moved_on,
                kind=StockEntry.Kind.REVERSED,
                change=-entry.change,
                typed_in=entry.typed_in,
                purchase_line_id=entry.purchase_line_id,
                takes_back=entry,
                reason="import undone",
                made_by=by,
            )
            for entry in entries
        ],
        batch_size=400,
    )
    for material in materials.values():
        material.workshop = workshop
        replay_ledger(material)
