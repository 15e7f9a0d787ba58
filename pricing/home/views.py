"""The first page of a workshop: what to do first, or what is going on."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from catalogue.designs.cards import pictures_of
from catalogue.designs.models import Design
from catalogue.materials.models import Material
from catalogue.recipes.item_picture import ItemPicture
from maker.backup.models import Installation
from maker.backup.showing import LastCopy, last_copy
from maker.updates.showing import is_news
from maker.web.access import may_see
from pricing.home.due import due_now
from pricing.spending.drawing import month_text
from pricing.spending.services import month_spend

SHOWN = 4  # newest designs; the full list is one link away


@may_see
@require_safe
def home(request: Any) -> HttpResponse:
    """Show the three first steps until there is a design, then what to do now and the month."""
    workshop = request.workshop
    designs = Design.objects.of(workshop).in_use().order_by("-created_at", "-pk")[:SHOWN]
    materials = Material.objects.of(workshop).in_use()
    today = timezone.localdate()
    installation = Installation.objects.the_one()
    context = {
        "due": due_now(workshop, today),
        "designs": _with_pictures(list(designs)),
        # asked for by the first steps alone
        "has_materials": materials.exists,
        "last_copy": _copy_line(request, installation),
        "is_news": is_news(request.user, installation),
        "month": month_text(month_spend(workshop=workshop, month=timezone.localdate()), workshop),
    }
    return render(request, "pricing/home/home.html", context)


def _with_pictures(designs: list[Design]) -> list[tuple[Design, ItemPicture | None]]:
    pictures = pictures_of(designs, width=100, height=80, name="new")
    return [(design, pictures.get(design.pk)) for design in designs]


def _copy_line(request: Any, installation: Installation) -> LastCopy | None:
    """Return when everything was copied last, for those whose work it is."""
    if not (request.membership.may_own or request.user.looks_after_installation):
        return None
    return last_copy(installation, timezone.now())
