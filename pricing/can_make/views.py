"""The page that says what can be made from what is in stock."""

from heapq import nlargest
from operator import itemgetter
from typing import Any

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from catalogue.materials.models import Material
from catalogue.recipes.models import DesignVersion
from maker.calc.refusal import Refusal
from maker.heavy_pages.marks import heavy
from maker.web.access import WorkshopRequest, may_see
from maker.web.lists import PER_PAGE
from maker.web.rows import rows_by_key
from maker.web.words import amount_text
from pricing.can_make.forms import CanMakeForm, ColoursForm
from pricing.can_make.services import CanMake, can_make, from_pad, stock_of, tonight

# of materials that would do as well, those that are enough for most
MOST_ALIKE = 8


@heavy()
@require_GET
@may_see
def can_make_page(request: WorkshopRequest) -> HttpResponse:
    """Show what stock is enough for: every design roughly, one to the item."""
    shop = request.workshop
    form = CanMakeForm(request.GET if "design" in request.GET else None, workshop=shop)
    design = form.cleaned_data["design"] if form.is_valid() else None
    context: dict[str, Any] = {"form": form, "design": design}
    if design is None:
        page = Paginator(form.designs, PER_PAGE).get_page(request.GET.get("page"))
        context |= {"page": page, "tonight": tonight(shop, list(page.object_list))}
    else:
        context |= _of_design(request, design)
    return render(request, "pricing/can_make/can_make.html", context)


def _of_design(request: WorkshopRequest, design: Any) -> dict[str, Any]:
    """Return how many of one design, with what ends first."""
    shop = request.workshop
    version = DesignVersion.objects.newest_of([design]).with_recipe().get()
    sheets = Material.objects.of(shop).in_use().filter(kind=Material.Kind.SHEET).by_name()
    form = ColoursForm(request.GET, version=version, sheets=rows_by_key(sheets.only("name")))
    if not form.is_valid():
        return {"colours": form}
    typed = form.cleaned_data
    colourway = typed.get("colourway") or ""
    try:
        stock = stock_of(shop, [version], alike=True)
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
            "others": nlargest(MOST_ALIKE, row.others, key=itemgetter(1)),
            "more": max(len(row.others) - MOST_ALIKE, 0),
        }
        for row in found.rows
    ]
