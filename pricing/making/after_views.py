"""The page of estimate and actual: what an order took, what to learn, what to say next time."""

from decimal import Decimal, InvalidOperation

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from catalogue.designs.models import Design
from catalogue.sheet_plans.services import sheet_planner
from maker.calc.refusal import Refusal
from maker.heavy_pages.marks import heavy
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.lists import whole_number
from maker.web.messages import undo_message
from maker.web.refusals import refusal_told
from pricing.making.after import (
    afterwards,
    expenses_of,
    newest_recipes,
    next_time,
    use_actual_minutes,
)
from pricing.making.after_drawing import after_page, next_rows
from pricing.making.inputs import made_together
from pricing.orders.views import order_or_404


@heavy()
@require_GET
@may_see
def order_after(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Show planned and actual cost of an order, what an hour earned, and what to change."""
    order, shop = order_or_404(request, pk), request.workshop
    together = made_together([order], sheet_planner())
    expenses = expenses_of(order)
    context = {
        "order": order,
        "next": next_rows(next_time(order, together.versions), shop),
        "expenses": expenses,
    }
    try:
        found = afterwards(order, together, expenses)
    except Refusal as refusal:
        context["problem"] = refusal.message
    else:
        context |= after_page(found, shop, newest_recipes(found, together.versions))
    return render(request, "pricing/making/after.html", context)


@require_POST
@may_change
def order_after_use(request: WorkshopRequest, pk: int, design: int) -> HttpResponse:
    """Take the minutes an order really took into the recipe of one of its designs."""
    order, shop = order_or_404(request, pk), request.workshop
    row = row_or_404(Design.objects.of(shop), design)
    number = whole_number(request.POST.get("version"), 0)
    with refusal_told(request, messages.WARNING):
        saved = use_actual_minutes(
            order=order,
            design=row,
            factor=_factor(request.POST.get("factor", "")),
            number=number,
            by=request.user,
        )
        text = f"Updated the minutes of “{row}” in the recipe."
        if saved.number != number:
            text += f" They are in version {saved.number}, because version {number} is locked."
        way_back = {
            "workshop": shop.slug,
            "design": design,
            "number": saved.number,
            "edit_number": saved.edit_number - 1,
        }
        undo_message(request, text, reverse("catalogue:recipe_undo", kwargs=way_back))
    return redirect("pricing:order_after", shop.slug, order.pk)


def _factor(text: str) -> Decimal:
    """Return the factor the page sent; 0, which is refused, for anything but a number."""
    try:
        factor = Decimal(text[:20])
    except InvalidOperation:
        return Decimal(0)
    return factor if factor.is_finite() else Decimal(0)
