"""Buttons on the page of workshops: load the examples, remove them."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from maker.calc.refusal import Refusal
from pricing.workshop_file.demo import load_examples, remove_examples


@login_required
@require_POST
def demo_load(request: Any) -> HttpResponse:
    """Give the person copies of the example workshops and lead her into the first."""
    try:
        workshops = load_examples(owner=request.user, today=timezone.localdate())
    except Refusal as refusal:
        messages.info(request, refusal.message)
        return redirect("maker:workshop_list")
    messages.success(request, "The example workshops are loaded. They are yours to try things in.")
    return redirect("pricing:home", workshops[0].slug)


@login_required
@require_POST
def demo_remove(request: Any) -> HttpResponse:
    """Remove the example workshops the person owns."""
    names = remove_examples(owner=request.user)
    if names:
        messages.success(request, f"Removed: {', '.join(names)}.")
    else:
        messages.info(request, "You have no example workshops.")
    return redirect("maker:workshop_list")
