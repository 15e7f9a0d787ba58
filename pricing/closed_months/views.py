"""Months closed and open: the list, one month both ways, closing and reopening."""

import datetime
from collections.abc import Sequence

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from catalogue.closed_months.models import ClosedMonth
from catalogue.closed_months.services import reopen_from
from maker.calc.refusal import Refusal
from maker.web.access import WorkshopRequest, may_change, may_see
from maker.web.lists import whole_number
from maker.web.refusals import show_refusal
from pricing.calc.spending.spend import month_of
from pricing.closed_months.drawing import figure_texts, late_texts, month_texts
from pricing.closed_months.forms import CloseForm, ReopenForm
from pricing.closed_months.services import (
    MonthRow,
    close_through,
    late_rows,
    month_rows,
    year_of,
)


@require_http_methods(["GET", "HEAD"])
@may_see
def closed_months(request: WorkshopRequest) -> HttpResponse:
    """List the months of a year as first closed and as known now."""
    return _list(request, None)


@require_http_methods(["POST"])
@may_change
def closed_months_close(request: WorkshopRequest) -> HttpResponse:
    """Close months up to one."""
    today = timezone.localdate()
    rows = month_rows(request.workshop, today)
    form = CloseForm(request.POST, months=_to_close(rows, today))
    if form.is_valid():
        try:
            made = close_through(
                workshop=request.workshop,
                month=form.cleaned_data["month"],
                today=today,
                by=request.user,
            )
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            names = f"{made[0]} to {made[-1]}" if len(made) > 1 else str(made[0])
            messages.success(request, f"Closed {names}.")
            return redirect("pricing:closed_months", request.workshop.slug)
    return _list(request, form)


def _to_close(rows: Sequence[MonthRow], today: datetime.date) -> list[datetime.date]:
    return [row.month for row in rows if row.closing is None and row.month < month_of(today)]


def _list(request: WorkshopRequest, form: CloseForm | None) -> HttpResponse:
    workshop, today = request.workshop, timezone.localdate()
    rows = month_rows(workshop, today)
    years = sorted({row.month.year for row in rows}, reverse=True)
    year = whole_number(request.GET.get("year"), years[0] if years else today.year)
    months = _to_close(rows, today)
    if form is None:
        form = CloseForm(months=months, initial={"month": f"{months[-1]:%Y-%m}" if months else ""})
    whole = year_of(rows, year)
    context = {
        "years": years,
        "year": year,
        "months": month_texts([row for row in rows if row.month.year == year], workshop),
        "whole": figure_texts(whole.figures, workshop) if whole else (),
        "form": form if months else None,
        "can_close": bool(months),
    }
    status = 422 if form.is_bound else 200
    return render(request, "pricing/closed_months/list.html", context, status=status)


@require_http_methods(["GET", "HEAD"])
@may_see
def closed_month(request: WorkshopRequest, year: int, month: int) -> HttpResponse:
    """Show one month both ways, and what was entered later."""
    return _month(request, year, month, None)


@require_http_methods(["POST"])
@may_change
def closed_month_reopen(request: WorkshopRequest, year: int, month: int) -> HttpResponse:
    """Reopen a month and those after it, with a reason."""
    form = ReopenForm(request.POST)
    row = _row(request, year, month)
    if form.is_valid():
        try:
            rows = reopen_from(
                workshop=request.workshop,
                month=row.month,
                reason=form.cleaned_data["reason"],
                by=request.user,
            )
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            more = f" and {len(rows) - 1} after it" if len(rows) > 1 else ""
            messages.success(request, f"Reopened {row.month:%B %Y}{more}.")
            return redirect("pricing:closed_months", request.workshop.slug)
    return _month(request, year, month, form)


def _row(request: WorkshopRequest, year: int, month: int) -> MonthRow:
    rows = month_rows(request.workshop, timezone.localdate())
    found = next((row for row in rows if (row.month.year, row.month.month) == (year, month)), None)
    if found is None:
        raise Http404("There is no such month.")
    return found


def _month(
    request: WorkshopRequest, year: int, month: int, form: ReopenForm | None
) -> HttpResponse:
    workshop = request.workshop
    row = _row(request, year, month)
    late = late_rows(workshop)
    context = {
        "row": row,
        "figures": figure_texts(row.figures, workshop),
        "why": late_texts([one for one in late if month_of(one.dated) == row.month], workshop),
        "corrections": late_texts(
            [one for one in late if month_of(timezone.localdate(one.entered)) == row.month],
            workshop,
        ),
        "record": ClosedMonth.objects.of(workshop)
        .filter(month=row.month)
        .select_related("closed_by", "reopened_by"),
        "form": form or ReopenForm(),
    }
    status = 422 if form is not None else 200
    return render(request, "pricing/closed_months/month.html", context, status=status)
