"""Pages of a tax year: its figures, the value of stock at its end, the accountant's pack."""

from collections.abc import Sequence

from django.contrib import messages
from django.core.paginator import Page, Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from catalogue.materials.models import Material
from maker.calc.refusal import Refusal
from maker.web.access import WorkshopRequest, may_change, may_see
from maker.web.lists import PER_PAGE, address_of_page, count_text
from maker.web.parts import part_or_page
from pricing.calc.spending.tax_year import TaxYear
from pricing.spending.drawing import Text
from pricing.spending.forms import EARLIEST, LATEST
from pricing.tax_year.both_ways import both_ways, has_closed
from pricing.tax_year.drawing import made_text, stock_parts, stock_text, year_text
from pricing.tax_year.forms import StockFilter, WouldFetchForm
from pricing.tax_year.inputs import (
    books_of,
    finished_stock,
    half_made,
    stock_total,
    year_now,
    year_of,
)
from pricing.tax_year.raw_stock import RawStock, raw_stock
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
    context["has_closed"] = has_closed(request.workshop, shown)
    return render(request, "pricing/tax_year/tax_year.html", context)


@require_GET
@may_see
def tax_year_both(request: WorkshopRequest, year: int) -> HttpResponse:
    """Show a year as first closed beside what is known now; in part where the year asks."""
    shown = year_or_404(request, year)
    both = both_ways(request.workshop, shown, timezone.localdate())
    return part_or_page(
        request,
        "pricing/tax_year/_both.html",
        "pricing/tax_year/both.html",
        {"year": shown, "both": both},
    )


@require_http_methods(["GET", "POST"])
@may_change
def tax_year_stock(request: WorkshopRequest, year: int) -> HttpResponse:
    """Value the materials at the year's end, and enter what they would fetch."""
    shown, workshop = year_or_404(request, year), request.workshop
    stock = raw_stock(workshop, shown.last)
    filter_form = StockFilter(request.GET)
    page = _page_of_stock(request, stock, filter_form)
    materials = Material.objects.of(workshop).in_bulk(row.material_id for row in page)
    form = WouldFetchForm(
        request.POST or None,
        workshop=workshop,
        materials=[materials[row.material_id] for row in page],
    )
    if request.method == "POST" and form.is_valid():
        _save_values(request, form)
        return redirect(address_of_page(request))
    text = Text(workshop)
    finished, half = finished_stock(workshop, shown.last), half_made(workshop, shown.last)
    total = stock_total(stock, half, finished)
    rows = [stock_text(row, materials[row.material_id], text) for row in page]
    context = {
        "year": shown,
        "form": form,
        "filter_form": filter_form,
        "page": page,
        "is_running": shown.holds(timezone.localdate()),
        "has_materials": bool(stock),
        "rows": [(row, *form.entries(row.material)) for row in rows],
        "made": made_text(finished, half, text),
        "parts": stock_parts(total, text),
        "total": text.money(total.value),
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "pricing/tax_year/stock.html", context, status=status)


def _page_of_stock(
    request: WorkshopRequest, stock: Sequence[RawStock], filter_form: StockFilter
) -> Page[RawStock]:
    """Return the materials of a page; those that were sent, whatever stands before them now."""
    rows = stock
    if request.GET.get("search"):
        found = filter_form.narrow(Material.objects.of(request.workshop))
        keys = set(found.values_list("pk", flat=True))
        rows = [row for row in stock if row.material_id in keys]
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    if request.method == "POST":
        sent = request.POST
        page.object_list = [row for row in stock if WouldFetchForm.name_of(row.material_id) in sent]
    return page


def _save_values(request: WorkshopRequest, form: WouldFetchForm) -> None:
    if changed := form.changed():
        keep_would_fetch(materials=changed)
        messages.success(request, f"Saved {count_text(len(changed), 'material')}.")
    elif "page" not in request.POST:
        messages.info(request, "Nothing changed.")


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
