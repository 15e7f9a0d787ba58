"""Pages of a tax year: its figures, the value of stock at its end, the accountant's pack."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from maker.calc.refusal import Refusal
from maker.web.access import WorkshopRequest, may_change, may_see
from maker.web.lists import count_text
from pricing.calc.spending.tax_year import TaxYear
from pricing.spending.drawing import Text
from pricing.spending.forms import EARLIEST, LATEST
from pricing.tax_year.both_ways import both_ways
from pricing.tax_year.drawing import made_text, stock_parts, stock_text, year_text
from pricing.tax_year.forms import WouldFetchForm
from pricing.tax_year.inputs import (
    books_of,
    finished_stock,
    half_made,
    raw_stock,
    stock_total,
    year_now,
    year_of,
)
from pricing.tax_year.services import ask_pack, keep_would_fetch


def year_or_404(request: WorkshopRequest, year: int) -> TaxYear:
    """Return the tax year an address names."""
    if not EARLIEST <= year < LATEST:
        raise Http404("No report has this year.")
    return year_of(request.workshop, year)


@require_GET
@may_see
def tax_year_now(request: WorkshopRequest) -> HttpResponse:
    """Show the tax year that runs."""
    year = year_now(request.workshop, timezone.localdate())
    return _page(request, year.first.year)


@require_GET
@may_see
def tax_year(request: WorkshopRequest, year: int) -> HttpResponse:
    """Show a tax year to the day: spent, used, in stock, and whether it adds up."""
    return _page(request, year)


def _page(request: WorkshopRequest, year: int) -> HttpResponse:
    shown = year_or_404(request, year)
    stock = raw_stock(request.workshop, shown.last)
    books = books_of(request.workshop, shown)
    context = year_text(request.workshop, shown, books, stock, timezone.localdate())
    context |= {"earlier": year - 1, "later": year + 1}
    context["both"] = both_ways(request.workshop, shown, timezone.localdate())
    return render(request, "pricing/tax_year/tax_year.html", context)


@require_http_methods(["GET", "POST"])
@may_change
def tax_year_stock(request: WorkshopRequest, year: int) -> HttpResponse:
    """Value the materials at the year's end, and enter what they would fetch."""
    shown, workshop = year_or_404(request, year), request.workshop
    rows = raw_stock(workshop, shown.last)
    form = WouldFetchForm(
        request.POST or None, workshop=workshop, materials=[row.material for row in rows]
    )
    if request.method == "POST" and form.is_valid():
        if changed := form.changed():
            keep_would_fetch(materials=changed)
            messages.success(request, f"Saved {count_text(len(changed), 'material')}.")
        else:
            messages.info(request, "Nothing changed.")
        return redirect("pricing:tax_year_stock", workshop.slug, year)
    text = Text(workshop)
    finished, half = finished_stock(workshop, shown.last), half_made(workshop, shown.last)
    total = stock_total(rows, half, finished)
    context = {
        "year": shown,
        "form": form,
        "is_running": shown.holds(timezone.localdate()),
        "rows": [(row, *form.entries(row.material)) for row in stock_text(rows, text)],
        "made": made_text(finished, half, text),
        "parts": stock_parts(total, text),
        "total": text.money(total.value),
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "pricing/tax_year/stock.html", context, status=status)


@require_POST
@may_change
def tax_year_pack(request: WorkshopRequest, year: int) -> HttpResponse:
    """Have the accountant's pack made."""
    shown = year_or_404(request, year)
    try:
        work = ask_pack(workshop=request.workshop, year=shown, by=request.user)
    except Refusal as refusal:
        messages.error(request, refusal.message)
        return redirect("pricing:tax_year", request.workshop.slug, year)
    return redirect("maker:work", request.workshop.slug, work.pk)
