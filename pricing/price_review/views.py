"""Review prices: what is off, why, what puts it right, and what is decided about it."""

from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from maker.calc.dates import short_date
from maker.calc.refusal import Refusal
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.lists import PER_PAGE
from maker.web.messages import undo_message
from maker.web.refusals import refusal_told, show_refusal
from pricing.price_review.drawing import price_row, price_rows, quote_rows, tag_rows
from pricing.price_review.forms import DecideForm
from pricing.price_review.inputs import explain
from pricing.price_review.models import PriceDecision
from pricing.price_review.review import (
    Review,
    ShownPrice,
    price_of,
    review_prices,
    shown_prices,
    shown_quotes,
    shown_tags,
)
from pricing.price_review.services import (
    change_prices,
    leave_price,
    leave_quote,
    settle_tags,
    take_decision_back,
)
from pricing.price_tags.models import TagPrint
from pricing.prices.models import PriceListEntry
from pricing.prices.services import BelowLowestPrice
from pricing.quotes.models import Quote

DECISIONS_SHOWN = 20


def _review(request: WorkshopRequest) -> tuple[Review | None, Refusal | None]:
    try:
        return review_prices(workshop=request.workshop, on=timezone.localdate()), None
    except Refusal as refusal:
        return None, refusal


@require_GET
@may_see
def price_review(request: WorkshopRequest) -> HttpResponse:
    """Every price, open quote and printed tag that is off by more than her threshold."""
    workshop = request.workshop
    review, refusal = _review(request)
    context: dict[str, Any] = {"review": review, "refusal": refusal}
    if review:
        pages = Paginator(review.prices, PER_PAGE)
        page = pages.get_page(request.GET.get("page"))
        context |= {
            "page": page,
            "rows": price_rows(shown_prices(list(page.object_list), review), workshop),
            "quotes": quote_rows(shown_quotes(review.quotes), review.today, workshop),
            "tags": tag_rows(shown_tags(review.tags), workshop),
            "decisions": PriceDecision.objects.of(workshop)
            .holding()
            .for_list()
            .newest_first()[:DECISIONS_SHOWN],
        }
    return render(request, "pricing/price_review/price_review.html", context)


@require_GET
@may_see
def price_review_summary(request: WorkshopRequest) -> HttpResponse:
    """How much is off, in a line; loaded after the home page, because it looks at every price."""
    review, refusal = _review(request)
    context = {"review": review, "refusal": refusal}
    return render(request, "pricing/price_review/_on_home.html", context)


@require_POST
@may_change
def price_review_change(request: WorkshopRequest) -> HttpResponse:
    """Ask the price that restores the margin for everything ticked, in one go."""
    picked = [pk for pk in request.POST.getlist("entry") if pk.isdecimal() and len(pk) < 18]
    if not picked:
        messages.error(request, "Nothing ticked, so nothing changed.")
        return redirect("pricing:price_review", request.workshop.slug)
    wanted: dict[int, Decimal | None] = {int(pk): None for pk in picked}
    try:
        made = change_prices(
            workshop=request.workshop, wanted=wanted, by=request.user, on=timezone.localdate()
        )
    except Refusal as refusal:
        messages.error(request, f"{refusal.message} Nothing was changed.")
    else:
        plural = "price" if len(made) == 1 else "prices"
        messages.success(request, f"Changed {len(made)} {plural}. Print new tags for them.")
    return redirect("pricing:price_review", request.workshop.slug)


@require_http_methods(["GET", "POST"])
@may_change
def price_review_decide(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Decide about one price: change it, leave it until a day, or leave it."""
    workshop = request.workshop
    entries = PriceListEntry.objects.of(workshop).with_items()
    entry = row_or_404(entries, pk)
    checked, today = price_of(workshop=workshop, entry=entry, on=timezone.localdate())
    why = explain(checked, today)
    row = price_row(ShownPrice(entry, checked, why), workshop)
    form = DecideForm(
        request.POST or None,
        workshop=workshop,
        may_change_price=why is not None,
        initial={"kind": "change", "price": why.price_needed if why else None},
    )
    if request.method == "POST" and form.is_valid():
        try:
            _decide(request, entry, form.cleaned_data)
        except Refusal as refusal:
            show_refusal(form, refusal)
            if isinstance(refusal, BelowLowestPrice):
                form.ask_whether_meant()
        else:
            return redirect("pricing:price_review", workshop.slug)
    return render(
        request,
        "pricing/price_review/decide.html",
        {"entry": entry, "row": row, "why": why, "form": form},
        status=422 if request.method == "POST" else 200,
    )


def _decide(request: WorkshopRequest, entry: PriceListEntry, given: dict[str, Any]) -> None:
    workshop, today = request.workshop, timezone.localdate()
    if given["kind"] == "change":
        change_prices(
            workshop=workshop,
            wanted={entry.pk: given["price"]},
            by=request.user,
            on=today,
            below_is_meant=given["below"],
        )
        messages.success(request, f"Changed the price of “{entry.design}”.")
        return
    decision = leave_price(
        workshop=workshop,
        entry=entry,
        until=given["until"] if given["kind"] == "until" else None,
        note=given["note"],
        by=request.user,
        on=today,
    )
    _say_left(request, decision, f"“{entry.design}”")


def _say_left(request: WorkshopRequest, decision: PriceDecision, what: str) -> None:
    until = f" until {short_date(decision.until)}" if decision.until else ""
    undo_message(
        request,
        f"Left {what} unchanged{until}.",
        reverse("pricing:price_review_undo", args=[request.workshop.slug, decision.pk]),
    )


@require_http_methods(["GET", "POST"])
@may_change
def price_review_quote(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Decide about an open quote: leave it, until a day or at all; a change is a revision."""
    workshop = request.workshop
    quote = row_or_404(Quote.objects.of(workshop).select_related("customer__workshop"), pk)
    review, refusal = _review(request)
    off = (
        next((each for each in review.quotes if each.quote_id == quote.pk), None)
        if review
        else None
    )
    if review is None or off is None:
        said = refusal.message if refusal else f"{quote} is up to date."
        messages.info(request, said)
        return redirect("pricing:price_review", workshop.slug)
    form = DecideForm(
        request.POST or None,
        workshop=workshop,
        may_change_price=False,
        initial={"kind": "until", "until": quote.valid_until},
    )
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            decision = leave_quote(
                workshop=workshop,
                off=off,
                until=given["until"] if given["kind"] == "until" else None,
                note=given["note"],
                by=request.user,
                on=timezone.localdate(),
            )
        except Refusal as refused:
            show_refusal(form, refused)
        else:
            _say_left(request, decision, str(quote))
            return redirect("pricing:price_review", workshop.slug)
    return render(
        request,
        "pricing/price_review/decide_quote.html",
        {
            "quote": quote,
            "row": quote_rows([(quote, off)], review.today, workshop)[0],
            "form": form,
        },
        status=422 if request.method == "POST" else 200,
    )


@require_POST
@may_change
def price_review_tags(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Say that old tags are dealt with."""
    printed = row_or_404(TagPrint.objects.of(request.workshop).select_related("entry__design"), pk)
    settle_tags(printed=printed)
    messages.success(request, f"Old tags of “{printed.entry.design}” marked as replaced.")
    return redirect("pricing:price_review", request.workshop.slug)


@require_POST
@may_change
def price_review_undo(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Take a decision back: the price is on the list again."""
    decision = row_or_404(PriceDecision.objects.of(request.workshop), pk)
    with refusal_told(request):
        take_decision_back(decision=decision)
        messages.success(request, "Undone. It is on the list again.")
    return redirect("pricing:price_review", request.workshop.slug)
