"""Pages of the stock ledger: enter a movement, take one back."""

import uuid
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from catalogue.closed_months.services import say_closed
from catalogue.materials.forms import MaterialFilter
from catalogue.materials.lots import lots_in_words, lots_of
from catalogue.materials.models import Material
from catalogue.stock.counts import say_counts
from catalogue.stock.drawing import difference
from catalogue.stock.forms import ShelfCountForm, StockMoveForm
from catalogue.stock.ledger import AlreadyEntered
from catalogue.stock.models import StockEntry
from catalogue.stock.services import (
    count_shelf,
    count_stock,
    entries_of_count,
    move_stock,
    put_on_shelf,
    reverse_count,
    reverse_entry,
)
from catalogue.stock.sheet import ledger_columns, ledger_rows
from maker.exports.answers import export_response, wanted_format
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.lists import address_of_page, count_text
from maker.web.messages import undo_message
from maker.web.refusals import refusal_told
from maker.web.row_pages import Entry, entry_page
from maker.web.words import amount_text
from maker.workshop.models import Workshop

Kind = StockEntry.Kind
COUNTED_AT_ONCE = 50
KEPT_OF_COUNT = ("counted_on", "reason")


@require_http_methods(["GET", "POST"])
@may_change
def stock_move(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Enter what left the shelf, a count, or what was there at the start."""
    material = row_or_404(Material.objects.of(request.workshop), pk)
    first = {"form_key": uuid.uuid4(), "moved_on": timezone.localdate()}
    lots = lots_of(material)

    def entry_of(row: Material, data: Any) -> Entry:
        form = StockMoveForm(
            data, initial=first, workshop=request.workshop, material=row, lots=lots
        )
        return Entry(form)

    def save(entry: Entry) -> HttpResponse:
        with refusal_told(request, messages.INFO, only=AlreadyEntered):
            moved = _enter(request, material, entry.form.cleaned_data)
            _say_entered(request, material, moved)
        return redirect("catalogue:material", request.workshop.slug, pk)

    return entry_page(
        request,
        "catalogue/stock/move.html",
        material,
        entry_of,
        save,
        material=material,
        on_hand=_written(request, material),
        lots=lots_in_words(material, lots, request.workshop),
    )


def _enter(request: WorkshopRequest, material: Material, typed: dict[str, Any]) -> StockEntry:
    common = {
        "material": material,
        "moved_on": typed["moved_on"],
        "today": timezone.localdate(),
        "by": request.user,
        "reason": typed["reason"],
        "typed_in": typed.get("typed_in", ""),
        "lot": typed["lot"],
        "form_key": typed["form_key"],
    }
    if typed["kind"] == Kind.COUNTED:
        return count_stock(counted=typed["amount"], **common)
    if typed["kind"] == Kind.OPENING:
        return put_on_shelf(amount=typed["amount"], cost=typed["cost"], **common)
    return move_stock(kind=typed["kind"], amount=typed["amount"], **common)


def _say_entered(request: WorkshopRequest, material: Material, entry: StockEntry) -> None:
    material.refresh_from_db()
    unit, workshop = material.unit, request.workshop
    if entry.counted is not None:
        change = amount_text(abs(entry.change), unit, workshop)
        counted = amount_text(entry.counted, unit, workshop, entry.typed_in)
        found = {1: f"{change} more than", -1: f"{change} less than", 0: "as many as"}
        way = (entry.change > 0) - (entry.change < 0)
        said = f"{counted} counted, {found[way]} expected."
    else:
        change = amount_text(abs(entry.change), unit, workshop, entry.typed_in)
        way_words = "came in" if entry.change > 0 else "left"
        said = f"{change} {way_words}: {entry.get_kind_display()}."
    if entry.lot:
        said += f" Lot {entry.lot}."
    undo_message(
        request,
        f"{said} {_written(request, material)} in stock.",
        reverse("catalogue:stock_reverse", args=[request.workshop.slug, entry.pk]),
    )
    say_counts(request, [entry])
    say_closed(request, entry.moved_on)
    if material.on_hand < 0:
        messages.warning(
            request,
            f"Stock of {material.name} is negative: enter the missing receipt or do a stock count.",
        )


def _written(request: WorkshopRequest, material: Material) -> str:
    return amount_text(material.on_hand, material.unit, request.workshop)


@require_GET
@may_see
def stock_export(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Answer with every movement of a material as a file."""
    material = row_or_404(Material.objects.of(request.workshop), pk)
    if not wanted_format(request):
        address = reverse("catalogue:material", args=[request.workshop.slug, pk])
        return redirect(f"{address}#stock")
    return export_response(
        request,
        title=f"Stock of {slugify(material.name) or pk}",
        columns=ledger_columns(material, request.workshop),
        rows=ledger_rows(material.stock_entries.all(), material, request.workshop),
    )


@require_POST
@may_change
def stock_reverse(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Take a movement back by a new one."""
    entry = row_or_404(StockEntry.objects.of(request.workshop).select_related("material"), pk)
    with refusal_told(request):
        back = reverse_entry(entry=entry, by=request.user)
        say_counts(request, [back])
        say_closed(request, back.moved_on)
        messages.success(request, "Undone. Both entries stay in the history.")
    address = reverse("catalogue:material", args=[request.workshop.slug, entry.material_id])
    return redirect(f"{address}#stock")


@require_http_methods(["GET", "POST"])
@may_change
def stock_count(request: WorkshopRequest) -> HttpResponse:
    """Enter what a count found of many materials, a page of them at once."""
    workshop = request.workshop
    of_workshop = Material.objects.of(workshop)
    filter_form = MaterialFilter(request.GET)
    found = filter_form.narrow(of_workshop).by_name().select_related("picture")
    page = Paginator(found, COUNTED_AT_ONCE).get_page(request.GET.get("page"))
    if request.method == "POST":
        # those that were sent, whatever stands before them now
        page.object_list = found.filter(pk__in=ShelfCountForm.sent(request.POST))
        if _only_pages(request):
            return redirect(address_of_page(request))
    materials = list(page.object_list)
    # one count may take many pages: its date and reason go along
    kept = {name: request.GET[name] for name in KEPT_OF_COUNT if name in request.GET}
    first = {"form_key": uuid.uuid4(), "counted_on": timezone.localdate(), **kept}

    def entry_of(row: Workshop, data: Any) -> Entry:
        form = ShelfCountForm(data, initial=first, workshop=workshop, materials=materials)
        return Entry(form)

    return entry_page(
        request,
        "catalogue/stock/count.html",
        workshop,
        entry_of,
        lambda entry: _save_count(request, entry.form),
        filter_form=filter_form,
        page=page,
        is_empty=not materials and not of_workshop.exists(),
    )


def _only_pages(request: WorkshopRequest) -> bool:
    """Whether only another page was asked for, and no amount was typed on this one."""
    typed = ShelfCountForm.sent(request.POST).values()
    return "page" in request.POST and not any(text.strip() for text in typed)


def _save_count(request: WorkshopRequest, form: ShelfCountForm) -> HttpResponse:
    """Store the counts of a page and go on to the next one, or to what they found."""
    slug, typed = request.workshop.slug, form.cleaned_data
    with refusal_told(request, messages.INFO, only=AlreadyEntered):
        entries = count_shelf(
            workshop=request.workshop,
            counted=form.counted(),
            counted_on=typed["counted_on"],
            today=timezone.localdate(),
            reason=typed["reason"],
            form_key=typed["form_key"],
            by=request.user,
            typed_in=form.typed_in(),
        )
        if "page" in request.POST:
            back = reverse("catalogue:stock_count_reverse", args=[slug, typed["form_key"]])
            undo_message(request, f"Counted {count_text(len(entries), 'material')}.", back)
    if "page" not in request.POST:
        return redirect("catalogue:stock_counted", slug, typed["form_key"])
    return redirect(
        address_of_page(request, **{name: request.POST[name] for name in KEPT_OF_COUNT})
    )


@require_GET
@may_see
def stock_counted(request: WorkshopRequest, key: uuid.UUID) -> HttpResponse:
    """List the differences a count found."""
    workshop = request.workshop
    entries = list(entries_of_count(workshop, key).for_ledger().select_related("material"))
    if not entries:
        raise Http404("No stock count has this address.")
    context = {
        "entries": [difference(entry, workshop) for entry in entries],
        "counted_on": entries[0].moved_on,
        "reason": entries[0].reason,
        "key": key,
        "stands": any(entry.counts for entry in entries),  # type: ignore[attr-defined]
    }
    return render(request, "catalogue/stock/counted.html", context)


@require_POST
@may_change
def stock_count_reverse(request: WorkshopRequest, key: uuid.UUID) -> HttpResponse:
    """Take a whole count back."""
    workshop = request.workshop
    if not entries_of_count(workshop, key).exists():
        raise Http404("No stock count has this address.")
    with refusal_told(request):
        reverse_count(workshop=workshop, form_key=key, by=request.user)
        messages.success(request, "Stock count undone. Every entry stays in the history.")
    return redirect("catalogue:stock_counted", workshop.slug, key)
