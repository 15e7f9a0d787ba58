"""The page that says what is new."""

from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from maker import VERSION
from maker.accounts.entering import safe_next
from maker.accounts.models import User
from maker.updates.changes import versions


@login_required
@require_safe
def what_is_new(request: Any) -> HttpResponse:
    """List the versions and what came with each."""
    return render(request, "maker/updates/what_is_new.html", {"versions": versions()})


@login_required
@require_POST
def close(request: Any) -> HttpResponse:
    """Let the note on this version be seen no more."""
    User.objects.filter(pk=request.user.pk).update(seen_version=VERSION)
    return redirect(safe_next(request) or "maker:what_is_new")
