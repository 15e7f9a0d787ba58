"""Pages of what is on a fair's table."""

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import prefetch_related_objects
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from catalogue.designs.models import Design
from maker.calc.refusal import Refusal
from maker.web.access import WorkshopRequest, may_change
from maker.web.lists import PER_PAGE, count_text
from maker.web.parts import part_or_page
from maker.web.refusals import refusal_told, show_refusal
from pricing.channels.models import Channel
from pricing.fairs.drawing import FairWords, item_name
from pricing.fairs.forms import CostForm, ItemForm, ItemSearch
from pricing.fairs.models import Fair, FairDesign
from pricing.fairs.services import add_items, choose_channel, copy_items, save_items
from pricing.fairs.views import back_to, fair_or_404
from pricing.prices.inputs import entry_name
from pricing.prices.models import PriceListEntry

MOST_UNPRICED = 25
ITEM_FIELDS = tuple(name for name in ItemForm.base_fields if name != "remove")


@require_http_methods(["GET", "POST"])
@may_change
def fair_items(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Say of each item its price of the day, its width and a first guess."""
    row = fair_or_404(request, pk)
    items = list(row.designs.with_items().in_order())
    forms = [(item, _form_of(request, item)) for item in items]
    turn = CostForm(request.POST or None, instance=row, workshop=request.workshop)
    is_sent = request.method == "POST"
    # each is asked, so that everything wrong is told at once
    if is_sent and all([turn.is_valid(), *(form.is_valid() for _, form in forms)]):
        try:
            save_items(
                fair=row,
                values={
                    item.pk: {name: form.cleaned_data[name] for name in ITEM_FIELDS}
                    for item, form in forms
                },
                removed=[item.pk for item, form in forms if form.cleaned_data["remove"]],
                edit_number=turn.cleaned_data["edit_number"],
            )
        except Refusal as refusal:
            show_refusal(turn, refusal)
        else:
            messages.success(request, "Saved the items.")
            return back_to(request, row.pk)
    words = FairWords(request.workshop)
    context = {
        "fair": row,
        "turn": turn,
        "form": turn,
        "forms": [
            (item_name(item), words.money(item.price), item.planned, form) for item, form in forms
        ],
        **({} if items else _to_add(request, row)),
        "has_errors": is_sent,
        "more_errors": list(turn.non_field_errors()) if is_sent else [],
    }
    return render(request, "pricing/fairs/items.html", context, status=422 if is_sent else 200)


def _form_of(request: WorkshopRequest, item: FairDesign) -> ItemForm:
    return ItemForm(
        request.POST if request.method == "POST" else None,
        prefix=f"item-{item.pk}",
        workshop=request.workshop,
        initial={name: getattr(item, name) for name in ITEM_FIELDS},
    )


def _to_add(request: WorkshopRequest, row: Fair) -> dict[str, Any]:
    """Return prices of the fair's channel for one whose items are not on the table, by pages.

    Which they are is read of all, what they are called of one page alone.
    """
    on_table = row.designs.values_list("version_id", "colourway_id", "choices")
    there = {(version, colourway, str(choices)) for version, colourway, choices in on_table}
    search = ItemSearch(request.GET)
    listed = search.narrow(_prices_of(request, row))
    keys = [
        key
        for key, version, colourway, choices in listed.values_list(
            "pk", "version_id", "colourway_id", "choices"
        )
        if (version, colourway, str(choices)) not in there
    ]
    page = Paginator(keys, PER_PAGE).get_page(request.GET.get("page"))
    found = PriceListEntry.objects.select_related("design", "colourway").defer("basis")
    entries = found.in_bulk(page.object_list)
    # names are made of what few of them need
    prefetch_related_objects(list(entries.values()), "version__options__choices")
    is_long = page.paginator.num_pages > 1
    return {
        "page": page,
        "to_add": [(entries[key], entry_name(entries[key])) for key in page.object_list],
        "is_long": is_long,
        "search": search if is_long or search.has_changed() else None,
        "count_text": f"{count_text(len(keys), 'item')} to add",
        **_leads_on(request, row),
    }


def _leads_on(request: WorkshopRequest, row: Fair) -> dict[str, Any]:
    """Return what is missing before there is something to add: a channel, or prices of designs."""
    shop = request.workshop
    if row.channel_id is None:
        return {"channels": Channel.objects.of(shop).in_use().in_order()}
    priced = _prices_of(request, row).order_by().values("design")
    found = Design.objects.of(shop).in_use().exclude(pk__in=priced).order_by("name", "pk")
    return {"unpriced": found[:MOST_UNPRICED]}


def _prices_of(request: WorkshopRequest, row: Fair) -> Any:
    listed = PriceListEntry.objects.of(request.workshop).current().in_use()
    return (
        listed.filter(channel=row.channel_id, includes_tax=request.workshop.prices_include_tax)
        .filter(bought_at_once=1)
        .defer("basis")
        .in_order()
    )


@require_http_methods(["GET", "POST"])
@may_change
def fair_items_add(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Show what of the price list can be put on the table; put there what is ticked."""
    row = fair_or_404(request, pk)
    if request.method == "GET":
        context = {"fair": row, **_to_add(request, row)}
        return part_or_page(
            request, "pricing/fairs/_to_add.html", "pricing/fairs/to_add.html", context
        )
    keys = {key for key in request.POST.getlist("price") if key.isdecimal() and len(key) < 19}
    chosen = [entry for entry in _prices_of(request, row) if str(entry.pk) in keys]
    if not chosen:
        messages.info(request, "Tick at least one item.")
    else:
        made = add_items(fair=row, entries=chosen)
        messages.success(request, f"Added {len(made)} item{'' if len(made) == 1 else 's'}.")
    return redirect("pricing:fair_items", request.workshop.slug, row.pk)


@require_POST
@may_change
def fair_channel(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Take the fair's prices from a sales channel."""
    row, key = fair_or_404(request, pk), request.POST.get("channel", "")
    channels = Channel.objects.of(request.workshop).in_use()
    is_key = key.isascii() and key.isdecimal() and len(key) < 19
    channel = channels.filter(pk=int(key)).first() if is_key else None
    if channel is None:
        messages.info(request, "Choose a sales channel.")
    else:
        choose_channel(fair=row, channel=channel)
        messages.success(request, f"This fair takes its prices from {channel}.")
    return redirect("pricing:fair_items", request.workshop.slug, row.pk)


@require_POST
@may_change
def fair_items_copy(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Put last time's items on the table."""
    row = fair_or_404(request, pk)
    if row.last_year is None:
        messages.info(request, "Choose the same fair last time first.")
    else:
        with refusal_told(request):
            made = copy_items(fair=row, source=row.last_year)
            messages.success(request, f"Added {len(made)} item{'' if len(made) == 1 else 's'}.")
    return redirect("pricing:fair_items", request.workshop.slug, row.pk)
