"""The dates of an order that is still to be made: as those of its quote, delivery by delivery."""

import datetime
from collections.abc import Sequence

from django.http import HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_GET

from catalogue.sheet_plans.services import sheet_planner
from maker.heavy_pages.marks import heavy
from maker.web.access import WorkshopRequest, may_see, row_or_404
from maker.web.parts import part_or_page
from pricing.orders.inputs import lines_now
from pricing.orders.models import Order
from pricing.quotes.date_answers import DateAnswer, answer_for
from pricing.quotes.date_views import asked_date
from pricing.quotes.dates import count_for
from pricing.quotes.inputs import problems_in_words, work_out
from pricing.quotes.models import QuoteLine
from pricing.quotes.views import quote_or_404
from pricing.quotes.ways_out import Layer, Part


@heavy()
@require_GET
@may_see
def order_dates(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Show the dates of an order, as a page or as the part of one."""
    row = row_or_404(Order.objects.of(request.workshop), pk)
    today = timezone.localdate()
    start_on = asked_date(request.GET.get("yes_on", ""), today)
    row.quote = quote = quote_or_404(request, row.quote_id)
    planner = sheet_planner()
    lines = lines_now(row)
    worked = work_out(quote, lines, plan_sheets=planner)
    if worked.price is None:
        answer = DateAnswer((), (), (), False, start_on, problems_in_words(worked))
    else:
        layer = Layer(worked, count_for(quote, today), today, planner)
        answer = answer_for(layer, parts_of(row, lines), start_on, is_order=True)
    context = {"order": row, "answer": answer}
    return part_or_page(request, "pricing/quotes/_dates.html", "pricing/orders/dates.html", context)


def parts_of(order: Order, lines: Sequence[QuoteLine]) -> list[Part]:
    """Return what goes out when; what no delivery says, and what has no date, goes by the last."""
    left = {line.pk: line.quantity for line in lines}
    found: dict[datetime.date, dict[int, int]] = {}
    deliveries = order.deliveries.prefetch_related("lines").order_by("due_on", "position")
    for delivery in deliveries:
        due_on = delivery.due_on or order.due_on
        if due_on is None:
            continue
        for row in delivery.lines.all():
            count = min(row.quantity, left.get(row.line_id, 0))
            left[row.line_id] = left.get(row.line_id, 0) - count
            counts = found.setdefault(due_on, {})
            counts[row.line_id] = counts.get(row.line_id, 0) + count
    if not found:
        return [Part(tuple(line.quantity for line in lines), order.due_on)] if order.due_on else []
    last = found[max(found)]
    for key, count in left.items():
        last[key] = last.get(key, 0) + max(count, 0)
    parts = [
        Part(tuple(counts.get(line.pk, 0) for line in lines), due_on)
        for due_on, counts in sorted(found.items())
    ]
    return [part for part in parts if any(part.quantities)]
