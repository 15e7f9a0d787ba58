"""The page that says what can be made from what is in stock."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from catalogue.recipes.models import DesignVersion
from maker.calc.refusal import Refusal
from maker.heavy_pages.marks import heavy
from maker.web.access import WorkshopRequest, may_see
from maker.web.rows import rows_by_key
from maker.web.words import amount_text
from pricing.can_make.forms import CanMakeForm, ColoursForm
from pricing.can_make.services import CanMake, Stock, can_make, from_pad, stock_of, tonight


@heavy()
@require_GET
@may_see
def can_make_page(request: WorkshopRequest) -> HttpResponse:
    """Show what stock is enough for: every design roughly, one to the item."""
    shop = request.workshop
    form = CanMakeForm(request.GET if "design" in request.GET else None, workshop=shop)
    design = form.cleaned_data["design"] if form.is_valid() else None
    stock = stock_of(shop)
    context: dict[str, Any] = {"form": form, "design": design}
    if design is None:
        context["tonight"], context["is_cut"] = tonight(shop, stock)
    else:
        context |= _of_design(request, design, stock)
    return render(request, "pricing/can_make/can_make.html", context)


def _of_design(request: WorkshopRequest, design: Any, stock: Stock) -> dict[str, Any]:
    """Return how many of one design, with what ends first."""
    shop = request.workshop
    version = DesignVersion.objects.newest_of([design]).with_recipe(stock.materials).get()
    sheets = rows_by_key([row for row in stock.materials.values() if row.is_sheet])
    form = ColoursForm(request.GET, version=version, sheets=sheets)
    if not form.is_valid():
        return {"colours": form}
    typed = form.cleaned_data
    colourway = typed.get("colourway") or ""
    try:
        found = can_make(version, shop, stock, colourway)
        pad = None
        if typed["pad"]:
            pad = from_pad(version, shop, colourway, typed["pad"], typed["prints"])
    except Refusal as refusal:
        return {"colours": form, "problem": refusal.message}
    return {
        "colours": form,
        "found": found,
        "rows": _rows(found, request),
        "pad": pad,
        "pad_material": typed["pad"],
        "pad_sheets": sum(typed["prints"]),
    }


def _rows(found: CanMake, request: WorkshopRequest) -> list[dict[str, Any]]:
    return [
        {
            "material": row.material,
            "roles": ", ".join(row.roles),
            "free": amount_text(row.free, row.material.unit, request.workshop),
            "enough_for": row.enough_for,
            "others": row.others,
        }
        for row in found.rows
    ]
