"""Keeping expenses: entered and changed, deleted with a way back, repeated by themselves."""

import datetime
import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from catalogue.calc.supplies.repeating import dates_due
from catalogue.closed_months.services import Closings, is_closed
from catalogue.expenses import belonging
from catalogue.expenses.models import Expense
from catalogue.receipt_files.services import move_files
from catalogue.suppliers.models import Supplier
from maker.accounts.models import User
from maker.calc.money import minor_digits, to_minor
from maker.calc.refusal import Refusal
from maker.web.editing import take_turn
from maker.workshop.models import Workshop

ZERO = Decimal(0)


class WrongExpense(Refusal):
    """An expense that cannot be meant."""


class AlreadySpent(Refusal):
    """The same form was sent before; `expense` is what it made then."""

    def __init__(self, expense: Expense) -> None:
        super().__init__("This expense was already saved.")
        self.expense = expense


@dataclass(frozen=True, slots=True)
class ExpenseInput:
    """An expense as typed; below zero when money came back."""

    paid_on: datetime.date
    what: str
    net: Decimal
    tax_paid: Decimal = ZERO
    category: str = Expense.Category.OTHER
    purpose: str = Expense.Purpose.OVERHEAD
    supplier: Supplier | None = None
    lasts_years: int | None = None
    repeats: str = ""
    repeats_until: datetime.date | None = None
    reference: str = ""
    notes: str = ""


@transaction.atomic
def add_expense(
    *,
    workshop: Workshop,
    expense: ExpenseInput,
    today: datetime.date,
    by: User | None = None,
    form_key: uuid.UUID | None = None,
) -> Expense:
    """Store a new expense, and those it has repeated since its date.

    Refuses a date that cannot be meant. The same `form_key` a second time raises AlreadySpent.
    """
    # behind the workshop's lock: a double click sends two requests at once, and a month that is
    # being closed must count this or see it come late
    Workshop.objects.select_for_update(no_key=True).get(pk=workshop.pk)
    if form_key:
        saved = Expense.objects.filter(form_key=form_key).first()
        if saved and saved.workshop_id == workshop.pk:
            raise AlreadySpent(saved)
        form_key = None if saved else form_key
    row = Expense(
        workshop=workshop,
        form_key=form_key,
        added_by=by,
        tax_is_recoverable=workshop.tax_registered,
    )
    _write(row, expense, today)
    repeat_expenses(workshop=workshop, today=today)
    return row


@transaction.atomic
def change_expense(
    *, row: Expense, expense: ExpenseInput, today: datetime.date, edit_number: int | None
) -> Expense:
    """Change what an expense says; of one on a receipt, only what the receipt does not say.

    Whether its tax is paid back stays as it was entered until date or amounts are typed anew.
    Refuses a deleted one, and a lost turn.
    """
    locked = _locked(row)
    if locked.deleted_at:
        raise WrongExpense("This expense was deleted. Restore it first.")
    take_turn(locked, edit_number)
    if locked.purchase_id:
        for name in ("category", "purpose", "lasts_years", "notes"):
            setattr(locked, name, getattr(expense, name))
        locked.save()
        return locked
    before: Expense | None = None
    if _figures_change(locked, expense):
        if is_closed(locked.workshop, locked.paid_on):
            before, locked = locked, _replaced(locked)
        elif is_closed(locked.workshop, expense.paid_on):
            # that month was closed without it, so there it is entered now
            locked.added_at = timezone.now()
        locked.tax_is_recoverable = locked.workshop.tax_registered
    _write(locked, expense, today)
    if before is not None:
        move_files(old=before, to=locked)
        belonging.move(before, locked)
    repeat_expenses(workshop=locked.workshop, today=today)
    return locked


def _figures_change(row: Expense, typed: ExpenseInput) -> bool:
    return (row.paid_on, row.net, row.tax_paid) != (typed.paid_on, typed.net, typed.tax_paid)


def _replaced(row: Expense) -> Expense:
    """Let a new row stand for one of a closed month, which keeps what that month was closed with.

    Refuses one that others repeat.
    """
    if row.repeats:
        raise WrongExpense(
            "Its month is closed. Change the last one it added, or reopen the month first."
        )
    row.deleted_at = timezone.now()
    row.save(update_fields=["deleted_at"])
    return Expense(workshop=row.workshop, added_by=row.added_by)


@transaction.atomic
def delete_expense(*, row: Expense) -> None:
    """Let an expense count no more; `restore_expense` is the way back."""
    locked = _locked(row)
    if locked.purchase_id:
        raise WrongExpense("This is on a receipt. Undo the receipt instead.")
    if locked.deleted_at is None:
        locked.deleted_at = timezone.now()
        locked.save(update_fields=["deleted_at"])


@transaction.atomic
def restore_expense(*, row: Expense) -> None:
    """Let a deleted expense count again; as entered now where a month was closed without it."""
    locked = _locked(row)
    if locked.purchase_id:
        raise WrongExpense("Its receipt was undone. Enter the receipt again.")
    if locked.deleted_at is None:
        return
    closings = Closings(locked.workshop)
    left_on = closings.booked_on(locked.paid_on, locked.deleted_at)
    if closings.of(left_on):
        locked.added_at = timezone.now()
    locked.deleted_at = None
    locked.save(update_fields=["deleted_at", "added_at"])


@transaction.atomic
def repeat_expenses(*, workshop: Workshop, today: datetime.date) -> list[Expense]:
    """Add what has come due of repeating expenses, each as the last one was; return it.

    Done twice it adds nothing: a date an expense was added for is never added again, even when
    that one was deleted. Whether its tax is paid back is as the workshop is now.
    """
    workshop = Workshop.objects.select_for_update(no_key=True).get(pk=workshop.pk)
    first_ones = list(Expense.objects.of(workshop).repeating().order_by("pk"))
    later: dict[int, list[Expense]] = {}
    for row in Expense.objects.filter(repeat_of__in=first_ones).order_by("paid_on", "pk"):
        later.setdefault(row.repeat_of_id or 0, []).append(row)
    made = [new for one in first_ones for new in _due(one, later.get(one.pk, []), today)]
    for new in made:
        new.tax_is_recoverable = workshop.tax_registered
        new.cost = _cost(new)
    return Expense.objects.bulk_create(made)


def _due(first: Expense, later: Iterable[Expense], today: datetime.date) -> Iterable[Expense]:
    rows = list(later)
    known = [row.due_on for row in rows if row.due_on]
    until = min(today, first.repeats_until or today)
    # as the last one was, so a price that rose stays up
    standing = [row for row in reversed(rows) if row.deleted_at is None]
    like = next(iter(standing), first)
    # what one order or fair took says nothing of those that follow
    purposes = (row.purpose for row in standing if row.purpose not in _OF_ONE)
    purpose = next(purposes, first.purpose)
    for date in dates_due(first.paid_on, first.repeats, until):
        if not any(abs((date - met).days) <= _NEAR[first.repeats] for met in known):
            yield Expense(
                workshop_id=first.workshop_id,
                repeat_of=first,
                due_on=date,
                paid_on=date,
                purpose=purpose,
                **{name: getattr(like, name) for name in _REPEATED},
            )


# a date is met by one within half a period: examples are moved by whole weeks, months are not
_NEAR = {Expense.Repeats.MONTH.value: 14, Expense.Repeats.YEAR.value: 180}
_REPEATED = ("what", "category", "supplier_id", "net", "tax_paid", "reference", "notes")
_OF_ONE = (Expense.Purpose.ORDER, Expense.Purpose.FAIR)


def _locked(row: Expense) -> Expense:
    # the workshop first, as closing its months does
    Workshop.objects.select_for_update(no_key=True).get(pk=row.workshop_id)
    found: Expense = (
        Expense.objects.select_for_update(no_key=True, of=("self",))
        .select_related("workshop")
        .get(pk=row.pk)
    )
    return found


def _write(row: Expense, typed: ExpenseInput, today: datetime.date) -> None:
    """Store an expense that stands by itself."""
    check_paid_on(typed.paid_on, today)
    digits = minor_digits(row.workshop.currency)
    for where, amount in (("net", typed.net), ("tax_paid", typed.tax_paid)):
        if amount != to_minor(amount, digits):
            raise WrongExpense(f"Type at most {digits} decimals.", where=where)
    if typed.net * typed.tax_paid < 0:
        raise WrongExpense("Tax and amount go the same way.", where="tax_paid")
    if row.repeat_of_id and typed.repeats:
        raise WrongExpense("Change how often on the first one.", where="repeats")
    if typed.repeats and typed.repeats_until and typed.repeats_until < typed.paid_on:
        raise WrongExpense("It ends before its first date.", where="repeats_until")
    for name in typed.__dataclass_fields__:
        setattr(row, name, getattr(typed, name))
    if not row.repeats:
        row.repeats_until = None
    row.cost = _cost(row)
    row.save()


def _cost(row: Expense) -> Decimal:
    return row.net + (ZERO if row.tax_is_recoverable else row.tax_paid)


def check_paid_on(paid_on: datetime.date, today: datetime.date) -> None:
    """Refuse a day after tomorrow (tomorrow allows for another time zone) or before 1990."""
    if paid_on > today + datetime.timedelta(days=1):
        raise WrongExpense("That date is in the future. Check the date.", where="paid_on")
    if paid_on.year < 1990:
        raise WrongExpense("That is very long ago. Check the year.", where="paid_on")
