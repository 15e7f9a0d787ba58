"""What was spent on supplies: by month, down to the receipts of one, and the budgets."""

import datetime
from collections.abc import Mapping, Sequence
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
from maker.web.lists import count_text
from maker.web.parts import part_or_page
from maker.web.rows import rows_by_key
from maker.workshop.models import Workshop
from pricing.calc.spending.spend import (
    Period,
    budgets_in,
    carried_in,
    last_day,
    month_of,
    months_from,
    months_later,
)
from pricing.spending.drawing import (
    Text,
    chart_key,
    everything_table,
    expense_categories_table,
    fairs_table,
    groups_table,
    mark_closed,
    month_href,
    orders_table,
    parts_table,
    period_name,
    periods_table,
    reckoned_lines,
    span_name,
    spend_chart,
)
from pricing.spending.expenses import expenses_of, other_spending, shown_apart
from pricing.spending.forms import BudgetForm, SpendFilter, readable_month
from pricing.spending.inputs import (
    budget_steps,
    first_month_with_anything,
    receipt_days,
    receipts_of,
)
from pricing.spending.month_drawing import price_change_text, this_month_text
from pricing.spending.owners import spent_by_fair, spent_by_order
from pricing.spending.services import set_budgets, spend_report
from pricing.spending.sheet import spend_columns, spend_rows
from pricing.spending.this_month import supplies_price_change, this_month

YEARS_OFFERED = 8


def _filter_form(request: WorkshopRequest) -> SpendFilter:
    workshop = request.workshop
    return SpendFilter(
        request.GET,
        suppliers=rows_by_key(workshop.suppliers.only("name", "workshop").order_by("name", "pk")),
        materials=rows_by_key(workshop.materials.only("name", "workshop").by_name()),
        this_month=month_of(timezone.localdate()),
    )


def _names(form: SpendFilter) -> Mapping[str, str]:
    """Return what the groups are called, by key."""
    if form.by_what == "category":
        return {category.value: str(category.label) for category in Material.Category}
    rows = form.fields[form.by_what].rows  # type: ignore[attr-defined]  # a ChosenRowField
    return {key: row.name for key, row in rows.items()}


def _kept(form: SpendFilter, *left_out: str) -> dict[str, str]:
    """Return what the address says that could be read, without some of it."""
    return {
        name: form.data[name]
        for name in form.fields
        if name not in (*left_out, *form.errors) and form.data.get(name)
    }


def _spans(form: SpendFilter, workshop: Workshop) -> tuple[Period, ...]:
    """Return the months shown: those asked for, else the last year as far as there is anything."""
    asked = form.cleaned_data
    if asked.get("first") or asked.get("last"):
        return form.spans
    first = first_month_with_anything(workshop)
    shown = tuple(span for span in form.spans if first is not None and span.last >= first)
    return shown or form.spans[-1:]


@require_GET
@may_see
def spending(request: WorkshopRequest) -> HttpResponse:
    """Show what was spent, month by month or year by year, and where it is now."""
    workshop, today = request.workshop, timezone.localdate()
    form = _filter_form(request)
    days = receipt_days(workshop, today)
    spans = _spans(form, workshop)
    report = spend_report(workshop=workshop, spans=spans, by=form.by_what, narrowed=form.narrowed)
    names, text = _names(form), Text(workshop)
    if wanted_format(request):
        return export_response(
            request,
            title="Spending",
            columns=spend_columns(report, names, workshop),
            rows=spend_rows(report),
        )
    base = reverse("pricing:spending", args=[workshop.slug])
    query = urlencode(_kept(form, "first", "last", "each"))
    hrefs = [month_href(base, row.period, query) for row in report.rows]
    kept = _kept(form, "by", form.by_what)
    groups = {
        row.key: f"{base}?{urlencode({**kept, **_narrower(form, row.key)})}"
        for row in report.groups
    }
    closings = Closings(workshop)
    context = {
        "filter_form": form,
        "report": report,
        "is_empty": days["first"] is None and not request.workshop.expenses.exists(),
        "to_come": _to_come(days["to_come"]),
        "quick": _quick_links(form, base, days, today),
        "span_name": span_name(spans),
        "figures": _figures(report, text),
        "chart": spend_chart(report, names, text, hrefs),
        "key": chart_key(report, names, groups),
        "parts": mark_closed(parts_table(report, names, text, hrefs), report, closings),
        "periods": mark_closed(periods_table(report, text, hrefs), report, closings),
        "groups": groups_table(report, names, text, groups),
        "by_what": form.by_what,
        "lines": reckoned_lines(report.reconciliation, text) if report.reconciliation else [],
        **_everything(request, form, report, text, hrefs, closings),
        "owners_href": _owners_href(workshop, spans) if _is_whole(form) else "",
        **(_now(workshop, today, text) if _is_whole(form) else {}),
    }
    return render(request, "pricing/spending/spending.html", context)


def _owners_href(workshop: Workshop, spans: Sequence[Period]) -> str:
    """Return the address of what orders and fairs cost in the months shown."""
    first, last = spans[0].first, spans[-1].last
    months = urlencode({"first": f"{first:%Y-%m}", "last": f"{last:%Y-%m}"})
    return f"{reverse('pricing:spending_owners', args=[workshop.slug])}?{months}"


@require_GET
@may_see
def spending_owners(request: WorkshopRequest) -> HttpResponse:
    """Show what each order and fair cost in some months; in part where the spending page asks."""
    workshop, text = request.workshop, Text(request.workshop)
    spans = _spans(_filter_form(request), workshop)
    span = spans[0].first, last_day(spans[-1].last)
    orders, fairs = spent_by_order(workshop, *span), spent_by_fair(workshop, *span)
    context = {
        "span_name": span_name(spans),
        "by_order": orders_table(orders, text) if orders else None,
        "by_fair": fairs_table(fairs, text) if fairs else None,
    }
    return part_or_page(
        request, "pricing/spending/_owners.html", "pricing/spending/owners.html", context
    )


def _now(workshop: Workshop, today: datetime.date, text: Text) -> dict[str, Any]:
    """Return the month that runs and what supplies cost beside a year ago."""
    return {
        "now": this_month_text(this_month(workshop, today), text),
        "index": price_change_text(supplies_price_change(workshop, today), text),
    }


def _everything(
    request: WorkshopRequest,
    form: SpendFilter,
    report: Any,
    text: Text,
    hrefs: list[str],
    closings: Closings,
) -> dict[str, Any]:
    """Return what was spent besides supplies; nothing where the page looks at a part of these."""
    first, last = form.spans[0].first, form.spans[-1].last
    if not _is_whole(form):
        return {}
    other = other_spending(request.workshop, first, last)
    months = list(months_from(first, last))
    apart = _apart(request, text, first, last)
    if not other.categories(months):
        return apart
    return apart | {
        "everything": mark_closed(everything_table(report, other, text, hrefs), report, closings),
        "everything_total": text.money(report.spent + other.total(months)),
        "expense_categories": expense_categories_table(
            other, months, text, _expenses_href(request, first, last)
        ),
    }


def _apart(
    request: WorkshopRequest, text: Text, first: datetime.date, last: datetime.date
) -> dict[str, Any]:
    """Write what is shown apart from what was spent; what is nothing is left out."""
    apart = shown_apart(request.workshop, first, last)
    amounts = (
        ("Refunded by suppliers", apart.refunds, text.money),
        ("Exchange differences", apart.exchange, text.signed),
    )
    return {"apart": [(words, write(amount)) for words, amount, write in amounts if amount]}


def _is_whole(form: SpendFilter) -> bool:
    asked = form.narrowed
    return not (asked.category or asked.supplier_id or asked.material_id)


def _expenses_href(request: WorkshopRequest, first: datetime.date, last: datetime.date) -> str:
    """Return the address of the expenses of some months."""
    span = urlencode({"first": first.isoformat(), "last": last_day(last).isoformat()})
    return f"{reverse('catalogue:expense_list', args=[request.workshop.slug])}?{span}"


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
    form: SpendFilter, base: str, days: Mapping[str, Any], today: datetime.date
) -> list[tuple[str, str, bool]]:
    """Return (words, address, is it shown): the last twelve months, two months, each year."""
    kept = _kept(form, "first", "last", "each")
    shown = form.spans[0].first, form.spans[-1].last
    this = month_of(today)
    links = [("Last 12 months", f"{base}?{urlencode(kept)}", (months_later(this, -11), this))]
    for month in (this, months_later(this, -1)):
        href = month_href(base, Period(month, month), urlencode(kept))
        links.append((f"{month:%B}", href, (month, month)))
    first, last = days["first"] or today, max(days["last"] or today, today)
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


def _figures(report: Any, text: Text) -> list[dict[str, Any]]:
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
    if report.reconciliation:
        used, shelf = text.money(report.moves.used), text.money(report.reconciliation.closing)
        figures += [
            {"label": "Used", "value_text": used, "note": "in what you made"},
            {"label": "In stock", "value_text": shelf, "note": "at the end"},
        ]
    return figures


@require_GET
@may_see
def spending_month(request: WorkshopRequest, year: int, month: int) -> HttpResponse:
    """Show the receipts behind one month, and how its categories stand to their budgets."""
    first = readable_month(year, month)
    if first is None:
        raise Http404("There is no such month.")
    workshop, form = request.workshop, _filter_form(request)
    span = (Period(first, first),)
    report = spend_report(workshop=workshop, spans=span, by=form.by_what, narrowed=form.narrowed)
    text, names = Text(workshop), _names(form)
    base = reverse("pricing:spending", args=[workshop.slug])
    query = urlencode(_kept(form))
    around = {
        name: (period_name(Period(other, other)), month_href(base, Period(other, other), query))
        for name, other in (
            ("earlier", months_later(first, -1)),
            ("later", months_later(first, 1)),
        )
        if readable_month(other.year, other.month)
    }
    receipts = [
        (purchase, text.money(amount), count_text(lines, "line"))
        for purchase, amount, lines in receipts_of(workshop, first, form.narrowed)
    ]
    is_whole = _is_whole(form)
    expenses = list(expenses_of(workshop, first)) if is_whole else []
    cost = sum((one.cost for one in expenses), Decimal(0))
    context = {
        "filter_form": form,
        "month": first,
        "is_closed": is_closed(workshop, first),
        "report": report,
        "figures": _figures(report, text),
        "receipts": receipts,
        "count": count_text(len(receipts), "receipt"),
        "is_narrowed": not is_whole,
        "total": text.money(report.spent),
        "expenses": [(one, text.money(one.cost)) for one in expenses],
        "expense_count": count_text(len(expenses), "expense"),
        "expense_total": text.money(cost),
        "everything_total": text.money(report.spent + cost),
        **(_apart(request, text, first, first) if is_whole else {}),
        "groups": groups_table(report, names, text, {}),
        "by_what": form.by_what,
        "lines": reckoned_lines(report.reconciliation, text) if report.reconciliation else [],
        "back": f"{base}?{query}",
        **around,
    }
    return render(request, "pricing/spending/month.html", context)


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
