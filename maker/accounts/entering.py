"""Lets a person in, and asks again who she is before what a stranger at her desk must not do."""

from collections.abc import Callable
from datetime import timedelta
from functools import wraps
from typing import Any
from urllib.parse import urlsplit

from django.contrib.auth import login
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme, urlencode

from maker.accounts.browsers import remember_browser
from maker.accounts.devices import browser_name, session_seconds
from maker.accounts.guessing import TooManyTries
from maker.accounts.models import Session, User
from maker.accounts.sessions import SIGNED_IN
from maker.activity.models import Event
from maker.activity.services import record
from maker.activity.visitor import kept_address

BACKEND = "django.contrib.auth.backends.ModelBackend"
PROVED = "proved_at"
PROOF_LASTS = timedelta(minutes=15)


def too_many_tries(request: HttpRequest, refusal: TooManyTries) -> HttpResponse:
    """Say that the door is closed, and until when."""
    answer = render(request, "429.html", {"wait": refusal.wait_text}, status=429)
    answer["Retry-After"] = str(refusal.wait_seconds)
    return answer


def safe_next(request: HttpRequest) -> str:
    """Return where she wanted to go, if that is a page of this site."""
    wanted = request.POST.get("next", request.GET.get("next", ""))
    safe = url_has_allowed_host_and_scheme(
        wanted, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    return wanted if safe else ""


def let_in(request: HttpRequest, user: User, response: HttpResponseBase, how: str) -> None:
    """Sign a person in with this browser, for as long as she chose; `how` she showed who she is."""
    Session.objects.filter(expire_date__lt=timezone.now()).delete()
    login(request, user, backend=BACKEND)
    request.session[SIGNED_IN] = {
        "at": timezone.now().isoformat(),
        "browser": browser_name(request.headers.get("User-Agent", "")),
        "address": kept_address(request),
    }
    request.session.set_expiry(session_seconds(user.stay_signed_in_days))
    note_proof(request)
    remember_browser(request, response, user.email)
    record(Event.Kind.SIGNED_IN, request=request, about=how)


def note_proof(request: HttpRequest) -> None:
    """Remember that she has just shown who she is."""
    request.session[PROVED] = timezone.now().timestamp()


def is_proved(request: HttpRequest) -> bool:
    """Whether she has shown who she is in the last quarter of an hour."""
    proved = request.session.get(PROVED, 0)
    return bool(timezone.now().timestamp() - proved < PROOF_LASTS.total_seconds())


def must_prove(view: Callable[..., HttpResponseBase]) -> Callable[..., HttpResponseBase]:
    """Ask for the password again before a view, unless she has just typed it."""

    @wraps(view)
    def inner(request: Any, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if is_proved(request):
            return view(request, *args, **kwargs)
        back = request.get_full_path()
        if request.method != "GET":
            # what was posted is not kept: she comes back to the page with the button
            back = urlsplit(request.headers.get("Referer", "")).path or reverse("maker:account")
        return redirect(f"{reverse('maker:prove')}?{urlencode({'next': back})}")

    return login_required(inner)
