"""Pages of the quotes: a customer's, the list, one quote, entry, thrown away and back."""

import uuid
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

from django.conf import settings
from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from catalogue.sheet_plans.services import PlanSheets, sheet_planner
from maker.calc.refusal import Refusal
from maker.exports.answers import export_response, wanted_format
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.lists import show_list, whole_number
from maker.web.messages import undo_message
from maker.web.refusals import refusal_told, show_refusal
from maker.web.row_pages import Entry, entry_page, list_page
from maker.workshop.models import Workshop
from pricing.channels.models import Channel
from pricing.customers.models import Customer
from pricing.customers.services import customer_named
from pricing.for_customers.addresses import defence_address
from pricing.quotes.documents import cautions_of, document_of, quote_document, worked_dates
from pricing.quotes.drawing import (
    Words,
    cautions_for_her,
    frozen_tree,
    is_below_floor,
    late_notes,
    line_rows,
    lines_below_lowest,
    live_tree,
    moved_total,
    offer_words,
    own_figures,
    price_words,
    total_rows,
)
from pricing.quotes.forms import NewQuoteForm, QuoteFilter, QuoteForm
from pricing.quotes.inputs import WorkedQuote, larger_for_less, work_out
from pricing.quotes.models import Quote, QuoteLine
from pricing.quotes.pictures import add_pictures
from pricing.quotes.services import (
    AlreadySaved,
    discard_draft,
    new_quote,
    remember_total,
    restore_draft,
    save_quote,
)
from pricing.quotes.sheet import quote_columns, quote_rows
from pricing.quotes.tables import QuoteTable, state_badge

MOST_EXPLAINED = 20


def quote_or_404(request: WorkshopRequest, pk: int) -> Quote:
    """Return a quote of this workshop with everything its pages need."""
    row = row_or_404(Quote.objects.of(request.workshop).with_what_is_beside(), pk)
    # it is read already
    row.customer.workshop = request.workshop
    return row


def channels_of(workshop: Workshop) -> list[Channel]:
    """Return the channels she sells through, with what each takes."""
    return list(Channel.objects.of(workshop).in_use().with_tiers().in_order())


@require_GET
@may_see
def customer(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Show a customer with every quote."""
    row = row_or_404(Customer.objects.of(request.workshop), pk)
    quotes = row.quotes.exclude(state=Quote.State.DISCARDED).newest_first()
    table = QuoteTable(
        quotes.for_list(),
        workshop=request.workshop,
        today=timezone.localdate(),
        exclude=("customer",),
    )
    context = {
        "customer": row,
        "table": show_list(request, table),
        # the rows of `enquiries`, which stands above quotes
        "enquiries": row.enquiries.filter(retired_on__isnull=True).order_by("-asked_on", "-pk"),
    }
    return render(request, "pricing/customers/customer.html", context)


@require_GET
@may_see
def quote_list(request: WorkshopRequest) -> HttpResponse:
    """List the quotes, the newest first."""
    quotes, today = Quote.objects.of(request.workshop), timezone.localdate()
    filter_form = QuoteFilter(request.GET, workshop=request.workshop, today=today)
    narrowed = filter_form.narrow(quotes)
    if wanted_format(request):
        columns, rows = quote_columns(request.workshop), quote_rows(narrowed, today)
        return export_response(request, title="Quotes", columns=columns, rows=rows)
    found = narrowed.for_list().newest_first()
    table = show_list(request, QuoteTable(found, workshop=request.workshop, today=today))
    return list_page(
        request, "pricing/quotes/list.html", table, filter_form, one="quote", unfiltered=quotes
    )


@require_GET
@may_see
def quote(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Show a quote: what it says, where it stands, and what is left of it for herself."""
    row, today = quote_or_404(request, pk), timezone.localdate()
    context: dict[str, Any] = {"quote": row, "badge": state_badge(row, today)}
    context["is_expired"] = row.is_expired(today)
    context["again_key"] = uuid.uuid4()
    context["revision"] = getattr(row, "replaced_by", None)
    if row.frozen:
        # the rows of `customer_pages`, which stands above quotes
        context["links"] = list(row.links.order_by("-made_at", "-pk"))
        context["said"] = list(row.messages.order_by("-said_at", "-pk"))
        context["may_link"] = bool(settings.OUTSIDE_ADDRESS)
        document = quote_document(row, today)
        context |= _shown(document, is_sent=True) | {"notes": late_notes(document, today)}
        lines = list(row.lines.kept().select_related("version"))
        add_pictures(context["lines"], lines)
        for said, line in zip(context["lines"], lines, strict=False):
            said["defence"] = explained_address(row, line, said["price_each"])
    else:
        context |= draft_page(row)
        _look_at_total(request, row, context["worked"])
    # the explanation of many lines is long: then only when it is asked for
    context["is_long"] = len(context.get("lines", ())) > MOST_EXPLAINED
    if not context["is_long"] or "how" in request.GET:
        context["tree"] = frozen_tree(row) if row.frozen else live_tree(context["worked"])
    return render(request, "pricing/quotes/quote.html", context)


def _look_at_total(request: WorkshopRequest, row: Quote, worked: WorkedQuote) -> None:
    """Remember what a draft comes to, when it is seen for the first time as it is."""
    is_new = row.is_draft and row.seen_edit != row.edit_number
    if worked.price is not None and is_new and request.membership.may_change:
        remember_total(quote=row, total=worked.price.total)


@require_POST
@may_change
def quote_seen(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Take note that the total of a draft has moved."""
    row = quote_or_404(request, pk)
    if row.is_draft:
        worked = work_out(row)
        if worked.price is not None:
            remember_total(quote=row, total=worked.price.total)
    return redirect("pricing:quote", request.workshop.slug, pk)


def _shown(document: dict[str, Any], *, is_sent: bool = False) -> dict[str, Any]:
    return {
        "document": document,
        "figures": own_figures(document, is_sent=is_sent),
        "lines": line_rows(document),
        "totals": total_rows(document),
        "cautions": cautions_of(document["public"]),
        "is_below_floor": is_below_floor(document),
        "below_lowest": lines_below_lowest(document),
    }


def explained_address(quote: Quote, line: QuoteLine, price: str) -> str:
    """Return where the price of a line is explained for the customer."""
    return defence_address(
        quote.workshop,
        design_pk=line.design_id,
        version=line.version.number,
        quantity=line.quantity,
        price=price,
        channel_pk=quote.channel_id,
        colourway_pk=line.colourway_id,
        choices=line.choices,
    )


def draft_page(row: Quote) -> dict[str, Any]:
    """Work a draft out and return what a page shows of it; all its plans share one time."""
    planner = sheet_planner()
    return worked_page(work_out(row, plan_sheets=planner), planner)


def worked_page(worked: WorkedQuote, plan_sheets: PlanSheets) -> dict[str, Any]:
    """Return what a page shows of a draft, with what is in the way of a price."""
    today = timezone.localdate()
    dates = worked_dates(worked, today)
    context: dict[str, Any] = {
        "worked": worked,
        "rows": worked.lines,
        "problems": worked.problems,
        "notes": cautions_for_her(worked, dates, today),
    }
    if worked.price is not None:
        context |= _shown(document_of(worked, today, dates))
        context["moved"] = moved_total(worked.quote, worked.price.total)
        context["offers"] = offer_words(larger_for_less(worked, plan_sheets), worked.quote.workshop)
        words = Words(worked.quote.workshop.currency, worked.quote.workshop.locale)
        add_pictures(context["lines"], worked.lines, worked.versions)
        lines = zip(context["lines"], worked.lines, worked.price.lines, strict=True)
        for said, row, priced in lines:
            said["pk"] = row.pk
            said["price_words"] = price_words(priced, words)
            row.version = worked.versions[row.version_id]
            said["defence"] = explained_address(worked.quote, row, said["price_each"])
    else:
        problems = {problem.place: problem.message for problem in worked.problems}
        context["unpriced"] = [
            {
                "pk": row.pk,
                "design": worked.versions[row.version_id].design.name,
                "quantity": row.quantity,
                "problem": problems.get(place, ""),
            }
            for place, row in enumerate(worked.lines, 1)
        ]
    return context


@require_http_methods(["GET", "POST"])
@may_change
def quote_new(request: WorkshopRequest) -> HttpResponse:
    """Start a quote for a customer, chosen or named here for the first time."""
    # a cost page leads here with what it was worked out for
    asked = ("customer", "design", "quantity")
    first = {key: whole_number(request.GET.get(key), 0) or None for key in asked}
    form = NewQuoteForm(
        request.POST or None,
        initial={"form_key": uuid.uuid4(), **first},
        workshop=request.workshop,
        channels=channels_of(request.workshop),
    )
    if request.method == "POST" and form.is_valid():
        try:
            made = _start(request, form.cleaned_data)
        except AlreadySaved as already:
            messages.info(request, already.message)
            return redirect("pricing:quote", request.workshop.slug, already.quote.pk)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            return redirect(_first_line(request, made, form.cleaned_data))
    status = 422 if request.method == "POST" else 200
    return render(request, "pricing/quotes/new.html", {"form": form}, status=status)


@transaction.atomic
def _start(request: WorkshopRequest, typed: dict[str, Any]) -> Quote:
    """Store the draft and a new customer: both or, when refused, nothing."""
    return new_quote(
        workshop=request.workshop,
        customer=typed["customer"]
        or customer_named(workshop=request.workshop, name=typed["new_name"]),
        title=typed["title"],
        channel=typed["channel"],
        needed_on=typed["needed_on"],
        today=timezone.localdate(),
        form_key=typed["form_key"],
    )


def _first_line(request: WorkshopRequest, made: Quote, typed: dict[str, Any]) -> str:
    """Return where the first line is entered, with what is known of it."""
    address = reverse("pricing:quote_line_new", args=[request.workshop.slug, made.pk])
    if not typed["design"]:
        return address
    known = {"design": typed["design"].pk, "quantity": typed["quantity"]}
    return f"{address}?{urlencode({key: value for key, value in known.items() if value})}"


def say_not_a_draft(request: WorkshopRequest, row: Quote) -> HttpResponse:
    """Lead back to a quote that cannot be changed, with what can be done instead."""
    if row.state == Quote.State.DISCARDED:
        messages.info(request, "This draft was deleted. Restore it to change it.")
    else:
        messages.info(request, "A sent quote is locked. Make a revision to change it.")
    return redirect("pricing:quote", request.workshop.slug, row.pk)


def _form(request: WorkshopRequest, row: Quote, data: Any) -> QuoteForm:
    return QuoteForm(
        data, quote=row, today=timezone.localdate(), channels=channels_of(request.workshop)
    )


@require_http_methods(["GET", "POST"])
@may_change
def quote_edit(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Change what a draft says beside its lines; totals answer while she types."""
    row = quote_or_404(request, pk)
    if not row.is_draft:
        return say_not_a_draft(request, row)

    def entry_of(row: Quote, data: Any) -> Entry:
        return Entry(_form(request, row, data))

    def save(entry: Entry) -> HttpResponse:
        save_quote(quote=row, head=entry.form.head(), edit_number=entry.edit_number)
        messages.success(request, "Saved.")
        return redirect("pricing:quote", request.workshop.slug, pk)

    # worked out once the form has written what was typed into the row
    def totals(entry: Entry) -> dict[str, Any]:
        return draft_page(row)

    return entry_page(
        request, "pricing/quotes/edit.html", row, entry_of, save, beside=totals, quote=row
    )


@require_POST
@may_change
def quote_totals(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Answer with the totals as they would be with what is typed; stores nothing."""
    row = quote_or_404(request, pk)
    form = _form(request, row, request.POST)
    form.full_clean()
    typed = form.cleaned_data
    for name in ("is_rush", "delivery", "deposit_share", "needed_on", "channel"):
        if name in typed:
            value = typed[name]
            setattr(row, name, Decimal(0) if name == "delivery" and value is None else value)
    if row.channel:
        row.channel = Channel.objects.with_tiers().get(pk=row.channel.pk)
    return render(request, "pricing/quotes/_totals.html", {"quote": row, **draft_page(row)})


@require_POST
@may_change
def quote_discard(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Throw a draft away, with a way back."""
    row = quote_or_404(request, pk)
    with refusal_told(request):
        discard_draft(quote=row)
        back = reverse("pricing:quote_restore", args=[request.workshop.slug, pk])
        undo_message(request, "Draft deleted.", back)
        return redirect("pricing:quote_list", request.workshop.slug)
    return redirect("pricing:quote", request.workshop.slug, pk)


@require_POST
@may_change
def quote_restore(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Bring a draft back that was thrown away."""
    row = quote_or_404(request, pk)
    with refusal_told(request):
        restore_draft(quote=row)
        messages.success(request, "Draft restored.")
    return redirect("pricing:quote", request.workshop.slug, pk)
