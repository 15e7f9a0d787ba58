"""The page on which an order is made: sheets, what to buy, how far stock goes."""

import uuid
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from catalogue.cutting_plans.services import AlreadyAsked
from catalogue.sheet_plans.services import sheet_planner
from maker.calc.refusal import Refusal
from maker.heavy_pages.marks import heavy
from maker.web.access import WorkshopRequest, may_change, may_see
from pricing.making.batches import batches_of, left_by_line, progress_of, spoiled_by_cause
from pricing.making.drawing import buying_rows, cover_rows, order_batch_rows, sheet_rows
from pricing.making.forms import TogetherForm, others_to_make
from pricing.making.inputs import made_together, to_make
from pricing.making.services import ask_order_plan, plans_of
from pricing.orders.lots import lots_to_take
from pricing.orders.models import Order
from pricing.orders.views import order_or_404
from pricing.quotes.forms import KeyForm


def _chosen(request: WorkshopRequest, order: Order, data: Any) -> tuple[TogetherForm, list[Order]]:
    """Return the form and the orders that are cut as one; what cannot be read is left out."""
    form = TogetherForm(data, others=others_to_make(order))
    more = form.chosen() if form.is_valid() else []
    return form, [order, *more]


@heavy()
@require_GET
@may_see
def order_making(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Show what an order takes: sheets cut as one, what to buy by when, what runs out first."""
    order, shop, today = order_or_404(request, pk), request.workshop, timezone.localdate()
    form, orders = _chosen(request, order, request.GET)
    planner = sheet_planner()
    alone = made_together([order], planner)
    together = made_together(orders, planner) if len(orders) > 1 else alone
    apart = [alone, *(made_together([other], planner) for other in orders[1:])]
    batches = batches_of(order)
    progress = progress_of(order, alone.lines, alone.versions, batches)
    lots = lots_to_take(orders)
    sheets = sheet_rows(together, apart, lots)
    made = to_make(order, alone, today, left_by_line(progress, alone.lines))
    context = {
        "order": order,
        "form": form if form.others else None,
        "orders": orders,
        "problem": together.problem,
        "sheets": sheets,
        "other_lots": {name: lots[name] for name in lots if name not in {r.name for r in sheets}},
        "plans": plans_of(order),
        "form_key": uuid.uuid4(),
        "buying": buying_rows(made, shop, today),
        "covered": cover_rows(made, alone),
        "made": made,
        "progress": progress,
        "is_made": all(not row.left and not row.under_way for row in progress),
        "batches": order_batch_rows(batches, shop),
        "spoiled": spoiled_by_cause(batches),
        "today": today,
    }
    return render(request, "pricing/making/making.html", context)


@heavy()
@require_POST
@may_change
def order_plan_new(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Create one cutting plan over the order, and over those cut together with it."""
    order, shop = order_or_404(request, pk), request.workshop
    _, orders = _chosen(request, order, request.POST)
    key = KeyForm(request.POST)
    form_key = key.cleaned_data["form_key"] if key.is_valid() else None
    together = made_together(orders, sheet_planner())
    try:
        if together.cost is None:
            raise Refusal(together.problem)
        plan = ask_order_plan(
            orders=orders, together=together, by=request.user, form_key=form_key or uuid.uuid4()
        )
    except AlreadyAsked as already:
        plan = already.plan
    except Refusal as refusal:
        messages.error(request, refusal.message)
        return redirect("pricing:order_making", shop.slug, pk)
    return redirect("catalogue:plan", shop.slug, plan.pk)
