"""The picture of how a material's cost moved."""

from decimal import Decimal
from typing import Any

from django.utils.safestring import SafeString, mark_safe

from catalogue.materials.models import Material
from maker.calc.amounts import stock_unit, unit_cost_in
from maker.calc.dates import short_date
from maker.calc.money import format_money
from maker.documents.charts import ChartPoint, line_chart
from maker.workshop.models import Workshop

MOST_POINTS = 60


def cost_chart(material: Material, lines: Any, workshop: Workshop) -> SafeString:
    """Draw the landed unit cost of the last receipts; empty with fewer than two (one query)."""
    newest = list(lines.order_by("-purchase__bought_on", "-pk")[:MOST_POINTS])
    if len(newest) < 2:
        return mark_safe("")

    one = stock_unit(material.unit, workshop.unit)

    def cost_of(line: Any) -> Decimal:
        return unit_cost_in(line.unit_cost, material.unit, workshop.unit)[0]

    def written(value: Any) -> str:
        return format_money(value, workshop.currency, workshop.locale, extra_digits=2)

    points = [
        ChartPoint(line.purchase.bought_on, float(cost_of(line)), written(cost_of(line)))
        for line in reversed(newest)
    ]
    first, last = points[0], points[-1]
    svg = line_chart(
        points,
        title=f"Cost of {material.name} per {one}",
        description=(
            f"From {first.value_text} on {short_date(first.on)} to {last.value_text} "
            f"on {short_date(last.on)}; the receipts are listed below."
        ),
        tick_text=lambda value: written(Decimal(repr(round(value, 6)))),
        name="cost-chart",
    )
    return mark_safe(svg)  # noqa: S308  # the drawing escapes every text it is given
