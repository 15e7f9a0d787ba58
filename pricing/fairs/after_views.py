"""Pages of the evening: the till of a day, and what came home."""

from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from maker.calc.dates import say_date
from maker.web.access import WorkshopRequest, may_change
from maker.web.messages import undo_message
from maker.web.row_pages import Entry, entry_page
from pricing.fairs.drawing import FairWords, item_name, steps_of, till_lines
from pricing.fairs.forms import CoinRowsOf, CountsForm, DayForm, coins_shown
from pricing.fairs.inputs import coins_of
from pricing.fairs.models import Fair, FairDay, FairSale
from pricing.fairs.results import results_of
from pricing.fairs.services import reopen_day, save_day
from pricing.fairs.stock import save_counts
from pricing.fairs.views import back_to, day_or_404, fair_or_404

ZERO = Decimal(0)


@require_http_methods(["GET", "POST"])
@may_change
def fair_day(request: WorkshopRequest, pk: int, day: int) -> HttpResponse:
    """Count the till of a day, enter the reader's statement, close the day."""
    row = day_or_404(request, pk, day)
    shop = request.workshop

    def entry_of(row: FairDay, data: Any) -> Entry:
        rows = CoinRowsOf(
            data,
            prefix="coins",
            initial=coins_shown(coins_of(row.counted.all()), shop),
            form_kwargs={"workshop": shop},
        )
        return Entry(DayForm(data, instance=row, workshop=shop), rows)

    def save(entry: Entry) -> HttpResponse:
        close = "close" in request.POST
        save_day(
            day=entry.form.save(commit=False),
            coins=entry.rows.coins(),
            visitors=entry.form.visitors(),
            edit_number=entry.edit_number,
            close=close,
        )
        if close:
            way_back = reverse("pricing:fair_day_reopen", args=[shop.slug, pk, day])
            undo_message(request, f"Closed {say_date(row.held_on, year=False)}.", way_back)
        else:
            messages.success(request, f"Saved {say_date(row.held_on, year=False)}.")
        return back_to(request, pk)

    def beside(_: Entry) -> dict[str, Any]:
        (result,) = results_of(Fair.objects.of(shop).filter(pk=pk), shop)
        place = [each.pk for each in result.days].index(row.pk)
        figures, words = result.figures[place], FairWords(shop)
        sales = result.sales_of(result.days[place])
        deposits = sum(
            (
                sale.received * sale.payments
                for sale in sales
                if sale.kind == FairSale.Kind.ORDER and sale.way == FairSale.Way.CASH
            ),
            ZERO,
        )
        out = sum(
            (
                cost.counted
                for cost in result.fair.costs.all()
                if cost.from_till and cost.day_id == row.pk
            ),
            ZERO,
        )
        counted = bool(row.counted.all())
        return {
            "till": till_lines(figures, words, deposits, out),
            "till_counted": words.money(figures.till.counted) if counted else "",
            "till_difference": words.over_or_short(figures.till.difference if counted else None),
            "till_booked": words.over_or_short(row.till_difference)
            if row.till_difference is not None
            else "",
            "till_unbooked": counted
            and row.closed_at is not None
            and row.till_difference != figures.till.difference,
            "to_bank": words.money(figures.till.to_bank) if counted else "",
            "card": words.money(result.card_payments(place)),
            "card_difference": words.over_or_short(result.card_difference(place))
            if row.card_statement is not None
            else "",
            "fees": words.money(figures.fees),
            "steps": steps_of(figures, words, result),
        }

    return entry_page(
        request, "pricing/fairs/day.html", row, entry_of, save, beside, day=row, fair=row.fair
    )


@require_POST
@may_change
def fair_day_reopen(request: WorkshopRequest, pk: int, day: int) -> HttpResponse:
    """Open a closed day again."""
    row = day_or_404(request, pk, day)
    reopen_day(day=row)
    messages.success(request, f"{say_date(row.held_on, year=False)} is open again.")
    return redirect("pricing:fair_day", request.workshop.slug, pk, day)


@require_http_methods(["GET", "POST"])
@may_change
def fair_counts(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Say how many of each item were taken and came home."""
    row = fair_or_404(request, pk)
    items = list(row.designs.with_items().in_order())
    is_sent = request.method == "POST"
    initial = {f"taken_{item.pk}": item.taken or item.planned for item in items}
    initial |= {f"home_{item.pk}": item.brought_home for item in items}
    form = CountsForm(
        request.POST if is_sent else None,
        workshop=request.workshop,
        items=[(item.pk, item_name(item)) for item in items],
        initial=initial,
    )
    if is_sent and form.is_valid():
        typed = form.cleaned_data
        save_counts(
            fair=row,
            counts={
                item.pk: (typed[f"taken_{item.pk}"], typed[f"home_{item.pk}"]) for item in items
            },
            today=timezone.localdate(),
            by=request.user,
        )
        messages.success(request, "Saved the counts.")
        return back_to(request, pk)
    context = {"fair": row, "form": form}
    return render(request, "pricing/fairs/counts.html", context, status=422 if is_sent else 200)
