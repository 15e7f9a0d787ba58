"""Pages about where a person is signed in, and the question who she is."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from maker.accounts.devices import devices_of, sign_out_device, sign_out_others, stay_signed_in
from maker.accounts.entering import must_prove, note_proof, safe_next, too_many_tries
from maker.accounts.forms import ProofForm, StayForm
from maker.accounts.guessing import TooManyTries
from maker.activity.models import Event
from maker.activity.services import record


@never_cache
@login_required
@require_http_methods(["GET", "POST"])
def devices(request: Any) -> HttpResponse:
    """List where she is signed in, and let her choose for how long."""
    days = request.user.stay_signed_in_days
    form = StayForm(request.POST or None, initial={"stay_signed_in_days": days})
    if request.method == "POST" and form.is_valid():
        days = form.cleaned_data["stay_signed_in_days"]
        stay_signed_in(user=request.user, days=days, session=request.session)
        messages.success(request, "Saved.")
        return redirect("maker:devices")
    here = devices_of(request.user, request.session.session_key)
    context = {"form": form, "devices": here, "has_others": any(not one.is_this for one in here)}
    return render(request, "maker/accounts/devices.html", context)


@require_POST
@must_prove
def device_sign_out(request: Any, mark: str) -> HttpResponse:
    """End one visit somewhere else."""
    if sign_out_device(request.user, mark):
        record(Event.Kind.OTHERS_OUT, request=request, about="one")
        messages.success(request, "Signed out there.")
    else:
        messages.info(request, "That browser was already signed out.")
    return redirect("maker:devices")


@require_POST
@must_prove
def devices_sign_out(request: Any) -> HttpResponse:
    """End all visits but this one."""
    count = sign_out_others(request.user, request.session.session_key)
    if count:
        record(Event.Kind.OTHERS_OUT, request=request, about="all")
        messages.success(request, "All other browsers are signed out.")
    else:
        messages.info(request, "You aren't signed in anywhere else.")
    return redirect("maker:devices")


@sensitive_post_parameters("password")
@never_cache
@login_required
@require_http_methods(["GET", "POST"])
def prove(request: HttpRequest) -> HttpResponse:
    """Ask for the password again and lead on to where she was."""
    wanted = safe_next(request)
    form = ProofForm(request.user, request.POST if request.method == "POST" else None)
    try:
        if request.method == "POST" and form.is_valid():
            note_proof(request)
            return redirect(wanted or "maker:account")
    except TooManyTries as refusal:
        return too_many_tries(request, refusal)
    return render(request, "maker/accounts/prove.html", {"form": form, "next": wanted})
