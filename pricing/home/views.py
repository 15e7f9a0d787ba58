"""The first page of a workshop: what to do first, or what is going on."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from catalogue.designs.models import Design
from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase
from maker.web.access import may_see

SHOWN = 6  # rows of each list; the full list is one link away


@may_see
@require_safe
def home(request: Any) -> HttpResponse:
    """Show the three first steps in an empty workshop, else what is new, open and running low."""
    workshop = request.workshop
    designs = list(Design.objects.of(workshop).in_use().order_by("-created_at", "-pk")[:SHOWN])
    materials = Material.objects.of(workshop).in_use()
    drafts = Purchase.objects.of(workshop).drafts().select_related("supplier").newest_first()
    context = {
        "designs": designs,
        "drafts": list(drafts[:SHOWN]),
        "low": list(materials.below_level().by_name()[:SHOWN]),
        "has_materials": materials.exists(),
    }
    return render(request, "pricing/home/home.html", context)
