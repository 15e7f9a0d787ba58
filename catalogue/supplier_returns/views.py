"""The page on which goods of a receipt line go back or are found damaged."""

import uuid

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from catalogue.closed_months.services import say_closed
from catalogue.purchases.models import Purchase, PurchaseLine
from catalogue.stock.counts import say_counts
from catalogue.stock.ledger import AlreadyEntered
from catalogue.stock.models import StockEntry
from catalogue.supplier_returns.forms import CREDITED, KEPT, ReturnForm
from catalogue.supplier_returns.services import gone_of, goods_of, scrap_damaged, send_back
from maker.calc.money import format_money
from maker.calc.refusal import Refusal
from maker.web.access import WorkshopRequest, may_change, row_or_404
from maker.web.messages import undo_message
from maker.web.refusals import show_refusal
from maker.web.words import amount_text


@require_http_methods(["GET", "POST"])
@may_change
def supplier_return(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Send goods of a line back, or say that they arrived damaged."""
    workshop = request.workshop
    lines = PurchaseLine.objects.of(workshop).select_related("material", "purchase__supplier")
    line = row_or_404(lines.select_related("purchase__workshop"), pk)
    receipt = reverse("catalogue:purchase", args=[workshop.slug, line.purchase_id])
    if line.purchase.state != Purchase.State.RECORDED:
        messages.info(request, "Only goods in stock go back.")
        return redirect(receipt)
    is_sent = request.method == "POST"
    form = ReturnForm(
        request.POST if is_sent else None,
        workshop=workshop,
        unit=line.material.unit,
        initial={"moved_on": timezone.localdate(), "form_key": uuid.uuid4()},
    )
    if is_sent and form.is_valid():
        try:
            _say(request, line, _enter(request, line, form))
        except AlreadyEntered as already:
            messages.info(request, already.message)
        except Refusal as refusal:
            show_refusal(form, refusal)
        if not form.errors:
            return redirect(receipt)
    left = line.quantity - gone_of(line)
    context = {
        "form": form,
        "line": line,
        "left_text": amount_text(left, line.material.unit, workshop),
        "owed": goods_of(line, left).owed if left > 0 else 0,
    }
    status = 422 if is_sent else 200
    return render(request, "catalogue/supplier_returns/return.html", context, status=status)


def _enter(request: WorkshopRequest, line: PurchaseLine, form: ReturnForm) -> StockEntry:
    typed = form.cleaned_data
    same = {
        "line": line,
        "quantity": typed["quantity"],
        "on": typed["moved_on"],
        "today": timezone.localdate(),
        "by": request.user,
        "form_key": typed["form_key"],
    }
    if typed["what"] == KEPT:
        return scrap_damaged(reason=typed["reason"], **same)
    reason = typed["reason"]
    if typed["what"] == CREDITED:
        reason = f"damaged on arrival{': ' if reason else ''}{reason}"[:200]
    return send_back(refund=typed["refund"], reason=reason, **same)


def _say(request: WorkshopRequest, line: PurchaseLine, entry: StockEntry) -> None:
    """Say what was refunded and lost, and offer the way back."""
    workshop = request.workshop
    words = f"{line.material} left stock."
    if entry.refund is not None and entry.cost_out is not None:
        refund, lost = (
            format_money(amount, workshop.currency, workshop.locale)
            for amount in (entry.refund, entry.cost_out - entry.refund)
        )
        words = f"{line.material}: {refund} refunded, {lost} lost."
    undo_message(request, words, reverse("catalogue:stock_reverse", args=[workshop.slug, entry.pk]))
    say_counts(request, [entry])
    say_closed(request, entry.moved_on)
