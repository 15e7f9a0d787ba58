"""What was spent on supplies: by month, down to the receipts of one, and the budgets."""

import datetime
from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from catalogue.materials.models import Material
from maker.web.access import WorkshopRequest, may_change, may_see
from maker.web.exports import export_response, wanted_format
from maker.web.lists import count_text
from maker.web.rows import rows_by_key
from pricing.calc.spending.spend import Period, budgets_in, month_of, months_later
from pricing.spending.drawing import (
    Text,
    chart_key,
    groups_table,
    month_href,
    parts_table,
    period_name,
    periods_table,
    reckoned_lines,
    span_name,
    spend_chart,
)
from pricing.spending.forms import BudgetForm, SpendFilter, readable_month
from pricing.spending.inputs import budget_steps, receipt_days, receipts_of
from pricing.spending.services import set_budgets, spend_report
from pricing.spending.sheet import spend_columns, spend_rows

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


@require_GET
@may_see
def spending(request: WorkshopRequest) -> HttpResponse:
    """Show what was spent, month by month or year by year, and where it is now."""
    workshop, today = request.workshop, timezone.localdate()
    form = _filter_form(request)
    days = receipt_days(workshop, today)
    report = spend_report(
        workshop=workshop, spans=form.spans, by=form.by_what, narrowed=form.narrowed
    )
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
    context = {
        "filter_form": form,
        "report": report,
        "is_empty": days["first"] is None,
        "to_come": _to_come(days["to_come"]),
        "quick": _quick_links(form, base, days, today),
        "span_name": span_name(form.spans),
        "figures": _figures(report, text),
        "chart": spend_chart(report, names, text),
        "key": chart_key(report, names, groups),
        "parts": parts_table(report, names, text, hrefs),
        "periods": periods_table(report, text, hrefs),
        "groups": groups_table(report, names, text, groups),
        "by_what": form.by_what,
        "lines": reckoned_lines(report.reconciliation, text) if report.reconciliation else [],
    }
    return render(request, "pricing/spending/spending.html", context)


def _to_come(count: int) -> str:
    """Say that receipts are dated after today; empty when none is."""
    if not count:
        return ""
    receipts = count_text(count, "receipt")
    return f"{receipts} in stock with a day still to come. Each counts in the month of its day."


def _narrower(form: SpendFilter, key: str) -> dict[str, str]:
    """Return what the address adds to look into one group."""
    inside = "material" if form.by_what in ("category", "supplier") else ""
    return {form.by_what: key, **({"by": inside} if inside else {})}


def _quick_links(
    form: SpendFilter, base: str, days: Mapping[str, Any], today: datetime.date
) -> list[tuple[str, str, bool]]:
    """Return (words, address, is it shown) of the last twelve months and of each year."""
    kept = _kept(form, "first", "last", "each")
    shown = form.spans[0].first, form.spans[-1].last
    this = month_of(today)
    links = [("Last 12 months", f"{base}?{urlencode(kept)}", (months_later(this, -11), this))]
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
    before = f"{text.signed(more)} against the year before" if report.before else ""
    figures: list[dict[str, Any]] = [
        {
            "label": "Spent",
            "value_text": text.money(report.spent),
            "note": before,
            "main": True,
        }
    ]
    if report.budget is not None:
        note = f"of a budget of {text.money(report.budget)}"
        figures.append(
            {"label": "Against budget", "value_text": text.against(report.over), "note": note}
        )
    if report.reconciliation:
        used, shelf = text.money(report.moves.used), text.money(report.reconciliation.closing)
        figures += [
            {"label": "Used", "value_text": used, "note": "in what was made"},
            {"label": "On the shelf", "value_text": shelf, "note": "at the end"},
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
    asked = form.narrowed
    context = {
        "filter_form": form,
        "month": first,
        "report": report,
        "figures": _figures(report, text),
        "receipts": receipts,
        "count": count_text(len(receipts), "receipt"),
        "is_narrowed": bool(asked.category or asked.supplier_id or asked.material_id),
        "total": text.money(report.spent),
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
        initial={"month": this_month, **budgets_in(steps, this_month)},
    )
    if request.method == "POST" and form.is_valid():
        month = form.cleaned_data["month"]
        changed = set_budgets(workshop=workshop, month=month, amounts=form.amounts())
        if changed:
            named = ", ".join(str(Material.Category(category).label) for category in changed)
            messages.success(request, f"From {month:%B %Y}: {named}.")
        else:
            messages.info(request, "These budgets hold already. Nothing was changed.")
        return redirect("pricing:spending", workshop.slug)
    text = Text(workshop)
    history = [
        (
            step.month,
            str(Material.Category(step.category).label),
            "no budget" if step.amount is None else text.money(step.amount),
        )
        for step in reversed(steps)
    ]
    status = 422 if request.method == "POST" else 200
    context = {"form": form, "history": history}
    return render(request, "pricing/spending/budget.html", context, status=status)
