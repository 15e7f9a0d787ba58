"""What was spent on supplies: by month, down to the receipts of one, and the budgets."""

import datetime
from collections.abc import Sequence
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from catalogue.closed_months.services import Closings, is_closed
from catalogue.materials.models import Material
from maker.exports.answers import export_response, wanted_format
from maker.web.access import WorkshopRequest, may_change, may_see
from maker.web.lists import count_text, show_list
from maker.workshop.models import Workshop
from pricing.calc.spending.spend import (
    Period,
    budgets_in,
    carried_in,
    month_of,
    months_from,
    months_later,
)
from pricing.spending.drawing import (
    Text,
    chart_key,
    expense_categories_table,
    groups_table,
    mark_closed,
    month_href,
    parts_table,
    period_name,
    span_name,
    spend_chart,
)
from pricing.spending.expenses import other_spending
from pricing.spending.forms import BudgetForm, SpendFilter, readable_month
from pricing.spending.inputs import Books, budget_steps, group_names
from pricing.spending.month_drawing import apart_lines, this_month_text
from pricing.spending.services import SpendReport, set_budgets, spend_report
from pricing.spending.sheet import spend_columns, spend_rows
from pricing.spending.tables import receipts_table
from pricing.spending.this_month import has_two_years, this_month

YEARS_OFFERED = 8
GROUPS_SHOWN = 25


def spend_filter(request: WorkshopRequest) -> SpendFilter:
    """Read what the address asks for."""
    this_month = month_of(timezone.localdate())
    return SpendFilter(request.GET, workshop=request.workshop, this_month=this_month)


def spans_shown(form: SpendFilter, books: Books) -> tuple[Period, ...]:
    """Return the months shown: those asked for, else the last year as far as there is anything."""
    if form.asks_for_months:
        return form.spans
    first = books.first_month_with_anything()
    shown = tuple(span for span in form.spans if first is not None and span.last >= first)
    return shown or form.spans[-1:]


@require_GET
@may_see
def spending(request: WorkshopRequest) -> HttpResponse:
    """Show what was spent, month by month or year by year."""
    workshop, today = request.workshop, timezone.localdate()
    form, books = spend_filter(request), Books(workshop)
    spans = spans_shown(form, books)
    as_file = bool(wanted_format(request))
    report = spend_report(
        workshop=workshop,
        spans=spans,
        by=form.by_what,
        narrowed=form.narrowed,
        books=books,
        with_shelf=as_file,
    )
    names, text = group_names(workshop, form.by_what), Text(workshop)
    if as_file:
        return export_response(
            request,
            title="Spending",
            columns=spend_columns(report, names, workshop),
            rows=spend_rows(report),
        )
    base = reverse("pricing:spending", args=[workshop.slug])
    hrefs = month_hrefs(form, base, report)
    if form.errors:
        form.offer_all()
    context = {
        "filter_form": form,
        "report": report,
        "is_empty": books.days[0] is None and not workshop.expenses.exists(),
        "to_come": _to_come(books.to_come(today)),
        "quick": _quick_links(form, base, books, today),
        "span_name": span_name(spans),
        "figures": _figures(report, text),
        "chart": spend_chart(report, names, text, hrefs),
        "key": chart_key(report, names, group_hrefs(form, base, report)),
        "parts": mark_closed(parts_table(report, names, text, hrefs), report, Closings(workshop)),
        "groups_heading": f"By {form.by_what}",
        "more": _part_hrefs(form, workshop, spans),
        **(_now(form, books, report, today) if form.is_whole else {}),
    }
    return render(request, "pricing/spending/spending.html", context)


def month_hrefs(form: SpendFilter, base: str, report: SpendReport) -> list[str]:
    """Return where each month or year of a report leads."""
    query = urlencode(form.kept("first", "last", "each"))
    return [month_href(base, row.period, query) for row in report.rows]


def group_hrefs(form: SpendFilter, base: str, report: SpendReport) -> dict[str, str]:
    """Return where each group of a report leads: into itself."""
    kept = form.kept("by", form.by_what)
    return {
        row.key: f"{base}?{urlencode({**kept, **_narrower(form, row.key)})}"
        for row in report.groups
    }


def _part_hrefs(form: SpendFilter, workshop: Workshop, spans: Sequence[Period]) -> dict[str, str]:
    """Return the addresses of what opens on a tap, about the months shown."""
    months = {"first": f"{spans[0].first:%Y-%m}", "last": f"{spans[-1].last:%Y-%m}"}
    query = urlencode({**form.kept(), **months})
    names = ["shelf", "stock", "groups", *(["everything", "owners"] if form.is_whole else [])]
    found = {name: f"{_part(workshop, name)}?{query}" for name in names}
    # the months stay as they were asked for
    return found | {"filter": f"{_part(workshop, 'filter')}?{urlencode(form.kept())}"}


def _part(workshop: Workshop, name: str) -> str:
    return reverse(f"pricing:spending_{name}", args=[workshop.slug])


def _now(
    form: SpendFilter, books: Books, report: SpendReport, today: datetime.date
) -> dict[str, Any]:
    """Return the total with expenses, the month that runs, and where prices are compared."""
    text, known = Text(books.workshop), None if form.asks_for_months else report.spending
    has_prices = has_two_years(books, today)
    first, last = report.rows[0].period.first, report.rows[-1].period.last
    other = other_spending(books.workshop, first, last).total(months_from(first, last))
    return {
        "with_expenses": f"{text.money(report.spent + other)} with expenses",
        "now": this_month_text(this_month(books, today, known), text),
        "prices_href": _part(books.workshop, "prices") if has_prices else "",
    }


def _to_come(count: int) -> str:
    """Say that receipts are dated after today; empty when none is."""
    if not count:
        return ""
    receipts = count_text(count, "receipt")
    return f"{receipts} dated in the future. Each counts in its own month."


def _narrower(form: SpendFilter, key: str) -> dict[str, str]:
    """Return what the address adds to look into one group."""
    inside = "material" if form.by_what in ("category", "supplier") else ""
    return {form.by_what: key, **({"by": inside} if inside else {})}


def _quick_links(
    form: SpendFilter, base: str, books: Books, today: datetime.date
) -> list[tuple[str, str, bool]]:
    """Return (words, address, is it shown): the last twelve months, two months, each year."""
    kept = form.kept("first", "last", "each")
    shown = form.spans[0].first, form.spans[-1].last
    this = month_of(today)
    links = [("Last 12 months", f"{base}?{urlencode(kept)}", (months_later(this, -11), this))]
    for month in (this, months_later(this, -1)):
        href = month_href(base, Period(month, month), urlencode(kept))
        links.append((f"{month:%B}", href, (month, month)))
    first, last = books.days[0] or today, max(books.days[1] or today, today)
    for year in range(last.year, max(first.year, last.year - YEARS_OFFERED + 1) - 1, -1):
        span = datetime.date(year, 1, 1), datetime.date(year, 12, 1)
        asked = {"first": f"{year}-01", "last": f"{year}-12", **kept}
        links.append((str(year), f"{base}?{urlencode(asked)}", span))
    if first.year < last.year:
        span = datetime.date(max(first.year, last.year - 9), 1, 1), datetime.date(last.year, 12, 1)
        asked = {"first": f"{span[0]:%Y-%m}", "last": f"{span[1]:%Y-%m}", "each": "year", **kept}
        links.append(("Year by year", f"{base}?{urlencode(asked)}", span))
    is_yearly = form.cleaned_data.get("each") == "year"
    return [
        (words, address, span == shown and (words == "Year by year") == is_yearly)
        for words, address, span in links
    ]


def _figures(report: SpendReport, text: Text) -> list[dict[str, Any]]:
    """Return the figures at the head of the page."""
    more = report.spent - report.before
    before = f"{text.signed(more)} vs last year" if report.before else ""
    figures: list[dict[str, Any]] = [
        {
            "label": "Spent on supplies",
            "value_text": text.money(report.spent),
            "note": before,
            "main": True,
        }
    ]
    if report.budget is not None:
        counted = report.budget + (report.over or Decimal(0))
        note = f"{text.money(counted)} of {text.money(report.budget)} where you set a budget"
        figures.append(
            {"label": "Against budget", "value_text": text.against(report.over), "note": note}
        )
    return figures


@require_GET
@may_see
def spending_month(request: WorkshopRequest, year: int, month: int) -> HttpResponse:
    """Show the receipts behind one month, and how its categories stand to their budgets."""
    first = readable_month(year, month)
    if first is None:
        raise Http404("There is no such month.")
    workshop, form = request.workshop, spend_filter(request)
    span = (Period(first, first),)
    report = spend_report(
        workshop=workshop, spans=span, by=form.by_what, narrowed=form.narrowed, with_shelf=False
    )
    text, names = Text(workshop), group_names(workshop, form.by_what)
    base, query = reverse("pricing:spending", args=[workshop.slug]), urlencode(form.kept())
    groups = report.groups[:GROUPS_SHOWN]
    receipts = show_list(request, receipts_table(workshop, first, form.narrowed))
    context = {
        "month": first,
        "is_closed": is_closed(workshop, first),
        "figures": _figures(report, text),
        "receipts": receipts,
        "count": count_text(receipts.paginator.count, "receipt"),
        "is_narrowed": not form.is_whole,
        "total": text.money(report.spent),
        "groups": groups_table(report, groups, names, text, {}),
        "groups_more": len(report.groups) - len(groups),
        "by_what": form.by_what,
        "more": _part_hrefs(form, workshop, span),
        "back": f"{base}?{query}",
        **_months_around(first, base, query),
        **(_expenses_beside(workshop, first, report.spent) if form.is_whole else {}),
    }
    return render(request, "pricing/spending/month.html", context)


def _months_around(first: datetime.date, base: str, query: str) -> dict[str, tuple[str, str]]:
    """Return the month before and after: its name and address."""
    return {
        name: (period_name(Period(other, other)), month_href(base, Period(other, other), query))
        for name, other in (
            ("earlier", months_later(first, -1)),
            ("later", months_later(first, 1)),
        )
        if readable_month(other.year, other.month)
    }


def _expenses_beside(workshop: Workshop, month: datetime.date, spent: Decimal) -> dict[str, Any]:
    """Return the expenses of a month, what they come to with supplies, and what is apart."""
    text, other = Text(workshop), other_spending(workshop, month, month)
    return {
        "expenses": expense_categories_table(other, month, month, text),
        "everything_total": text.money(spent + other.total([month])),
        "apart": apart_lines(workshop, month, month, text),
    }


@require_http_methods(["GET", "POST"])
@may_change
def spending_budget(request: WorkshopRequest) -> HttpResponse:
    """Set what each category may cost a month, from a month on."""
    workshop = request.workshop
    this_month = month_of(timezone.localdate())
    steps = budget_steps(workshop)
    form = BudgetForm(
        request.POST or None,
        workshop=workshop,
        initial={
            "month": this_month,
            "carry": sorted(carried_in(steps, this_month)),
            **budgets_in(steps, this_month),
        },
    )
    if request.method == "POST" and form.is_valid():
        month = form.cleaned_data["month"]
        changed = set_budgets(
            workshop=workshop, month=month, amounts=form.amounts(), carried=form.carried()
        )
        if changed:
            named = ", ".join(str(Material.Category(category).label) for category in changed)
            messages.success(request, f"From {month:%B %Y}: {named}.")
        else:
            messages.info(request, "Nothing changed: these budgets are already set.")
        return redirect("pricing:spending", workshop.slug)
    text = Text(workshop)
    history = [
        (
            step.month,
            str(Material.Category(step.category).label),
            "no budget" if step.amount is None else text.money(step.amount),
            step.carries,
        )
        for step in reversed(steps)
    ]
    status = 422 if request.method == "POST" else 200
    context = {"form": form, "history": history}
    return render(request, "pricing/spending/budget.html", context, status=status)
