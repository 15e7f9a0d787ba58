"""Pages of the channels: where she sells and what that takes from a price."""

from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from maker.accounts.entering import safe_next
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.refusals import refusal_told
from maker.web.row_pages import Entry, archive_views, entry_page
from pricing.channels.forms import ChannelForm, TierFormSet
from pricing.channels.models import Channel
from pricing.channels.services import add_usual_channels, move_channel, save_channel


@require_GET
@may_see
def channel_list(request: WorkshopRequest) -> HttpResponse:
    """Every channel with what holds from which quantity."""
    channels = Channel.objects.of(request.workshop).with_tiers().in_order()
    return render(
        request,
        "pricing/channels/list.html",
        {
            "channels": [row for row in channels if row.retired_on is None],
            "retired": [row for row in channels if row.retired_on is not None],
            "next": safe_next(request),
        },
    )


@require_POST
@may_change
def channel_usual(request: WorkshopRequest) -> HttpResponse:
    """Give an empty workshop four channels to start from."""
    with refusal_told(request, messages.INFO):
        add_usual_channels(workshop=request.workshop)
        messages.success(
            request, "Added four sales channels. Their fees are examples: enter yours in each."
        )
    return _to_the_list(request)


@require_http_methods(["GET", "POST"])
@may_change
def channel_new(request: WorkshopRequest) -> HttpResponse:
    """Add a channel."""
    place = Channel.objects.of(request.workshop).count()
    return _edit(request, Channel(workshop=request.workshop, position=place))


@require_http_methods(["GET", "POST"])
@may_change
def channel(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Change a channel."""
    return _edit(request, row_or_404(Channel.objects.of(request.workshop), pk))


def _to_the_list(request: WorkshopRequest) -> HttpResponse:
    """Go back to the channels, which lead on to the price she came from."""
    came_from = safe_next(request)
    query = "?" + urlencode({"next": came_from}) if came_from else ""
    return redirect(reverse("pricing:channel_list", args=[request.workshop.slug]) + query)


def _edit(request: WorkshopRequest, row: Channel) -> HttpResponse:
    def entry_of(row: Channel, data: Any) -> Entry:
        names = list(TierFormSet.form.base_fields)
        tiers = row.tiers.order_by("bought_at_once", "pk").values(*names) if row.pk else ()
        rows = TierFormSet(
            data,
            prefix="tiers",
            initial=list(tiers) or [{"bought_at_once": 1, "payments_per_sale": 1}],
            form_kwargs={"workshop": request.workshop},
        )
        return Entry(ChannelForm(data, instance=row, workshop=request.workshop), rows)

    def save(entry: Entry) -> HttpResponse:
        saved = save_channel(
            channel=entry.form.save(commit=False),
            tiers=entry.rows.tiers(),
            edit_number=entry.edit_number,
        )
        messages.success(request, f"Saved “{saved}”.")
        return _to_the_list(request)

    return entry_page(request, "pricing/channels/edit.html", row, entry_of, save, channel=row)


@require_POST
@may_change
def channel_move(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Move a channel one place up or down."""
    row = row_or_404(Channel.objects.of(request.workshop), pk)
    with refusal_told(request):
        move_channel(channel=row, by=1 if request.POST.get("by") == "1" else -1)
    return redirect("pricing:channel_list", request.workshop.slug)


channel_retire, channel_restore = archive_views(
    Channel, restore="pricing:channel_restore", list_page="pricing:channel_list"
)
