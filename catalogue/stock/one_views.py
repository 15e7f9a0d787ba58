"""The page of a stock count one material after the other, made for a phone."""

import uuid
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from catalogue.closed_months.services import say_closed
from catalogue.materials.lots import lots_of
from catalogue.materials.models import Material
from catalogue.stock.counts import say_counts
from catalogue.stock.forms import COUNT
from catalogue.stock.ledger import AlreadyEntered
from catalogue.stock.models import StockEntry
from catalogue.stock.one_by_one import Round, packs_to_count, round_of
from catalogue.stock.one_form import OneCountForm
from catalogue.stock.services import count_stock
from maker.calc.refusal import Refusal
from maker.web.access import WorkshopRequest, may_change, row_or_404
from maker.web.messages import undo_message
from maker.web.refusals import show_refusal
from maker.web.words import amount_text


def _key(text: str | None) -> int | None:
    return int(text) if text and text.isascii() and text.isdecimal() and len(text) < 19 else None


@require_http_methods(["GET", "POST"])
@may_change
def stock_count_each(request: WorkshopRequest) -> HttpResponse:
    """Ask for one material at a time; what is counted counts at once."""
    shop, today = request.workshop, timezone.localdate()
    this_round = round_of(shop, today)
    key = _key(request.POST.get("material") or request.GET.get("material"))
    if key is None:
        key = this_round.after(_key(request.GET.get("after")))
    material: Material | None = None
    if key is not None:
        material = row_or_404(Material.objects.of(shop).in_use().select_related("picture"), key)
    context: dict[str, Any] = {"round": this_round, "material": material}
    if material is None:
        return render(request, "catalogue/stock/each.html", context)
    form = OneCountForm(
        request.POST or None,
        workshop=shop,
        material=material,
        packs=packs_to_count(material),
        lots=[lot.name for lot in lots_of(material).lots],
        initial={"form_key": uuid.uuid4(), "material": material.pk},
    )
    if request.method == "POST" and form.is_valid():
        try:
            entry = count_stock(
                material=material,
                counted=form.cleaned_data["counted"],
                moved_on=today,
                today=today,
                by=request.user,
                reason=COUNT,
                typed_in=form.cleaned_data["typed_in"],
                lot=form.cleaned_data.get("lot", ""),
                form_key=form.cleaned_data["form_key"],
            )
        except AlreadyEntered as already:
            messages.info(request, already.message)
            return _on(request, this_round, material)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            _say(request, material, entry)
            return _on(request, this_round, material)
    context |= {
        "form": form,
        "expected": amount_text(material.on_hand, material.unit, shop),
        "number": this_round.counted + 1,
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "catalogue/stock/each.html", context, status=status)


def _on(request: WorkshopRequest, this_round: Round, material: Material) -> HttpResponse:
    """Lead to the next material in the order of the shelves."""
    following = this_round.after(material.pk)
    address = reverse("catalogue:stock_count_each", args=[request.workshop.slug])
    if following is None or following == material.pk:
        return redirect(address)
    return redirect(f"{address}?material={following}")


def _say(request: WorkshopRequest, material: Material, entry: StockEntry) -> None:
    shop = request.workshop
    counted = amount_text(entry.counted or Decimal(0), material.unit, shop, entry.typed_in)
    change = amount_text(abs(entry.change), material.unit, shop)
    found = (
        "as expected" if not entry.change else f"{change} {'more' if entry.change > 0 else 'less'}"
    )
    back = reverse("catalogue:stock_reverse", args=[shop.slug, entry.pk])
    undo_message(request, f"{material.name}: {counted}, {found}.", back)
    say_counts(request, [entry])
    say_closed(request, entry.moved_on)
