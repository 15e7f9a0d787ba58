"""A quote leaves the house: its PDFs, sending, revising, and a no; a yes makes an order."""

from collections.abc import Callable, Mapping
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from maker.calc.refusal import Refusal
from maker.heavy_pages.marks import heavy
from maker.web.access import WorkshopRequest, may_change, may_see
from maker.web.messages import undo_message
from maker.web.refusals import show_refusal
from maker.workshop.papers import lacks_of
from pricing.quotes.documents import quote_document
from pricing.quotes.forms import DeclineForm, KeyForm
from pricing.quotes.models import Quote
from pricing.quotes.printing import customer_pdf, own_pdf
from pricing.quotes.sending import (
    AlreadySent,
    decline_quote,
    quote_again,
    revise_quote,
    send_quote,
)
from pricing.quotes.services import AlreadySaved
from pricing.quotes.views import draft_page, quote_or_404, say_not_a_draft


def _back(request: WorkshopRequest, pk: int) -> HttpResponse:
    return redirect("pricing:quote", request.workshop.slug, pk)


@heavy()
@require_GET
@may_see
def quote_pdf(request: WorkshopRequest, pk: int) -> HttpResponse:
    """The quote as the customer gets it."""
    return _pdf(request, pk, customer_pdf, "")


@heavy()
@require_GET
@may_see
def quote_own_pdf(request: WorkshopRequest, pk: int) -> HttpResponse:
    """The quote with floor, margin and hour, for herself."""
    return _pdf(request, pk, own_pdf, "-for-yourself")


def _pdf(
    request: WorkshopRequest, pk: int, write: Callable[[Mapping[str, Any]], bytes], mark: str
) -> HttpResponse:
    row = quote_or_404(request, pk)
    try:
        content = write(quote_document(row, timezone.localdate()))
    except Refusal as refusal:
        messages.error(request, f"There's no PDF yet: {refusal.message}")
        return _back(request, pk)
    kept = "".join(c if c.isascii() and (c.isalnum() or c == "-") else "-" for c in row.number)
    name = (kept or "draft") + (f"-revision-{row.revision}" if row.revision > 1 else "") + mark
    response = HttpResponse(content, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    return response


@require_http_methods(["GET", "POST"])
@may_change
def quote_send(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Look over a draft once more, then give it its number and keep it as it is."""
    row, refusal = quote_or_404(request, pk), None
    if request.method == "POST":
        try:
            sent = send_quote(quote=row, by=request.user, today=timezone.localdate())
        except AlreadySent as already:
            messages.info(request, already.message)
            return _back(request, pk)
        except Refusal as no:
            refusal = no
        else:
            messages.success(request, f"{sent} is locked. Open its PDF and send it yourself.")
            return _back(request, pk)
    if not row.is_draft:
        return say_not_a_draft(request, row)
    context = draft_page(row) | {
        "quote": row,
        "lacks": lacks_of(request.workshop),
        "has_errors": refusal is not None,
        "more_errors": [refusal.message] if refusal else [],
    }
    status = 422 if refusal else 200
    return render(request, "pricing/quotes/send.html", context, status=status)


@require_POST
@may_change
def quote_revise(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Start the revision of a sent quote, or open the one that was started."""
    row = quote_or_404(request, pk)
    try:
        made = revise_quote(quote=row, today=timezone.localdate())
    except Refusal as refusal:
        messages.error(request, refusal.message)
        return _back(request, pk)
    messages.info(
        request,
        f"Created a draft of revision {made.revision}. Until you send it, the previous one "
        "still holds.",
    )
    return _back(request, made.pk)


@require_POST
@may_change
def quote_same_again(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Start a new draft with the lines of this quote; a second click opens the first one's."""
    key = KeyForm(request.POST)
    try:
        made = quote_again(
            quote=quote_or_404(request, pk),
            today=timezone.localdate(),
            form_key=key.cleaned_data["form_key"] if key.is_valid() else None,
        )
    except AlreadySaved as saved:
        return _back(request, saved.quote.pk)
    except Refusal as refusal:
        messages.error(request, refusal.message)
        return _back(request, pk)
    messages.success(request, "Created a new draft with the same lines, at today's costs.")
    return _back(request, made.pk)


@require_http_methods(["GET", "POST"])
@may_change
def quote_decline(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Note that the customer said no, and why."""
    row, today = quote_or_404(request, pk), timezone.localdate()
    form = DeclineForm(request.POST or None, initial={"reason": "", "decided_on": today})
    if request.method == "POST" and form.is_valid():
        try:
            declined = decline_quote(
                quote=row,
                reason=form.cleaned_data["reason"],
                note=form.cleaned_data["reason_note"],
                on=form.cleaned_data["decided_on"],
                today=today,
            )
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            back = reverse("pricing:quote_reopen", args=[request.workshop.slug, row.pk])
            undo_message(request, f"{declined} is declined.", back)
            return _back(request, row.pk)
    elif request.method == "GET" and row.state != Quote.State.SENT:
        messages.info(request, "This quote isn't waiting for an answer.")
        return _back(request, row.pk)
    context = {"quote": row, "form": form, "is_expired": row.is_expired(today)}
    status = 422 if request.method == "POST" else 200
    return render(request, "pricing/quotes/decline.html", context, status=status)
