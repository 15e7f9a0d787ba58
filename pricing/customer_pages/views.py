"""Links to a quote on the maker's side: made, mailed, revoked; what customers said."""

import datetime
import uuid
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from maker.activity.models import Event
from maker.activity.services import record
from maker.calc.dates import say_date
from maker.calc.refusal import Refusal
from maker.mail.models import mail_server
from maker.web.access import WorkshopRequest, may_change, row_or_404
from maker.web.refusals import show_refusal
from pricing.customer_pages.forms import LinkForm
from pricing.customer_pages.models import QuoteLink, QuoteMessage
from pricing.customer_pages.services import (
    AlreadyMailed,
    LinkMade,
    address_of,
    is_offered,
    mail_link,
    make_link,
    mark_read,
    may_have_link,
    revoke_link,
)
from pricing.letters.forms import LetterForm
from pricing.letters.models import Letter
from pricing.letters.services import write_letter
from pricing.quotes.models import Quote
from pricing.quotes.views import quote_or_404

WEEK = datetime.timedelta(days=7)


def _back(request: WorkshopRequest, pk: int) -> HttpResponse:
    return redirect("pricing:quote", request.workshop.slug, pk)


@never_cache
@require_http_methods(["GET", "POST"])
@may_change
def link_new(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Make a link; the answer is the only page that ever shows it."""
    row, today = quote_or_404(request, pk), timezone.localdate()
    if not is_offered():
        raise Http404("This installation has no address from outside.")
    last = max(row.valid_until or today, today + WEEK)
    form = LinkForm(request.POST or None, initial={"ends_on": last, "form_key": uuid.uuid4()})
    if request.method == "POST" and form.is_valid():
        try:
            link, key = make_link(quote=row, by=request.user, today=today, **form.cleaned_data)
        except LinkMade as made:
            messages.info(request, made.message)
            return _back(request, pk)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            record(Event.Kind.CUSTOMER, request=request, about=f"Created a link to {row}")
            address = address_of(key)
            return _made(request, link, address, LetterForm(initial=_letter(row, link, address)))
    elif request.method == "GET" and not may_have_link(row):
        messages.info(request, "Only a sent quote or an order that isn’t finished gets a link.")
        return _back(request, pk)
    status = 422 if request.method == "POST" else 200
    context = {"quote": row, "form": form}
    return render(request, "pricing/customer_pages/new.html", context, status=status)


def _letter(quote: Quote, link: QuoteLink, address: str) -> dict[str, str]:
    customer = quote.customer
    order = getattr(quote, "order", None)
    kind = Letter.Kind.QUOTE if order is None else Letter.Kind.ORDER
    values = {
        "customer": customer.contact or customer.name,
        "quote": str(quote),
        "order": str(order or ""),
        "title": quote.title,
        "link": address,
        "until": say_date(link.ends_on),
    }
    return {"to": customer.email, **write_letter(quote.workshop, kind, values)}


def _made(
    request: WorkshopRequest, link: QuoteLink, address: str, form: Any, status: int = 200
) -> HttpResponse:
    context = {
        "quote": link.quote,
        "link": link,
        "address": address,
        "form": form,
        "has_server": mail_server() is not None,
    }
    return render(request, "pricing/customer_pages/made.html", context, status=status)


def _link_or_404(request: WorkshopRequest, pk: int, link: int) -> QuoteLink:
    rows = QuoteLink.objects.filter(quote__customer__workshop=request.workshop, quote=pk)
    return row_or_404(rows.select_related("quote__customer__workshop"), link)


@sensitive_post_parameters("text")
@never_cache
@require_POST
@may_change
def link_send(request: WorkshopRequest, pk: int, link: int) -> HttpResponse:
    """Send the message with a link, as it was typed."""
    row = _link_or_404(request, pk, link)
    form = LetterForm(request.POST)
    if form.is_valid():
        to = form.cleaned_data["to"]
        try:
            mail_link(link=row, **form.cleaned_data)
        except AlreadyMailed as already:
            messages.info(request, already.message)
            return _back(request, pk)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            record(Event.Kind.CUSTOMER, request=request, about=f"Sent the link to {row.quote}")
            text = f"Sent the link to {to}."
            if mail_server() is None:
                text = f"Wrote the message to {to} into the mail folder: no server is set up."
            messages.success(request, text)
            return _back(request, pk)
    return _made(request, row, "", form, status=422)


@require_POST
@may_change
def link_revoke(request: WorkshopRequest, pk: int, link: int) -> HttpResponse:
    """Close a link at once."""
    row = _link_or_404(request, pk, link)
    revoke_link(link=row)
    record(Event.Kind.CUSTOMER, request=request, about=f"Revoked a link to {row.quote}")
    messages.success(request, "Revoked the link. It opens nothing any more.")
    return _back(request, pk)


@require_POST
@may_change
def message_read(request: WorkshopRequest, pk: int, message: int) -> HttpResponse:
    """Mark what a customer said as read."""
    mark_read(
        message=row_or_404(QuoteMessage.objects.of(request.workshop).filter(quote=pk), message)
    )
    return _back(request, pk)
