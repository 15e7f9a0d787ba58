"""A quote leaves the house: its PDFs, sending, revising, and the customer's answer."""

from collections.abc import Callable, Mapping
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from maker.calc.refusal import Refusal
from maker.web.access import WorkshopRequest, may_change, may_see
from maker.web.messages import undo_message
from maker.web.refusals import refusal_told, show_refusal
from pricing.quotes.forms import AcceptForm, DeclineForm
from pricing.quotes.inputs import quote_document
from pricing.quotes.models import Quote
from pricing.quotes.printing import customer_pdf, own_pdf
from pricing.quotes.sending import (
    AlreadySent,
    accept_quote,
    decline_quote,
    reopen_quote,
    revise_quote,
    send_quote,
)
from pricing.quotes.views import draft_page, quote_or_404, say_not_a_draft


def _back(request: WorkshopRequest, pk: int) -> HttpResponse:
    return redirect("pricing:quote", request.workshop.slug, pk)


@require_GET
@may_see
def quote_pdf(request: WorkshopRequest, pk: int) -> HttpResponse:
    """The quote as the customer gets it."""
    return _pdf(request, pk, customer_pdf, "")


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
        messages.error(request, f"There is no PDF yet: {refusal.message}")
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
            messages.success(request, f"{sent} is fixed. Open its PDF and send it off.")
            return _back(request, pk)
    if not row.is_draft:
        return say_not_a_draft(request, row)
    context = draft_page(row) | {
        "quote": row,
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
        f"This is the draft of revision {made.revision}. Until you send it, the quote before it "
        "still holds.",
    )
    return _back(request, made.pk)


@require_http_methods(["GET", "POST"])
@may_change
def quote_accept(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Note that the customer said yes."""
    row, today = quote_or_404(request, pk), timezone.localdate()
    who = row.customer.contact or row.customer.name
    form = AcceptForm(request.POST or None, initial={"decided_by": who, "decided_on": today})
    return _answer(
        request,
        row,
        form,
        "accept",
        lambda typed: accept_quote(
            quote=row, who=typed["decided_by"], on=typed["decided_on"], today=today
        ),
    )


@require_http_methods(["GET", "POST"])
@may_change
def quote_decline(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Note that the customer said no, and why."""
    row, today = quote_or_404(request, pk), timezone.localdate()
    form = DeclineForm(request.POST or None, initial={"reason": "", "decided_on": today})
    return _answer(
        request,
        row,
        form,
        "decline",
        lambda typed: decline_quote(
            quote=row,
            reason=typed["reason"],
            note=typed["reason_note"],
            on=typed["decided_on"],
            today=today,
        ),
    )


def _answer(
    request: WorkshopRequest,
    row: Quote,
    form: Any,
    page: str,
    answer: Callable[[dict[str, Any]], Quote],
) -> HttpResponse:
    """Show the form of an answer, or store it and offer the way back."""
    if request.method == "POST" and form.is_valid():
        try:
            answered = answer(form.cleaned_data)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            back = reverse("pricing:quote_reopen", args=[request.workshop.slug, row.pk])
            words = Quote.State(answered.state).label
            undo_message(request, f"{answered} is {words}.", back)
            return _back(request, row.pk)
    elif request.method == "GET" and row.state != Quote.State.SENT:
        messages.info(request, "This quote does not wait for an answer.")
        return _back(request, row.pk)
    context = {
        "quote": row,
        "form": form,
        "is_expired": row.is_expired(timezone.localdate()),
    }
    status = 422 if request.method == "POST" else 200
    return render(request, f"pricing/quotes/{page}.html", context, status=status)


@require_POST
@may_change
def quote_reopen(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Take an answer back."""
    row = quote_or_404(request, pk)
    with refusal_told(request):
        reopen_quote(quote=row)
        messages.success(request, "The answer was taken back. The quote waits again.")
    return _back(request, pk)
