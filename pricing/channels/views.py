"""Pages of the channels: where she sells and what that takes from a price."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from maker.calc.refusal import Refusal
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.editing import BothValues, ChangedMeanwhile, show_both
from maker.web.putting_away import bring_back, put_away
from maker.web.refusals import show_refusal
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
        },
    )


@require_POST
@may_change
def channel_usual(request: WorkshopRequest) -> HttpResponse:
    """Give an empty workshop four channels to start from."""
    try:
        add_usual_channels(workshop=request.workshop)
    except Refusal as refusal:
        messages.info(request, refusal.message)
    else:
        messages.success(request, "Four channels to start from: open each and make it yours.")
    return redirect("pricing:channel_list", request.workshop.slug)


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


def _forms(request: WorkshopRequest, row: Channel, data: Any) -> tuple[ChannelForm, Any]:
    """Return the form and the rows of a channel, typed (with data) or as stored (without)."""
    names = list(TierFormSet.form.base_fields)
    tiers = row.tiers.order_by("bought_at_once", "pk").values(*names) if row.pk else ()
    form = ChannelForm(
        data, instance=row, workshop=request.workshop, initial={"edit_number": row.edit_number}
    )
    rows = TierFormSet(
        data,
        prefix="tiers",
        initial=list(tiers) or [{"bought_at_once": 1, "payments_per_sale": 1}],
        form_kwargs={"workshop": request.workshop},
    )
    return form, rows


def _edit(request: WorkshopRequest, row: Channel) -> HttpResponse:
    form, formset = _forms(request, row, request.POST or None)
    both: list[BothValues] = []
    if request.method == "POST" and form.is_valid() & formset.is_valid():
        try:
            saved = save_channel(
                channel=form.save(commit=False),
                tiers=formset.tiers(),
                edit_number=form.cleaned_data["edit_number"],
            )
        except ChangedMeanwhile as changed:
            stored = Channel.objects.get(pk=row.pk)
            now, rows_now = _forms(request, stored, None)
            both = show_both(form, now, stored.edit_number, rows=(formset, rows_now))
            show_refusal(form, changed)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            messages.success(request, f"Saved “{saved.name}”.")
            return redirect("pricing:channel_list", request.workshop.slug)
    return render(
        request,
        "pricing/channels/edit.html",
        {"form": form, "formset": formset, "channel": row, "both": both},
        status=422 if request.method == "POST" else 200,
    )


@require_POST
@may_change
def channel_move(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Move a channel one place up or down."""
    row = row_or_404(Channel.objects.of(request.workshop), pk)
    try:
        move_channel(channel=row, by=1 if request.POST.get("by") == "1" else -1)
    except Refusal as refusal:
        messages.error(request, refusal.message)
    return redirect("pricing:channel_list", request.workshop.slug)


@require_POST
@may_change
def channel_retire(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Put a channel away; its old prices stay."""
    row = row_or_404(Channel.objects.of(request.workshop), pk)
    put_away(request, row, way_back="pricing:channel_restore")
    return redirect("pricing:channel_list", request.workshop.slug)


@require_POST
@may_change
def channel_restore(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Bring a channel back."""
    row = row_or_404(Channel.objects.of(request.workshop), pk)
    bring_back(request, row)
    return redirect("pricing:channel_list", request.workshop.slug)
