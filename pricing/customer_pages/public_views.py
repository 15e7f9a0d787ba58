"""What a customer sees by a link: her quote as it was sent, and nothing else of the workshop.

Nobody is signed in here and no cookie counts: whoever has the key may answer the one quote it
opens. So a forged form could do nothing that its key doesn't allow, and no token guards it; with
`no-referrer` browsers say `Origin: null`, which would fail that guard anyway.
"""

from collections.abc import Callable
from datetime import timedelta
from functools import wraps
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from maker.accounts.guessing import TooManyTries, count_try, counter
from maker.activity.models import Event
from maker.activity.services import record
from maker.activity.visitor import visitor_address
from maker.calc.refusal import Refusal
from maker.heavy_pages.marks import heavy
from pricing.customer_pages.drawing import quote_shown
from pricing.customer_pages.forms import AcceptForm, AskForm, DeclineForm
from pricing.customer_pages.models import QuoteLink, QuoteMessage
from pricing.customer_pages.order_page import (
    OrderPart,
    about_of,
    answer_order,
    is_of_order,
    order_context,
    order_forms,
    order_part,
)
from pricing.customer_pages.services import (
    LinkClosed,
    customer_accepts,
    customer_asks,
    customer_declines,
    is_offered,
    link_of,
    refuse_closed,
    why_closed,
)
from pricing.quotes.documents import quote_document
from pricing.quotes.models import Quote
from pricing.quotes.printing import customer_pdf

Forms = dict[str, Any]
DONE = {
    "accept": "Accepted",
    "decline": "Declined",
    "ask": "Asked about",
    "proof": "Approved the proof of",
    "names": "Entered names of",
}
HOUR = timedelta(hours=1)


def for_customers(view: Callable[[HttpRequest, QuoteLink], HttpResponse]) -> Callable[..., Any]:
    """Let in whoever has the key of an open link; the page is not found, kept or passed on."""

    @wraps(view)
    def inner(request: HttpRequest) -> HttpResponse:
        try:
            response = _entered(request, view)
        except TooManyTries as refusal:
            response = _closed(request, f"Wait {refusal.wait_text}, then open the link again.", 429)
            response["Retry-After"] = str(refusal.wait_seconds)
        response["X-Robots-Tag"] = "noindex, nofollow, noarchive"
        response["Referrer-Policy"] = "no-referrer"
        return response

    return csrf_exempt(never_cache(inner))


def _entered(
    request: HttpRequest, view: Callable[[HttpRequest, QuoteLink], HttpResponse]
) -> HttpResponse:
    link = link_of(request.GET.get("key", "")) if is_offered() else None
    if link is None:
        # 256 bits can't be guessed: this bounds what guessers cost
        visitor = visitor_address(request)
        count_try([counter("customer key from", visitor, most=30)])
        return _closed(request, "Copy the whole link from the message, or ask for a new one.", 404)
    is_post = request.method == "POST"
    limits = [counter("customer page", link.pk, most=300)]
    if is_post:
        limits.append(counter("customer answer", link.pk, most=20, within=HOUR))
    count_try(limits)
    try:
        refuse_closed(link, timezone.localdate())
    except LinkClosed as closed:
        return _closed(request, closed.message, 410)
    return view(request, link)


def _closed(request: HttpRequest, text: str, status: int) -> HttpResponse:
    context = {"text": text}
    return render(request, "pricing/customer_pages/closed.html", context, status=status)


@heavy("POST")
@require_http_methods(["GET", "HEAD", "POST"])
@for_customers
def customer_quote(request: HttpRequest, link: QuoteLink) -> HttpResponse:
    """Show the quote, and take what the customer answers."""
    part = order_part(link)
    if request.method != "POST":
        return _page(request, link, _forms(link, part, ""), part)
    chosen = request.POST.get("answer", "")
    about = about_of(chosen)
    forms = _forms(link, part, about, request.POST)
    form = forms.get(about)
    if form is None:
        # a button that was made up, or of a page that was open for long
        told = "This was answered already." if is_of_order(about) else "Choose one of the buttons."
        return _page(request, link, _forms(link, part, ""), part, told)
    if not form.is_valid():
        return _page(request, link, forms, part, status=422)
    try:
        _answer(link, chosen, form)
    except LinkClosed as closed:
        return _closed(request, closed.message, 410)
    except Refusal as refusal:
        return _page(request, link, forms, part, refusal.message)
    about_what = f"{DONE.get(about, 'Answered a change of')} {link.quote}"
    record(Event.Kind.CUSTOMER, request=request, workshop=link.quote.workshop, about=about_what)
    address = reverse("pricing:customer_quote")
    return redirect(f"{address}?{urlencode({'key': request.GET['key']})}")


def _answer(link: QuoteLink, chosen: str, form: Any) -> None:
    services: dict[str, Callable[..., Any]] = {
        "accept": customer_accepts,
        "decline": customer_declines,
        "ask": customer_asks,
    }
    act = services.get(chosen)
    if act is None:
        answer_order(link, chosen, form, timezone.localdate())
    else:
        act(link=link, today=timezone.localdate(), **form.cleaned_data)


def _forms(link: QuoteLink, part: OrderPart | None, chosen: str, data: Any = None) -> Forms:
    customer = link.quote.customer
    known = {"name": customer.contact or customer.name, "reason": ""}
    kinds = {"accept": AcceptForm, "ask": AskForm, "decline": DeclineForm}
    forms: Forms = {
        about: kind(data if about == chosen else None, about=about, initial=known)
        for about, kind in kinds.items()
    }
    return forms | (order_forms(part, chosen, data, known) if part else {})


def _page(
    request: HttpRequest,
    link: QuoteLink,
    forms: Forms,
    part: OrderPart | None,
    error: str = "",
    status: int = 0,
) -> HttpResponse:
    today = timezone.localdate()
    # read again: what is shown is what is so now
    quote = Quote.objects.with_people().get(pk=link.quote_id)
    context = {
        **quote_shown(quote, today),
        **order_context(part, forms),
        "forms": forms,
        "error": error,
        "form": next((each for each in forms.values() if each.errors), None),
        "closed": why_closed(quote, today),
        "is_replaced": quote.state == Quote.State.REPLACED,
        "link": link,
        "address": "?" + urlencode({"key": request.GET["key"]}),
        "asked": QuoteMessage.objects.filter(quote=quote, kind=QuoteMessage.Kind.QUESTION).order_by(
            "said_at", "pk"
        ),
    }
    template = "pricing/customer_pages/page.html"
    return render(request, template, context, status=status or (422 if error else 200))


@heavy()
@require_http_methods(["GET", "HEAD", "POST"])
@for_customers
def customer_quote_pdf(request: HttpRequest, link: QuoteLink) -> HttpResponse:
    """Return the quote as a PDF, the same that is sent by hand."""
    count_try([counter("customer paper", link.pk, most=20)])
    quote = Quote.objects.with_people().get(pk=link.quote_id)
    try:
        content = customer_pdf(quote_document(quote, timezone.localdate()))
    except Refusal as refusal:
        return _closed(request, refusal.message, 422)
    response = HttpResponse(content, content_type="application/pdf")
    response["Content-Disposition"] = 'inline; filename="quote.pdf"'
    return response
