"""What opens on a tap on the page of a tax year; a page of its own for who opens its address."""

from django.http import HttpResponse
from django.views.decorators.http import require_GET

from maker.web.access import WorkshopRequest, may_see
from maker.web.parts import part_or_page
from pricing.calc.spending.tax_year import TaxYear
from pricing.spending.drawing import TableText
from pricing.tax_year.drawing import material_table, order_table, supplier_table
from pricing.tax_year.views import year_or_404


def _answer(
    request: WorkshopRequest, year: TaxYear, table: TableText, *, heading: str, first: str
) -> HttpResponse:
    """Answer with a table, or with a page that has nothing else."""
    return part_or_page(
        request,
        "pricing/tax_year/_sums.html",
        "pricing/tax_year/sums.html",
        {"year": year, "table": table, "heading": heading, "first": first},
    )


@require_GET
@may_see
def tax_year_suppliers(request: WorkshopRequest, year: int) -> HttpResponse:
    """Show what was paid to each supplier for supplies."""
    shown = year_or_404(request, year)
    table = supplier_table(request.workshop, shown)
    return _answer(request, shown, table, heading="Supplies by supplier", first="Supplier")


@require_GET
@may_see
def tax_year_materials(request: WorkshopRequest, year: int) -> HttpResponse:
    """Show what was paid for each material."""
    shown = year_or_404(request, year)
    table = material_table(request.workshop, shown)
    return _answer(request, shown, table, heading="Supplies by material", first="Material")


@require_GET
@may_see
def tax_year_orders(request: WorkshopRequest, year: int) -> HttpResponse:
    """Show what was used for each order."""
    shown = year_or_404(request, year)
    table = order_table(request.workshop, shown)
    return _answer(request, shown, table, heading="Used by order", first="Order")
