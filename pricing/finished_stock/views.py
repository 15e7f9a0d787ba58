"""Pages of finished stock: what is there, one item's history, a batch, a movement, a count."""

import uuid
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from maker.calc.refusal import Refusal
from maker.exports.answers import export_response, wanted_format
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.lists import count_text
from maker.web.messages import undo_message
from maker.web.refusals import refusal_told, show_refusal
from maker.web.words import money
from pricing.calc.finished_stock.worth import NOTHING
from pricing.finished_stock.drawing import batch_rows, move_rows_of, shelf_rows
from pricing.finished_stock.forms import (
    FinishedCountForm,
    FinishedMoveForm,
    PlaceForm,
)
from pricing.finished_stock.inputs import OnHand, on_hand
from pricing.finished_stock.models import FinishedBatch, FinishedItem, FinishedMove, Place
from pricing.finished_stock.services import (
    AlreadyEntered,
    bring_back,
    count_many,
    move,
    take_out,
    undo,
)
from pricing.finished_stock.sheet import (
    move_columns,
    move_rows,
    on_hand_columns,
    on_hand_rows,
)

Kind = FinishedMove.Kind


@require_GET
@may_see
def finished_list(request: WorkshopRequest) -> HttpResponse:
    """List what is finished and there: how many, where, what it cost."""
    shop = request.workshop
    places = list(Place.objects.of(shop).in_order())
    place_form = PlaceForm(request.GET, places=places)
    place = place_form.cleaned_data["place"] if place_form.is_valid() else None
    rows = on_hand(shop, place)
    if wanted_format(request):
        return export_response(
            request,
            title="Finished stock",
            columns=on_hand_columns(shop),
            rows=on_hand_rows(rows),
        )
    open_batches = FinishedBatch.objects.of(shop).open().select_related("order", "item__design")
    context = {
        "rows": shelf_rows(rows, shop),
        "place_form": place_form if len(places) > 1 else None,
        "count_text": count_text(len(rows), "item"),
        "open_batches": open_batches.order_by("started_on", "pk"),
        "is_empty": not rows and not FinishedItem.objects.of(shop).exists(),
        "without": FinishedItem.objects.of(shop)
        .with_names()
        .in_order()
        .exclude(pk__in=[row.item.pk for row in rows])
        if place is None
        else [],
        "total": money(sum((row.worth.total for row in rows), Decimal(0)), shop),
    }
    return render(request, "pricing/finished_stock/list.html", context)


def item_or_404(request: WorkshopRequest, pk: int) -> FinishedItem:
    """Return an item of this workshop with its name."""
    return row_or_404(FinishedItem.objects.of(request.workshop).with_names(), pk)


@require_GET
@may_see
def finished_item(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Show one item: where it is, its batches, everything that happened to it."""
    item, shop = item_or_404(request, pk), request.workshop
    moves = item.moves.with_standing().select_related("place", "to_place", "order", "batch")
    if wanted_format(request):
        return export_response(
            request,
            title=f"History of {item}",
            columns=move_columns(shop),
            rows=move_rows(moves.in_ledger_order()),
        )
    (there,) = on_hand(shop, item=item) or (None,)
    context = {
        "item": item,
        "there": there,
        "shelf": shelf_rows([there], shop)[0] if there else None,
        "batches": batch_rows(item, shop),
        "moves": move_rows_of(list(moves.newest_first()), shop),
    }
    return render(request, "pricing/finished_stock/item.html", context)


@require_http_methods(["GET", "POST"])
@may_change
def finished_move(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Enter what happened to some of an item."""
    item, shop = item_or_404(request, pk), request.workshop
    places = list(Place.objects.of(shop).in_order())
    first = {
        "form_key": uuid.uuid4(),
        "on": timezone.localdate(),
        "place": places[0] if places else None,
    }
    form = FinishedMoveForm(request.POST or None, initial=first, workshop=shop, places=places)
    if request.method == "POST" and form.is_valid():
        try:
            moved = _move(request, item, form.cleaned_data)
        except AlreadyEntered as already:
            messages.info(request, already.message)
            return redirect("pricing:finished_item", shop.slug, pk)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            back = reverse("pricing:finished_move_undo", args=[shop.slug, moved.pk])
            words = f"{abs(moved.change)} {moved.get_kind_display()}."
            undo_message(request, words, back)
            return redirect("pricing:finished_item", shop.slug, pk)
    context = {"item": item, "form": form, "there": on_hand(shop, item=item)}
    status = 422 if request.method == "POST" else 200
    return render(request, "pricing/finished_stock/move.html", context, status=status)


def _move(request: WorkshopRequest, item: FinishedItem, typed: dict[str, Any]) -> FinishedMove:
    common = {
        "item": item,
        "quantity": typed["quantity"],
        "on": typed["on"],
        "today": timezone.localdate(),
        "reason": typed["reason"],
        "by": request.user,
        "form_key": typed["form_key"],
    }
    place: Place = typed["place"]
    if typed["kind"] == Kind.MOVED:
        return move(from_place=place, to_place=typed["to_place"], **common)
    if typed["kind"] == Kind.CAME_BACK:
        return bring_back(place=place, **common)
    return take_out(place=place, kind=typed["kind"], **common)


@require_POST
@may_change
def finished_move_undo(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Undo one movement."""
    rows = FinishedMove.objects.of(request.workshop).select_related("item", "order")
    moved = row_or_404(rows, pk)
    if moved.kind == Kind.DELIVERED and moved.order_id:
        messages.info(request, "This left with a delivery. Undo the delivery on the order.")
        return redirect("pricing:order", request.workshop.slug, moved.order_id)
    with refusal_told(request):
        undo(move=moved, by=request.user)
        messages.success(request, "Undone. Both entries stay in the history.")
    return redirect("pricing:finished_item", request.workshop.slug, moved.item_id)


@require_http_methods(["GET", "POST"])
@may_change
def finished_count(request: WorkshopRequest) -> HttpResponse:
    """Enter what was counted of all items at a place."""
    shop, today = request.workshop, timezone.localdate()
    places = list(Place.objects.of(shop).in_order())
    place_form = PlaceForm(request.GET, places=places)
    chosen = place_form.cleaned_data["place"] if place_form.is_valid() else None
    place = chosen or next((each for each in places if each.kind == Place.Kind.HOME), None)
    rows = on_hand(shop, place) if place else []
    known = {row.item.pk for row in rows}
    if place is not None and place.kind == Place.Kind.HOME:
        # what the book has none of may lie on the shelf all the same
        items = FinishedItem.objects.of(shop).with_names().in_order().exclude(pk__in=known)
        rows += [OnHand(item, 0, NOTHING, 0) for item in items]
    names = {row.item.pk: str(row.item) for row in rows}
    first = {"form_key": uuid.uuid4(), "on": today}
    form = FinishedCountForm(
        request.POST or None, initial=first, workshop=shop, rows=rows, names=names
    )
    if request.method == "POST" and place is not None and form.is_valid():
        try:
            changed = count_many(
                workshop=shop,
                place=place,
                counted=form.counted(),
                on=form.cleaned_data["on"],
                today=today,
                reason=form.cleaned_data["reason"],
                form_key=form.cleaned_data["form_key"],
                by=request.user,
            )
        except AlreadyEntered as already:
            messages.info(request, already.message)
            return redirect("pricing:finished_list", shop.slug)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            messages.success(
                request,
                f"Stock count saved. {count_text(changed, 'item').capitalize()} differed.",
            )
            return redirect("pricing:finished_list", shop.slug)
    context = {
        "form": form,
        "place": place,
        "place_form": place_form if len(places) > 1 else None,
        "rows": rows,
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "pricing/finished_stock/count.html", context, status=status)
