"""Batches of an order: recorded line by line, timed step by step, undone."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from catalogue.recipes.models import DesignVersion
from maker.calc.refusal import Refusal
from maker.web.access import WorkshopRequest, may_change, row_or_404
from maker.web.lists import count_text
from maker.web.messages import undo_message
from maker.web.refusals import refusal_told, show_refusal
from pricing.finished_stock.batch_views import ask_batch, batch_form
from pricing.finished_stock.models import FinishedBatch
from pricing.finished_stock.services import AlreadyEntered
from pricing.making.batches import (
    make_order_batch,
    progress_of,
    start_order_batch,
    undo_order_batch,
)
from pricing.making.forms import QuantityForm
from pricing.orders.forms import lot_choices
from pricing.orders.models import Order
from pricing.orders.views import order_or_404
from pricing.quotes.models import QuoteLine
from pricing.times.services import start_run


def _line_or_404(order: Order, key: int) -> tuple[QuoteLine, int]:
    """Return a line that stands for an item of the order, and how many are left to make."""
    for row in progress_of(order):
        if row.line.pk == key:
            return row.line, row.left
    raise Http404("The order has no such line.")


@require_http_methods(["GET", "POST"])
@may_change
def order_batch_new(request: WorkshopRequest, pk: int, line: int) -> HttpResponse:
    """Say what was made for a line; what it needed is taken from stock.

    How many is in the address, so that what is posted fits what was worked out.
    """
    order, shop = order_or_404(request, pk), request.workshop
    row, left = _line_or_404(order, line)
    data = request.GET if "quantity" in request.GET else {"quantity": max(left, 1)}
    which = QuantityForm(data)
    context: dict[str, Any] = {"order": order, "line": row, "which": which, "left": left}
    template = "pricing/making/batch.html"
    if not which.is_valid():
        return render(request, template, context, status=422)
    version = DesignVersion.objects.with_recipe().get(pk=row.version_id)
    quantity = int(which.cleaned_data["quantity"])
    try:
        asked = ask_batch(request, version, quantity, row.colourway_name, row.choices)
    except Refusal as refusal:
        context["problem"] = refusal.message
        return render(request, template, context, status=422)
    form = batch_form(request, asked, lots=lot_choices(order, asked.estimate.amounts))
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        common = {
            "order": order,
            "line": row,
            "today": timezone.localdate(),
            "materials": form.amounts(),
            "lots": form.lots(),
            "note": typed["note"],
            "by": request.user,
            "form_key": typed["form_key"],
        }
        try:
            if "start" in request.POST:
                batch = start_order_batch(planned=quantity, started_on=typed["made_on"], **common)
            else:
                batch = make_order_batch(
                    quantity=typed["good"],
                    made_on=typed["made_on"],
                    minutes=typed["minutes"],
                    spoiled=form.spoiled(),
                    **common,
                )
        except AlreadyEntered as already:
            messages.info(request, already.message)
            return redirect("pricing:order_making", shop.slug, pk)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            back = reverse("pricing:order_batch_undo", args=[shop.slug, pk, batch.pk])
            said = f"Started a batch of {batch.planned}."
            if not batch.is_open:
                said = f"Added {count_text(batch.quantity or 0, 'item')}, reserved for {order}."
            undo_message(request, said, back)
            return redirect("pricing:order_making", shop.slug, pk)
    context["form"] = form
    return render(request, template, context, status=422 if request.method == "POST" else 200)


def _batch_or_404(request: WorkshopRequest, pk: int, batch: int) -> FinishedBatch:
    rows = FinishedBatch.objects.of(request.workshop).filter(order=pk)
    return row_or_404(rows.select_related("order", "item__design"), batch)


@require_POST
@may_change
def order_batch_undo(request: WorkshopRequest, pk: int, batch: int) -> HttpResponse:
    """Undo a batch of an order."""
    row = _batch_or_404(request, pk, batch)
    with refusal_told(request):
        undo_order_batch(batch=row, by=request.user)
        messages.success(request, "Batch undone. Its materials are in stock and reserved again.")
    return redirect("pricing:order_making", request.workshop.slug, pk)


@require_POST
@may_change
def order_batch_timer(request: WorkshopRequest, pk: int, batch: int) -> HttpResponse:
    """Start the timer on a step of an open batch."""
    row = _batch_or_404(request, pk, batch)
    if not row.is_open:
        messages.info(request, "This batch was already finished or undone.")
        return redirect("pricing:order_making", request.workshop.slug, pk)
    with refusal_told(request):
        start_run(
            design=row.item.design,
            step_name=request.POST.get("step", "")[:120],
            by=request.user,
            now=timezone.now(),
            batch=row.pk,
        )
        return redirect("pricing:timer", request.workshop.slug)
    return redirect("pricing:order_making", request.workshop.slug, pk)
