"""The price list, and setting a price from a cost page."""

from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpResponse
from django.middleware.csrf import get_token
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from maker.accounts.entering import safe_next
from maker.calc.money import format_money
from maker.calc.refusal import Refusal
from maker.exports.answers import export_response, wanted_format
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.lists import show_list
from maker.web.messages import undo_message
from maker.web.row_pages import list_page
from pricing.channels.models import Channel
from pricing.costs.forms import LONGEST_PRICE, SetPriceForm
from pricing.costs.views import Question, read_question
from pricing.prices.forms import PriceFilterForm
from pricing.prices.inputs import entry_name
from pricing.prices.models import PriceListEntry
from pricing.prices.services import (
    BelowLowestPrice,
    bring_price_back,
    set_price,
    take_price_away,
)
from pricing.prices.sheet import price_columns, price_rows
from pricing.prices.tables import PriceTable


@require_GET
@may_see
def price_list(request: WorkshopRequest) -> HttpResponse:
    """Every price she asks today, as a page or a file."""
    workshop = request.workshop
    prices = PriceListEntry.objects.of(workshop).current()
    channels = list(Channel.objects.of(workshop).in_order())
    filter_form = PriceFilterForm(request.GET, channels=channels)
    found = filter_form.narrow(prices)
    if wanted_format(request):
        return export_response(
            request, title="Prices", columns=price_columns(workshop), rows=price_rows(found)
        )
    table = PriceTable(found.with_items(), workshop=workshop)
    table.may_change = request.membership.may_change
    if not table.may_change:
        table.columns.hide("remove")
    table.csrf_token = get_token(request)
    show_list(request, table)
    return list_page(
        request,
        "pricing/prices/list.html",
        table,
        filter_form,
        one="price",
        unfiltered=prices,
        below=_below_in_words(found.below_floor().count()),
        board_channels=[channel for channel in channels if channel.retired_on is None],
    )


def _below_in_words(count: int) -> str:
    if not count:
        return ""
    if count == 1:
        return "1 price was set below its lowest price."
    return f"{count} prices were set below their lowest price."


@require_POST
@may_change
def price_set(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Ask a price for what the cost page in the address shows; then show that page again."""
    question = read_question(request, pk)
    back = question.address
    form = SetPriceForm(request.POST, workshop=request.workshop)
    if not question.form.is_valid():
        messages.error(request, "The quantity or an option isn't valid. Nothing was saved.")
        return redirect(back)
    if not form.is_valid():
        return _say_bad_price(request, form, back)
    channel = question.form.chosen_channel()
    if channel is None:
        messages.error(request, "Add a sales channel first.")
        return redirect("pricing:channel_list", request.workshop.slug)
    try:
        entry = set_price(
            version=question.version,
            workshop=request.workshop,
            channel=channel,
            ask=question.form.ask(),
            price=form.cleaned_data["price"],
            colourway=question.form.chosen_colourway(),
            by=request.user,
            below_is_meant="below" in request.POST,
        )
    except BelowLowestPrice as below:
        return _ask_whether_meant(request, question, form, below)
    except Refusal as refusal:
        messages.error(request, refusal.message)
        return redirect(back)
    workshop = request.workshop
    text = format_money(entry.price, workshop.currency, workshop.locale)
    more = f", {entry.bought_at_once} or more" if entry.bought_at_once > 1 else ""
    messages.success(request, f"Saved: {text} each for {channel.name}{more}.")
    # where she came from for a price; or the page opens where she was, with the button focused
    return redirect(safe_next(request) or f"{back}#save-price")


def _say_bad_price(request: WorkshopRequest, form: SetPriceForm, back: str) -> HttpResponse:
    """Lead back with what is wrong, and with what was typed in its place."""
    typed = request.POST.get("price", "").strip()[:LONGEST_PRICE]
    if not typed:
        messages.error(request, "The price was not saved: enter one, like 9.60.")
        return redirect(f"{back}#save-price")
    problems = " ".join(str(error) for errors in form.errors.values() for error in errors)
    messages.error(request, f"The price “{typed}” was not saved: {problems}")
    joined = "&" if "?" in back else "?"
    return redirect(f"{back}{joined}{urlencode({'typed': typed})}#save-price")


def _ask_whether_meant(
    request: WorkshopRequest, question: Question, form: SetPriceForm, below: BelowLowestPrice
) -> HttpResponse:
    """Show what a price takes from her wage before it is kept; keeping it is one more click."""
    context = {
        "design": question.design,
        "said": below.message,
        "fields": form.cleaned_data,
        "query": request.GET.urlencode(),
        "back": question.address,
    }
    return render(request, "pricing/prices/below_lowest.html", context, status=422)


@require_POST
@may_change
def price_remove(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Stop asking a price; the message can take it back."""
    entry = row_or_404(PriceListEntry.objects.of(request.workshop).with_items(), pk)
    if entry.replaced_at is None:
        take_price_away(entry=entry)
    undo_message(
        request,
        f"Removed the price of “{entry_name(entry)}”.",
        reverse("pricing:price_restore", args=[request.workshop.slug, pk]),
    )
    return redirect("pricing:price_list", request.workshop.slug)


@require_POST
@may_change
def price_restore(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Ask a price again that was taken away."""
    entry = row_or_404(PriceListEntry.objects.of(request.workshop).with_items(), pk)
    if entry.replaced_at is not None:
        try:
            bring_price_back(entry=entry)
        except Refusal as refusal:
            messages.error(request, refusal.message)
            return redirect("pricing:price_list", request.workshop.slug)
    messages.success(request, f"Restored the price of “{entry_name(entry)}”.")
    return redirect("pricing:price_list", request.workshop.slug)
