"""Pages of the receipts: list, one receipt, entry, into stock, taken back."""

import uuid
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from catalogue.closed_months.services import say_closed
from catalogue.expenses.models import Expense
from catalogue.materials.models import Material
from catalogue.purchases.forms import PurchaseFilter, ReceiptForm, head_as_typed
from catalogue.purchases.importing import IMPORTING
from catalogue.purchases.inputs import landed_receipt, tax_is_recoverable
from catalogue.purchases.line_forms import LineFormSet, lines_as_typed
from catalogue.purchases.models import Purchase, PurchaseLine
from catalogue.purchases.offers import offers_for
from catalogue.purchases.services import (
    AlreadySaved,
    OtherTotal,
    Paid,
    ReceiptInput,
    change_draft,
    discard_draft,
    draft_purchase,
    record_purchase,
    restore_draft,
    reverse_purchase,
    total_of,
)
from catalogue.purchases.sheet import receipt_columns, receipt_rows
from catalogue.purchases.tables import PurchaseTable, foreign_words, goods_left, receipt_lines
from catalogue.purchases.undoing import last_import, refuse_the_same, undo_import
from catalogue.receipt_files.entry import (
    add_to_page,
    files_context,
    files_of,
    form_key_of,
    take_files,
)
from catalogue.receipt_files.services import copy_files, give_files
from catalogue.stock.counts import say_counts
from catalogue.stock.models import StockEntry
from catalogue.suppliers.models import Supplier
from catalogue.suppliers.services import supplier_named
from maker.calc.money import format_money
from maker.calc.refusal import Refusal
from maker.exports.answers import export_response, wanted_format
from maker.imports.views import import_page
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.lists import count_text, show_list
from maker.web.messages import undo_message
from maker.web.refusals import refusal_told
from maker.web.row_pages import Entry, entry_page, list_page


@require_GET
@may_see
def purchase_list(request: WorkshopRequest) -> HttpResponse:
    """List the receipts, the last first, as a page or a file."""
    purchases = Purchase.objects.of(request.workshop)
    filter_form = PurchaseFilter(request.GET)
    if wanted_format(request):
        return export_response(
            request,
            title="Receipts",
            columns=receipt_columns(request.workshop),
            rows=receipt_rows(filter_form.narrow(purchases), request.workshop),
        )
    found = filter_form.narrow(purchases).with_totals().select_related("supplier")
    may_undo = request.membership.may_change
    table = show_list(request, PurchaseTable(found, workshop=request.workshop))
    return list_page(
        request,
        "catalogue/purchases/list.html",
        table,
        filter_form,
        one="receipt",
        unfiltered=purchases,
        last_import=last_import(request.workshop) if may_undo else None,
    )


@require_POST
@may_change
def purchase_import_undo(request: WorkshopRequest, key: uuid.UUID) -> HttpResponse:
    """Undo a whole import."""
    with refusal_told(request):
        count = undo_import(workshop=request.workshop, key=key, by=request.user)
        messages.success(request, f"Import undone: {count_text(count, 'receipt')}.")
    return redirect("catalogue:purchase_list", request.workshop.slug)


@require_http_methods(["GET", "POST"])
@may_change
def purchase_import(request: WorkshopRequest) -> HttpResponse:
    """Take receipts in from a file, after showing what it would do."""
    return import_page(request, IMPORTING)


@require_GET
@may_see
def purchase(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Show a receipt: what came, what it cost, and how postage, discount and tax are shared."""
    row = row_or_404(Purchase.objects.of(request.workshop).with_people(), pk)
    lines, expenses = _lines(row), _expenses(row)
    landed, problem = None, ""
    if lines or expenses:
        try:
            landed = landed_receipt(row, lines, expenses)
        except Refusal as refusal:
            problem = refusal.message
    context = {
        "purchase": row,
        "lines": receipt_lines(row, lines, expenses, landed),
        "landed": landed,
        "problem": problem,
        "tax_is_recoverable": tax_is_recoverable(row),
        "left": goods_left(row),
        **foreign_words(row, lines, expenses, landed),
        **files_of(request, row),
    }
    return render(request, "catalogue/purchases/purchase.html", context)


@require_POST
@may_change
def purchase_files(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Add photos or PDFs to a receipt that was entered before."""
    row = row_or_404(Purchase.objects.of(request.workshop).select_related("workshop"), pk)
    add_to_page(request, row)
    return redirect("catalogue:purchase", request.workshop.slug, pk)


@require_http_methods(["GET", "POST"])
@may_change
def purchase_new(request: WorkshopRequest) -> HttpResponse:
    """Enter a receipt; with `copy` as an earlier one, with `material` of that material."""
    row = Purchase(workshop=request.workshop)
    first: dict[str, Any] = {"form_key": uuid.uuid4(), "bought_on": timezone.localdate()}
    lines: list[PurchaseLine] = []
    expenses: list[Expense] = []
    copied = request.GET.get("copy", "")
    source: Purchase | None = None
    if copied.isascii() and copied.isdigit() and len(copied) < 19:
        source = row_or_404(Purchase.objects.of(request.workshop), int(copied))
        lines, expenses = _lines(source), _expenses(source)
        first |= head_as_typed(source) | {"form_key": uuid.uuid4(), "edit_number": None}
        if source.state == Purchase.State.RECORDED:
            # bought again: another date and number; one that was undone is entered as it was
            first |= {"bought_on": timezone.localdate(), "reference": ""}
    first.setdefault("supplier", request.GET.get("supplier"))
    first["material"] = request.GET.get("material")
    return _edit(request, row, first, lines, expenses, source)


@require_http_methods(["GET", "POST"])
@may_change
def purchase_edit(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Change a draft."""
    row = row_or_404(Purchase.objects.of(request.workshop).with_people(), pk)
    if row.state != Purchase.State.DRAFT:
        messages.info(request, "Only a draft can be changed.")
        return redirect("catalogue:purchase", request.workshop.slug, pk)
    return _edit(request, row)


def _lines(row: Purchase) -> list[PurchaseLine]:
    return list(row.lines.select_related("material__picture", "pack").order_by("position", "pk"))


def _expenses(row: Purchase) -> list[Expense]:
    return list(row.expenses.order_by("position", "pk"))


def _edit(
    request: WorkshopRequest,
    row: Purchase,
    first: Mapping[str, Any] | None = None,
    lines: Sequence[PurchaseLine] = (),
    expenses: Sequence[Expense] = (),
    source: Purchase | None = None,
) -> HttpResponse:
    """Show the entry of a receipt, or store it; a new one starts from what is given."""
    form_key = form_key_of(request, first)
    taken = take_files(request, row, form_key)
    # one that was undone is entered anew, with the photos it had
    undone = source if source and source.state == Purchase.State.REVERSED else None

    def entry_of(row: Purchase, data: Any) -> Entry:
        head = first if first is not None else head_as_typed(row)
        rows = lines if first is not None else _lines(row)
        other = expenses if first is not None else _expenses(row)
        offers = offers_for(request.workshop, rows)
        suppliers = Supplier.objects.of(request.workshop).to_choose(head.get("supplier"))
        form = ReceiptForm(data, initial=head, workshop=request.workshop, suppliers=suppliers)
        formset = LineFormSet(
            data,
            prefix="lines",
            initial=lines_as_typed(rows, offers, request.workshop, other)
            or offers.first_line(head.get("material")),
            form_kwargs={"workshop": request.workshop, "offers": offers},
        )
        return Entry(form, formset)

    def save(entry: Entry) -> HttpResponse:
        try:
            saved = _save(request, row, entry, undone)
        except AlreadySaved as already:
            saved = already.purchase
            messages.info(request, already.message)
        else:
            _say_saved(request, saved)
        give_files(workshop=request.workshop, form_key=form_key, to=saved)
        return redirect("catalogue:purchase", request.workshop.slug, saved.pk)

    def beside(entry: Entry) -> dict[str, Any]:
        files = files_context(request, row, taken.form, form_key, also=undone)
        return {"offers": entry.rows.form_kwargs["offers"], **files}

    return entry_page(
        request,
        "catalogue/purchases/edit.html",
        row,
        entry_of,
        save,
        beside=beside,
        is_only_shown=taken.is_only_shown,
        purchase=row,
    )


@transaction.atomic
def _save(
    request: WorkshopRequest, row: Purchase, entry: Entry, undone: Purchase | None
) -> Purchase:
    """Store the draft and, when asked, record it: both or, when refused, nothing."""
    form, formset = entry.form, entry.rows
    typed = form.cleaned_data
    supplier = typed["supplier"] or supplier_named(
        workshop=request.workshop, name=typed["new_supplier"]
    )
    receipt = form.read(supplier, formset.read(), formset.read_expenses())
    paid = total_of(receipt, request.workshop)
    _refuse_other_total(request, typed["total"], paid)
    if not typed["another"]:
        _refuse_the_same(request, row, receipt, typed["form_key"])
    if row.pk:
        saved = change_draft(purchase=row, receipt=receipt, edit_number=typed["edit_number"])
    else:
        saved = draft_purchase(
            workshop=request.workshop,
            receipt=receipt,
            form_key=typed["form_key"],
            instead_of=undone,
        )
        if undone:
            copy_files(old=undone, to=saved)
    if request.POST.get("then") == "record":
        saved = record_purchase(purchase=saved, today=timezone.localdate(), by=request.user)
    return saved


def _refuse_other_total(request: WorkshopRequest, total: Decimal | None, paid: Paid) -> None:
    """Refuse lines that do not come to the total that was typed."""
    if total is None or total == paid.typed:
        return
    workshop = request.workshop
    come, more = (
        format_money(amount, workshop.currency, workshop.locale)
        for amount in (paid.typed, abs(total - paid.typed))
    )
    way = "missing" if total > paid.typed else "too much"
    raise OtherTotal(f"The lines come to {come}: {more} {way}.", where="total")


def _refuse_the_same(
    request: WorkshopRequest, row: Purchase, receipt: ReceiptInput, form_key: uuid.UUID | None
) -> None:
    """Ask before the same receipt is entered twice; the second click on this one is not another."""
    if form_key and Purchase.objects.filter(form_key=form_key).exists():
        return
    refuse_the_same(
        workshop=request.workshop,
        supplier=receipt.supplier,
        bought_on=receipt.bought_on,
        reference=receipt.reference,
        total=total_of(receipt, request.workshop).home,
        but=row.pk,
    )


def _say_saved(request: WorkshopRequest, saved: Purchase) -> None:
    if saved.state == Purchase.State.RECORDED:
        back = reverse("catalogue:purchase_reverse", args=[request.workshop.slug, saved.pk])
        undo_message(request, "Added to stock. Costs are up to date.", back)
        say_counts(request, list(StockEntry.objects.standing().of_receipt(saved)))
        say_closed(request, saved.bought_on)
    else:
        messages.success(request, "Draft saved. Nothing is in stock yet.")


@require_POST
@may_change
def purchase_record(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Put the goods of a draft into stock."""
    row = row_or_404(Purchase.objects.of(request.workshop), pk)
    with refusal_told(request):
        saved = record_purchase(purchase=row, today=timezone.localdate(), by=request.user)
        _say_saved(request, saved)
    return redirect("catalogue:purchase", request.workshop.slug, pk)


@require_POST
@may_change
def purchase_reverse(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Take a recorded receipt back; its goods leave the stock as if they had never come."""
    row = row_or_404(Purchase.objects.of(request.workshop), pk)
    with refusal_told(request):
        short = reverse_purchase(purchase=row, by=request.user)
        _say_reversed(request, row, short)
    return redirect("catalogue:purchase", request.workshop.slug, pk)


def _say_reversed(request: WorkshopRequest, row: Purchase, short: Sequence[Material]) -> None:
    say_closed(request, row.bought_on)
    messages.success(request, "Receipt undone. Copy it to a new one to correct it.")
    say_counts(request, list(StockEntry.objects.of_receipt(row).filter(takes_back__isnull=False)))
    if short:
        names = ", ".join(material.name for material in short)
        messages.warning(
            request,
            f"Stock of {names} is now negative: some was already used. Enter the right receipt "
            "or do a stock count.",
        )


@require_POST
@may_change
def purchase_discard(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Throw a draft away, with a way back."""
    row = row_or_404(Purchase.objects.of(request.workshop), pk)
    with refusal_told(request):
        discard_draft(purchase=row)
        back = reverse("catalogue:purchase_restore", args=[request.workshop.slug, pk])
        undo_message(request, "Draft deleted.", back)
        return redirect("catalogue:purchase_list", request.workshop.slug)
    return redirect("catalogue:purchase", request.workshop.slug, pk)


@require_POST
@may_change
def purchase_restore(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Bring a draft back that was thrown away."""
    row = row_or_404(Purchase.objects.of(request.workshop), pk)
    with refusal_told(request):
        restore_draft(purchase=row)
        messages.success(request, "Draft restored.")
    return redirect("catalogue:purchase", request.workshop.slug, pk)


@require_GET
@may_see
def purchase_line(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Lead from a cost to the line of the receipt it comes from."""
    row = row_or_404(PurchaseLine.objects.of(request.workshop), pk)
    address = reverse("catalogue:purchase", args=[request.workshop.slug, row.purchase_id])
    return redirect(f"{address}#line-{row.pk}")
