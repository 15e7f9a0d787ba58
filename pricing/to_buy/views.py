"""The page of what to buy, and one click to a draft of a receipt."""

import uuid

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from catalogue.purchases.services import AlreadySaved
from catalogue.suppliers.models import Supplier
from maker.calc.refusal import Refusal
from maker.heavy_pages.marks import heavy
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.lists import PER_PAGE
from maker.web.messages import undo_message
from maker.web.parts import part_or_page
from pricing.to_buy.drawing import page_text, slow_text, without_pack_rows
from pricing.to_buy.services import (
    SupplierList,
    Unpacked,
    buying_list,
    draft_from_list,
)
from pricing.to_buy.slow import slow_rows, slow_stock

# suppliers with what is bought of each, and materials without a pack
PARTS_ON_A_PAGE = 10


@heavy()
@require_GET
@may_see
def to_buy(request: WorkshopRequest) -> HttpResponse:
    """Show what to buy now, supplier by supplier, and what only lies there.

    What no pack can cover comes behind the suppliers.
    """
    shop = request.workshop
    found = buying_list(workshop=shop, on=timezone.localdate())
    parts: list[SupplierList | Unpacked] = [*found.suppliers, *found.without_pack]
    page = Paginator(parts, PARTS_ON_A_PAGE).get_page(request.GET.get("page"))
    suppliers = [one for one in page if isinstance(one, SupplierList)]
    without_pack = [one for one in page if not isinstance(one, SupplierList)]
    context = {
        "page": page,
        "without_pack": without_pack_rows(without_pack),
        **page_text(found, suppliers, shop),
    }
    return render(request, "pricing/to_buy/to_buy.html", context)


@heavy()
@require_GET
@may_see
def slow_list(request: WorkshopRequest) -> HttpResponse:
    """Show what only lies there and what it would do for; in part where the list asks."""
    shop = request.workshop
    slow = slow_stock(shop, timezone.localdate())
    page = Paginator(slow, PER_PAGE).get_page(request.GET.get("page"))
    context = {"slow": [slow_text(one, shop) for one in slow_rows(shop, list(page.object_list))]}
    return part_or_page(
        request,
        "pricing/to_buy/_slow.html",
        "pricing/to_buy/slow.html",
        {**context, "page": page},
    )


@heavy()
@require_POST
@may_change
def to_buy_draft(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Make a draft of a receipt with what the list has of one supplier."""
    shop = request.workshop
    supplier = row_or_404(Supplier.objects.of(shop), pk)
    try:
        key = uuid.UUID(request.POST.get("form_key", ""))
    except ValueError:
        key = uuid.uuid4()
    try:
        draft = draft_from_list(
            workshop=shop, supplier=supplier, on=timezone.localdate(), form_key=key
        )
    except AlreadySaved as already:
        draft = already.purchase
        messages.info(request, already.message)
    except Refusal as refusal:
        messages.warning(request, refusal.message)
        return redirect("pricing:to_buy", shop.slug)
    else:
        back = reverse("catalogue:purchase_discard", args=[shop.slug, draft.pk])
        undo_message(request, "Draft receipt created. Nothing is in stock yet.", back)
    return redirect("catalogue:purchase", shop.slug, draft.pk)
