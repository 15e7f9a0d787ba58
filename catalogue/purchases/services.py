"""Receipts: kept as drafts, recorded into stock in one step, taken back by reversal entries."""

import datetime
import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from catalogue.calc.supplies.foreign_receipts import at_home
from catalogue.calc.supplies.unit_cost import LandedLine
from catalogue.expenses import belonging
from catalogue.expenses.models import Expense
from catalogue.materials.models import Material, Pack
from catalogue.purchases.inputs import landed_receipt
from catalogue.purchases.models import Purchase, PurchaseLine
from catalogue.stock.models import StockEntry
from catalogue.stock.services import check_date, lock_materials, replay_ledger, take_back
from catalogue.suppliers.models import Supplier
from maker.accounts.models import User
from maker.calc.money import minor_digits, to_minor
from maker.calc.refusal import Refusal
from maker.web.editing import take_turn
from maker.workshop.models import Workshop

ZERO = Decimal(0)
ONE = Decimal(1)
# what an expense on a receipt belongs to until she says otherwise
PURPOSES = {
    Expense.Category.TRAVEL.value: Expense.Purpose.SHARED,
    Expense.Category.STALL.value: Expense.Purpose.FAIR,
}


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
        super().__init__("This receipt was already saved.")
        self.purchase = purchase


@dataclass(frozen=True, slots=True)
class ReceiptLineInput:
    """One line as typed: recipe units in all, and what the receipt says it cost.

    Of what arrived damaged, the supplier credits some; the rest she keeps and scraps.
    """

    material: Material
    quantity: Decimal
    amount: Decimal
    pack: Pack | None = None
    packs_bought: Decimal = ONE
    lot: str = ""
    typed_in: str = ""
    damaged_credited: Decimal = ZERO
    damaged_kept: Decimal = ZERO


@dataclass(frozen=True, slots=True)
class ReceiptExpenseInput:
    """A line that is not stock as typed: van hire, insurance, software.

    `stands_for` is the key of the expense the line stood for before, if it did.
    """

    what: str
    amount: Decimal
    category: str
    stands_for: int | None = None


@dataclass(frozen=True, slots=True)
class ReceiptInput:
    """A receipt as typed; in another currency with what one unit of it costs at home."""

    supplier: Supplier
    bought_on: datetime.date
    lines: Sequence[ReceiptLineInput] = ()
    expenses: Sequence[ReceiptExpenseInput] = ()
    reference: str = ""
    postage: Decimal = ZERO
    discount: Decimal = ZERO
    tax: Decimal = ZERO
    notes: str = ""
    currency: str = ""
    rate: Decimal | None = None
    charged: Decimal | None = None


@dataclass(frozen=True, slots=True)
class ReceiptRows:
    """A receipt with its lines and expenses, stored or not."""

    purchase: Purchase
    lines: list[PurchaseLine]
    expenses: list[Expense]


@transaction.atomic
def draft_purchase(
    *,
    workshop: Workshop,
    receipt: ReceiptInput,
    form_key: uuid.UUID | None = None,
    instead_of: Purchase | None = None,
) -> Purchase:
    """Store a new receipt as a draft; nothing comes into stock yet.

    Entered `instead_of` one that was undone, its expenses belong to what those belonged to.
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
    # a draft that was only deleted can come back, with what its expenses belong to
    is_undone = instead_of is not None and instead_of.recorded_at is not None
    _write(purchase, receipt, instead_of.expenses.all() if instead_of and is_undone else ())
    return purchase


@transaction.atomic
def change_draft(*, purchase: Purchase, receipt: ReceiptInput, edit_number: int | None) -> Purchase:
    """Replace what a draft says.

    Refuses a receipt that is not a draft any more, and one that somebody saved meanwhile.
    """
    locked = _locked(purchase)
    _refuse_unless_draft(locked)
    take_turn(locked, edit_number)
    locked.lines.all().delete()
    _write(locked, receipt, locked.expenses.all())
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


def _put_into_stock(
    locked: Purchase, *, today: datetime.date, by: User | None
) -> dict[int, Material]:
    """Record a locked draft but for the replay of its materials, which are returned locked."""
    _refuse_unless_draft(locked)
    lines = list(locked.lines.select_related("material").order_by("position", "pk"))
    expenses = list(locked.expenses.order_by("position", "pk"))
    materials = lock_materials(line.material_id for line in lines)
    entries = book_receipt(ReceiptRows(locked, lines, expenses), today=today, by=by)
    PurchaseLine.objects.bulk_update(
        lines, ["postage_share", "discount_share", "tax_share", "landed", "unit_cost"], 100
    )
    Expense.objects.bulk_update(expenses, ["net", "tax_paid", "tax_is_recoverable", "cost"])
    StockEntry.objects.bulk_create(entries)
    locked.save()
    return materials


def book_receipt(rows: ReceiptRows, *, today: datetime.date, by: User | None) -> list[StockEntry]:
    """Say what each line of a draft cost and that it is in stock; return what moves, not stored."""
    purchase, lines, expenses = rows.purchase, rows.lines, rows.expenses
    _check_recordable(purchase, lines, expenses, today)
    landed = landed_receipt(purchase, lines, expenses)
    for line, cost in zip(lines, landed.lines[: len(lines)], strict=True):
        line.postage_share, line.discount_share = cost.postage_share, cost.discount_share
        line.tax_share, line.landed, line.unit_cost = cost.tax_share, cost.landed, cost.unit_cost
    _book_expenses(purchase, expenses, landed.lines[len(lines) :])
    purchase.state = Purchase.State.RECORDED
    purchase.tax_is_recoverable = purchase.workshop.tax_registered
    purchase.recorded_at, purchase.recorded_by = timezone.now(), by
    purchase.edit_number += 1
    entries = [
        StockEntry(
            material_id=line.material_id,
            moved_on=purchase.bought_on,
            kind=StockEntry.Kind.BOUGHT,
            change=line.quantity,
            typed_in=line.typed_in,
            cost_in=line.landed,
            purchase_line=line,
            made_by=by,
        )
        for line in lines
    ]
    entries += [
        StockEntry(
            material_id=line.material_id,
            moved_on=purchase.bought_on,
            kind=StockEntry.Kind.SCRAP,
            change=-line.damaged_kept,
            purchase_line=line,
            reason="damaged on arrival",
            made_by=by,
        )
        for line in lines
        if line.damaged_kept
    ]
    return entries


def _book_expenses(
    locked: Purchase, expenses: Sequence[Expense], costs: Sequence[LandedLine]
) -> None:
    """Say what each expense cost with its share of postage, discount and tax."""
    is_recoverable = locked.workshop.tax_registered
    for expense, cost in zip(expenses, costs, strict=True):
        expense.net = cost.amount + cost.postage_share - cost.discount_share
        expense.tax_paid, expense.tax_is_recoverable = cost.tax_share, is_recoverable
        expense.cost = cost.landed


@transaction.atomic
def reverse_purchase(*, purchase: Purchase, by: User | None = None) -> list[Material]:
    """Take a recorded receipt back by reversal entries; it stays readable.

    Returns the materials of which the ledger now has less than nothing, because goods of the
    receipt were used already: they want the right receipt, or a count.
    """
    locked = _locked(purchase)
    if locked.state != Purchase.State.RECORDED:
        raise NotRecorded("This receipt isn't in stock, so it can't be undone.")
    entries = list(
        StockEntry.objects.standing().filter(purchase_line__purchase=locked).order_by("pk")
    )
    materials = lock_materials(entry.material_id for entry in entries)
    for entry in entries:
        take_back(entry, by=by, reason=f"{locked} undone"[:200])
    _replay(locked, materials)
    locked.expenses.update(deleted_at=timezone.now())
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
        raise NotADraft("Only a deleted draft can be restored.")
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
            "This receipt is already in stock. To change it, undo it and copy it to a new one."
        )
    if purchase.state != Purchase.State.DRAFT:
        raise NotADraft("This receipt was undone. Enter a new one.")


def _check_recordable(
    purchase: Purchase,
    lines: Sequence[PurchaseLine],
    expenses: Sequence[Expense],
    today: datetime.date,
) -> None:
    if not lines and not expenses:
        raise NothingOnReceipt("This receipt is empty. Add what you bought.")
    check_date(purchase.bought_on, today, "bought_on")
    if purchase.supplier.retired_on:
        raise OutOfUse(
            f"{purchase.supplier} is archived. Restore the supplier, or choose another.",
            where="supplier",
        )
    for line in lines:
        if line.material.retired_on:
            raise OutOfUse(f"{line.material} is archived. Restore it, or remove its line.")


def _replay(purchase: Purchase, materials: dict[int, Material]) -> None:
    # Read behind the materials' locks: while this waited for them the valuation may have changed.
    workshop = Workshop.objects.get(pk=purchase.workshop_id)
    for material in materials.values():
        material.workshop = workshop
        replay_ledger(material)


def _write(purchase: Purchase, receipt: ReceiptInput, earlier: Iterable[Expense] = ()) -> None:
    """Store a receipt as typed; what an earlier expense's own page says goes on."""
    rows = rows_of(purchase, receipt)
    purchase.save()
    PurchaseLine.objects.bulk_create(rows.lines)
    before = {one.pk: one for one in earlier}
    new = []
    for typed, expense in zip(receipt.expenses, rows.expenses, strict=True):
        old = before.pop(typed.stands_for or 0, None)
        if old is None:
            new.append(expense)
            continue
        _go_on(old, expense)
        expense.save()
        if expense.pk != old.pk:
            belonging.move(old, expense)
    purchase.expenses.filter(pk__in=before).delete()
    Expense.objects.bulk_create(new)


def _go_on(old: Expense, new: Expense) -> None:
    """Let an expense as typed go on as one that was there, the same row on the same receipt."""
    if new.category == old.category or belonging.belongs_to(old):
        new.purpose = old.purpose
    new.lasts_years, new.notes = old.lasts_years, old.notes
    if old.purchase_id == new.purchase_id:
        for name in ("pk", "edit_number", "added_at", "added_by_id"):
            setattr(new, name, getattr(old, name))


def rows_of(purchase: Purchase, receipt: ReceiptInput) -> ReceiptRows:
    """Return the rows of a receipt as typed, not stored; other currencies at their rate."""
    digits = minor_digits(purchase.workshop.currency)
    rate = receipt.rate if receipt.currency else None

    def home(amount: Decimal) -> Decimal:
        return amount if rate is None else at_home(amount, rate, digits)

    def foreign(amount: Decimal) -> Decimal | None:
        return None if rate is None else amount

    for name in ("supplier", "bought_on", "reference", "notes", "currency"):
        setattr(purchase, name, getattr(receipt, name))
    purchase.rate, purchase.charged = rate, receipt.charged if receipt.currency else None
    for name in ("postage", "discount", "tax"):
        setattr(purchase, name, home(getattr(receipt, name)))
        setattr(purchase, f"foreign_{name}", foreign(getattr(receipt, name)))
    lines = []
    for position, line in enumerate(receipt.lines):
        amount = amount_paid_for(line, rate, digits)
        lines.append(
            PurchaseLine(
                purchase=purchase,
                position=position,
                material=line.material,
                pack=line.pack,
                packs_bought=line.packs_bought,
                quantity=line.quantity - line.damaged_credited,
                typed_in=line.typed_in,
                amount=amount,
                amount_credited=home(line.amount) - amount,
                foreign_amount=foreign(line.amount),
                damaged_credited=line.damaged_credited,
                damaged_kept=line.damaged_kept,
                lot=line.lot,
            )
        )
    expenses = [
        Expense(
            workshop_id=purchase.workshop_id,
            purchase=purchase,
            position=position,
            paid_on=receipt.bought_on,
            supplier=receipt.supplier,
            what=one.what,
            category=one.category,
            purpose=PURPOSES.get(one.category, Expense.Purpose.OVERHEAD),
            amount=home(one.amount),
            foreign_amount=foreign(one.amount),
            reference=receipt.reference,
        )
        for position, one in enumerate(receipt.expenses)
    ]
    return ReceiptRows(purchase, lines, expenses)


def amount_paid_for(line: ReceiptLineInput, rate: Decimal | None, digits: int) -> Decimal:
    """Return what a line cost without what the supplier credits, in home money, halves up."""
    paid_for = line.amount
    if line.damaged_credited:
        paid_for = line.amount * (line.quantity - line.damaged_credited) / line.quantity
    if rate is None:
        return to_minor(paid_for, digits) if line.damaged_credited else paid_for
    return at_home(paid_for, rate, digits)


@dataclass(frozen=True, slots=True)
class Paid:
    """What a receipt comes to, as typed and in home money."""

    typed: Decimal
    home: Decimal


class OtherTotal(Refusal):
    """Lines that do not come to the total that was typed."""


def total_of(receipt: ReceiptInput, workshop: Workshop) -> Paid:
    """Add up a receipt as typed: damaged goods that are credited are not paid."""
    digits = minor_digits(workshop.currency)
    rate = receipt.rate if receipt.currency else None
    others = [*(one.amount for one in receipt.expenses), receipt.postage, receipt.tax]
    others.append(-receipt.discount)
    typed = sum(others, ZERO)
    typed += sum((amount_paid_for(line, None, digits) for line in receipt.lines), ZERO)
    if rate is None:
        return Paid(typed, typed)
    home = sum((at_home(amount, rate, digits) for amount in others), ZERO)
    home += sum((amount_paid_for(line, rate, digits) for line in receipt.lines), ZERO)
    return Paid(typed, home)
