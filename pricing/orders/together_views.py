"""“Two orders, one week”: choose quotes and orders, and see which to take."""

import datetime
from dataclasses import replace
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from catalogue.sheet_plans.services import PlanSheets, sheet_planner
from maker.calc.dates import say_date
from maker.calc.money import format_money
from maker.calc.refusal import Refusal
from maker.calc.units import format_number
from maker.heavy_pages.marks import heavy
from maker.web.access import WorkshopRequest, may_see
from maker.workshop.models import Workshop
from pricing.orders.inputs import lines_now
from pricing.orders.models import Order
from pricing.orders.together import (
    MOST_PICKED,
    Candidate,
    Choice,
    NothingToCompare,
    choices_of,
    without_promises_of,
)
from pricing.quotes.dates import count_for
from pricing.quotes.inputs import work_out
from pricing.quotes.models import Quote

MOST_OFFERED = 60


@heavy()
@require_GET
@may_see
def orders_together(request: WorkshopRequest) -> HttpResponse:
    """Choose two or three quotes or orders, and compare taking each with taking all."""
    today, shop = timezone.localdate(), request.workshop
    offered = _offered(shop, today)
    asked = request.GET.getlist("pick")
    picked = [quote.pk for quote in offered if str(quote.pk) in asked]
    context: dict[str, Any] = {
        "offered": [
            (quote, _about(quote), str(quote.pk) in asked, _due(quote)) for quote in offered
        ],
        "most": MOST_PICKED,
    }
    # one alone is chosen on the page it comes from
    if len(asked) > 1:
        try:
            context |= _compared(picked, shop, today)
        except Refusal as refusal:
            context |= {"problem": refusal.message}
    return render(request, "pricing/orders/together.html", context)


def _offered(shop: Workshop, today: datetime.date) -> list[Quote]:
    """Return drafts and quotes that wait, and orders not begun, that have a date to come."""
    rows = Quote.objects.of(shop).for_list().select_related("order")
    rows = rows.order_by("needed_on", "pk")
    waiting = rows.filter(state__in=[Quote.State.DRAFT, Quote.State.SENT], needed_on__gt=today)
    planned = rows.filter(order__state=Order.State.PLANNED, order__due_on__gt=today)
    found = [*waiting[:MOST_OFFERED], *planned[:MOST_OFFERED]]
    return sorted(found, key=lambda quote: (_due(quote) or today, quote.pk))


def _due(quote: Quote) -> datetime.date | None:
    order: Order | None = getattr(quote, "order", None)
    return order.due_on if order else quote.needed_on


def _about(quote: Quote) -> str:
    order: Order | None = getattr(quote, "order", None)
    what = f"order {order}" if order else f"quote {quote}" if quote.number else "draft quote"
    return ", ".join(part for part in (what, quote.title) if part)


def _compared(keys: list[int], shop: Workshop, today: datetime.date) -> dict[str, Any]:
    if not 2 <= len(keys) <= MOST_PICKED:
        raise NothingToCompare(f"Choose 2 to {MOST_PICKED} quotes or orders.")
    # in short until now: of those to choose from there are many
    quotes = Quote.objects.of(shop).with_people().in_bulk(keys)
    picked = [quotes[key] for key in keys]
    planner = sheet_planner()
    candidates = [_candidate(quote, planner) for quote in picked]
    # what travels longest sets the carrier's days for all
    longest = max(picked, key=lambda quote: quote.delivery)
    counted = without_promises_of(count_for(longest, today), picked)
    found = choices_of(candidates, counted, today, planner)
    rows = [_row(choice, candidates, shop) for choice in found]
    return {"rows": rows, "advice": _advice(found, candidates, shop)}


def _candidate(quote: Quote, planner: PlanSheets) -> Candidate:
    order: Order | None = getattr(quote, "order", None)
    due_on = _due(quote)
    worked = work_out(quote, lines_now(order) if order else None, plan_sheets=planner)
    if worked.price is None or due_on is None:
        raise NothingToCompare(f"{quote} for {quote.customer} has no price yet.")
    return Candidate(quote, replace(worked, quote=quote), due_on, order is not None)


def _names(choice: Choice, candidates: list[Candidate]) -> str:
    return " and ".join(candidates[place].name for place in choice.places)


def _row(choice: Choice, candidates: list[Candidate], shop: Workshop) -> dict[str, str]:
    return {
        "names": _names(choice, candidates)
        + ("" if len(choice.places) == 1 else ", together" if choice.is_shared else ", apart"),
        "fits": f"accept by {say_date(choice.yes_on)}"
        if choice.fits and choice.yes_on
        else "doesn’t fit",
        "hours": _hours(choice.minutes),
        "saved": _hours(choice.saved) if choice.saved > 0 else "–",
        "saved_at": ", ".join(f"{words} {_hours(minutes)}" for words, minutes in choice.saved_at),
        "profit": format_money(choice.profit, shop.currency, shop.locale),
        "per_hour": "–"
        if choice.per_hour is None
        else format_money(choice.per_hour, shop.currency, shop.locale),
    }


def _advice(found: tuple[Choice, ...], candidates: list[Candidate], shop: Workshop) -> str:
    """Say which to take: what fits and brings most."""
    best = found[0]
    if not best.fits:
        return "None of them fits its date. Agree a later date, fewer items or a part delivery."
    profit = format_money(best.profit, shop.currency, shop.locale)
    if len(best.places) == 1:
        return f"Take {_names(best, candidates)}: it fits and brings {profit}."
    count = "both" if len(best.places) == 2 else "all"
    if not best.is_shared:
        which = count if len(best.places) == len(candidates) else _names(best, candidates)
        return f"Take {which}, one after the other: that fits and brings {profit}."
    saved = f", and saves {_hours(best.saved)}" if best.saved > 0 else ""
    which = count if len(best.places) == len(candidates) else _names(best, candidates)
    return f"Take {which} and make them together: that fits, brings {profit}{saved}."


def _hours(minutes: Any) -> str:
    return f"{format_number(minutes / 60, decimals=1)} h"
