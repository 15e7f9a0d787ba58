"""Pages of the receipts: list, one receipt, entry, into stock, taken back."""

import uuid
from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from catalogue.purchases.forms import (
    LineFormSet,
    Offers,
    PurchaseFilter,
    ReceiptForm,
    head_as_typed,
    lines_as_typed,
)
from catalogue.purchases.importing import FILE_FIELDS, read_receipts
from catalogue.purchases.inputs import landed_receipt, tax_is_recoverable
from catalogue.purchases.models import Purchase, PurchaseLine
from catalogue.purchases.services import (
    AlreadySaved,
    ImportedReceipt,
    change_draft,
    discard_draft,
    draft_purchase,
    import_receipts,
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
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.editing import BothValues, ChangedMeanwhile, show_both
from maker.web.exports import export_response, wanted_format
from maker.web.imports import Importing, import_page
from maker.web.lists import count_text, show_list
from maker.web.messages import undo_message
from maker.web.refusals import show_refusal


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
    context = {
        "table": table,
        "filter_form": filter_form,
        "count_text": count_text(table.paginator.count, "receipt"),
        "is_empty": not table.paginator.count and not purchases.exists(),
    }
    return render(request, "catalogue/purchases/list.html", context)


@require_http_methods(["GET", "POST"])
@may_change
def purchase_import(request: WorkshopRequest) -> HttpResponse:
    """Take receipts in from a file, after showing what it would do."""
    return import_page(request, IMPORTING)


def _import(request: WorkshopRequest, values: Sequence[ImportedReceipt], key: uuid.UUID) -> None:
    entries = import_receipts(
        workshop=request.workshop,
        receipts=values,
        key=key,
        today=timezone.localdate(),
        by=request.user,
    )
    said = f"Imported {count_text(len(values), 'receipt')}. The costs are up to date."
    messages.success(request, said)
    say_counts(request, entries)


IMPORTING = Importing(
    title="Receipts",
    one="receipt",
    list_url="catalogue:purchase_list",
    fields=FILE_FIELDS,
    needed=("Day", "Supplier", "Material", "Paid"),
    read=read_receipts,
    save=_import,
    has_days=True,
    also_called={
        "Day": ("date", "order date", "invoice date", "bought on", "purchased"),
        "Supplier": ("shop", "seller", "vendor", "store"),
        "Material": ("item", "article", "product", "description", "item name", "product name"),
        "Quantity": ("qty", "amount", "ordered", "pcs", "units"),
        "Counted in": ("unit", "unit of measure", "uom"),
        "Paid": ("total", "line total", "price", "sum", "cost", "amount paid", "net"),
        "Number on it": (
            "invoice",
            "invoice no",
            "order no",
            "order number",
            "receipt no",
            "order",
        ),
        "Postage": ("shipping", "delivery", "p&p", "freight"),
        "Tax": ("vat", "gst", "sales tax"),
        "Notes": ("note", "remarks", "comment"),
        "Lot": ("batch", "lot no", "dye lot"),
    },
    source="Supplier",
    sources=lambda workshop: {str(row.pk): row for row in workshop.suppliers.to_choose()},
    advice=(
        "A row a line. Rows with the same entry under “Receipt” are one receipt; without it those "
        "of one day, supplier and number are. Postage, discount and tax are of the whole receipt "
        "and stand on its first row. A receipt that is here already is left out, and so is one "
        "that was taken back. The materials must be here: import them first. Suppliers not seen "
        "before are added."
    ),
)


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
    return _edit(request, row, head_as_typed(row), _lines(row))


def _lines(row: Purchase) -> list[PurchaseLine]:
    return list(row.lines.select_related("material", "pack").order_by("position", "pk"))


def _forms(
    request: WorkshopRequest,
    data: Any,
    first: dict[str, Any],
    lines: list[PurchaseLine],
) -> tuple[ReceiptForm, Any, Offers]:
    """Return the form and the lines, typed (with data) or as stored (without)."""
    offers = Offers(request.workshop, lines)
    suppliers = Supplier.objects.of(request.workshop).to_choose(first.get("supplier"))
    form = ReceiptForm(data, initial=first, workshop=request.workshop, suppliers=suppliers)
    formset = LineFormSet(
        data,
        prefix="lines",
        initial=lines_as_typed(lines, offers),
        form_kwargs={"workshop": request.workshop, "offers": offers},
    )
    return form, formset, offers


def _edit(
    request: WorkshopRequest, row: Purchase, first: dict[str, Any], lines: list[PurchaseLine]
) -> HttpResponse:
    form, formset, offers = _forms(request, request.POST or None, first, lines)
    both: list[BothValues] = []
    if request.method == "POST" and form.is_valid() & formset.is_valid():
        try:
            saved = _save(request, row, form, formset)
        except AlreadySaved as already:
            messages.info(request, already.message)
            return redirect("catalogue:purchase", request.workshop.slug, already.purchase.pk)
        except ChangedMeanwhile as changed:
            stored = Purchase.objects.get(pk=row.pk)
            now, lines_now, _ = _forms(request, None, head_as_typed(stored), _lines(stored))
            both = show_both(form, now, stored.edit_number, rows=(formset, lines_now))
            show_refusal(form, changed)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            _say_saved(request, saved)
            return redirect("catalogue:purchase", request.workshop.slug, saved.pk)
    context = {"form": form, "formset": formset, "offers": offers, "purchase": row, "both": both}
    status = 422 if request.method == "POST" else 200
    return render(request, "catalogue/purchases/edit.html", context, status=status)


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
    try:
        saved = record_purchase(purchase=row, today=timezone.localdate(), by=request.user)
    except Refusal as refusal:
        messages.error(request, refusal.message)
    else:
        _say_saved(request, saved)
    return redirect("catalogue:purchase", request.workshop.slug, pk)


@require_POST
@may_change
def purchase_reverse(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Take a recorded receipt back; its goods leave the stock as if they had never come."""
    row = row_or_404(Purchase.objects.of(request.workshop), pk)
    try:
        short = reverse_purchase(purchase=row, by=request.user)
    except Refusal as refusal:
        messages.error(request, refusal.message)
        return redirect("catalogue:purchase", request.workshop.slug, pk)
    messages.success(request, "Taken back. Enter it again if something on it was wrong.")
    say_counts(request, list(StockEntry.objects.of_receipt(row).filter(takes_back__isnull=False)))
    if short:
        names = ", ".join(material.name for material in short)
        messages.warning(
            request,
            f"Less than nothing is left of {names}: some was used already. "
            "Enter the right receipt, or count what is there.",
        )
    return redirect("catalogue:purchase", request.workshop.slug, pk)


@require_POST
@may_change
def purchase_discard(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Throw a draft away, with a way back."""
    row = row_or_404(Purchase.objects.of(request.workshop), pk)
    try:
        discard_draft(purchase=row)
    except Refusal as refusal:
        messages.error(request, refusal.message)
        return redirect("catalogue:purchase", request.workshop.slug, pk)
    back = reverse("catalogue:purchase_restore", args=[request.workshop.slug, pk])
    undo_message(request, "Thrown away.", back)
    return redirect("catalogue:purchase_list", request.workshop.slug)


@require_POST
@may_change
def purchase_restore(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Bring a draft back that was thrown away."""
    row = row_or_404(Purchase.objects.of(request.workshop), pk)
    try:
        restore_draft(purchase=row)
    except Refusal as refusal:
        messages.error(request, refusal.message)
    else:
        messages.success(request, "The receipt is back, still not finished.")
    return redirect("catalogue:purchase", request.workshop.slug, pk)


@require_GET
@may_see
def purchase_line(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Lead from a cost to the line of the receipt it comes from."""
    row = row_or_404(PurchaseLine.objects.of(request.workshop), pk)
    address = reverse("catalogue:purchase", args=[request.workshop.slug, row.purchase_id])
    return redirect(f"{address}#line-{row.pk}")
