"""The price board of a channel as a PDF."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_GET

from maker.calc.refusal import Refusal
from maker.heavy_pages.marks import heavy
from maker.web.access import WorkshopRequest, may_see, row_or_404
from maker.web.lists import whole_number
from pricing.channels.models import Channel
from pricing.fairs.models import Fair
from pricing.price_boards.board import board_of, fair_board_of
from pricing.price_boards.printing import price_board_pdf


@heavy()
@require_GET
@may_see
def price_board(request: WorkshopRequest) -> HttpResponse:
    """The board of the channel in the address, of the first one where none is said.

    With a fair in the address, the board of its table.
    """
    workshop = request.workshop
    if request.GET.get("fair"):
        return _fair_board(request, whole_number(request.GET["fair"], 0))
    channels = Channel.objects.of(workshop).in_use().in_order()
    asked = request.GET.get("channel", "")
    channel = channels.filter(pk=whole_number(asked, 0)).first() if asked else channels.first()
    if asked and channel is None:
        raise Http404("There is no such sales channel.")
    if channel is None:
        messages.error(request, "Add a sales channel, then save prices for it.")
        return redirect("pricing:price_list", workshop.slug)
    try:
        pdf = price_board_pdf(board_of(channel, workshop), workshop)
    except Refusal as refusal:
        messages.error(request, refusal.message)
        return redirect("pricing:price_list", workshop.slug)
    return _shown(pdf, f"price-board-{channel.pk}")


def _fair_board(request: WorkshopRequest, key: int) -> HttpResponse:
    fair = row_or_404(Fair.objects.of(request.workshop), key)
    try:
        pdf = price_board_pdf(fair_board_of(fair, request.workshop), request.workshop)
    except Refusal as refusal:
        messages.error(request, refusal.message)
        return redirect("pricing:fair_items", request.workshop.slug, key)
    return _shown(pdf, f"price-board-fair-{key}")


def _shown(pdf: bytes, name: str) -> HttpResponse:
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    return response
