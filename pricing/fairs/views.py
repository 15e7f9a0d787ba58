"""Pages of the fairs: side by side, entry, one fair, what it costs, what is on the table."""

import datetime
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from catalogue.designs.models import Design
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.parts import part_or_page
from maker.web.row_pages import Entry, entry_page
from pricing.fairs.drawing import (
    AGAIN,
    FairWords,
    again_reason,
    as_last_time,
    dates_text,
    day_rows,
    fair_rows,
    goal_rows,
    hour_rows,
    hours_chart,
    item_name,
    item_rows,
    result_figures,
    share_rows,
    sold_out_rows,
    steps_of,
)
from pricing.fairs.forms import (
    CoinRowsOf,
    CostForm,
    CostRows,
    DayRows,
    FairFilter,
    FairForm,
    coins_shown,
    day_initial,
    usual_day,
)
from pricing.fairs.inputs import coins_of, load_names
from pricing.fairs.models import Fair, FairDay
from pricing.fairs.results import mix_before, results_of
from pricing.fairs.services import (
    CostInput,
    DayInput,
    copy_items,
    save_coins,
    save_costs,
    save_fair,
)

ZERO = Decimal(0)
MOST_COMPARED = 60


def fair_or_404(request: WorkshopRequest, pk: int) -> Fair:
    """Return a fair of the workshop."""
    found: Fair = row_or_404(Fair.objects.of(request.workshop).select_related("workshop"), pk)
    return found


def back_to(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Go to a fair's page."""
    return redirect("pricing:fair", request.workshop.slug, pk)


@require_GET
@may_see
def fair_list(request: WorkshopRequest) -> HttpResponse:
    """Fairs and years side by side, as a chart and a table."""
    shop = request.workshop
    all_fairs = Fair.objects.of(shop)
    filter_form = FairFilter(request.GET)
    fairs = filter_form.narrow(all_fairs).with_dates().newest_first()[:MOST_COMPARED]
    results, words = results_of(fairs, shop), FairWords(shop)
    context = {
        "rows": fair_rows(results, words),
        "chart": hours_chart(results[::-1], words),
        "filter_form": filter_form,
        "is_empty": not results and not all_fairs.exists(),
    }
    return render(request, "pricing/fairs/list.html", context)


@require_GET
@may_see
def fair(request: WorkshopRequest, pk: int) -> HttpResponse:
    """One fair: before, at the table, after."""
    shop = request.workshop
    fair_or_404(request, pk)
    others = Fair.objects.of(shop).with_dates().newest_first()
    results = results_of(others[:MOST_COMPARED], shop)
    result = next((each for each in results if each.fair.pk == pk), None)
    if result is None:
        (result,) = results_of(Fair.objects.of(shop).filter(pk=pk), shop)
    load_names(result.items)
    row, words = result.fair, FairWords(shop)
    mix, mix_from = mix_before(results, row)
    before = next((each for each in results if each.fair.pk == row.last_year_id), None)
    context: dict[str, Any] = {
        "fair": row,
        "dates": dates_text(row),
        "days": result.days,
        "is_on": any(day.is_on(timezone.localdate()) for day in result.days),
        "is_running": any(day.is_to_come(timezone.localdate()) for day in result.days),
        "items": [(item, item_name(item)) for item in result.items],
        "mix_from": mix_from,
        "goals": goal_rows(result, mix, words) if mix and result.days else [],
        "mix_each": words.money(mix.price_each) if mix else "",
        "mix_gain": words.money(mix.gain_each) if mix else "",
        "as_last_time": as_last_time(result, before, words),
        "hours": words.hours(result.hours),
        "fixed": words.money(result.fixed),
        "float": words.money(result.float_amount),
        "last_year": row.last_year,
        "has_sales": result.has_sales,
        "bundles": row.bundles.all(),
    }
    if result.has_sales:
        label, badge = AGAIN[result.outcome.again(result.wage)]
        season = result.season
        even, wage = (
            season.items_for(season.fixed),
            season.items_for(season.fixed + result.wage * season.hours),
        )
        context |= {
            "again": label,
            "badge": badge,
            "reason": again_reason(result, words),
            "figures": result_figures(result, words),
            "day_rows": day_rows(result, words),
            "day_steps": [
                (day, steps_of(figures, words, result))
                for day, figures in zip(result.days, result.figures, strict=True)
            ],
            "item_rows": item_rows(result.by_item, words, result.open_hours),
            "losing": [item_name(each.item) for each in result.by_item if each.loses],
            "hour_rows": hour_rows(result, words),
            "sold_out": sold_out_rows(result, words),
            "orders": words.money(result.outcome.orders) if result.outcome.orders else "",
            "with_orders": words.money(result.outcome.per_hour_with_orders),
            "even": even,
            "wage_items": wage,
            "sold_items": season.items_sold,
            "problems": result.problems,
        }
    return render(request, "pricing/fairs/fair.html", context)


@require_GET
@may_see
def fair_share(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Say what the next fair adds to each item at so many sold, for a design's price page."""
    shop = request.workshop
    design = row_or_404(Design.objects.of(shop), pk)
    fairs, today = Fair.objects.of(shop), timezone.localdate()
    days = FairDay.objects.of(shop).exclude(fair__state=Fair.State.NOT_GOING).with_fair()
    coming = days.filter(held_on__gte=today).in_order().first()
    day = coming or days.order_by("-held_on", "-pk").first()
    row = day.fair if day else None
    context: dict[str, Any] = {"design": design, "fair": row}
    if row is not None:
        keys = [row.pk, *([row.last_year_id] if row.last_year_id else [])]
        results = {each.fair.pk: each for each in results_of(fairs.filter(pk__in=keys), shop)}
        before = results.get(row.last_year_id or row.pk)
        sold = before.season.items_sold if before and before.has_sales else 0
        words = FairWords(shop)
        context |= {
            "rows": share_rows(results[row.pk], sold, words),
            "fixed": words.money(results[row.pk].fixed),
            "sold": sold,
        }
    return part_or_page(request, "pricing/fairs/_share.html", "pricing/fairs/share.html", context)


@require_http_methods(["GET", "POST"])
@may_change
def fair_new(request: WorkshopRequest) -> HttpResponse:
    """Enter a fair."""
    return _edit(request, Fair(workshop=request.workshop))


@require_http_methods(["GET", "POST"])
@may_change
def fair_edit(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Change what is said of a fair, and its days."""
    return _edit(request, fair_or_404(request, pk))


def _edit(request: WorkshopRequest, row: Fair) -> HttpResponse:
    def entry_of(row: Fair, data: Any) -> Entry:
        days = day_initial(row.days.in_order()) if row.pk else [usual_day(timezone.localdate())]
        rows = DayRows(
            data, prefix="days", initial=days, form_kwargs={"workshop": request.workshop}
        )
        return Entry(FairForm(data, instance=row, workshop=request.workshop), rows)

    def save(entry: Entry) -> HttpResponse:
        known = {day.pk: day for day in row.days.all()} if row.pk else {}
        days = [
            DayInput(
                known.get(form.cleaned_data["row"] or 0),
                form.cleaned_data["held_on"],
                form.cleaned_data["opens"],
                form.cleaned_data["closes"],
            )
            for form in entry.rows.kept()
        ]
        saved = save_fair(
            fair=entry.form.save(commit=False),
            days=days,
            edit_number=entry.edit_number,
            stall_fee=entry.form.cleaned_data.get("stall_fee"),
        )
        messages.success(request, f"Saved “{saved}”.")
        return back_to(request, saved.pk)

    return entry_page(request, "pricing/fairs/edit.html", row, entry_of, save, fair=row)


@require_http_methods(["GET", "POST"])
@may_change
def fair_costs(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Say what a fair costs whatever sells."""
    row = fair_or_404(request, pk)
    days = list(row.days.in_order())

    def entry_of(row: Fair, data: Any) -> Entry:
        stored = list(row.costs.select_related("expense").order_by("pk"))
        initial = [
            {
                "row": cost.pk,
                "kind": cost.kind,
                "what": cost.what,
                "amount": cost.counted,
                "day": str(cost.day_id or ""),
                "from_till": cost.from_till,
                "paid_on": cost.expense.paid_on if cost.expense else None,
            }
            for cost in stored
        ]
        rows = CostRows(
            data,
            prefix="costs",
            initial=initial,
            form_kwargs={"workshop": request.workshop, "days": days},
        )
        return Entry(CostForm(data, instance=row, workshop=request.workshop), rows)

    def save(entry: Entry) -> HttpResponse:
        known = {cost.pk: cost for cost in row.costs.select_related("expense")}
        costs = [
            CostInput(
                row=known.get(form.cleaned_data["row"] or 0),
                **{
                    name: form.cleaned_data[name]
                    for name in ("kind", "what", "amount", "day", "from_till", "paid_on")
                },
            )
            for form in entry.rows.kept()
        ]
        save_costs(
            fair=row,
            costs=costs,
            edit_number=entry.edit_number,
            today=timezone.localdate(),
            by=request.user,
        )
        messages.success(request, "Saved the costs.")
        return back_to(request, row.pk)

    return entry_page(request, "pricing/fairs/costs.html", row, entry_of, save, fair=row)


@require_http_methods(["GET", "POST"])
@may_change
def fair_float(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Say which coins and notes every day begins with."""
    row = fair_or_404(request, pk)

    def entry_of(row: Fair, data: Any) -> Entry:
        stored = coins_of(row.coins.filter(day__isnull=True))
        rows = CoinRowsOf(
            data,
            prefix="coins",
            initial=coins_shown(stored, request.workshop),
            form_kwargs={"workshop": request.workshop},
        )
        return Entry(CostForm(data, instance=row, workshop=request.workshop), rows)

    def save(entry: Entry) -> HttpResponse:
        save_coins(fair=row, coins=entry.rows.coins(), edit_number=entry.edit_number)
        messages.success(request, "Saved the float.")
        return back_to(request, row.pk)

    return entry_page(request, "pricing/fairs/float.html", row, entry_of, save, fair=row)


@require_POST
@may_change
def fair_again(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Plan the same fair for the next year, on the same weekdays."""
    old = fair_or_404(request, pk)
    days = [
        DayInput(None, day.held_on + datetime.timedelta(weeks=52), day.opens, day.closes)
        for day in old.days.in_order()
    ]
    new = Fair.objects.get(pk=old.pk)
    new.pk, new.last_year, new.state = None, old, Fair.State.MAYBE
    new.orders_gain, new.edit_number, new.stock_place = ZERO, 0, None
    saved = save_fair(fair=new, days=days, edit_number=None)
    copy_items(fair=saved, source=old)
    coins = coins_of(old.coins.filter(day__isnull=True))
    save_coins(fair=saved, coins=coins, edit_number=0)
    messages.success(request, f"Planned “{saved}” a year later. Check its dates and costs.")
    return back_to(request, saved.pk)


def day_or_404(request: WorkshopRequest, pk: int, day: int) -> FairDay:
    """Return a day of a fair of the workshop."""
    days = FairDay.objects.of(request.workshop).filter(fair=pk).select_related("fair__workshop")
    found: FairDay = row_or_404(days, day)
    return found
