"""Pages of shops: side by side, one shop, what goes there and back, settling."""

from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from maker.calc.money import format_money
from maker.calc.refusal import Refusal
from maker.calc.units import format_percent
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.lists import count_text
from maker.web.messages import undo_message
from maker.web.refusals import refusal_told, show_refusal
from maker.web.row_pages import Entry, entry_page
from maker.workshop.models import Workshop
from pricing.consignment.forms import CountsForm, ShopForm
from pricing.consignment.inputs import last_prices, settled
from pricing.consignment.models import Shop
from pricing.consignment.services import move_items, save_shop, settle_shop, undo_settlement
from pricing.finished_stock.inputs import on_hand
from pricing.finished_stock.models import Place

ZERO = Decimal(0)
# what happens to the items, as the head of their column
WORDS = {"leave": "To leave", "back": "To take home", "settle": "Sold"}


def _money(amount: Decimal, workshop: Workshop) -> str:
    return format_money(amount, workshop.currency, workshop.locale)


@require_GET
@may_see
def shop_list(request: WorkshopRequest) -> HttpResponse:
    """Shops with how many items are there and what they paid."""
    workshop = request.workshop
    there: dict[int, int] = {}
    for each in on_hand(workshop):
        for place, count in each.places:
            there[place.pk] = there.get(place.pk, 0) + count
    shops = Shop.objects.of(workshop).by_name().prefetch_related("settlements__items")
    rows = [
        {
            "shop": shop,
            "share": format_percent(shop.kept_share, workshop.locale),
            "there": there.get(shop.place_id, 0),
            "due": _money(
                sum(
                    (
                        settled(row, workshop).due
                        for row in shop.settlements.all()
                        if not row.undone_at
                    ),
                    ZERO,
                ),
                workshop,
            ),
        }
        for shop in shops
    ]
    return render(request, "pricing/consignment/list.html", {"rows": rows})


def _shop_or_404(request: WorkshopRequest, pk: int) -> Shop:
    found: Shop = row_or_404(Shop.objects.of(request.workshop).by_name(), pk)
    return found


@require_GET
@may_see
def shop(request: WorkshopRequest, pk: int) -> HttpResponse:
    """One shop: what is there, and its settlements."""
    row, workshop = _shop_or_404(request, pk), request.workshop
    settlements = row.settlements.prefetch_related("items").order_by("-settled_on", "-pk")
    context = {
        "shop": row,
        "share": format_percent(row.kept_share, workshop.locale),
        "there": on_hand(workshop, row.place),
        "settlements": [
            {
                "row": each,
                "count": sum(item.count for item in each.items.all()),
                "taken": _money(worked.taken, workshop),
                "kept": _money(worked.kept, workshop),
                "due": _money(worked.due, workshop),
            }
            for each in settlements
            for worked in [settled(each, workshop)]
        ],
    }
    return render(request, "pricing/consignment/shop.html", context)


@require_http_methods(["GET", "POST"])
@may_change
def shop_new(request: WorkshopRequest) -> HttpResponse:
    """Add a shop."""
    return _edit(request, Shop())


@require_http_methods(["GET", "POST"])
@may_change
def shop_edit(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Change a shop."""
    return _edit(request, _shop_or_404(request, pk))


def _edit(request: WorkshopRequest, row: Shop) -> HttpResponse:
    def entry_of(row: Shop, data: Any) -> Entry:
        return Entry(ShopForm(data, instance=row, workshop=request.workshop))

    def save(entry: Entry) -> HttpResponse:
        saved = save_shop(
            workshop=request.workshop,
            shop=entry.form.save(commit=False),
            name=entry.form.cleaned_data["name"],
            edit_number=entry.edit_number,
        )
        messages.success(request, f"Saved “{saved}”.")
        return redirect("pricing:shop", request.workshop.slug, saved.pk)

    return entry_page(request, "pricing/consignment/edit.html", row, entry_of, save)


@require_http_methods(["GET", "POST"])
@may_change
def shop_leave(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Leave items with a shop."""
    return _count(request, pk, "leave")


@require_http_methods(["GET", "POST"])
@may_change
def shop_back(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Take items home from a shop."""
    return _count(request, pk, "back")


@require_http_methods(["GET", "POST"])
@may_change
def shop_settle(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Book what a shop sold."""
    return _count(request, pk, "settle")


def _count(request: WorkshopRequest, pk: int, kind: str) -> HttpResponse:
    row, workshop, today = _shop_or_404(request, pk), request.workshop, timezone.localdate()
    home = Place.objects.of(workshop).filter(kind=Place.Kind.HOME).first()
    place = home if kind == "leave" else row.place
    there = on_hand(workshop, place) if place else []
    form = CountsForm(
        request.POST or None,
        workshop=workshop,
        there=there,
        what=WORDS[kind],
        prices=last_prices(row, [each.item for each in there]) if kind == "settle" else None,
        initial={"on": today},
    )
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        try:
            if kind == "settle":
                made = settle_shop(
                    shop=row, sold=form.sold(), on=typed["on"], today=today, note=typed["note"],
                    by=request.user, form_key=typed["form_key"],
                )  # fmt: skip
                way_back = reverse("pricing:shop_undo", args=[workshop.slug, row.pk, made.pk])
                due = _money(settled(made, workshop).due, workshop)
                undo_message(request, f"Settled: {row} owes you {due}.", way_back)
            else:
                count = move_items(
                    shop=row, counts=form.counts(), to_shop=kind == "leave", on=typed["on"],
                    today=today, by=request.user, form_key=typed["form_key"],
                )  # fmt: skip
                where = "left with" if kind == "leave" else "taken home from"
                messages.success(request, f"{count_text(count, 'item')} {where} {row}.")
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            return redirect("pricing:shop", workshop.slug, row.pk)
    status = 422 if request.method == "POST" else 200
    context = {
        "shop": row,
        "share": format_percent(row.kept_share, workshop.locale),
        "form": form,
        "kind": kind,
        "there": there,
    }
    return render(request, "pricing/consignment/count.html", context, status=status)


@require_POST
@may_change
def shop_undo(request: WorkshopRequest, pk: int, settlement: int) -> HttpResponse:
    """Take a settlement back."""
    row = _shop_or_404(request, pk)
    with refusal_told(request):
        undo_settlement(settlement=row_or_404(row.settlements.all(), settlement), by=request.user)
        messages.success(request, "The settlement is undone. Its items are at the shop again.")
    return redirect("pricing:shop", request.workshop.slug, pk)
