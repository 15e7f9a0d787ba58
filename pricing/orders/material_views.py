"""Materials of an order: what is short, and what was used is taken from stock."""

import uuid
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from maker.calc.refusal import Refusal
from maker.web.access import WorkshopRequest, may_change
from maker.web.lists import count_text
from maker.web.messages import undo_message
from maker.web.refusals import refusal_told, show_refusal
from maker.web.words import amount_text
from pricing.orders.forms import MaterialsForm
from pricing.orders.lot_drawing import lot_row
from pricing.orders.lots import keep_lot, let_lot_go, need_lots
from pricing.orders.materials import AlreadyTaken, need_lines, put_back_materials, take_materials
from pricing.orders.services import BY_HAND
from pricing.orders.views import back_to, order_or_404


@require_http_methods(["GET", "POST"])
@may_change
def order_materials(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Show what the order needs beside stock, and take what was used from it."""
    row, today, shop = order_or_404(request, pk), timezone.localdate(), request.workshop
    lines = need_lines(row)
    lots = need_lots(row, [line.need for line in lines])
    form = MaterialsForm(
        request.POST or None,
        needs=[line.need for line in lines],
        lots=lots,
        initial={"on": today, "form_key": uuid.uuid4()},
        workshop=shop,
    )
    if request.method == "POST" and form.is_valid():
        key = form.cleaned_data["form_key"]
        try:
            count = take_materials(
                order=row,
                amounts=form.amounts(),
                lots=form.lots(),
                on=form.cleaned_data["on"],
                today=today,
                form_key=key,
                by=request.user,
            )
        except AlreadyTaken as already:
            messages.info(request, already.message)
            return back_to(request, pk)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            back = reverse("pricing:order_materials_undo", args=[shop.slug, pk, key])
            undo_message(request, f"Took {count_text(count, 'material')} from stock.", back)
            return back_to(request, pk)
    rows = [
        {
            "need": line.need,
            "entries": form.entries_of(line.need),
            "is_short": line.short > 0,
            **{
                name: amount_text(amount, line.need.material.unit, shop)
                for name, amount in (
                    ("needed", line.need.left),
                    ("in_stock", line.in_stock),
                    ("reserved", line.reserved_elsewhere),
                    ("short", line.short),
                )
            },
        }
        for line in lines
    ]
    context = {
        "order": row,
        "form": form,
        "rows": rows,
        "lots": [lot_row(each, shop) for each in lots.values() if each.need.left],
        "may_keep": row.state in BY_HAND,
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "pricing/orders/materials.html", context, status=status)


@require_POST
@may_change
def order_materials_undo(request: WorkshopRequest, pk: int, key: uuid.UUID) -> HttpResponse:
    """Put back what one form took from stock."""
    row = order_or_404(request, pk)
    with refusal_told(request):
        count = put_back_materials(order=row, form_key=key, by=request.user)
        messages.success(request, f"Put {count_text(count, 'material')} back in stock.")
    return back_to(request, pk)


@require_POST
@may_change
def order_lot_keep(request: WorkshopRequest, pk: int, material: int) -> HttpResponse:
    """Keep a lot for the order; which is posted, or in the address where letting go is undone."""
    row, shop = order_or_404(request, pk), request.workshop
    lot = request.POST.get("lot") or request.GET.get("lot", "")
    with refusal_told(request):
        need = keep_lot(order=row, material=material, lot=lot[:60])
        amount = amount_text(need.lot_amount, need.material.unit, shop)
        back = reverse("pricing:order_lot_let_go", args=[shop.slug, pk, material])
        undo_message(request, f"Kept {amount} of lot {need.lot} for {row}.", back)
    return redirect("pricing:order_materials", shop.slug, pk)


@require_POST
@may_change
def order_lot_let_go(request: WorkshopRequest, pk: int, material: int) -> HttpResponse:
    """Let go of the lot that is kept for the order."""
    row, shop = order_or_404(request, pk), request.workshop
    with refusal_told(request):
        lot = let_lot_go(order=row, material=material)
        back = reverse("pricing:order_lot_keep", args=[shop.slug, pk, material])
        undo_message(request, f"Let go of lot {lot}.", f"{back}?{urlencode({'lot': lot})}")
    return redirect("pricing:order_materials", shop.slug, pk)
