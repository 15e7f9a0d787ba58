"""Pages of the expenses: list, one expense, entry, deleted and back."""

import uuid
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from catalogue.calc.supplies.repeating import left_of
from catalogue.closed_months.services import say_closed
from catalogue.expenses.belonging import belongs_to, choices_of, give
from catalogue.expenses.forms import ExpenseFilter, ExpenseForm, expense_as_typed
from catalogue.expenses.inputs import as_paid, overhead_of_a_year
from catalogue.expenses.models import Expense
from catalogue.expenses.services import (
    AlreadySpent,
    add_expense,
    change_expense,
    delete_expense,
    restore_expense,
)
from catalogue.expenses.sheet import expense_columns, expense_rows
from catalogue.expenses.tables import ExpenseTable, expense_badge
from catalogue.receipt_files.entry import (
    add_to_page,
    files_context,
    files_of,
    form_key_of,
    take_files,
)
from catalogue.receipt_files.services import give_files
from catalogue.suppliers.models import Supplier
from maker.calc.money import format_money
from maker.exports.answers import export_response, wanted_format
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.lists import show_list
from maker.web.messages import undo_message
from maker.web.refusals import refusal_told
from maker.web.row_pages import Entry, entry_page, list_page

RECENT = 12


@require_GET
@may_see
def expense_list(request: WorkshopRequest) -> HttpResponse:
    """List the expenses, the last first, as a page or a file."""
    expenses = Expense.objects.of(request.workshop)
    filter_form = ExpenseFilter(request.GET)
    if wanted_format(request):
        return export_response(
            request,
            title="Expenses",
            columns=expense_columns(request.workshop),
            rows=expense_rows(filter_form.narrow(expenses)),
        )
    found = filter_form.narrow(expenses).select_related("supplier")
    table = show_list(request, ExpenseTable(found, workshop=request.workshop))
    return list_page(
        request,
        "catalogue/expenses/list.html",
        table,
        filter_form,
        one="expense",
        unfiltered=expenses,
        figures=_overhead_figures(request),
    )


def _overhead_figures(request: WorkshopRequest) -> list[dict[str, Any]]:
    """Set overhead of the last twelve months beside what her prices count for it."""
    workshop = request.workshop
    year = overhead_of_a_year(workshop, timezone.localdate())

    def money(amount: Any) -> str:
        return format_money(amount, workshop.currency, workshop.locale)

    over = f"{money(abs(year.over))} {'more' if year.over > 0 else 'less'} than counted"
    return [
        {
            "label": "Overhead, last 12 months",
            "value_text": money(year.spent),
            "note": over if year.counted else "your prices count none yet",
            "main": True,
        },
        {
            "label": "Counted in your prices",
            "value_text": money(year.counted),
            "note": "per year",
        },
    ]


@require_GET
@may_see
def expense(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Show an expense, and what repeats it."""
    rows = Expense.objects.of(request.workshop).select_related(
        "supplier", "workshop", "added_by", "repeat_of", "purchase"
    )
    row = row_or_404(rows, pk)
    context = {
        "expense": row,
        "badge": expense_badge(row),
        "owner": belongs_to(row),
        "left": left_of(as_paid(row), timezone.localdate().replace(day=1)),
        "repeated": row.repeated.standing().newest_first()[:RECENT],
        # one on a receipt has its receipt's
        **({} if row.purchase_id else files_of(request, row)),
    }
    return render(request, "catalogue/expenses/expense.html", context)


@require_POST
@may_change
def expense_files(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Add photos or PDFs to an expense that was entered before."""
    rows = Expense.objects.of(request.workshop).filter(purchase__isnull=True)
    add_to_page(request, row_or_404(rows.select_related("workshop"), pk))
    return redirect("catalogue:expense", request.workshop.slug, pk)


@require_http_methods(["GET", "POST"])
@may_change
def expense_new(request: WorkshopRequest) -> HttpResponse:
    """Enter a new expense; with `copy`, starting from an earlier one."""
    first: dict[str, Any] = {"paid_on": timezone.localdate()}
    copied = request.GET.get("copy", "")
    if copied.isascii() and copied.isdigit() and len(copied) < 19:
        source = row_or_404(Expense.objects.of(request.workshop), int(copied))
        first = expense_as_typed(source) | first | {"edit_number": None, "repeats": ""}
    first |= {"form_key": uuid.uuid4()}
    for name in ("supplier", "category", "purpose", "whose"):
        if name in request.GET:
            first[name] = request.GET[name]
    return _edit(request, Expense(workshop=request.workshop), first)


@require_http_methods(["GET", "POST"])
@may_change
def expense_edit(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Change an expense; of one on a receipt, what it belongs to."""
    row = row_or_404(Expense.objects.of(request.workshop).select_related("workshop"), pk)
    return _edit(request, row)


def _edit(
    request: WorkshopRequest, row: Expense, first: dict[str, Any] | None = None
) -> HttpResponse:
    form_key = form_key_of(request, first)
    taken = take_files(request, row, form_key)

    def entry_of(row: Expense, data: Any) -> Entry:
        shown = dict(first if first is not None else expense_as_typed(row))
        owner = belongs_to(row)
        if owner is not None:
            shown["whose"] = owner.key
        suppliers = Supplier.objects.of(request.workshop).to_choose(shown.get("supplier"))
        return Entry(
            ExpenseForm(
                data,
                initial=shown,
                workshop=request.workshop,
                suppliers=suppliers,
                whose=choices_of(request.workshop, str(shown.get("whose") or "")),
                repeated=row.repeat_of_id is not None,
                on_receipt=row.purchase_id is not None,
            )
        )

    def save(entry: Entry) -> HttpResponse:
        try:
            saved = _store(request, row, entry)
        except AlreadySpent as already:
            saved = already.expense
            messages.info(request, already.message)
        else:
            messages.success(request, f"Saved “{saved}”.")
            say_closed(request, saved.paid_on)
        give_files(workshop=request.workshop, form_key=form_key, to=saved)
        return redirect("catalogue:expense", request.workshop.slug, saved.pk)

    def beside(entry: Entry) -> dict[str, Any]:
        return {} if row.purchase_id else files_context(request, row, taken.form, form_key)

    return entry_page(
        request,
        "catalogue/expenses/edit.html",
        row,
        entry_of,
        save,
        beside=beside,
        is_only_shown=taken.is_only_shown,
        expense=row,
    )


@transaction.atomic
def _store(request: WorkshopRequest, row: Expense, entry: Entry) -> Expense:
    """Store an expense and which order or fair it belongs to: both or, when refused, nothing."""
    typed, today = entry.form.read(row), timezone.localdate()
    if row.pk:
        saved = change_expense(row=row, expense=typed, today=today, edit_number=entry.edit_number)
    else:
        saved = add_expense(
            workshop=request.workshop,
            expense=typed,
            today=today,
            by=request.user,
            form_key=entry.form.cleaned_data["form_key"],
        )
    give(request.workshop, saved, entry.form.cleaned_data["whose"])
    return saved


@require_POST
@may_change
def expense_delete(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Let an expense count no more, with a way back."""
    row = row_or_404(Expense.objects.of(request.workshop), pk)
    with refusal_told(request):
        delete_expense(row=row)
        back = reverse("catalogue:expense_restore", args=[request.workshop.slug, pk])
        undo_message(request, f"Deleted “{row}”.", back)
        return redirect("catalogue:expense_list", request.workshop.slug)
    return redirect("catalogue:expense", request.workshop.slug, pk)


@require_POST
@may_change
def expense_restore(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Let a deleted expense count again."""
    row = row_or_404(Expense.objects.of(request.workshop), pk)
    with refusal_told(request):
        restore_expense(row=row)
        messages.success(request, f"Restored “{row}”.")
    return redirect("catalogue:expense", request.workshop.slug, pk)
