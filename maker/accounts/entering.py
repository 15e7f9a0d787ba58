"""Lets a person in, and asks again who she is before what a stranger at her desk must not do."""

from collections.abc import Callable
from datetime import timedelta
from functools import wraps
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.contrib.auth import login
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.crypto import constant_time_compare
from django.utils.http import url_has_allowed_host_and_scheme, urlencode

from maker.accounts.browsers import remember_browser
from maker.accounts.devices import browser_name, session_seconds
from maker.accounts.guessing import TooManyTries
from maker.accounts.models import Membership, Session, User
from maker.accounts.second_steps import second_steps_of
from maker.accounts.sessions import SIGNED_IN
from maker.activity.models import Event
from maker.activity.services import record
from maker.activity.visitor import kept_address

BACKEND = "django.contrib.auth.backends.ModelBackend"
PROVED = "proved_at"
PROOF_LASTS = timedelta(minutes=15)
HALF_IN = "half_in"
HALF_IN_LASTS = timedelta(minutes=10)


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
    request.session.pop(HALF_IN, None)
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


def enter(request: HttpRequest, user: User, how: str, wanted: str) -> HttpResponse:
    """Let a person in who showed one thing, or ask for the second step where she has one."""
    if not second_steps_of(user).is_on:
        response = redirect(wanted or settings.LOGIN_REDIRECT_URL)
        if Membership.objects.of_user(user).asking_for_second_step().exists():
            query = urlencode({"next": wanted})
            response = redirect(f"{reverse('maker:second_step_wanted')}?{query}")
        let_in(request, user, response, how)
        return response
    # a fresh key, so that who planted one is not half in with her
    request.session.cycle_key()
    request.session[HALF_IN] = {
        "pk": user.pk,
        "at": timezone.now().timestamp(),
        "hash": user.get_session_auth_hash(),
    }
    query = f"?{urlencode({'next': wanted})}" if wanted else ""
    return redirect(f"{reverse('maker:second_step')}{query}")


def half_in(request: HttpRequest) -> User | None:
    """Return who showed her password here in the last minutes and owes the second step."""
    kept = request.session.get(HALF_IN)
    if kept is None or timezone.now().timestamp() - kept["at"] > HALF_IN_LASTS.total_seconds():
        return None
    user = User.objects.filter(pk=kept["pk"], is_active=True).first()
    # a password changed meanwhile starts it anew
    if user is None or not constant_time_compare(kept["hash"], user.get_session_auth_hash()):
        return None
    return user


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
