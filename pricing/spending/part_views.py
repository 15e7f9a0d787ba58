"""What opens on a tap on the pages of spending; a page of its own for who opens its address."""

from typing import Any
from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from catalogue.closed_months.services import Closings
from maker.web.access import WorkshopRequest, may_see
from maker.web.lists import PER_PAGE
from maker.web.parts import asks_for_part, part_or_page
from pricing.calc.spending.spend import last_day
from pricing.spending.drawing import (
    Text,
    everything_table,
    expense_categories_table,
    fairs_table,
    groups_table,
    mark_closed,
    orders_table,
    periods_table,
    reckoned_lines,
    span_name,
)
from pricing.spending.expenses import other_spending
from pricing.spending.forms import SpendFilter
from pricing.spending.inputs import Books, group_names
from pricing.spending.month_drawing import apart_lines, price_change_text
from pricing.spending.owners import spent_by_fair, spent_by_order
from pricing.spending.services import SpendReport, spend_report
from pricing.spending.this_month import supplies_price_change
from pricing.spending.views import group_hrefs, month_hrefs, spans_shown, spend_filter


def _answer(
    request: WorkshopRequest, form: SpendFilter, name: str, heading: str, context: dict[str, Any]
) -> HttpResponse:
    """Answer with a part, or with a page that has nothing else."""
    part = f"pricing/spending/_{name}.html"
    base = reverse("pricing:spending", args=[request.workshop.slug])
    whole = {"part": part, "heading": heading, "back": f"{base}?{urlencode(form.kept())}"}
    return part_or_page(request, part, "pricing/spending/part.html", whole | context)


def shelf_figures(report: SpendReport, text: Text) -> list[dict[str, Any]]:
    """Return what was used and is left; nothing where stock isn't kept by what is looked at."""
    if report.moves is None or report.reconciliation is None:
        return []
    unexplained = report.reconciliation.unexplained
    note = "at the end" if unexplained else "at the end, and it adds up"
    used, left = text.money(report.moves.used), text.money(report.reconciliation.closing)
    return [
        {"label": "Used", "value_text": used, "note": "in what you made"},
        {"label": "In stock", "value_text": left, "note": note},
    ]


def _report(
    request: WorkshopRequest, form: SpendFilter, *, by: str = "category", with_shelf: bool = False
) -> SpendReport:
    books = Books(request.workshop)
    return spend_report(
        workshop=request.workshop,
        spans=spans_shown(form, books),
        by=by,
        narrowed=form.narrowed,
        books=books,
        with_shelf=with_shelf,
    )


@require_GET
@may_see
def spending_stock(request: WorkshopRequest) -> HttpResponse:
    """Show what was bought, used and is in stock, and whether that adds up."""
    workshop, form, text = request.workshop, spend_filter(request), Text(request.workshop)
    report = _report(request, form, with_shelf=True)
    base = reverse("pricing:spending", args=[workshop.slug])
    table = periods_table(report, text, month_hrefs(form, base, report))
    reckoned = report.reconciliation
    context = {
        "report": report,
        "span_name": span_name([row.period for row in report.rows]),
        "periods": mark_closed(table, report, Closings(workshop)),
        "lines": reckoned_lines(reckoned, text) if reckoned else [],
    }
    return _answer(request, form, "stock", "Bought, used, in stock", context)


@require_GET
@may_see
def spending_shelf(request: WorkshopRequest) -> HttpResponse:
    """Show what was used and is in stock, beside what was spent, once that is on the page."""
    form, text = spend_filter(request), Text(request.workshop)
    report = _report(request, form, with_shelf=True)
    context = {
        "report": report,
        "figures": shelf_figures(report, text),
        "span_name": span_name([row.period for row in report.rows]),
    }
    return _answer(request, form, "shelf", "Used and in stock", context)


@require_GET
@may_see
def spending_groups(request: WorkshopRequest) -> HttpResponse:
    """Show what each category, supplier or material cost; so many on a page."""
    workshop, form = request.workshop, spend_filter(request)
    report = _report(request, form, by=form.by_what)
    base = reverse("pricing:spending", args=[workshop.slug])
    page = Paginator(report.groups, PER_PAGE).get_page(
        1 if asks_for_part(request) else request.GET.get("page")
    )
    table = groups_table(
        report,
        list(page.object_list),
        group_names(workshop, form.by_what),
        Text(workshop),
        group_hrefs(form, base, report),
    )
    context = {"page": page, "groups": table, "by_what": form.by_what}
    return _answer(request, form, "groups", f"By {form.by_what}", context)


@require_GET
@may_see
def spending_everything(request: WorkshopRequest) -> HttpResponse:
    """Show supplies and expenses together, and what is apart from both."""
    workshop, form, text = request.workshop, spend_filter(request), Text(request.workshop)
    report = _report(request, form)
    base = reverse("pricing:spending", args=[workshop.slug])
    first, last = report.rows[0].period.first, report.rows[-1].period.last
    other = other_spending(workshop, first, last)
    table = everything_table(report, other, text, month_hrefs(form, base, report))
    context = {
        "everything": mark_closed(table, report, Closings(workshop)),
        "categories": expense_categories_table(other, first, last, text),
        "apart": apart_lines(workshop, first, last, text),
    }
    return _answer(request, form, "everything", "Everything you spent", context)


@require_GET
@may_see
def spending_owners(request: WorkshopRequest) -> HttpResponse:
    """Show what each order and fair cost in some months."""
    workshop, form, text = request.workshop, spend_filter(request), Text(request.workshop)
    spans = spans_shown(form, Books(workshop))
    span = spans[0].first, last_day(spans[-1].last)
    orders, fairs = spent_by_order(workshop, *span), spent_by_fair(workshop, *span)
    context = {
        "span_name": span_name(spans),
        "by_order": orders_table(orders, text) if orders else None,
        "by_fair": fairs_table(fairs, text) if fairs else None,
    }
    return _answer(request, form, "owners", "Spending by order and fair", context)


@require_GET
@may_see
def spending_prices(request: WorkshopRequest) -> HttpResponse:
    """Show what supplies cost beside a year ago."""
    workshop = request.workshop
    change = supplies_price_change(Books(workshop), timezone.localdate())
    context = {"index": price_change_text(change, Text(workshop))}
    return _answer(request, spend_filter(request), "prices", "Supplies and a year ago", context)


@require_GET
@may_see
def spending_filter(request: WorkshopRequest) -> HttpResponse:
    """Show what can be chosen: months, category, supplier, material."""
    form = spend_filter(request)
    form.offer_all()
    context = {"filter_form": form}
    return _answer(request, form, "filter", "Filter spending", context)
