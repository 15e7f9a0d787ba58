"""Pages of the receipts: list, one receipt, entry, into stock, taken back."""

import uuid
from collections.abc import Mapping, Sequence
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from catalogue.materials.models import Material
from catalogue.purchases.forms import (
    LineFormSet,
    Offers,
    PurchaseFilter,
    ReceiptForm,
    head_as_typed,
    lines_as_typed,
)
from catalogue.purchases.importing import IMPORTING
from catalogue.purchases.inputs import landed_receipt, tax_is_recoverable
from catalogue.purchases.models import Purchase, PurchaseLine
from catalogue.purchases.services import (
    AlreadySaved,
    change_draft,
    discard_draft,
    draft_purchase,
    record_purchase,
    restore_draft,
    reverse_purchase,
)
from catalogue.purchases.sheet import receipt_columns, receipt_rows
from catalogue.purchases.tables import PurchaseTable, receipt_lines
from catalogue.stock.counts import say_counts
from catalogue.stock.models import StockEntry
from catalogue.suppliers.models import Supplier
from catalogue.suppliers.services import supplier_named
from maker.calc.refusal import Refusal
from maker.imports.views import import_page
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.exports import export_response, wanted_format
from maker.web.lists import show_list
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
    table = show_list(request, PurchaseTable(found, workshop=request.workshop))
    return list_page(
        request,
        "catalogue/purchases/list.html",
        table,
        filter_form,
        one="receipt",
        unfiltered=purchases,
    )


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
    lines = _lines(row)
    landed, problem = None, ""
    if lines:
        try:
            landed = landed_receipt(row, lines)
        except Refusal as refusal:
            problem = refusal.message
    context = {
        "purchase": row,
        "lines": receipt_lines(row, lines, landed),
        "landed": landed,
        "problem": problem,
        "tax_is_recoverable": tax_is_recoverable(row),
    }
    return render(request, "catalogue/purchases/purchase.html", context)


@require_http_methods(["GET", "POST"])
@may_change
def purchase_new(request: WorkshopRequest) -> HttpResponse:
    """Enter a receipt; with `copy`, starting from what an earlier one says."""
    row = Purchase(workshop=request.workshop)
    first: dict[str, Any] = {"form_key": uuid.uuid4(), "bought_on": timezone.localdate()}
    lines: list[PurchaseLine] = []
    copied = request.GET.get("copy", "")
    if copied.isascii() and copied.isdigit() and len(copied) < 19:
        source = row_or_404(Purchase.objects.of(request.workshop), int(copied))
        lines = _lines(source)
        first = head_as_typed(source) | {"form_key": uuid.uuid4(), "edit_number": None}
    first.setdefault("supplier", request.GET.get("supplier"))
    return _edit(request, row, first, lines)


@require_http_methods(["GET", "POST"])
@may_change
def purchase_edit(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Change a draft."""
    row = row_or_404(Purchase.objects.of(request.workshop).with_people(), pk)
    if row.state != Purchase.State.DRAFT:
        messages.info(request, "Only a receipt that is not finished can be changed.")
        return redirect("catalogue:purchase", request.workshop.slug, pk)
    return _edit(request, row)


def _lines(row: Purchase) -> list[PurchaseLine]:
    return list(row.lines.select_related("material", "pack").order_by("position", "pk"))


def _edit(
    request: WorkshopRequest,
    row: Purchase,
    first: Mapping[str, Any] | None = None,
    lines: Sequence[PurchaseLine] = (),
) -> HttpResponse:
    """Show the entry of a receipt, or store it; a new one starts from `first` and `lines`."""

    def entry_of(row: Purchase, data: Any) -> Entry:
        head = first if first is not None else head_as_typed(row)
        rows = lines if first is not None else _lines(row)
        offers = Offers(request.workshop, rows)
        suppliers = Supplier.objects.of(request.workshop).to_choose(head.get("supplier"))
        form = ReceiptForm(data, initial=head, workshop=request.workshop, suppliers=suppliers)
        formset = LineFormSet(
            data,
            prefix="lines",
            initial=lines_as_typed(rows, offers),
            form_kwargs={"workshop": request.workshop, "offers": offers},
        )
        return Entry(form, formset)

    def save(entry: Entry) -> HttpResponse:
        try:
            saved = _save(request, row, entry.form, entry.rows)
        except AlreadySaved as already:
            saved = already.purchase
            messages.info(request, already.message)
        else:
            _say_saved(request, saved)
        return redirect("catalogue:purchase", request.workshop.slug, saved.pk)

    def offers(entry: Entry) -> dict[str, Any]:
        return {"offers": entry.rows.form_kwargs["offers"]}

    return entry_page(
        request, "catalogue/purchases/edit.html", row, entry_of, save, beside=offers, purchase=row
    )


@transaction.atomic
def _save(request: WorkshopRequest, row: Purchase, form: ReceiptForm, formset: Any) -> Purchase:
    """Store the draft and, when asked, record it: both or, when refused, nothing."""
    typed = form.cleaned_data
    supplier = typed["supplier"] or supplier_named(
        workshop=request.workshop, name=typed["new_supplier"]
    )
    receipt = form.read(supplier, formset.read())
    if row.pk:
        saved = change_draft(purchase=row, receipt=receipt, edit_number=typed["edit_number"])
    else:
        saved = draft_purchase(
            workshop=request.workshop, receipt=receipt, form_key=typed["form_key"]
        )
    if request.POST.get("then") == "record":
        saved = record_purchase(purchase=saved, today=timezone.localdate(), by=request.user)
    return saved


def _say_saved(request: WorkshopRequest, saved: Purchase) -> None:
    if saved.state == Purchase.State.RECORDED:
        back = reverse("catalogue:purchase_reverse", args=[request.workshop.slug, saved.pk])
        undo_message(request, "In stock, and the costs are up to date.", back)
        say_counts(request, list(StockEntry.objects.standing().of_receipt(saved)))
    else:
        messages.success(request, "Saved as not finished. Nothing is in stock yet.")


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
    messages.success(request, "Taken back. Enter it again if something on it was wrong.")
    say_counts(request, list(StockEntry.objects.of_receipt(row).filter(takes_back__isnull=False)))
    if short:
        names = ", ".join(material.name for material in short)
        messages.warning(
            request,
            f"Less than nothing is left of {names}: some was used already. "
            "Enter the right receipt, or count what is there.",
        )


@require_POST
@may_change
def purchase_discard(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Throw a draft away, with a way back."""
    row = row_or_404(Purchase.objects.of(request.workshop), pk)
    with refusal_told(request):
        discard_draft(purchase=row)
        back = reverse("catalogue:purchase_restore", args=[request.workshop.slug, pk])
        undo_message(request, "Thrown away.", back)
        return redirect("catalogue:purchase_list", request.workshop.slug)
    return redirect("catalogue:purchase", request.workshop.slug, pk)


@require_POST
@may_change
def purchase_restore(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Bring a draft back that was thrown away."""
    row = row_or_404(Purchase.objects.of(request.workshop), pk)
    with refusal_told(request):
        restore_draft(purchase=row)
        messages.success(request, "The receipt is back, still not finished.")
    return redirect("catalogue:purchase", request.workshop.slug, pk)


@require_GET
@may_see
def purchase_line(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Lead from a cost to the line of the receipt it comes from."""
    row = row_or_404(PurchaseLine.objects.of(request.workshop), pk)
    address = reverse("catalogue:purchase", args=[request.workshop.slug, row.purchase_id])
    return redirect(f"{address}#line-{row.pk}")
