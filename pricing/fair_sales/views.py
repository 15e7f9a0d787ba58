"""The page at the table, what it sends, and the worker that keeps it without network."""

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import (
    FileResponse,
    HttpRequest,
    HttpResponse,
    HttpResponseBase,
    JsonResponse,
)
from django.middleware.csrf import get_token
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from maker.calc.money import minor_digits
from maker.calc.refusal import Refusal
from maker.web.access import WorkshopRequest, may_change, row_or_404
from maker.web.refusals import refusal_told, show_refusal
from maker.web.words import money
from pricing.calc.fairs.basket import basket_of
from pricing.fair_sales.day_state import state_of
from pricing.fair_sales.forms import OneSaleForm
from pricing.fair_sales.names import words_of
from pricing.fair_sales.on_table import OnTable, on_table
from pricing.fair_sales.opening import open_day, take_back_opening
from pricing.fair_sales.reading import MOST_BYTES, SentSale, Unreadable, read_batch
from pricing.fair_sales.services import Teller, store_batch, store_sale
from pricing.fairs.models import FairDay


def day_or_404(request: WorkshopRequest, pk: int, day: int) -> FairDay:
    """Return a day of a fair of the workshop."""
    rows = FairDay.objects.of(request.workshop).filter(fair=pk)
    return row_or_404(rows.select_related("fair__workshop", "fair__channel"), day)


@require_GET
def fair_table_worker(request: HttpRequest) -> HttpResponseBase:
    """Hand out the script that keeps the table's page; it knows nothing of any workshop."""
    file = settings.BASE_DIR / "static" / "js" / "table-worker.js"
    response = FileResponse(file.open("rb"), content_type="text/javascript; charset=utf-8")
    response["Cache-Control"] = "no-cache"
    return response


@require_POST
@may_change
def fair_day_open(request: WorkshopRequest, pk: int, day: int) -> HttpResponse:
    """Open a day: its prices are fixed, and the table's page is next."""
    row = day_or_404(request, pk, day)
    with refusal_told(request):
        open_day(day=row, now=timezone.now())
        return redirect("pricing:fair_table", request.workshop.slug, pk, day)
    return redirect("pricing:fair_day_sales", request.workshop.slug, pk, day)


@require_POST
@may_change
def fair_day_open_undo(request: WorkshopRequest, pk: int, day: int) -> HttpResponse:
    """Take the opening of a day back while nothing was sold."""
    row = day_or_404(request, pk, day)
    with refusal_told(request):
        take_back_opening(day=row)
        messages.success(request, "The day is not open any more. Its prices can change again.")
    return redirect("pricing:fair_day_sales", request.workshop.slug, pk, day)


@never_cache
@require_http_methods(["GET", "POST"])
@may_change
def fair_table(request: WorkshopRequest, pk: int, day: int) -> HttpResponse:
    """Show the table; without scripts a form books one sale."""
    row, shop = day_or_404(request, pk, day), request.workshop
    table = on_table(row, shop)
    form = OneSaleForm(request.POST or None, workshop=shop, table=table)
    if request.method == "POST" and row.is_open and form.is_valid():
        try:
            text = _store_one(request, row, table, form.cleaned_data)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            messages.success(request, text)
            return redirect("pricing:fair_table", shop.slug, pk, day)
    # the cookie that what is sent later needs
    get_token(request)
    context: dict[str, Any] = {
        "day": row,
        "form": form,
        "is_open": row.is_open,
        "fair_url": reverse("pricing:fair_day_sales", args=[shop.slug, pk, day]),
        "told": told_of(request, row, table),
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "pricing/fair_sales/table.html", context, status=status)


def _store_one(
    request: WorkshopRequest, day: FairDay, table: OnTable, typed: dict[str, Any]
) -> str:
    what, key = typed["what"].split()
    items = {key: typed["quantity"]}
    if what == "bundle":
        bundle = next(each for each in table.bundles if each.key == key)
        items = {name: each * typed["quantity"] for name, each in bundle.items.items()}
    basket = basket_of(items, table.prices, table.bundles)
    sale = SentSale(
        uuid=typed["form_key"],
        kind="sale",
        way=typed["way"],
        items={int(name): count for name, count in items.items()},
        bundles={int(name): count for name, count in basket.bundles.items()},
        amount=basket.amount,
    )
    stored = store_sale(
        day=day,
        sale=sale,
        table=table,
        teller=Teller(request.user),
        at=timezone.now(),
    )
    if not stored.is_new:
        return "This sale was stored already."
    amount = money(stored.row.received, request.workshop)
    return f"Stored {amount} {typed['way']}."


def told_of(request: WorkshopRequest, day: FairDay, table: OnTable) -> dict[str, Any]:
    """Return what the page knows of its day: plain values, amounts in minor units."""
    shop = request.workshop
    args = [shop.slug, day.fair_id, day.pk]
    return {
        "locale": shop.locale.replace("_", "-"),
        "currency": shop.currency,
        "digits": minor_digits(shop.currency),
        "items": [
            {
                "key": key,
                "name": item.version.design.name,
                "words": words_of(item),
                "price": table.prices[key],
            }
            for key, item in table.items.items()
        ],
        "bundles": [
            {
                "key": each.key,
                "name": table.bundle_names[each.key],
                "items": dict(each.items),
                "price": each.price,
                "lowest": each.lowest,
            }
            for each in table.bundles
        ],
        "is_open": day.is_open,
        "page": reverse("pricing:fair_table", args=args),
        "send": reverse("pricing:fair_table_send", args=args),
        "look": reverse("pricing:fair_day_sales", args=args),
        "phone": reverse("maker:on_your_phone"),
        "sign_in": reverse("maker:sign_in"),
        "cookie": settings.CSRF_COOKIE_NAME,
        "state": state_of(day, list(table.items.values())),
    }


@never_cache
@require_POST
@may_change
def fair_table_send(request: WorkshopRequest, pk: int, day: int) -> HttpResponse:
    """Store what a phone sends; the answer names each sale, and tells of the day so far."""
    row = day_or_404(request, pk, day)
    if int(request.META.get("CONTENT_LENGTH") or 0) > MOST_BYTES:
        return JsonResponse({"error": f"Send at most {MOST_BYTES:,} bytes at once."}, status=413)
    try:
        batch = read_batch(request.body)
    except Unreadable as refusal:
        return JsonResponse({"error": refusal.message}, status=400)
    answers = store_batch(day=row, batch=batch, by=request.user, now=timezone.now())
    row.refresh_from_db(fields=["opened_at", "closed_at"])
    table = on_table(row, request.workshop)
    return JsonResponse(
        {
            "answers": [
                {"uuid": each.uuid, "state": each.state, "reason": each.reason} for each in answers
            ],
            "day": state_of(row, list(table.items.values())),
        }
    )
