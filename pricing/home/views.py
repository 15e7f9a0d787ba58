"""The first page of a workshop: what to do first, or what is going on."""

import datetime
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from catalogue.designs.models import Design
from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase
from maker.backup.models import Installation
from maker.backup.showing import LastCopy, last_copy
from maker.updates.showing import is_news
from maker.web.access import may_see
from maker.web.words import amount_text
from pricing.quotes.models import Quote
from pricing.spending.drawing import month_text
from pricing.spending.services import month_spend

SOON = datetime.timedelta(days=7)  # a quote that ends within this needs a word
SHOWN = 6  # rows of each list; the full list is one link away


@may_see
@require_safe
def home(request: Any) -> HttpResponse:
    """Show the three first steps until there is a design, then what is new, open and low."""
    workshop = request.workshop
    designs = Design.objects.of(workshop).in_use().order_by("-created_at", "-pk")
    materials = Material.objects.of(workshop).in_use()
    drafts = Purchase.objects.of(workshop).drafts().select_related("supplier").newest_first()
    quotes = Quote.objects.of(workshop).for_list()
    today = timezone.localdate()
    installation = Installation.objects.the_one()
    waiting = quotes.waiting(today).order_by("valid_until", "pk")
    context = {
        "quotes_running_out": list(waiting.running_out(today, today + SOON)[:SHOWN]),
        "quotes_waiting": list(waiting.filter(valid_until__gt=today + SOON)[:SHOWN]),
        "quote_drafts": list(quotes.drafts().newest_first()[:SHOWN]),
        "designs": list(designs[:SHOWN]),
        "has_materials": materials.exists(),
        "drafts": list(drafts[:SHOWN]),
        "low": [
            (
                material,
                amount_text(
                    material.reorder_level, material.unit, workshop, material.reorder_typed_in
                ),
            )
            for material in materials.below_level().by_name()[:SHOWN]
        ],
        "last_copy": _copy_line(request, installation),
        "is_news": is_news(request.user, installation),
        "month": month_text(month_spend(workshop=workshop, month=timezone.localdate()), workshop),
    }
    return render(request, "pricing/home/home.html", context)


def _copy_line(request: Any, installation: Installation) -> LastCopy | None:
    """Return when everything was copied last, for those whose work it is."""
    if not (request.membership.may_own or request.user.looks_after_installation):
        return None
    return last_copy(installation, timezone.now())
