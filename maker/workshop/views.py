"""My workshops, a new one, and the settings of one."""

from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from maker.accounts.models import Membership
from maker.web.access import may_own


@login_required
@require_safe
def workshop_list(request: HttpRequest) -> HttpResponse:
    """List my workshops; with only one, go straight in unless `?all` asks for the list."""
    memberships = list(Membership.objects.of_user(request.user))
    if len(memberships) == 1 and "all" not in request.GET:
        return redirect("pricing:home", memberships[0].workshop.slug)
    return render(request, "maker/workshop/list.html", {"memberships": memberships})


@login_required
@require_safe
def workshop_new(request: HttpRequest) -> HttpResponse:
    """Open another workshop."""
    return render(request, "maker/workshop/new.html")


@may_own
@require_safe
def workshop_settings(request: Any) -> HttpResponse:
    """Show what the workshop counts with."""
    return render(request, "maker/workshop/settings.html")
