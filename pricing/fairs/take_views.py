"""Pages of what to take: worked out, kept as the plan, and the list to pack by."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from catalogue.cutting_plans.first import item_words as plan_words
from maker.calc.refusal import Refusal
from maker.heavy_pages.marks import heavy
from maker.web.access import WorkshopRequest, may_change, may_see
from pricing.calc.fairs.choosing import Limits
from pricing.calc.fairs.what_to_take import exact
from pricing.fairs.drawing import FairWords, dates_text, item_name
from pricing.fairs.forms import LimitsForm, PlannedForm
from pricing.fairs.models import Fair, FairDesign
from pricing.fairs.planning import FairPlan, plan_for, stock_of
from pricing.fairs.results import FairResult, results_of
from pricing.fairs.views import MOST_COMPARED, fair_or_404

# common practice, no source
USUALLY_PACKED = (
    "Bags and tissue", "Card reader, charged", "Power bank", "Till and receipt book",
    "Price board and tags", "Order book and pens", "Tally sheet", "Table cloth and clips",
    "Weights for a gazebo", "Tape, scissors, glue dots", "Water and food",
)  # fmt: skip
MORE = {
    "table": "10 cm more of table",
    "minutes": "One more hour",
    "sheets": "One more sheet",
}


@heavy()
@require_http_methods(["GET", "POST"])
@may_see
def fair_take(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Work out what to take within table, hours and sheets; a post keeps it as the plan."""
    row, shop = fair_or_404(request, pk), request.workshop
    results = _results(request, pk)
    this = next(each for each in results if each.fair.pk == pk)
    form = LimitsForm(
        request.GET or None, workshop=shop, initial={"table": this.fair.table_metres or None}
    )
    limits = Limits(table=this.fair.table_metres * 1000 or None)
    if form.is_bound and form.is_valid():
        limits = form.limits()
    context: dict[str, Any] = {"fair": row, "dates": dates_text(this.fair), "form": form}
    try:
        plan = plan_for(row, results, shop, limits)
    except Refusal as refusal:
        context["problem"] = refusal.message
        return render(request, "pricing/fairs/take.html", context, status=200)
    words = FairWords(shop)
    gain, unlimited = words.money(plan.chosen.gain), words.money(plan.alone_gain)
    context |= {
        "rows": take_rows(plan, words),
        "unknown": unknown_rows(plan),
        "gain": gain,
        "unlimited": unlimited if plan.given_up > 0 and unlimited != gain else "",
        "is_best": not plan.chosen.may_gain,
        "may_gain": words.money(plan.chosen.may_gain),
        "more": [(MORE[name], words.money(gain)) for name, gain in plan.more.items()],
        "days": len(this.days),
    }
    return render(request, "pricing/fairs/take.html", context)


@require_http_methods(["POST"])
@may_change
def fair_plan(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Keep how many of each item to take."""
    row = fair_or_404(request, pk)
    items = list(row.designs.all())
    form = PlannedForm(request.POST, workshop=request.workshop, items=[each.pk for each in items])
    if not form.is_valid():
        messages.error(request, "Enter whole numbers. Nothing was saved.")
        return redirect("pricing:fair_take", request.workshop.slug, pk)
    with transaction.atomic():
        for item in items:
            if f"plan_{item.pk}" in request.POST:
                item.planned = form.cleaned_data[f"plan_{item.pk}"]
                item.save(update_fields=["planned"])
    messages.success(request, "Saved what to take.")
    return redirect("pricing:fair_packing", request.workshop.slug, pk)


def _results(request: WorkshopRequest, pk: int) -> list[FairResult]:
    """Return the results of the newest fairs, this one among them."""
    fairs = Fair.objects.of(request.workshop)
    results = results_of(fairs.with_dates().newest_first()[:MOST_COMPARED], request.workshop)
    if all(each.fair.pk != pk for each in results):
        results += results_of(fairs.filter(pk=pk), request.workshop)
    return results


def take_rows(plan: FairPlan, words: FairWords) -> list[dict[str, Any]]:
    """Write what to take of each item, everyday stock first, dated stock apart."""
    rows = []
    for each, count in zip(plan.items, plan.chosen.counts, strict=True):
        taking, item = each.taking, each.item
        rows.append(
            {
                "item": item,
                "name": item_name(item),
                "group": "Dated" if item.is_dated else "Everyday",
                "source": each.source,
                "mean": f"{exact(taking.mean):.1f}",
                "alone": taking.count,
                "alike": taking.count_if_alike,
                "ratio": words.share(exact(taking.one_more.ratio)),
                "take": count,
                "chance": words.share(exact(each.chance(count))),
                "stock": each.in_stock,
                "make": max(count - each.in_stock, 0),
                "gain": words.money(taking.gain_of(count)),
                "one_gain": words.money(taking.one_more.gain),
                "one_loss": words.money(taking.one_more.loss),
                "ran_out": any(day.ran_out for day in each.past),
            }
        )
    return sorted(rows, key=lambda row: bool(row["item"].is_dated))


def unknown_rows(plan: FairPlan) -> list[dict[str, Any]]:
    """Write the items nothing is known of: she says how many to take."""
    return [
        {"item": item, "name": item_name(item), "stock": in_stock}
        for item, in_stock in plan.unknown
    ]


def make_rows(items: Sequence[FairDesign], stock: dict[int, int]) -> list[dict[str, Any]]:
    """Write what is still to be made of what is planned."""
    return [
        {
            "item": item,
            "name": item_name(item),
            "take": item.planned,
            "stock": stock[item.pk],
            "make": max((item.planned or 0) - stock[item.pk], 0),
        }
        for item in items
        if item.planned
    ]


def plan_address(slug: str, rows: Sequence[dict[str, Any]]) -> str:
    """Return the address of a new cutting plan for what is to be made; empty for nothing."""
    wanted = [
        (
            "item",
            plan_words(
                row["item"].version.design_id,
                row["make"],
                row["item"].version.number,
                row["item"].colourway_id,
                row["item"].choices,
            ),
        )
        for row in rows
        if row["make"]
    ]
    return f"{reverse('catalogue:plan_new', args=[slug])}?{urlencode(wanted)}" if wanted else ""


@require_GET
@may_see
def fair_packing(request: WorkshopRequest, pk: int) -> HttpResponse:
    """What to make, to print and to pack for a fair."""
    row, shop = fair_or_404(request, pk), request.workshop
    items = list(row.designs.with_items().in_order())
    rows = make_rows(items, stock_of(items, row))
    words = FairWords(shop)
    coins = row.coins.filter(day__isnull=True).order_by("value")
    first = row.days.in_order().first()
    context = {
        "fair": row,
        "dates": dates_text(row),
        "rows": rows,
        "total": sum(line["take"] or 0 for line in rows),
        "to_make": sum(line["make"] for line in rows),
        "plan_url": plan_address(shop.slug, rows),
        "coins": [
            (words.money(coin.value), coin.count, words.money(coin.value * coin.count))
            for coin in coins
        ],
        "float": words.money(sum((coin.value * coin.count for coin in coins), Decimal(0))),
        "packed": USUALLY_PACKED,
        "day": first,
    }
    return render(request, "pricing/fairs/packing.html", context)
