"""Pages of what was done: one's own, a workshop's, the whole installation's."""

from typing import Any

from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from maker.activity.models import Event, EventQuerySet
from maker.activity.services import REFUSED_DAYS
from maker.web.access import may_look_after, may_own

PER_PAGE = 50


@never_cache
@login_required
@require_GET
def my_activity(request: Any) -> HttpResponse:
    """Show a person what she did and what was tried in her name."""
    events = Event.objects.of_user(request.user)
    return _page(request, events, tabs="maker/accounts/_sections.html")


@never_cache
@may_own
@require_GET
def workshop_activity(request: Any) -> HttpResponse:
    """Show the owner what was done in her workshop."""
    events = Event.objects.of(request.workshop)
    return _page(request, events, tabs="maker/workshop/_sections.html", with_people=True)


@never_cache
@may_look_after
@require_GET
def installation_activity(request: Any) -> HttpResponse:
    """Show everything to who looks after the installation."""
    events = Event.objects.all()
    return _page(
        request,
        events,
        tabs="maker/accounts/_installation.html",
        with_people=True,
        with_workshops=True,
    )


def _page(request: HttpRequest, events: EventQuerySet, **context: Any) -> HttpResponse:
    kind = request.GET.get("kind", "")
    if kind in Event.Kind.values:
        events = events.filter(kind=kind)
    page = Paginator(events.newest_first(), PER_PAGE).get_page(request.GET.get("page"))
    context |= {
        "page": page,
        "kinds": Event.Kind.choices,
        "kind": kind,
        "kept_days": settings.LOG_DAYS,
        "refused_days": min(REFUSED_DAYS, settings.LOG_DAYS),
    }
    return render(request, "maker/accounts/activity.html", context)
