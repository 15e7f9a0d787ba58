"""The dates of a quote: what sets them, what moves them, and three ways out."""

import datetime

from django.http import HttpResponse
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.views.decorators.http import require_GET

from catalogue.sheet_plans.services import sheet_planner
from maker.heavy_pages.marks import heavy
from maker.web.access import WorkshopRequest, may_see
from maker.web.parts import part_or_page
from pricing.quotes.date_answers import DateAnswer, answer_for
from pricing.quotes.dates import count_for
from pricing.quotes.inputs import problems_in_words, work_out
from pricing.quotes.models import Quote
from pricing.quotes.views import quote_or_404
from pricing.quotes.ways_out import Layer, Part

# an answer is not looked for years ahead
FURTHEST = datetime.timedelta(days=730)


def asked_date(text: str, today: datetime.date) -> datetime.date:
    """Return the date of an address, today where it says none that can be."""
    try:
        found = parse_date(text)
    except ValueError:
        found = None
    return found if found and today <= found <= today + FURTHEST else today


@heavy()
@require_GET
@may_see
def quote_dates(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Show the dates of a quote, as a page or as the part of one."""
    row, today = quote_or_404(request, pk), timezone.localdate()
    yes_on = asked_date(request.GET.get("yes_on", ""), today)
    context = {"quote": row, "answer": quote_answer(row, today, yes_on)}
    return part_or_page(request, "pricing/quotes/_dates.html", "pricing/quotes/dates.html", context)


def quote_answer(row: Quote, today: datetime.date, yes_on: datetime.date) -> DateAnswer:
    """Return what is said of the dates of a quote; `row` comes from `with_people()`."""
    planner = sheet_planner()
    worked = work_out(row, plan_sheets=planner)
    if worked.price is None:
        return DateAnswer((), (), (), False, yes_on, problems_in_words(worked))
    layer = Layer(worked, count_for(row, today), today, planner)
    parts = [Part(layer.quantities, row.needed_on)] if row.needed_on else []
    return answer_for(layer, parts, yes_on)
