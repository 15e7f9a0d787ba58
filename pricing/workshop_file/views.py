"""Workshops as files, the examples, and deleting a workshop or an account."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from maker.accounts.entering import must_prove
from maker.activity.models import Event
from maker.activity.services import record
from maker.calc.refusal import Refusal
from maker.calc.strict_json import parse
from maker.troubles.time_limit import takes_its_time
from maker.web.access import may_own
from pricing.workshop_file.demo import remove_examples
from pricing.workshop_file.examples import ask_for_examples
from pricing.workshop_file.forms import WorkshopFileForm
from pricing.workshop_file.leaving import (
    OthersNeedHer,
    ask_to_delete_account,
    ask_to_delete_workshop,
    keep_account,
    keep_workshop,
    only_hers,
    refuse_if_needed,
)
from pricing.workshop_file.pictures import import_with_pictures, taken_apart, with_pictures
from pricing.workshop_file.services import document_text, export_workshop


@login_required
@require_POST
def demo_load(request: Any) -> HttpResponse:
    """Have copies of the example workshops made for the person, and show how far that is."""
    try:
        work = ask_for_examples(owner=request.user, today=timezone.localdate())
    except Refusal as refusal:
        messages.info(request, refusal.message)
        return redirect("maker:workshop_list")
    return redirect("maker:work", work.workshop.slug, work.pk)


@takes_its_time
@login_required
@require_POST
def demo_remove(request: Any) -> HttpResponse:
    """Remove the example workshops the person owns."""
    names = remove_examples(owner=request.user)
    if names:
        messages.success(request, f"Removed: {', '.join(names)}.")
    else:
        messages.info(request, "You have no sample workshops.")
    return redirect("maker:workshop_list")


@may_own
@require_safe
def workshop_file(request: Any) -> HttpResponse:
    """Offer the workshop as a file, and deleting it."""
    return render(request, "pricing/workshop_file/file.html")


@takes_its_time
@never_cache
@may_own
@require_safe
def workshop_export(request: Any) -> HttpResponse:
    """Send everything of the workshop but its people out, as one file."""
    text = document_text(export_workshop(request.workshop))
    record(Event.Kind.EXPORTED, request=request, about="workshop file")
    name = f"{request.workshop.slug}-{timezone.localdate().isoformat()}"
    zipped = with_pictures(request.workshop, text)
    if zipped is None:
        answer, ending = HttpResponse(text, content_type="application/json"), "json"
    else:
        answer, ending = HttpResponse(zipped, content_type="application/zip"), "zip"
    answer["Content-Disposition"] = content_disposition_header(True, f"{name}.{ending}")
    return answer


@takes_its_time
@login_required
@require_http_methods(["GET", "POST"])
def workshop_import(request: Any) -> HttpResponse:
    """Make a workshop of one's own from a file."""
    form = WorkshopFileForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        try:
            content, beside = taken_apart(form.cleaned_data["file"].read())
            workshop = import_with_pictures(
                parse(content), beside, name=form.cleaned_data["name"] or None, owner=request.user
            )
        except Refusal as refusal:
            place = "" if refusal.where in ("", "file", "name") else f" ({refusal.where})"
            is_name = refusal.where in ("name", "workshop.name")
            form.add_error("name" if is_name else "file", f"{refusal.message}{place}")
        else:
            record(Event.Kind.IMPORTED, request=request, workshop=workshop, about="workshop file")
            messages.success(request, f"{workshop} imported. You're its only member so far.")
            return redirect("pricing:home", workshop.slug)
    status = 422 if request.method == "POST" else 200
    return render(request, "pricing/workshop_file/import.html", {"form": form}, status=status)


@may_own
@must_prove
@require_http_methods(["GET", "POST"])
def workshop_delete(request: Any) -> HttpResponse:
    """Show what goes, and let it go in a week."""
    if request.method == "POST":
        ask_to_delete_workshop(workshop=request.workshop)
        record(Event.Kind.DELETION, request=request, about="workshop")
        messages.success(request, "The workshop will be deleted in a week unless you keep it.")
        return redirect("pricing:home", request.workshop.slug)
    return render(request, "pricing/workshop_file/delete.html")


@may_own
@require_POST
def workshop_keep(request: Any) -> HttpResponse:
    """Let it stay after all."""
    keep_workshop(workshop=request.workshop)
    record(Event.Kind.DELETION, request=request, about="workshop kept")
    messages.success(request, "The workshop stays.")
    return redirect("pricing:home", request.workshop.slug)


@login_required
@must_prove
@require_http_methods(["GET", "POST"])
def account_delete(request: Any) -> HttpResponse:
    """Show what goes with the account, offer it as files, and let it go in a week."""
    problem = ""
    try:
        if request.method == "POST":
            ask_to_delete_account(user=request.user)
            record(Event.Kind.DELETION, request=request, about="account")
            messages.success(request, "Your account will be deleted in a week unless you keep it.")
            return redirect("pricing:account_delete")
        refuse_if_needed(request.user)
    except OthersNeedHer as refusal:
        problem = refusal.message
    context = {"workshops": only_hers(request.user), "problem": problem}
    status = 422 if request.method == "POST" else 200
    return render(request, "pricing/workshop_file/account_delete.html", context, status=status)


@login_required
@require_POST
def account_keep(request: Any) -> HttpResponse:
    """Let it stay after all."""
    keep_account(user=request.user)
    record(Event.Kind.DELETION, request=request, about="account kept")
    messages.success(request, "Your account stays.")
    return redirect("maker:workshop_list")
