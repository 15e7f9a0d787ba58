"""Invoices and credit notes of an order: issued, printed."""

import uuid

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from maker.calc.money import format_money
from maker.calc.refusal import Refusal
from maker.heavy_pages.marks import heavy
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.refusals import show_refusal
from maker.workshop.papers import lacks_of
from pricing.orders.crediting import charges_left, issue_credit_note, left_to_credit
from pricing.orders.delivery_notes import delivery_note
from pricing.orders.e_invoice import e_invoice_file
from pricing.orders.forms import CreditForm, EInvoiceForm, InvoiceForm, usual_due_on
from pricing.orders.invoicing import AlreadyInvoiced, invoice_asks, invoiced_on, issue_invoice
from pricing.orders.models import Invoice, Order, OrderDelivery
from pricing.orders.printing import invoice_file
from pricing.orders.views import back_to, order_or_404


def _invoice_or_404(request: WorkshopRequest, pk: int, invoice: int) -> Invoice:
    rows = Invoice.objects.of(request.workshop).filter(order=pk)
    return row_or_404(rows.select_related("order__quote__customer__workshop"), invoice)


@require_http_methods(["GET", "POST"])
@may_change
def invoice_new(request: WorkshopRequest, pk: int, delivery: int) -> HttpResponse:
    """Issue the invoice of a delivery."""
    row, today = order_or_404(request, pk), timezone.localdate()
    rows = OrderDelivery.objects.filter(order__in=Order.objects.of(request.workshop), order=pk)
    part = row_or_404(rows.select_related("order__quote__customer__workshop"), delivery)
    initial = {"issued_on": today, "due_on": usual_due_on(today)}
    form = InvoiceForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        try:
            made = issue_invoice(
                delivery=part, on=typed["issued_on"], due_on=typed["due_on"], today=today
            )
        except AlreadyInvoiced as already:
            messages.info(request, already.message)
            return back_to(request, pk)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            messages.success(request, f"Issued invoice {made}. Open its PDF and send it.")
            return back_to(request, pk)
    try:
        total, to_pay = invoice_asks(part)
    except Refusal as refusal:
        messages.info(request, refusal.message)
        return back_to(request, pk)
    shop = request.workshop
    context = {
        "order": row,
        "delivery": part,
        "number": part.position + 1,
        "form": form,
        "lacks": lacks_of(shop, asks_for_money=to_pay > 0),
        "total_text": format_money(total, shop.currency, shop.locale),
        "paid_text": format_money(total - to_pay, shop.currency, shop.locale),
        "to_pay_text": format_money(to_pay, shop.currency, shop.locale),
        "is_part_paid": total != to_pay,
        "agreed_text": format_money(row.cancel_owed, shop.currency, shop.locale)
        if row.cancel_owed is not None and row.cancel_owed < total + invoiced_on(row)
        else "",
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "pricing/orders/invoice.html", context, status=status)


@heavy()
@require_GET
@may_see
def invoice_pdf(request: WorkshopRequest, pk: int, invoice: int) -> HttpResponse:
    """Return an invoice or credit note as the customer gets it."""
    row = _invoice_or_404(request, pk, invoice)
    try:
        content = invoice_file(row)
    except Refusal as refusal:
        messages.error(request, f"There is no PDF: {refusal.message}")
        return back_to(request, pk)
    response = HttpResponse(content, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{row.number}.pdf"'
    return response


@heavy()
@require_GET
@may_see
def invoice_electronic(request: WorkshopRequest, pk: int, invoice: int) -> HttpResponse:
    """Ask what a paper need not say, then return the e-invoice."""
    row = _invoice_or_404(request, pk, invoice)
    asked = request.GET if "country" in request.GET else None
    form = EInvoiceForm(asked, initial={"country": request.workshop.country})
    if asked is not None and form.is_valid():
        try:
            content = e_invoice_file(row, **form.cleaned_data)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            response = HttpResponse(content, content_type="application/pdf")
            name = f"{row.number}-e-invoice.pdf"
            response["Content-Disposition"] = f'attachment; filename="{name}"'
            return response
    context = {"order": row.order, "invoice": row, "form": form}
    status = 200 if asked is None else 422
    return render(request, "pricing/orders/e_invoice.html", context, status=status)


@require_http_methods(["GET", "POST"])
@may_change
def invoice_credit(request: WorkshopRequest, pk: int, invoice: int) -> HttpResponse:
    """Issue a credit note on an invoice."""
    row, today, shop = _invoice_or_404(request, pk, invoice), timezone.localdate(), request.workshop
    if row.kind != Invoice.Kind.INVOICE:
        messages.info(request, "Only an invoice can be credited.")
        return back_to(request, pk)
    form = CreditForm(
        request.POST or None,
        workshop=shop,
        document=row.document,
        left=left_to_credit(row),
        charges=charges_left(row),
        money=lambda amount: format_money(amount, row.document["currency"], shop.locale),
        initial={"issued_on": today, "form_key": uuid.uuid4()},
    )
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        try:
            made = issue_credit_note(
                invoice=row,
                counts=form.counts(),
                charges=form.amounts(),
                reason=typed["reason"],
                on=typed["issued_on"],
                today=today,
                form_key=typed["form_key"],
            )
        except AlreadyInvoiced as already:
            messages.info(request, already.message)
            return back_to(request, pk)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            text = format_money(made.total, shop.currency, shop.locale)
            messages.success(request, f"Issued credit note {made} over {text}.")
            return back_to(request, pk)
    context = {"order": row.order, "invoice": row, "form": form}
    status = 422 if request.method == "POST" else 200
    return render(request, "pricing/orders/credit.html", context, status=status)


@heavy()
@require_GET
@may_see
def delivery_note_pdf(request: WorkshopRequest, pk: int, delivery: int) -> HttpResponse:
    """Return the paper that goes along with a delivery."""
    row = order_or_404(request, pk)
    part = row_or_404(OrderDelivery.objects.filter(order=row), delivery)
    try:
        content = delivery_note(row, part)
    except Refusal as refusal:
        messages.error(request, f"There is no PDF: {refusal.message}")
        return back_to(request, pk)
    response = HttpResponse(content, content_type="application/pdf")
    name = f"delivery-note-{row.pk}-{part.position + 1}.pdf"
    response["Content-Disposition"] = f'inline; filename="{name}"'
    return response
